//! PCB class of a unit: what a test established, or what the rules say must or
//! may be assumed of an untested one by its type and date.

use super::{Case, Rule, Said, Subject};
use crate::calendar::Date;
use crate::domain::asset::{Class, EntryKind, Priority};
use crate::domain::finding::RuleStanding::{self, Inferred, Read};
use crate::units::figure;

pub(super) static RULES: &[Rule] = &[Rule {
    name: "pcb-class",
    reads: &["pcb_ppm", "pcb_label", "leak", "oil_level", "oil_kv"],
    all: false,
    on: &[],
    source: SOURCE,
    standing: Read,
    judge: spoken,
}];

const SOURCE: &str = "40 CFR 761.2 (a) and 761.3";

/// The day on which the rules turn.
const TURN: (i32, u32, u32) = (1979, 7, 2);

/// When a unit was made, as the rules ask it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Made {
    After,
    Before,
    /// On 2 July 1979: the rules name the days before and after it. Taken as
    /// before.
    OnTheDay,
    /// In 1979, the day not recorded. Taken as before.
    WithinYear,
    /// Nobody has read it. Never milder than any date.
    Unknown,
}

impl Made {
    /// Every variant.
    pub const ALL: &'static [Made] = &[
        Made::After,
        Made::Before,
        Made::OnTheDay,
        Made::WithinYear,
        Made::Unknown,
    ];
}

/// What liquid it holds, as the plate says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Liquid {
    /// None: solid, vacuum, air or gas throughout.
    None,
    MineralOil,
    /// Under three pounds of any liquid.
    Little,
    /// Unread.
    Unknown,
}

/// Classes of concentration, from the mildest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Band {
    /// Under 50 ppm.
    Under50,
    /// 50 to 499 ppm.
    Contaminated,
    /// 500 ppm or more.
    Pcb,
}

impl Band {
    /// The class of a tested concentration in ppm.
    #[must_use]
    pub fn of_ppm(ppm: f64) -> Band {
        if ppm < 50.0 {
            Band::Under50
        } else if ppm < 500.0 {
            Band::Contaminated
        } else {
            Band::Pcb
        }
    }

    /// As the rules call it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Band::Under50 => "< 50 ppm",
            Band::Contaminated => "PCB-contaminated, 50 to 499 ppm",
            Band::Pcb => "PCB, 500 ppm or more",
        }
    }
}

/// On what a class rests.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// A test, or the mark on the unit.
    Established,
    /// The rules allow it to be assumed, for use alone.
    MayAssume,
    /// The rules demand that it be assumed.
    MustAssume,
}

/// The PCB class of a unit, in words that say on what it rests.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct PcbClass {
    pub band: Band,
    pub basis: Basis,
    pub text: String,
    pub source: &'static str,
    pub standing: RuleStanding,
}

/// When the plate says that it was made; of two dates the stricter. A date
/// that was assumed is none.
#[must_use]
pub fn made(subject: &Subject) -> Made {
    let day = subject
        .read_text("made_on")
        .and_then(|t| t.parse::<Date>().ok())
        .map(|d| {
            let turn = Date::from_ymd(TURN.0, TURN.1, TURN.2);
            match turn.map(|t| d.cmp(&t)) {
                Some(std::cmp::Ordering::Less) | None => Made::Before,
                Some(std::cmp::Ordering::Equal) => Made::OnTheDay,
                Some(std::cmp::Ordering::Greater) => Made::After,
            }
        });
    let turn = f64::from(TURN.0);
    let year = subject.read_number("made_year").map(|y| {
        if y < turn {
            Made::Before
        } else if y > turn {
            Made::After
        } else {
            Made::WithinYear
        }
    });
    match (day, year) {
        (Some(d), None | Some(Made::After | Made::WithinYear)) => d,
        (_, Some(y)) => y,
        (None, None) => Made::Unknown,
    }
}

/// Weight of a gallon of the heaviest of the liquids, askarel, in pounds; from
/// memory. The heaviest, since little liquid makes the rule milder.
const POUNDS_A_GALLON: f64 = 13.0;

/// What the plate says of the liquid.
#[must_use]
pub fn liquid(subject: &Subject) -> Liquid {
    let insulation = subject.read_text("insulation");
    let interrupter = subject.read_text("interrupter");
    let oil = |w: &Option<String>| w.as_deref() == Some("oil");
    let dry = |w: &Option<String>| w.is_some() && !oil(w);
    if let Some(gallons) = subject.read_number("oil_gallons")
        && subject.class == Some(Class::Transformer)
        && gallons > 0.0
        && gallons * POUNDS_A_GALLON < 3.0
    {
        return Liquid::Little;
    }
    if oil(&insulation) || oil(&interrupter) {
        return Liquid::MineralOil;
    }
    let none = match subject.class {
        Some(Class::Recloser | Class::Breaker | Class::Sectionalizer | Class::Switch) => {
            dry(&insulation) && dry(&interrupter)
        }
        Some(Class::Transformer | Class::Regulator) => {
            matches!(insulation.as_deref(), Some("solid" | "gas" | "air"))
        }
        Some(Class::Cutout | Class::Arrester | Class::Generation) | None => true,
        _ => false,
    };
    if none { Liquid::None } else { Liquid::Unknown }
}

/// What must or may be assumed of an untested unit, for use: the class, its
/// basis and the paragraph. `None` where there is no liquid to have any.
#[must_use]
pub fn untested(class: Class, liquid: Liquid, made: Made) -> Option<(Band, Basis, &'static str)> {
    use Basis::{MayAssume, MustAssume};
    let after = made == Made::After;
    let by_date = |band, paragraph| {
        if after {
            (Band::Under50, MayAssume, paragraph)
        } else {
            (band, MustAssume, paragraph)
        }
    };
    Some(match (class, liquid) {
        (Class::Capacitor, _) => by_date(Band::Pcb, "40 CFR 761.2 (a)(4)"),
        (_, Liquid::None) => return None,
        (Class::Recloser | Class::Breaker, _) | (_, Liquid::Little) => {
            (Band::Under50, MayAssume, "40 CFR 761.2 (a)(1)")
        }
        (Class::Transformer, Liquid::Unknown) if made == Made::Unknown => (
            Band::Pcb,
            MustAssume,
            "40 CFR 761.2 (a)(3), stricter than (a)(2)",
        ),
        _ => by_date(Band::Contaminated, "40 CFR 761.2 (a)(2)"),
    })
}

fn made_words(subject: &Subject, made: Made) -> String {
    let year = subject.read_number("made_year").map(|y| format!("{y:.0}"));
    let when = subject
        .read_text("made_on")
        .and_then(|t| t.parse::<Date>().ok())
        .map(Date::spoken)
        .or(year)
        .unwrap_or_default();
    match made {
        Made::Unknown => "date of make unknown".to_string(),
        Made::OnTheDay => format!("made {when}, the very day, taken as before it"),
        Made::WithinYear => "made 1979, day not recorded, taken as before 2 July".to_string(),
        Made::Before | Made::After => format!("made {when}"),
    }
}

/// A tested concentration and its day.
pub type Tested = (f64, Option<Date>);

/// The PCB class of a unit from its plate and its tests; `None` where nothing
/// in it can hold any.
#[must_use]
pub fn class_of(subject: &Subject, tests: &[Tested]) -> Option<PcbClass> {
    let class = subject.class?;
    if let Some(found) = by_test(subject, tests) {
        return Some(found);
    }
    let label = subject.read_text("pcb_label");
    if label.as_deref() == Some("PCB mark") {
        return Some(PcbClass {
            band: Band::Pcb,
            basis: Basis::Established,
            text: "carries the PCB mark: taken as PCB, 500 ppm or more; no test on record".into(),
            source: "40 CFR 761.40: the mark is required at 500 ppm and above",
            standing: Inferred,
        });
    }
    let made = made(subject);
    let (band, basis, paragraph) = untested(class, liquid(subject), made)?;
    if class == Class::Capacitor && label.as_deref() == Some("no PCBs") {
        return Some(PcbClass {
            band: Band::Under50,
            basis: Basis::MayAssume,
            text: format!(
                "untested capacitor, labelled No PCBs: {MAY_BE} if it was so marked at manufacture; {NOT_SETTLED}"
            ),
            source: "40 CFR 761.2 (a)(4)",
            standing: Read,
        });
    }
    let what = match liquid(subject) {
        Liquid::Unknown if class == Class::Transformer => "transformer of unread liquid".into(),
        Liquid::Unknown if class != Class::Capacitor => format!("{class}, liquid unread"),
        _ => class.word().to_string(),
    };
    let mut text = format!("untested {what}, {}: ", made_words(subject, made));
    text.push_str(&match basis {
        Basis::MayAssume => format!("{MAY_BE}; {NOT_SETTLED}"),
        _ => format!("must be assumed {}", band.words()),
    });
    text.push_str(match label.as_deref() {
        Some("tested") => ". The label says tested; the result is not on record",
        Some("no PCBs") if basis == Basis::MustAssume => {
            ". The label says no PCBs; that a label settles it is from memory, so the stricter stands"
        }
        _ => "",
    });
    Some(PcbClass {
        band,
        basis,
        text,
        source: paragraph,
        standing: Read,
    })
}

const MAY_BE: &str = "may be assumed < 50 ppm for use";
const NOT_SETTLED: &str = "not settled for spill, shipping, disposal: those need a test";

/// The class that tests established: the plate's figure where it is the latest
/// word, the highest of all otherwise; a lower one does not lower the class.
fn by_test(subject: &Subject, tests: &[Tested]) -> Option<PcbClass> {
    let stated = subject.plate.stated("pcb_ppm");
    let plate = subject.read_number("pcb_ppm").map(|p| (p, stated.on));
    let latest = tests.iter().copied().max_by_key(|(_, on)| *on);
    let settled =
        plate.filter(|(_, on)| latest.is_none_or(|(_, last)| on.is_some() && *on >= last));
    let (ppm, on) = settled.or_else(|| {
        let all = tests.iter().copied().chain(plate);
        all.max_by(|a, b| a.0.total_cmp(&b.0))
    })?;
    let band = Band::of_ppm(ppm);
    let day = on.map_or(", day not recorded".to_string(), |d| {
        format!(", {}", d.spoken())
    });
    let word = match band {
        Band::Under50 => "non-PCB by that test, < 50 ppm",
        other => other.words(),
    };
    let mut text = format!("{} ppm by test{day}: {word}", figure(ppm));
    if let Some((low, low_on)) = latest.filter(|(p, _)| settled.is_none() && *p < ppm) {
        let day = low_on.map_or(String::new(), |d| format!(", {},", d.spoken()));
        text.push_str(&format!(
            ". A later test{day} read {} ppm; the higher stands until the plate record is corrected by two people",
            figure(low)
        ));
    }
    Some(PcbClass {
        band,
        basis: Basis::Established,
        text,
        source: SOURCE,
        standing: Read,
    })
}

/// Speaks when oil is drawn, spilled, low, or its label is read.
fn spoken(case: &Case<'_>) -> Vec<Said> {
    let about_oil = case.entry.entry == EntryKind::Sample
        || case.number("pcb_ppm").is_some()
        || case.text("pcb_label").is_some()
        || matches!(case.text("leak"), Some("weeping" | "dripping"))
        || case.is("oil_level", "below the mark");
    if !about_oil {
        return Vec::new();
    }
    let mut subject = case.subject.clone();
    if let Some(label) = case
        .entry
        .readings
        .get("pcb_label")
        .filter(|l| l.is_known())
    {
        // The label as found now; one that says less than the record's mark
        // does not lower it.
        let marked = subject.read_text("pcb_label").as_deref() == Some("PCB mark");
        if !marked && subject.plate.set("pcb_label", label.clone()).is_err() {
            return Vec::new();
        }
    }
    let entries = case.earlier.iter().copied().chain([case.entry]);
    let tests: Vec<Tested> = entries
        .filter_map(|e| Some((e.readings.get("pcb_ppm")?.as_number()?, e.on)))
        .collect();
    let Some(found) = class_of(&subject, &tests) else {
        return Vec::new();
    };
    let text = format!("PCB: {}", found.text);
    let said = match found.band {
        Band::Pcb => Said::stop(format!(
            "{text}. Do not open or draw from it without the procedure for PCB"
        )),
        _ => Said::look(text),
    };
    let said = match found.basis {
        Basis::MayAssume | Basis::MustAssume if case.text("pcb_label").is_some() => said.proposing(
            Priority::Planned,
            "PCB unknown: have a sample tested by the local procedure, read the label and the date of make",
        ),
        _ => said,
    };
    vec![said.on(found.source, found.standing)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_date_is_never_milder_than_any_date() {
        let liquids = [Liquid::MineralOil, Liquid::Little, Liquid::Unknown];
        for class in Class::ALL {
            for liquid in liquids {
                let band = |m| untested(*class, liquid, m).map(|u| u.0);
                let unknown = band(Made::Unknown);
                for made in Made::ALL {
                    assert!(unknown >= band(*made), "{class} {liquid:?} {made:?}");
                }
            }
        }
    }
}
