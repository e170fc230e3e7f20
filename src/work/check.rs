//! Check: is this load, this fault, this voltage within what every plate in
//! the path carries, rides through, breaks and stands.

mod asked;

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize, Serializer};

use self::asked::{asked, inputs};
use super::{Failure, FailureKind, JSON_VERSION, Resolved, facts, resolve_among};
use crate::calendar::Date;
use crate::domain::asset::{Class, FaultKind, Kind, Record, Unit};
use crate::domain::finding::{
    CAPACITOR_CHARGE, Caution, ChoiceUsed, Finding, Question, REGULATOR_BYPASS, SAFETY, Severity,
    Verdict, defect_caution,
};
use crate::domain::nameplate::{
    Asked, Case, Choices, Facts, Of, beyond_the_ceiling, governing, judge, misfit::misfit_cautions,
    transformer_notes,
};
use crate::store::{Store, Stored};
use crate::units::{Amps, Kv, Minutes, Seconds, XOverR};

/// What was typed with the question.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Typed {
    pub load: Option<Amps>,
    pub fault: Option<Amps>,
    /// Taken as the greatest of any kind when absent.
    pub fault_kind: Option<FaultKind>,
    pub x_over_r: Option<XOverR>,
    pub min_fault: Option<Amps>,
    /// Greatest operating voltage, line to line.
    pub kv_ll: Option<Kv>,
    /// Energized after an outage of so many minutes.
    pub outage: Option<Minutes>,
    /// Fault-on time of the whole sequence, summed.
    pub fault_time: Option<Seconds>,
    /// Load unbalance: what flows through the ground relay.
    pub unbalance: Option<Amps>,
    /// Judge as bypassed.
    pub bypass: bool,
}

/// A figure that was judged by, and where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InputUsed {
    pub name: &'static str,
    /// Absent: neither recorded nor typed.
    pub value: Option<f64>,
    pub unit: &'static str,
    pub origin: String,
}

/// The worst answer to each question, in the order of the questions.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Answers(pub Vec<(Question, Verdict)>);

impl Answers {
    #[must_use]
    pub fn get(&self, question: Question) -> Option<Verdict> {
        self.0.iter().find(|(q, _)| *q == question).map(|(_, v)| *v)
    }
}

impl Serialize for Answers {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_map(self.0.iter().map(|(q, v)| (q, v)))
    }
}

/// A question that was not put, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NotJudged {
    pub question: Question,
    pub why: String,
}

/// The answer to a check; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckReport {
    pub polecard: u32,
    /// Permanent id of the position.
    pub id: String,
    /// Its present name.
    pub name: String,
    pub class: Class,
    /// The worst of the questions.
    pub verdict: Verdict,
    /// Every element of the normal path and the bypass; the worst governs.
    pub questions: Answers,
    /// STOP before LOOK; on a regulator the bypass caution before all.
    pub cautions: Vec<Caution>,
    /// Worst first.
    pub findings: Vec<Finding>,
    /// Plates, settings and studies to read, shortest first.
    pub read_next: Vec<String>,
    pub not_judged: Vec<NotJudged>,
    pub inputs: Vec<InputUsed>,
    pub as_bypassed: bool,
    pub choices: Vec<ChoiceUsed>,
    /// What was refused or replaced by a default.
    pub notes: Vec<String>,
    pub safety: &'static str,
}

impl CheckReport {
    /// 0 all within, 1 something fails, 5 something is unknown, 6 tight.
    #[must_use]
    pub const fn exit_code(&self) -> u8 {
        self.verdict.exit_code()
    }

    /// The finding that governs a question.
    #[must_use]
    pub fn governing(&self, question: Question) -> Option<&Finding> {
        governing(&self.findings, question)
    }
}

/// Checks the position called `text`; a unit's name checks where it stands.
///
/// # Errors
/// Not found, or several where one is needed; those of the register.
pub fn check(
    store: &Store,
    text: &str,
    typed: &Typed,
    today: Date,
) -> Result<CheckReport, Failure> {
    let Resolved { stored, note } = position_called(store, text)?;
    let mut report = check_position(store, &stored, typed, today)?;
    report.notes.splice(0..0, note);
    Ok(report)
}

/// Checks a position already found.
///
/// # Errors
/// When the record is no position; those of the register.
pub fn check_position(
    store: &Store,
    position: &Stored,
    typed: &Typed,
    today: Date,
) -> Result<CheckReport, Failure> {
    let mut facts = facts::facts(store, position, today)?.ok_or_else(|| {
        Failure::not_found(format!(
            "{} is {}, and only a position can be checked",
            position.record.name(),
            crate::domain::asset::an(position.record.kind())
        ))
        .hint("check one of the positions on it")
    })?;
    if typed.outage.is_some() {
        facts.connected = Some(facts::connected(store, &facts)?);
    }
    let utility = store.utility()?;
    let map = utility.map(|u| u.choices).unwrap_or_default();
    let (choices, notes) = Choices::from_map(&map);
    Ok(report(&facts, typed, &choices, notes))
}

pub(super) fn position_called(store: &Store, text: &str) -> Result<Resolved, Failure> {
    match resolve_among(store, text, &[Kind::Position, Kind::Unit]) {
        Ok(Resolved {
            stored:
                Stored {
                    record: Record::Unit(unit),
                    ..
                },
            ..
        }) => where_unit_stands(store, &unit),
        Err(e) if e.kind == FailureKind::NotFound => Err(match resolve_among(store, text, &[]) {
            Ok(other) => only_positions(&other.stored),
            Err(_) => e,
        }),
        other => other,
    }
}

fn only_positions(stored: &Stored) -> Failure {
    let (kind, name) = (stored.record.kind(), stored.record.name());
    Failure::not_found(format!(
        "{name} is a {kind}, and only a position or the unit in it can be checked"
    ))
    .hint(format!("polecard show {name} names the positions on it"))
}

fn where_unit_stands(store: &Store, unit: &Unit) -> Result<Resolved, Failure> {
    let places: BTreeSet<&str> = unit
        .present()
        .filter(|d| !d.is_store())
        .map(|d| d.at.as_str())
        .collect();
    let mut places = places.into_iter();
    match (places.next(), places.next()) {
        (Some(at), None) => {
            let mut found = resolve_among(store, at, &[Kind::Position])?;
            found.note = Some(format!("unit {} is recorded at {at}", unit.unit));
            Ok(found)
        }
        (None, _) => Err(Failure::not_found(format!(
            "unit {} stands at no position on record, so there is nothing in series with it to check",
            unit.unit
        ))),
        (Some(a), Some(b)) => Err(Failure::not_found(format!(
            "unit {} is recorded at more than one position: {a}, {b}",
            unit.unit
        ))
        .hint("check one of these positions by its name")),
    }
}

/// The pure part: facts and typed values in, report out.
#[must_use]
pub fn report(
    facts: &Facts,
    typed: &Typed,
    choices: &Choices,
    mut notes: Vec<String>,
) -> CheckReport {
    let asked = asked(&facts.position, typed);
    let subjects = facts.subjects(asked.bypass);
    notes.extend(beyond_the_ceiling(&Case {
        facts,
        asked: &asked,
        choices,
        subjects: &subjects,
    }));
    notes.extend(transformer_notes(facts, choices));
    let mut findings = judge(facts, &asked, choices);
    findings.sort_by(|a, b| {
        let margin = |f: &Finding| f.margin_percent.unwrap_or(f64::INFINITY);
        b.verdict
            .cmp(&a.verdict)
            .then(a.question.cmp(&b.question))
            .then(margin(a).total_cmp(&margin(b)))
    });
    let questions = answers(&findings);
    CheckReport {
        polecard: JSON_VERSION,
        id: facts.position.id.to_string(),
        name: facts.position.position.clone(),
        class: facts.position.class,
        verdict: Verdict::worst(questions.0.iter().map(|(_, v)| *v)),
        cautions: cautions(facts, &findings),
        read_next: read_next(&findings),
        not_judged: not_judged(facts, &asked, &questions),
        inputs: inputs(facts, &asked),
        as_bypassed: typed.bypass,
        choices: used(&findings),
        notes,
        safety: SAFETY,
        questions,
        findings,
    }
}

/// The named choices that the findings rest on, each once.
fn used(findings: &[Finding]) -> Vec<ChoiceUsed> {
    let mut out: Vec<ChoiceUsed> = Vec::new();
    for choice in findings.iter().flat_map(|f| &f.choices) {
        if !out.contains(choice) {
            out.push(choice.clone());
        }
    }
    out
}

fn answers(findings: &[Finding]) -> Answers {
    let put = |q: &Question| match q {
        Question::See | Question::Last => findings.iter().any(|f| f.question == *q),
        _ => true,
    };
    Answers(
        Question::ALL
            .iter()
            .filter(|q| put(q))
            .map(|q| {
                let of = findings.iter().filter(|f| f.question == *q);
                (*q, Verdict::worst(of.map(|f| f.verdict)))
            })
            .collect(),
    )
}

fn not_judged(facts: &Facts, asked: &Asked, questions: &Answers) -> Vec<NotJudged> {
    let mut out = Vec::new();
    let mut say = |question, why: &str| {
        out.push(NotJudged {
            question,
            why: why.to_string(),
        });
    };
    if asked.min_fault.is_none() {
        say(
            Question::See,
            "no minimum fault is recorded or typed, so whether it sees one is unknown",
        );
    } else if questions.get(Question::See).is_none() {
        say(
            Question::See,
            "nothing here trips, counts or melts on the minimum fault, so whether another device sees it is unknown",
        );
    }
    if asked.outage_min.is_none() && facts.position.class.in_series() {
        say(
            Question::Ride,
            "inrush and cold load after an outage are unknown: type how long it lasted",
        );
    }
    if questions.get(Question::Last).is_none() {
        say(
            Question::Last,
            "standard interrupting duty is laid down here for reclosers only, so the wear of anything else is unknown; an open defect of used-up duty caps break",
        );
    }
    if asked.fault_on_s.is_none() {
        say(
            Question::Stand,
            "heat of wire, regulators and transformers by a passing fault is unknown where no fault-on time is typed or follows from the settings; cable insulation is not judged; BIL, making, peak and short time only where the plate has them",
        );
    }
    out
}

/// Regulator bypass first, then STOP before LOOK, each once.
fn cautions(facts: &Facts, findings: &[Finding]) -> Vec<Caution> {
    let p = &facts.position;
    let mut out = Vec::new();
    if let Some(why) = facts.bypassed() {
        let clears = match &facts.protecting {
            Some(device) => {
                format!("{device}, the nearest recorded toward the source, has to clear for it")
            }
            None => "what has to clear for it is not on record".to_string(),
        };
        out.push(Caution::stop(
            format!("{why}; {clears}. Ask control"),
            &p.position,
        ));
    }
    for f in findings.iter().filter(|f| f.verdict == Verdict::Fails) {
        let what = f.because.split("; margin").next().unwrap_or(&f.because);
        let slot = f
            .slot
            .as_ref()
            .map_or(String::new(), |s| format!(" slot {s}"));
        out.push(Caution::stop(
            format!("{}{slot} fails {}: {what}", f.element, f.question),
            &p.position,
        ));
    }
    out.extend(misfit_cautions(facts));
    out.extend(facts.stops.iter().cloned());
    for open in &facts.defects {
        let about = match &open.of {
            Of::Unit(name) | Of::Place(name) => name,
        };
        let mut caution = defect_caution(open.defect, open.seen, about);
        if let Some(notice) = &open.notice {
            caution.text = format!("notice {notice} counts it as: {}", caution.text);
        }
        out.push(caution);
    }
    if p.class == Class::Capacitor {
        out.push(Caution::stop(CAPACITOR_CHARGE, &p.position));
    }
    out.sort_by_key(|c| c.severity);
    out.dedup();
    if p.class == Class::Regulator {
        out.insert(
            0,
            Caution {
                severity: Severity::Stop,
                text: REGULATOR_BYPASS.to_string(),
                about: p.position.clone(),
            },
        );
    }
    out
}

fn read_next(findings: &[Finding]) -> Vec<String> {
    let mut out: Vec<String> = findings
        .iter()
        .filter_map(|f| f.read_next.clone())
        .collect();
    out.sort_by(|a, b| (a.len(), a).cmp(&(b.len(), b)));
    out.dedup();
    out
}
