//! What a check rests on: the position with everything in series, what stands
//! in its slots, what is open against it, and what is asked.

use std::collections::BTreeMap;

use super::standing::{OpenDefect, OpenReading};
use crate::domain::asset::{
    Class, Conductor, Element, ElementKind, Entry, FaultKind, Grounding, Nameplate, Position, Span,
    Stands, Stated, Unit,
};
use crate::domain::finding::{Caution, Path, Question};
use crate::domain::upkeep::fused::PutIn;

/// A unit recorded in a slot of the position now.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitHere {
    pub unit: Unit,
    /// Its slot as recorded; the whole position when absent.
    pub slot: Option<String>,
    /// Another place at which the register also has it now.
    pub also_at: Option<String>,
}

/// Everything on record that a check of one position needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    pub position: Position,
    pub units: Vec<UnitHere>,
    pub defects: Vec<OpenDefect>,
    /// Readings that are no defect and that nothing later has put right.
    pub readings: Vec<OpenReading>,
    /// The span it stands in; several when the record does not tell them apart.
    pub spans: Vec<Span>,
    /// Conductors named by its elements and spans, by name.
    pub conductors: BTreeMap<String, Conductor>,
    /// Nominal line-to-line voltage of its feeder.
    pub nominal_kv_ll: Option<f64>,
    pub grounding: Option<Grounding>,
    /// X0/X1 at the source bus.
    pub x0_over_x1: Option<f64>,
    /// The nearest device toward the normal source that interrupts faults.
    pub protecting: Option<String>,
    /// STOPs of the structure that rest on readings and are no defect.
    pub stops: Vec<Caution>,
    /// Links put in that differ from the record, which the position holds as assumed.
    pub replaced: Vec<PutIn>,
    /// What is written about each unit here, by its name; nothing of days to come.
    pub written: BTreeMap<String, Vec<Entry>>,
    /// Transformers that are energized through the position; gathered only
    /// when energizing is asked about.
    pub connected: Option<Connected>,
}

/// Transformers beyond a position.
#[derive(Debug, Clone, PartialEq)]
pub struct Connected {
    /// The greatest of the three phases, kVA; one of no recorded phase counts on each.
    pub phase_kva: Option<f64>,
    /// `12 transformers beyond`.
    pub origin: String,
    /// Why there may be more.
    pub doubt: Option<String>,
}

/// A quantity with where it comes from: `typed`, `study 2025`.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    pub value: f64,
    pub origin: String,
}

/// A fault current to judge by.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultGiven {
    pub amps: f64,
    pub origin: String,
    pub x_over_r: Option<f64>,
    /// `None`: typed without a kind, taken as the greatest of any kind here.
    pub kind: Option<FaultKind>,
    /// Typed with the question; a recorded study otherwise.
    pub typed: bool,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// Load, A.
    pub load: Option<Given>,
    /// Greatest fault, A.
    pub fault: Option<FaultGiven>,
    /// Smallest fault that must be seen, A.
    pub min_fault: Option<Given>,
    /// Its kind, when it is recorded.
    pub min_fault_kind: Option<FaultKind>,
    /// Energized after an outage of so many minutes.
    pub outage_min: Option<Given>,
    /// Fault-on time of the whole sequence, seconds, summed.
    pub fault_on_s: Option<Given>,
    /// Load unbalance, A: what flows through the ground relay.
    pub unbalance: Option<Given>,
    /// Greatest operating voltage line to line, kV; from the feeder when absent.
    pub kv_ll: Option<Given>,
    /// Judge as bypassed: the bypass and the span only.
    pub bypass: bool,
}

/// What a thing in series is: the unit in a slot by its class, an element by
/// its kind, or the line section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Unit(Class),
    Element(ElementKind),
    Span,
}

impl Part {
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Part::Unit(class) => class.word(),
            Part::Element(kind) => kind.word(),
            Part::Span => "span",
        }
    }
}

/// Why an answer can be no better than unknown.
#[derive(Debug, Clone, PartialEq)]
pub struct Cap {
    /// Every question when absent.
    pub question: Option<Question>,
    pub why: String,
}

/// One thing in series, as the rules see it.
#[derive(Debug, Clone)]
pub struct Subject<'a> {
    pub path: Path,
    pub slot: Option<String>,
    pub called: String,
    pub part: Part,
    pub plate: Option<&'a Nameplate>,
    pub element: Option<&'a Element>,
    pub span: Option<&'a Span>,
    pub caps: Vec<Cap>,
}

impl Subject<'_> {
    /// A rating as recorded; `None` when the record is silent about it.
    #[must_use]
    pub fn recorded(&self, key: &str) -> Option<&Stated> {
        if let Some(plate) = self.plate {
            return plate.get(key);
        }
        let element = self.element?;
        match key {
            "continuous_amps" => element.amps.as_ref(),
            "link" => element.link.as_ref(),
            "interrupting_amps" => element.interrupting_amps.as_ref(),
            "interrupting_asym_amps" => element.interrupting_asym_amps.as_ref(),
            "test_x_over_r" => element.test_x_over_r.as_ref(),
            "momentary_amps" => element.momentary_amps.as_ref(),
            "max_kv" => element.max_kv.as_ref(),
            "bil_kv" => element.bil_kv.as_ref(),
            _ => None,
        }
    }

    /// The same, unknown when the record is silent.
    #[must_use]
    pub fn stated(&self, key: &str) -> Stated {
        self.recorded(key).cloned().unwrap_or_else(Stated::unknown)
    }

    /// Whether the two can stand in series in one slot.
    #[must_use]
    pub fn shares_slot(&self, other: &Subject<'_>) -> bool {
        match (&self.slot, &other.slot) {
            (Some(a), Some(b)) => covers(a, b) || covers(b, a),
            _ => true,
        }
    }
}

/// Whether current is recorded to run around the device.
#[must_use]
pub const fn around(stands: Stands) -> bool {
    matches!(stands, Stands::Bypassed | Stands::Jumpered)
}

/// Whether slot `wide` takes in slot `narrow`: `ABC` takes in `B`.
#[must_use]
pub fn covers(wide: &str, narrow: &str) -> bool {
    let phases = |s: &str| !s.is_empty() && s.chars().all(|c| "ABC".contains(c));
    wide == narrow || (phases(wide) && phases(narrow) && narrow.chars().all(|c| wide.contains(c)))
}

impl Facts {
    /// A position of which nothing else is on record.
    #[must_use]
    pub fn of(position: Position) -> Facts {
        Facts {
            position,
            units: Vec::new(),
            defects: Vec::new(),
            readings: Vec::new(),
            spans: Vec::new(),
            conductors: BTreeMap::new(),
            nominal_kv_ll: None,
            grounding: None,
            x0_over_x1: None,
            protecting: None,
            stops: Vec::new(),
            replaced: Vec::new(),
            written: BTreeMap::new(),
            connected: None,
        }
    }

    /// Everything in series on a path, from the normal source side, the span
    /// last. As bypassed, the span stands on the bypass.
    #[must_use]
    pub fn subjects(&self, as_bypassed: bool) -> Vec<Subject<'_>> {
        let mut out = Vec::new();
        if !as_bypassed {
            self.path_subjects(Path::Normal, &self.position.elements, &mut out);
        }
        self.path_subjects(Path::Bypass, &self.position.bypass, &mut out);
        if self.position.class.in_series() {
            self.span_subjects(as_bypassed, &mut out);
        }
        for subject in &mut out {
            self.cap(subject);
        }
        out
    }

    fn path_subjects<'a>(
        &'a self,
        path: Path,
        elements: &'a [Element],
        out: &mut Vec<Subject<'a>>,
    ) {
        let mut unit_done = path == Path::Bypass;
        for element in elements {
            if element.element == ElementKind::Unit {
                if !unit_done {
                    self.unit_subjects(out);
                    unit_done = true;
                }
            } else {
                out.push(element_subject(path, element));
            }
        }
        if !unit_done && self.expects_unit() {
            self.unit_subjects(out);
        } else if !unit_done {
            super::unjudged::unwritten(&self.position, out);
        }
    }

    /// A position whose elements do not mention the unit still has one, unless
    /// its own element stands for it: a cutout or switch recorded as such.
    fn expects_unit(&self) -> bool {
        let stood_for = |kinds: &[ElementKind]| {
            self.position
                .elements
                .iter()
                .any(|e| kinds.contains(&e.element))
        };
        let by_element = match self.position.class {
            Class::Cutout => stood_for(&[ElementKind::Cutout]),
            Class::Switch => stood_for(&[ElementKind::Switch]),
            _ => false,
        };
        !by_element || !self.units.is_empty()
    }

    fn unit_subjects<'a>(&'a self, out: &mut Vec<Subject<'a>>) {
        for here in &self.units {
            out.push(Subject {
                path: Path::Normal,
                slot: here.slot.clone(),
                called: format!("{} {}", here.unit.class, here.unit.unit),
                part: Part::Unit(here.unit.class),
                plate: Some(&here.unit.nameplate),
                element: None,
                span: None,
                caps: self.unit_caps(here),
            });
        }
        for slot in self.vacant_slots() {
            out.push(Subject {
                path: Path::Normal,
                called: self.vacant(&slot),
                slot: Some(slot),
                part: Part::Unit(self.position.class),
                plate: None,
                element: None,
                span: None,
                caps: Vec::new(),
            });
        }
    }

    fn vacant(&self, slot: &str) -> String {
        let class = self.position.class;
        let other = |u: &UnitHere| u.slot.as_deref().is_none_or(|s| covers(s, slot));
        if self.units.iter().any(other) {
            format!("{class}, another kind of unit on record in slot {slot}")
        } else {
            format!("{class}, no unit on record in slot {slot}")
        }
    }

    /// Slots, or phases of a slot, in which the register has no unit of the
    /// kind that belongs there.
    fn vacant_slots(&self) -> Vec<String> {
        let right = |u: &&UnitHere| !super::misfit::wrong_class(&self.position, &u.unit);
        let filled = |part: &str| {
            self.units
                .iter()
                .filter(right)
                .any(|u| u.slot.as_deref().is_none_or(|s| covers(s, part)))
        };
        let mut out = Vec::new();
        for slot in self.position.slot_names() {
            if filled(&slot) {
                continue;
            }
            let phases = !slot.is_empty() && slot.chars().all(|c| "ABC".contains(c));
            let missing: String = if phases {
                slot.chars().filter(|c| !filled(&c.to_string())).collect()
            } else {
                slot
            };
            if !missing.is_empty() {
                out.push(missing);
            }
        }
        out
    }

    /// Doubts about which unit it is: two in one slot, or one at two places.
    fn unit_caps(&self, here: &UnitHere) -> Vec<Cap> {
        let mut caps = Vec::new();
        let overlap = |a: &Option<String>, b: &Option<String>| match (a, b) {
            (Some(a), Some(b)) => covers(a, b) || covers(b, a),
            _ => true,
        };
        caps.extend(super::misfit::caps(&self.position, here));
        let others: Vec<&str> = self
            .units
            .iter()
            .filter(|o| o.unit.unit != here.unit.unit && overlap(&o.slot, &here.slot))
            .map(|o| o.unit.unit.as_str())
            .collect();
        if !others.is_empty() {
            caps.push(Cap {
                question: None,
                why: format!("the register also has {} in this slot", others.join(", ")),
            });
        }
        if let Some(place) = &here.also_at {
            caps.push(Cap {
                question: None,
                why: format!("the register also has {} at {place}", here.unit.unit),
            });
        }
        caps
    }

    fn span_subjects<'a>(&'a self, as_bypassed: bool, out: &mut Vec<Subject<'a>>) {
        let path = if as_bypassed {
            Path::Bypass
        } else {
            Path::Normal
        };
        let blank = |called: String, span: Option<&'a Span>| Subject {
            path,
            slot: None,
            called,
            part: Part::Span,
            plate: None,
            element: None,
            span,
            caps: Vec::new(),
        };
        if self.spans.is_empty() {
            out.push(blank("span".to_string(), None));
        }
        for span in &self.spans {
            out.push(blank(format!("span {}", span.name()), Some(span)));
        }
    }

    /// Adds what open defects and the state on record do to a subject.
    fn cap(&self, subject: &mut Subject<'_>) {
        subject.caps.extend(super::standing::caps(self, subject));
        subject.caps.extend(super::last::cap(self, subject));
        if let Some(why) = self.bypassed()
            && subject.path == Path::Normal
            && subject.part != Part::Span
        {
            for question in [Question::Break, Question::Ride, Question::See] {
                subject.caps.push(Cap {
                    question: Some(question),
                    why: why.clone(),
                });
            }
        }
    }

    /// Says so when the device was last recorded as bypassed or jumpered.
    #[must_use]
    pub fn bypassed(&self) -> Option<String> {
        let state = self.position.state.as_ref()?;
        around(state.stands).then(|| {
            format!(
                "recorded {} {}, so it interrupts nothing",
                state.stands.word().to_uppercase(),
                state.at.spoken()
            )
        })
    }

    /// Whether only one phase stands here, so far as the record tells.
    #[must_use]
    pub fn single_phase(&self, subject: &Subject<'_>) -> bool {
        let one = |s: &str| matches!(s, "A" | "B" | "C");
        match (&self.position.phases, &subject.slot) {
            (Some(phases), _) => one(phases),
            (None, Some(slot)) => one(slot) && self.position.slot_names().len() == 1,
            (None, None) => false,
        }
    }
}

fn element_subject(path: Path, element: &Element) -> Subject<'_> {
    let kind = element.element.word();
    let called = match (&element.label, &element.link) {
        (Some(label), _) => label.clone(),
        (None, Some(link)) => match &link.value {
            Some(value) => format!("{kind} {value}"),
            None => kind.to_string(),
        },
        (None, None) => kind.to_string(),
    };
    Subject {
        path,
        slot: element.slot.clone(),
        called,
        part: Part::Element(element.element),
        plate: None,
        element: Some(element),
        span: None,
        caps: Vec::new(),
    }
}
