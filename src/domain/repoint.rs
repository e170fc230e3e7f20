//! References by name, written anew when what they point at gets another name.

use super::asset::{Kind, Record, Rel};
use super::code::fold;

/// In which ways other records point at a record of a kind by its name.
#[must_use]
pub const fn pointed_by(kind: Kind) -> &'static [Rel] {
    match kind {
        Kind::Structure => &[
            Rel::HangsOn,
            Rel::Toward,
            Rel::SpanFrom,
            Rel::SpanTo,
            Rel::SourceAt,
            Rel::HeadAt,
            Rel::About,
        ],
        Kind::Position => &[Rel::DeployedAt, Rel::WasAt, Rel::About],
        _ => &[Rel::About],
    }
}

/// The record with every reference to the `kind` called `from` written as
/// `to`; `None` when it holds none.
#[must_use]
pub fn repointed(record: &Record, kind: Kind, from: &str, to: &str) -> Option<Record> {
    let folded = fold(from);
    let mut changed = false;
    let mut put = |text: &mut String| {
        if fold(text) == folded && text != to {
            *text = to.to_string();
            changed = true;
        }
    };
    let mut out = record.clone();
    match (&mut out, kind) {
        (Record::Position(p), Kind::Structure) => {
            p.structure.iter_mut().for_each(&mut put);
            p.toward.iter_mut().for_each(&mut put);
        }
        (Record::Span(s), Kind::Structure) => {
            put(&mut s.span.from);
            put(&mut s.span.to);
        }
        (Record::Source(s), Kind::Structure) => s.structure.iter_mut().for_each(&mut put),
        (Record::Source(s), Kind::Position) => s.disconnect.iter_mut().for_each(&mut put),
        (Record::Feeder(f), Kind::Structure) => f.head.iter_mut().for_each(&mut put),
        (Record::Unit(u), Kind::Position) => u
            .deployments
            .iter_mut()
            .filter(|d| !d.is_store())
            .for_each(|d| put(&mut d.at)),
        (Record::Entry(e), _) => put(&mut e.of),
        (Record::Order(o), _) => put(&mut o.of),
        _ => {}
    }
    changed.then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn only_references_of_the_kind_are_written_anew() {
        let unit = Record::from_value(
            Kind::Unit,
            json!({"unit": "7-1", "class": "recloser",
                "deployments": [{"at": "HB2-RC-14"}, {"at": "shop"}]}),
        )
        .unwrap();
        let moved = repointed(&unit, Kind::Position, "hb2 rc 14", "HB2-RC-15").unwrap();
        assert_eq!(moved.to_value()["deployments"][0]["at"], "HB2-RC-15");
        assert_eq!(moved.to_value()["deployments"][1]["at"], "shop");
        assert!(repointed(&unit, Kind::Structure, "HB2-RC-14", "x").is_none());
        assert!(repointed(&unit, Kind::Position, "shop", "x").is_none());
    }
}
