//! The line of one feeder: what nothing reaches, what is reached twice, and
//! phases and directions that do not fit.

use super::{Detector, Found, MEANING, PRACTICE, Run};
use crate::domain::asset::{Kind, Position, Span, Structure, StructureKind};
use crate::domain::finding::RuleStanding;
use crate::domain::network::{Misfit, Network};

pub(super) static DETECTORS: &[Detector] = &[
    Detector {
        name: "feeder-unsourced",
        looks_at: "home feeders with line on record and no source that it joins",
        why: "No path, no protecting device and no fault current can be told anywhere on it.",
        fix: "Record the feeder with its source, and the structure at which it leaves it.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(unsourced),
    },
    Detector {
        name: "structure-unreached",
        looks_at: "structures to which no line on record leads",
        why: "What hangs there has no path: nobody can tell from the record what feeds or protects it.",
        fix: "Record the missing span, correct its end, or retire the structure.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(unreached),
    },
    Detector {
        name: "section-fed-twice",
        looks_at: "closed line by which a place is reached again",
        why: "On a radial line one of the two ways is open in truth; opening one device may not make the section dead.",
        fix: "Find the open point in the field and record it as normally open, or remove the span that is not there.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(twice),
    },
    Detector {
        name: "feeders-meet",
        looks_at: "places where the line of one feeder joins that of another with no open point",
        why: "Two feeders closed together can feed each other's faults, and opening one device does not make the section dead.",
        fix: "Find the open point in the field and record it as normally open; or correct the feeder of the span.",
        source: PRACTICE,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(meet),
    },
    Detector {
        name: "toward-source",
        looks_at: "the side a device faces, against the way to its normal source",
        why: "It is drawn the wrong way round: its source and load sides are swapped on the card.",
        fix: "Look which neighbour the source comes from, and correct toward or the normal source side.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(against),
    },
    Detector {
        name: "span-phases",
        looks_at: "phases of a span against those of the span that feeds it",
        why: "A phase cannot begin where the line before it does not have it: load and trouble are put on the wrong phase.",
        fix: "Look at the tap in the field and correct the phases of one of the two spans.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(span_phases),
    },
    Detector {
        name: "position-phases",
        looks_at: "phases of a position against those of the line it stands in or hangs on",
        why: "It is recorded on a phase that is not there.",
        fix: "Look at the position in the field and correct its phases or those of the line.",
        source: MEANING,
        standing: RuleStanding::CommonPractice,
        run: Run::Line(position_phases),
    },
];

fn span(s: &Span, detail: String) -> Found {
    Found {
        record: s.name(),
        kind: Kind::Span,
        id: s.id,
        detail,
    }
}

fn structure(s: &Structure, detail: &str) -> Found {
    Found {
        record: s.structure.clone(),
        kind: Kind::Structure,
        id: s.id,
        detail: detail.to_string(),
    }
}

fn unsourced(line: &Network) -> Vec<Found> {
    if line.is_sourced() {
        return Vec::new();
    }
    let section = line.section();
    let home = section.home.clone().unwrap_or_default();
    let feeder = section.feeders.iter().find(|f| f.feeder == home);
    let has_line = section.spans.iter().any(|s| s.feeder == section.home);
    if !has_line {
        return Vec::new();
    }
    vec![Found {
        id: feeder.map(|f| f.id).unwrap_or_default(),
        record: home,
        kind: Kind::Feeder,
        detail: match feeder {
            Some(_) => "has line on record that joins no source".to_string(),
            None => "has line on record and is not on record itself".to_string(),
        },
    }]
}

fn unreached(line: &Network) -> Vec<Found> {
    if !line.is_sourced() {
        return Vec::new();
    }
    line.unreached()
        .into_iter()
        .filter(|s| s.kind != StructureKind::Substation)
        .map(|s| structure(s, "is reached by no line on record"))
        .collect()
}

fn twice(line: &Network) -> Vec<Found> {
    line.closing_spans()
        .into_iter()
        .map(|s| {
            span(
                s,
                "joins two places that are both fed already: a ring of closed line, or two sources"
                    .to_string(),
            )
        })
        .collect()
}

fn meet(line: &Network) -> Vec<Found> {
    line.meetings()
        .into_iter()
        .map(|(s, at)| {
            let other = s.feeder.as_deref().unwrap_or("another feeder");
            span(
                s,
                format!("of {other} joins this feeder's closed line at {at}, and no open point is recorded there"),
            )
        })
        .collect()
}

fn against(line: &Network) -> Vec<Found> {
    line.against_the_tree()
        .into_iter()
        .map(|p: &Position| {
            let toward = p.toward.as_deref().unwrap_or("a neighbour");
            Found::at(
                p,
                format!("faces {toward} as its load side, and its normal source comes from there"),
            )
        })
        .collect()
}

fn span_phases(line: &Network) -> Vec<Found> {
    line.span_misfits()
        .into_iter()
        .map(|(s, m)| span(s, misfit(&m, "the line that feeds it is")))
        .collect()
}

fn position_phases(line: &Network) -> Vec<Found> {
    line.position_misfits()
        .into_iter()
        .map(|(p, m)| Found::at(p, misfit(&m, "the line there is")))
        .collect()
}

fn misfit(m: &Misfit, line: &str) -> String {
    format!("is on phase {}; {line} on {}", m.own.word(), m.line.word())
}
