//! Cautions of the line around a position: from which side it is normally
//! fed, every other recorded way in, what has to clear for it.

use crate::domain::asset::Position;
use crate::domain::finding::Caution;
use crate::domain::network::{Direction, FeedKind, Side, Walk};

/// Which device now protects what lies beyond.
pub(super) fn what_protects(walk: &Walk) -> String {
    let perhaps = if walk.perhaps_protecting.is_empty() {
        String::new()
    } else {
        format!(
            " ({}: link or blade not recorded)",
            walk.perhaps_protecting.join(", ")
        )
    };
    match &walk.protecting {
        Some(d) => format!(
            "What now protects, by the record: {} {}{}{perhaps}; whether it sees every fault beyond is not known",
            d.class,
            d.name,
            d.structure
                .as_ref()
                .map_or(String::new(), |s| format!(" at {s}"))
        ),
        None => format!("What now protects is not on record{perhaps}"),
    }
}

fn counted(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

/// Which side the source comes from, and every other recorded way in.
pub(super) fn line(p: &Position, walk: &Walk, placed: bool) -> Vec<Caution> {
    let mut out = Vec::new();
    let about = &p.position;
    if p.class.in_series() {
        out.push(Caution::look(
            format!("{}. {}", source_side(p), both_live(p, walk)),
            about,
        ));
    } else if walk.other_feeds.iter().any(|f| f.kind != FeedKind::Tie) {
        out.push(Caution::look(both_live(p, walk), about));
    }
    match walk.direction {
        Direction::Reversed => out.push(Caution::look(
            format!(
                "the walk comes in from {}, which is recorded as its load side: one of the two is wrong",
                walk.comes_from.as_deref().unwrap_or("the other side")
            ),
            about,
        )),
        Direction::BothEnds if !normally_open_here(p) => out.push(Caution::look(
            "fed from both ends by the record: a ring; what it alone feeds cannot be told",
            about,
        )),
        _ => {}
    }
    if let Some(why) = &walk.no_source {
        // Without a structure the place itself says what is missing.
        if placed {
            out.push(Caution::look(
                format!("no normal source found: {why}"),
                about,
            ));
        }
    } else {
        out.extend(side_named_otherwise(p, walk));
    }
    out.extend(of_walk(walk, about));
    out
}

/// What the walk itself warns of: devices on the way and further feeds that
/// are recorded to stand otherwise, rings, dangling ends, places inferred.
pub(super) fn of_walk(walk: &Walk, about: &str) -> Vec<Caution> {
    let mut out = Vec::new();
    for device in &walk.path {
        out.extend(
            device.stands_otherwise.as_ref().map(|t| {
                Caution::look(format!("on the way to the source: {t}. Ask control"), about)
            }),
        );
    }
    for feed in &walk.other_feeds {
        out.extend(
            feed.stands_otherwise
                .as_ref()
                .map(|t| Caution::look(format!("{t}. Ask control"), about)),
        );
    }
    // Which feeders a tie joins is said with its sides.
    let told = |n: &&String| !n.starts_with("tie between");
    let notes = walk.notes.iter().filter(told);
    out.extend(notes.map(|n| Caution::look(n, about)));
    out
}

fn normally_open_here(p: &Position) -> bool {
    crate::domain::network::normally_open(p)
}

fn source_side(p: &Position) -> String {
    match &p.normal_source {
        Some(side) => format!("normal source: {side}"),
        None => "normal source side: not recorded".to_string(),
    }
}

/// `Treat both sides as live: 1 tie, 2 generators recorded beyond; others may
/// exist`.
fn both_live(p: &Position, walk: &Walk) -> String {
    let mut parts = Vec::new();
    if let [a, b] = p.ties.as_slice() {
        parts.push(format!("it ties {a} to {b}"));
    }
    let mut sides = Vec::new();
    for side in [Side::Beyond, Side::SourceSide] {
        let kinds: Vec<String> = [
            (FeedKind::Tie, "tie"),
            (FeedKind::Generation, "generator"),
            (FeedKind::Join, "joined line"),
        ]
        .iter()
        .filter_map(|(kind, word)| {
            let n = walk.count(side, *kind);
            (n > 0).then(|| counted(n, word))
        })
        .collect();
        if !kinds.is_empty() {
            sides.push((side, kinds.join(", ")));
        }
    }
    let sides = sides.iter().map(|(side, kinds)| match (side, sides.len()) {
        (Side::Beyond, 1) => format!("{kinds} recorded beyond"),
        (Side::SourceSide, 1) => format!("{kinds} recorded on the source side"),
        (Side::Beyond, _) => format!("beyond: {kinds} recorded"),
        (Side::SourceSide, _) => format!("source side: {kinds}"),
    });
    parts.extend(sides);
    let what = if parts.is_empty() {
        "no tie and no generator recorded".to_string()
    } else {
        parts.join("; ")
    };
    format!("Treat both sides as live: {what}; others may exist")
}

/// The recorded side names a structure that lies on the load side.
fn side_named_otherwise(p: &Position, walk: &Walk) -> Option<Caution> {
    let side = p.normal_source.as_ref()?;
    let toward = p.toward.as_ref()?;
    let names = |text: &str, name: &str| {
        text.split(|c: char| c.is_whitespace() || c == ',' || c == ';')
            .any(|w| w == name)
    };
    let load = match walk.direction {
        Direction::AsRecorded => toward,
        Direction::Reversed => p.structure.as_ref()?,
        _ => return None,
    };
    names(side, load).then(|| {
        Caution::look(
            format!(
                "the recorded source side names {load}, and the walk has {load} on the load side"
            ),
            &p.position,
        )
    })
}
