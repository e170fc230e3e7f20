//! Nominal systems and their greatest voltage, ANSI C84.1.

/// Upper limits of the standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Range {
    A,
    B,
}

impl Range {
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Range::A => "A",
            Range::B => "B",
        }
    }
}

/// One nominal system, volts line to line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SystemVoltage {
    pub nominal_v: f64,
    pub range_a_max_v: f64,
    pub range_b_max_v: f64,
}

const fn system(nominal_v: f64, range_a_max_v: f64, range_b_max_v: f64) -> SystemVoltage {
    SystemVoltage {
        nominal_v,
        range_a_max_v,
        range_b_max_v,
    }
}

/// Nominal systems as an electrical trade portal lists them from ANSI C84.1;
/// the limits follow from its percentages (+ 5 % and + 5.83 %, read in a
/// tutorial on voltage regulation) and agree with the table as remembered. Of
/// the B column 2540, 4400, 8800, 13 200, 13 970, 26 400 and 36 510 are also
/// printed in an arrester maker's selection chart. The 13.8 kV row is an
/// exception (105.2 %, from memory; that chart prints 14.50 kV).
pub static SYSTEMS: &[SystemVoltage] = &[
    system(2_400.0, 2_520.0, 2_540.0),
    system(4_160.0, 4_370.0, 4_400.0),
    system(8_320.0, 8_730.0, 8_800.0),
    system(12_470.0, 13_090.0, 13_200.0),
    system(13_200.0, 13_860.0, 13_970.0),
    system(13_800.0, 14_490.0, 14_520.0),
    system(24_940.0, 26_190.0, 26_400.0),
    system(34_500.0, 36_230.0, 36_510.0),
];

/// The greatest voltage of a system of `nominal_kv`, kV line to line, and
/// whether it stands in the table; outside the table the percentage is taken.
#[must_use]
pub fn system_max_kv(nominal_kv: f64, range: Range) -> (f64, bool) {
    let nominal_v = nominal_kv * 1_000.0;
    let row = SYSTEMS
        .iter()
        .find(|s| (s.nominal_v - nominal_v).abs() < 5.0);
    match (row, range) {
        (Some(row), Range::A) => (row.range_a_max_v / 1_000.0, true),
        (Some(row), Range::B) => (row.range_b_max_v / 1_000.0, true),
        (None, Range::A) => (nominal_kv * 1.05, false),
        (None, Range::B) => (nominal_kv * 127.0 / 120.0, false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_keeps_to_its_percentages() {
        for s in SYSTEMS {
            let a = s.range_a_max_v / s.nominal_v;
            let b = s.range_b_max_v / s.nominal_v;
            assert!((a - 1.05).abs() < 0.001, "{}: A {a}", s.nominal_v);
            let exception = (s.nominal_v - 13_800.0).abs() < 1.0;
            let expected = if exception { 1.052 } else { 127.0 / 120.0 };
            assert!((b - expected).abs() < 0.001, "{}: B {b}", s.nominal_v);
        }
    }
}
