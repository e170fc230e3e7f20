//! Hours for which one maker allows a sound recloser to be overloaded. They are
//! printed as a note and change no verdict.

use super::bound::short;

/// One line of the sheet: coils or frame, and hours at 125, 150 and 175 % of the
/// continuous rating; `None` where it allows none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overload {
    pub unit: &'static str,
    pub hours: [Option<f64>; 3],
}

const fn row(unit: &'static str, hours: [Option<f64>; 3]) -> Overload {
    Overload { unit, hours }
}

/// A recloser maker's emergency-overload sheet, for a sound unit at 72 deg F; a
/// guide only.
pub static OVERLOADS: &[Overload] = &[
    row(
        "hydraulic, small frame, or medium frame with coils of 25 to 140 A",
        [Some(8.0), Some(4.0), Some(2.0)],
    ),
    row(
        "hydraulic, medium oil frame, coils of 200 and 280 A",
        [Some(3.0), Some(1.0), None],
    ),
    row(
        "hydraulic, medium vacuum frame, coils of 200 and 280 A",
        [Some(4.0), Some(2.0), None],
    ),
    row(
        "hydraulic, large frame, coils of 100 to 280 A",
        [Some(20.0), Some(8.0), Some(4.0)],
    ),
    row(
        "large frame, coils of 400 and 560 A",
        [Some(4.0), Some(2.0), None],
    ),
    row(
        "electronic, 400 A and most 560 A",
        [Some(4.0), Some(2.0), None],
    ),
    row("electronic, 800 A", [None, None, None]),
    row("electronic, 1200 A", [Some(1.0), None, None]),
];

/// Which lines may be meant by a coil of this size.
fn may_be(coil: f64) -> &'static [usize] {
    match coil {
        c if c < 100.0 => &[0],
        c if c <= 140.0 => &[0, 3],
        c if c <= 280.0 => &[1, 2, 3],
        _ => &[4],
    }
}

/// Lines of electronic units by their continuous rating.
fn electronic(rated: f64) -> &'static [usize] {
    match rated {
        r if r <= 560.0 => &[5],
        r if r <= 800.0 => &[6],
        _ => &[7],
    }
}

/// The note beside a coil that is loaded above its rating: the least hours of
/// the lines that may be meant.
#[must_use]
pub fn coil_note(load: Option<f64>, coil: Option<f64>) -> String {
    let lines = coil.map_or(&[][..], may_be);
    note(load, coil, lines)
}

/// The same of an electronic unit.
#[must_use]
pub fn electronic_note(load: Option<f64>, rated: Option<f64>) -> String {
    let lines = rated.map_or(&[][..], electronic);
    note(load, rated, lines)
}

fn note(load: Option<f64>, rated: Option<f64>, lines: &[usize]) -> String {
    let (Some(load), Some(rated)) = (load, rated) else {
        return String::new();
    };
    let percent = load / rated * 100.0;
    if percent <= 100.0 {
        return String::new();
    }
    let column = [125.0, 150.0, 175.0].iter().position(|p| percent <= *p);
    let least = column.and_then(|c| {
        let hours: Option<Vec<f64>> = lines.iter().map(|i| OVERLOADS[*i].hours[c]).collect();
        hours.and_then(|h| h.into_iter().reduce(f64::min))
    });
    match least {
        Some(hours) => format!(
            "Note: one maker's emergency sheet has {} h at this much for a sound unit at 72 deg F; it changes no verdict.",
            short(hours)
        ),
        None => "Note: one maker's emergency sheet has no hours at this much.".to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_of_the_lines_that_may_be_meant_is_named() {
        assert_eq!(coil_note(Some(90.0), Some(100.0)), "");
        assert!(coil_note(Some(60.0), Some(50.0)).contains("has 8 h"));
        assert!(coil_note(Some(240.0), Some(200.0)).contains("has 3 h"));
        assert!(coil_note(Some(340.0), Some(200.0)).contains("no hours"));
        assert!(coil_note(Some(900.0), Some(400.0)).contains("no hours"));
        assert!(electronic_note(Some(500.0), Some(400.0)).contains("has 4 h"));
        assert!(electronic_note(Some(810.0), Some(800.0)).contains("no hours"));
    }

    #[test]
    fn consistency_more_overload_is_never_allowed_longer() {
        for line in OVERLOADS {
            let hours: Vec<f64> = line.hours.iter().map(|h| h.unwrap_or(0.0)).collect();
            assert!(hours.is_sorted_by(|a, b| a >= b), "{}", line.unit);
        }
    }
}
