//! The two field tables: nameplates and settings. Bounds are ours (common
//! practice, no source): outside them a figure is a slip, not a rating.

use super::class::Class::{
    self, Arrester, Breaker, Capacitor, Cutout, Generation, Recloser, Regulator, Sectionalizer,
    Switch, Transformer,
};
use super::field::{Field, FieldMap, Holds, Table};

const fn number(
    key: &'static str,
    label: &'static str,
    unit: &'static str,
    (min, max): (f64, f64),
    classes: &'static [Class],
) -> Field {
    Field {
        key,
        label,
        holds: Holds::Number { unit, min, max },
        classes,
    }
}

const fn text(key: &'static str, label: &'static str, classes: &'static [Class]) -> Field {
    Field {
        key,
        label,
        holds: Holds::Text,
        classes,
    }
}

const fn choice(
    key: &'static str,
    label: &'static str,
    words: &'static [&'static str],
    classes: &'static [Class],
) -> Field {
    Field {
        key,
        label,
        holds: Holds::Choice(words),
        classes,
    }
}

const AMPS: (f64, f64) = (0.1, 6_000.0);
const FAULT_AMPS: (f64, f64) = (10.0, 100_000.0);
const KV: (f64, f64) = (0.05, 550.0);

macro_rules! tables {
    ($($(#[$doc:meta])* $table:ident, $what:literal, $rows:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub struct $table;
        impl Table for $table {
            const WHAT: &'static str = $what;
            fn fields() -> &'static [Field] {
                $rows
            }
            fn keys() -> &'static [&'static str] {
                static KEYS: std::sync::OnceLock<Vec<&'static str>> = std::sync::OnceLock::new();
                KEYS.get_or_init(|| $rows.iter().map(|f| f.key).collect())
            }
        }
    )*};
}

tables! {
    /// What may be stamped on a unit.
    PlateTable, "nameplate", PLATE;
    /// What may be set at a position.
    SettingTable, "settings", SETTINGS;
}

/// What is stamped on a unit.
pub type Nameplate = FieldMap<PlateTable>;
/// How a position is set, as issued or as found.
pub type Settings = FieldMap<SettingTable>;

const SWITCHING: &[Class] = &[Recloser, Sectionalizer, Cutout, Switch, Breaker];
const TRIPPING: &[Class] = &[Recloser, Breaker];
const COILED: &[Class] = &[Recloser, Sectionalizer];
const CARRYING: &[Class] = &[Recloser, Sectionalizer, Cutout, Switch, Regulator, Breaker];
const OILED: &[Class] = &[
    Recloser,
    Sectionalizer,
    Switch,
    Regulator,
    Transformer,
    Capacitor,
    Breaker,
];

/// The nameplate fields, in the order in which they are written and shown.
pub static PLATE: &[Field] = &[
    text("model", "model", &[]),
    text("serial", "serial", &[]),
    number("made_year", "made", "", (1900.0, 2100.0), &[]),
    Field {
        key: "made_on",
        label: "made on",
        holds: Holds::Date,
        classes: &[],
    },
    number("phases", "phases", "", (1.0, 3.0), &[]),
    choice(
        "interrupter",
        "interrupter",
        &["oil", "vacuum", "gas", "air", "expulsion", "none"],
        SWITCHING,
    ),
    choice(
        "insulation",
        "insulation",
        &["oil", "solid", "gas", "air", "porcelain", "polymer"],
        &[],
    ),
    choice(
        "control",
        "control",
        &["hydraulic", "electronic", "manual", "motor"],
        SWITCHING,
    ),
    number("continuous_amps", "continuous", "A", AMPS, CARRYING),
    number("coil_amps", "coil", "A", AMPS, COILED),
    number(
        "min_trip_amps",
        "minimum trip",
        "A",
        (1.0, 20_000.0),
        TRIPPING,
    ),
    number(
        "actuating_amps",
        "actuating",
        "A",
        (1.0, 20_000.0),
        &[Sectionalizer],
    ),
    number("counts", "counts", "", (1.0, 4.0), &[Sectionalizer]),
    number(
        "interrupting_amps",
        "interrupting, symmetrical",
        "A",
        FAULT_AMPS,
        &[Recloser, Cutout, Breaker],
    ),
    number(
        "interrupting_asym_amps",
        "interrupting, asymmetrical",
        "A",
        FAULT_AMPS,
        &[Cutout],
    ),
    number(
        "test_x_over_r",
        "test X/R",
        "",
        (0.1, 200.0),
        &[Recloser, Cutout, Breaker],
    ),
    number(
        "interrupting_at_kv",
        "interrupting at",
        "kV",
        KV,
        &[Recloser],
    ),
    number(
        "load_break_amps",
        "load break",
        "A",
        AMPS,
        &[Switch, Cutout, Sectionalizer],
    ),
    number("making_amps", "making", "A", FAULT_AMPS, SWITCHING),
    number(
        "momentary_amps",
        "momentary",
        "A",
        FAULT_AMPS,
        &[Switch, Sectionalizer, Regulator],
    ),
    number("peak_amps", "peak", "A", (10.0, 300_000.0), SWITCHING),
    number(
        "short_time_amps",
        "short time",
        "A",
        FAULT_AMPS,
        &[Switch, Sectionalizer, Regulator],
    ),
    number(
        "short_time_s",
        "for",
        "s",
        (0.01, 60.0),
        &[Switch, Sectionalizer, Regulator],
    ),
    number("holder_amps", "holder", "A", AMPS, &[Cutout]),
    number("blade_amps", "blade", "A", AMPS, &[Cutout]),
    number("nominal_kv", "nominal", "kV", KV, &[]),
    number("max_kv", "maximum", "kV", KV, CARRYING),
    number("bil_kv", "BIL", "kV", (10.0, 2_000.0), &[]),
    choice(
        "opens_load",
        "opens load",
        &["yes", "no"],
        &[Switch, Cutout, Sectionalizer],
    ),
    number(
        "kva",
        "rated",
        "kVA",
        (0.1, 100_000.0),
        &[Transformer, Regulator, Generation],
    ),
    number(
        "impedance_percent",
        "impedance",
        "%",
        (0.1, 30.0),
        &[Transformer],
    ),
    number("primary_kv", "primary", "kV", KV, &[Transformer]),
    number(
        "secondary_v",
        "secondary",
        "V",
        (6.0, 40_000.0),
        &[Transformer],
    ),
    choice(
        "connection",
        "connection",
        &[
            "single",
            "wye-wye",
            "delta-wye",
            "wye-delta",
            "open-wye open-delta",
            "delta-delta",
        ],
        &[Transformer],
    ),
    number("range_percent", "range", "%", (1.0, 20.0), &[Regulator]),
    number("cap_amps", "greatest current", "A", AMPS, &[Regulator]),
    number("kvar", "rated", "kvar", (1.0, 100_000.0), &[Capacitor]),
    number("cans", "cans", "", (1.0, 200.0), &[Capacitor]),
    number("duty_kv", "duty-cycle rating", "kV", KV, &[Arrester]),
    number("mcov_kv", "MCOV", "kV", KV, &[Arrester]),
    number("tov_kv", "withstood overvoltage", "kV", KV, &[Arrester]),
    number("tov_s", "for", "s", (0.01, 10_000.0), &[Arrester]),
    number("discharge_kv", "discharge voltage", "kV", KV, &[Arrester]),
    number("front_kv", "front-of-wave voltage", "kV", KV, &[Arrester]),
    number("oil_gallons", "oil", "gal", (0.0, 10_000.0), OILED),
    choice(
        "pcb_label",
        "PCB label",
        &["none", "no PCBs", "PCB mark", "tested"],
        OILED,
    ),
    number("pcb_ppm", "PCB", "ppm", (0.0, 1_000_000.0), OILED),
];

/// The settings, in the order in which they are written and shown.
pub static SETTINGS: &[Field] = &[
    number(
        "phase_pickup_amps",
        "phase pickup",
        "A",
        (0.5, 20_000.0),
        TRIPPING,
    ),
    number(
        "ground_pickup_amps",
        "ground pickup",
        "A",
        (0.5, 20_000.0),
        TRIPPING,
    ),
    number(
        "phase_pickup_secondary_amps",
        "phase pickup, secondary",
        "A",
        (0.01, 200.0),
        TRIPPING,
    ),
    number(
        "ground_pickup_secondary_amps",
        "ground pickup, secondary",
        "A",
        (0.01, 200.0),
        TRIPPING,
    ),
    number(
        "instantaneous_amps",
        "instantaneous trip",
        "A",
        (0.5, 50_000.0),
        TRIPPING,
    ),
    choice(
        "instantaneous",
        "instantaneous trip is",
        &["none", "set"],
        TRIPPING,
    ),
    text("ct_ratio", "CT ratio", &[]),
    number(
        "trips_to_lockout",
        "trips to lockout",
        "",
        (1.0, 4.0),
        TRIPPING,
    ),
    number("fast_trips", "fast", "", (0.0, 4.0), TRIPPING),
    number("delayed_trips", "delayed", "", (0.0, 4.0), TRIPPING),
    text("fast_curve", "fast curve", TRIPPING),
    text("delayed_curve", "delayed curve", TRIPPING),
    text("ground_fast_curve", "ground fast curve", TRIPPING),
    text("ground_delayed_curve", "ground delayed curve", TRIPPING),
    text("dial_convention", "dial convention", TRIPPING),
    text("reclose_intervals", "reclose intervals", TRIPPING),
    number("reset_s", "reset", "s", (0.0, 3_600.0), TRIPPING),
    number("active_group", "group", "", (1.0, 8.0), TRIPPING),
    number("counts", "counts", "", (1.0, 4.0), &[Sectionalizer]),
    number(
        "memory_s",
        "count memory",
        "s",
        (0.0, 3_600.0),
        &[Sectionalizer],
    ),
    number(
        "raise_limit_percent",
        "raise limit",
        "%",
        (0.0, 10.0),
        &[Regulator],
    ),
    number(
        "lower_limit_percent",
        "lower limit",
        "%",
        (0.0, 10.0),
        &[Regulator],
    ),
    number(
        "voltage_level_v",
        "voltage level",
        "V",
        (90.0, 150.0),
        &[Regulator],
    ),
    number("bandwidth_v", "bandwidth", "V", (0.5, 12.0), &[Regulator]),
    number("delay_s", "delay", "s", (0.0, 600.0), &[Regulator]),
    text("switching", "switching", &[Capacitor]),
    choice(
        "bank_connection",
        "bank connection",
        &["grounded wye", "ungrounded wye", "delta"],
        &[Capacitor],
    ),
    number(
        "protected_bil_kv",
        "BIL of what it protects",
        "kV",
        (10.0, 2_000.0),
        &[Arrester],
    ),
    number("lead_ft", "arrester lead", "ft", (0.0, 100.0), &[Arrester]),
    choice(
        "open_point",
        "before an open point",
        &["yes", "no"],
        &[Arrester],
    ),
];
