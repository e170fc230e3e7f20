//! A briefing: one page about a structure for the people who are sent there.
//! It shows the record; nothing in it is leave to act.

use serde::Serialize;

use super::card::{Card, Fact, OrderLine, card};
use super::related::position_of;
use super::{Failure, JSON_VERSION, resolve_among};
use crate::calendar::{Clock, Moment};
use crate::domain::asset::{Kind, Position, Record, Rel, Structure};
use crate::domain::finding::{Caution, SAFETY, Severity};
use crate::domain::network::{FeedKind, Side};
use crate::domain::verify::unread::to_read;
use crate::store::{Store, Stored};

/// A plate here that nobody has read in full.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnreadPlate {
    pub unit: String,
    pub position: String,
    pub fields: Vec<&'static str>,
    pub because: String,
}

/// A recorded way in: a source, a tie, generation, a join.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayIn {
    /// `source`, `tie`, `generation`, `join`.
    pub kind: &'static str,
    pub name: String,
    /// The circuit on whose line it was walked.
    pub circuit: Option<String>,
    /// Where it joins, what lies behind it, how it stands.
    pub words: String,
}

/// The briefing; its JSON is the document printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BriefingReport {
    pub polecard: u32,
    pub structure: String,
    pub id: String,
    pub what: String,
    /// The device or unit it was asked by, when it was not the structure.
    pub asked_by: Option<String>,
    pub read_at: Moment,
    /// The utility is made up.
    pub demo: bool,
    /// Road and landmark, to be read back.
    pub place: String,
    pub say: String,
    pub stops: Vec<Caution>,
    pub circuits: Vec<String>,
    pub ways_in: Vec<WayIn>,
    /// Where the walk of a circuit ends without a source, and the like.
    pub looks: Vec<Caution>,
    pub here: Vec<Fact>,
    pub unread: Vec<UnreadPlate>,
    pub hazards: Vec<String>,
    pub owner: Option<String>,
    pub joint_users: Vec<String>,
    pub orders: Vec<OrderLine>,
    /// Whom to ask, about what.
    pub ask: Vec<String>,
    pub safety: &'static str,
}

/// The briefing of a structure, or of the structure of a position or unit.
///
/// # Errors
/// Not found, when the record hangs on no structure in the register; those of
/// the register.
pub fn briefing(store: &Store, text: &str, clock: Clock) -> Result<BriefingReport, Failure> {
    let kinds = [Kind::Structure, Kind::Position, Kind::Unit];
    let found = resolve_among(store, text, &kinds)?.stored;
    briefing_of(store, &found, clock)
}

/// [`briefing`] of a record at hand.
///
/// # Errors
/// As [`briefing`].
pub fn briefing_of(
    store: &Store,
    record: &Stored,
    clock: Clock,
) -> Result<BriefingReport, Failure> {
    let stored = structure_of(store, record)?;
    let Record::Structure(s) = &stored.record else {
        return Err(Failure::not_found("that is no structure"));
    };
    let card = card(store, stored.rec, clock)?;
    let positions = positions(store, &s.structure)?;
    let unread = unread(store, &positions)?;
    let own = "at the place, ";
    let mut stops: Vec<Caution> = card.cautions.clone();
    stops.retain(|c| c.severity == Severity::Stop);
    let mut looks: Vec<Caution> = card.cautions.clone();
    looks.retain(|c| c.severity == Severity::Look && !c.text.starts_with(own));
    Ok(BriefingReport {
        polecard: JSON_VERSION,
        structure: s.structure.clone(),
        id: card.id.clone(),
        what: card.what.clone(),
        asked_by: (record.rec != stored.rec).then(|| record.record.name()),
        read_at: card.read_at,
        demo: card.demo,
        place: place(s),
        say: card.say.clone(),
        stops,
        circuits: circuits(&card),
        ways_in: ways_in(&card),
        looks,
        here: here(&card),
        unread,
        hazards: super::round::hazards(s),
        owner: s.owner.clone(),
        joint_users: s
            .joint_users
            .iter()
            .map(|j| match &j.what {
                Some(what) => format!("{} ({what})", j.who),
                None => j.who.clone(),
            })
            .collect(),
        ask: ask(s, &card),
        orders: orders(store, &stored, clock)?,
        safety: SAFETY,
    })
}

fn structure_of(store: &Store, record: &Stored) -> Result<Stored, Failure> {
    if record.record.kind() == Kind::Structure {
        return Ok(record.clone());
    }
    let position = position_of(store, record)?;
    match &position.record {
        Record::Position(p) => super::facts::structure_of(store, p)?.ok_or_else(|| {
            Failure::not_found(format!(
                "{} hangs on no structure in the register",
                p.position
            ))
        }),
        _ => Err(Failure::not_found("that hangs on no structure")),
    }
}

fn place(s: &Structure) -> String {
    let parts = [&s.place.house, &s.place.road, &s.place.near, &s.feeder];
    let parts: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
    if parts.is_empty() {
        "no road or landmark on record".to_string()
    } else {
        parts.join(", ")
    }
}

fn positions(store: &Store, structure: &str) -> Result<Vec<Position>, Failure> {
    Ok(store
        .pointing(Rel::HangsOn, structure)?
        .into_iter()
        .filter_map(|s| match s.record {
            Record::Position(p) => Some(p),
            _ => None,
        })
        .collect())
}

fn unread(store: &Store, positions: &[Position]) -> Result<Vec<UnreadPlate>, Failure> {
    let mut out = Vec::new();
    for p in positions {
        for stored in store.pointing(Rel::DeployedAt, &p.position)? {
            if let Record::Unit(u) = &stored.record
                && let Some(read) = to_read(p, u)
            {
                out.push(read);
            }
        }
    }
    out.sort_by(crate::domain::verify::unread::ToRead::order);
    Ok(out
        .into_iter()
        .map(|r| UnreadPlate {
            unit: r.unit,
            position: r.position,
            fields: r.fields,
            because: r.because,
        })
        .collect())
}

/// What the card says under `line`.
fn circuits(card: &Card) -> Vec<String> {
    card.groups
        .iter()
        .flat_map(|g| &g.rows)
        .filter(|f| f.label == "circuits" && f.text != "none on record")
        .flat_map(|f| f.text.split(", ").map(ToString::to_string))
        .collect()
}

fn here(card: &Card) -> Vec<Fact> {
    card.groups
        .first()
        .map(|g| g.rows.clone())
        .unwrap_or_default()
}

/// Every source on record, then every tie, generator and join beyond it or
/// before it.
fn ways_in(card: &Card) -> Vec<WayIn> {
    let mut out: Vec<WayIn> = Vec::new();
    for way in &card.fed {
        let circuit = way.feeder.clone();
        if let Some(source) = &way.walk.source {
            let path: Vec<&str> = way.walk.path.iter().map(|d| d.name.as_str()).collect();
            out.push(WayIn {
                kind: "source",
                name: source.clone(),
                circuit: circuit.clone(),
                words: match path.as_slice() {
                    [] => "no device recorded between".to_string(),
                    path => format!("over {}", path.join(", ")),
                },
            });
        }
        for feed in &way.walk.other_feeds {
            let side = match feed.side {
                Side::Beyond => "beyond",
                Side::SourceSide => "on the source side",
            };
            let at = feed.at.as_ref().map(|a| format!("at {a}"));
            let parts: Vec<String> = [Some(side.to_string()), at, feed.from.clone()]
                .into_iter()
                .chain([feed.stands_otherwise.clone()])
                .flatten()
                .collect();
            out.push(WayIn {
                kind: match feed.kind {
                    FeedKind::Tie => "tie",
                    FeedKind::Generation => "generation",
                    FeedKind::Join => "join",
                },
                name: feed.name.clone(),
                circuit: circuit.clone(),
                words: parts.join(", "),
            });
        }
    }
    let rank = |w: &WayIn| match w.kind {
        "source" => 0,
        "generation" => 1,
        _ => 2,
    };
    out.sort_by_key(|w| (rank(w), w.name.clone()));
    out.dedup_by(|a, b| a.kind == b.kind && a.name == b.name && a.words == b.words);
    out
}

fn orders(store: &Store, stored: &Stored, clock: Clock) -> Result<Vec<OrderLine>, Failure> {
    let found = super::orders::orders_of(store, stored, clock.today())?;
    Ok(found
        .orders
        .into_iter()
        .map(|o| OrderLine {
            overdue: o.overdue_days.is_some(),
            order: o.order,
            of: o.of,
            state: o.state,
            priority: o.priority,
            need: o.need,
            due: o.due,
        })
        .collect())
}

/// Control first: the record never says how a line stands now.
fn ask(s: &Structure, card: &Card) -> Vec<String> {
    let mut out =
        vec!["control centre: state now, holds, switching; this page never tells".to_string()];
    if let Some(owner) = &s.owner {
        out.push(format!("owner of the structure: {owner}"));
    }
    out.extend(
        s.joint_users
            .iter()
            .map(|j| format!("{}: what is theirs on it", j.who)),
    );
    let last = card
        .history
        .iter()
        .find(|l| l.what != "change" && l.by.is_some());
    if let Some(last) = last {
        let on = last.on.map_or("undated".to_string(), |d| d.spoken());
        out.push(format!(
            "{}, last there on record: {}, {on}",
            last.by.as_deref().unwrap_or_default(),
            last.what
        ));
    }
    out
}
