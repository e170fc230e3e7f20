//! One record of any kind, and what the register must know of it: its names,
//! its home and the records it points at by name.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::class::words;
use super::{
    Conductor, CurveDoc, Entry, Feeder, FormDoc, IntervalDoc, KeptDoc, MapDoc, Name, Notice, Order,
    Position, RecordId, SchemeDoc, Source, Span, Structure, Unit, Utility,
};

words! {
    /// Kind of record; the word is also the first key of its document.
    Kind {
        Utility = "utility",
        Scheme = "scheme",
        Conductor = "conductor",
        Source = "source",
        Feeder = "feeder",
        Structure = "structure",
        Span = "span",
        Position = "position",
        Unit = "unit",
        Entry = "entry",
        Order = "order",
        Notice = "notice",
        Form = "form",
        Interval = "interval",
        Map = "map",
        Curve = "curve",
        Kept = "kept",
    }
}

words! {
    /// In what way a record points at another by name.
    Rel {
        /// position -> structure
        HangsOn = "hangs_on",
        /// position -> structure on its load side
        Toward = "toward",
        /// unit -> position, a stay that has not ended
        DeployedAt = "deployed_at",
        /// unit -> position, a stay that has ended
        WasAt = "was_at",
        /// span -> structure
        SpanFrom = "span_from",
        /// span -> structure
        SpanTo = "span_to",
        /// entry or order -> any record
        About = "about",
        /// source -> structure
        SourceAt = "source_at",
        /// feeder -> source
        FedFrom = "fed_from",
        /// feeder -> structure
        HeadAt = "head_at",
        /// tie -> feeder
        Ties = "ties",
        /// structure -> feeder carried
        Carries = "carries",
    }
}

/// A name of a record as the index keeps it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    pub text: String,
    /// 0 the present name, 1 another name in use, 2 a name no longer in use.
    pub rank: u8,
}

/// A pointer to another record by name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    pub rel: Rel,
    pub target: String,
}

macro_rules! records {
    ($($kind:ident),*) => {
        /// A record of any kind.
        #[derive(Debug, Clone, PartialEq)]
        #[expect(clippy::large_enum_variant, reason = "positions are the common case in memory")]
        pub enum Record { $($kind($kind),)* }

        $(impl From<$kind> for Record {
            fn from(r: $kind) -> Record { Record::$kind(r) }
        })*

        impl Record {
            #[must_use]
            pub const fn kind(&self) -> Kind {
                match self { $(Record::$kind(_) => Kind::$kind,)* }
            }

            #[must_use]
            pub const fn id(&self) -> RecordId {
                match self { $(Record::$kind(r) => r.id,)* }
            }

            pub const fn set_id(&mut self, id: RecordId) {
                match self { $(Record::$kind(r) => r.id = id,)* }
            }

            /// The canonical form: keys in the order of the type.
            #[must_use]
            pub fn to_value(&self) -> Value {
                match self { $(Record::$kind(r) => serde_json::to_value(r),)* }
                    .expect("records hold only text keys and finite numbers")
            }

            /// The canonical form as compact JSON, as the store keeps it.
            #[must_use]
            pub fn to_json(&self) -> String {
                match self { $(Record::$kind(r) => serde_json::to_string(r),)* }
                    .expect("records hold only text keys and finite numbers")
            }

            /// Reads a record of a known kind from any self-describing source.
            ///
            /// # Errors
            /// Those of the source, naming an unknown key and what is allowed.
            pub fn read<'de, D: serde::Deserializer<'de>>(kind: Kind, d: D) -> Result<Record, D::Error> {
                match kind { $(Kind::$kind => $kind::deserialize(d).map(Record::$kind),)* }
            }
        }
    };
}

type Scheme = SchemeDoc;
type Form = FormDoc;
type Interval = IntervalDoc;
type Map = MapDoc;
type Curve = CurveDoc;
type Kept = KeptDoc;
records!(
    Utility, Scheme, Conductor, Source, Feeder, Structure, Span, Position, Unit, Entry, Order,
    Notice, Form, Interval, Map, Curve, Kept
);

impl Record {
    /// # Errors
    /// When the JSON is not a record of that kind.
    pub fn from_json(kind: Kind, json: &str) -> Result<Record, serde_json::Error> {
        let mut d = serde_json::Deserializer::from_str(json);
        Record::read(kind, &mut d)
    }

    /// # Errors
    /// When the value is not a record of that kind.
    pub fn from_value(kind: Kind, value: Value) -> Result<Record, serde_json::Error> {
        Record::read(kind, value)
    }

    /// What the record is called now.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Record::Utility(r) => r.utility.clone(),
            Record::Scheme(r) => r.scheme.clone(),
            Record::Conductor(r) => r.conductor.clone(),
            Record::Source(r) => r.source.clone(),
            Record::Feeder(r) => r.feeder.clone(),
            Record::Structure(r) => r.structure.clone(),
            Record::Span(r) => r.name(),
            Record::Position(r) => r.position.clone(),
            Record::Unit(r) => r.unit.clone(),
            Record::Entry(r) => match r.on {
                Some(on) => format!("{} {} {on}", r.of, r.entry),
                None => format!("{} {} undated", r.of, r.entry),
            },
            Record::Order(r) => r.order.clone(),
            Record::Notice(r) => r.notice.clone(),
            Record::Form(r) => r.form.clone(),
            Record::Interval(r) => r.interval.clone(),
            Record::Map(r) => r.map.clone(),
            Record::Curve(r) => r.curve.clone(),
            Record::Kept(r) => r.kept.clone(),
        }
    }

    /// The home feeder, whose file holds the record.
    #[must_use]
    pub fn home(&self) -> Option<&str> {
        match self {
            Record::Structure(r) => r.feeder.as_deref(),
            Record::Span(r) => r.feeder.as_deref(),
            Record::Position(r) => r.feeder.as_deref(),
            _ => None,
        }
    }

    /// Every name by which the record can be found; entries and spans have
    /// none of their own.
    #[must_use]
    pub fn names(&self) -> Vec<Named> {
        let others: &[Name] = match self {
            Record::Structure(r) => &r.names,
            Record::Position(r) => &r.names,
            Record::Unit(r) => &r.names,
            Record::Entry(_) | Record::Span(_) => return Vec::new(),
            _ => &[],
        };
        let mut out = vec![Named {
            text: self.name(),
            rank: 0,
        }];
        out.extend(others.iter().map(|n| Named {
            text: n.text.clone(),
            rank: if n.to.is_some() { 2 } else { 1 },
        }));
        if let Record::Unit(u) = self
            && let Some(serial) = u.nameplate.text("serial")
        {
            out.push(Named {
                text: serial.to_string(),
                rank: 1,
            });
        }
        out
    }

    /// Every other record it points at by name.
    #[must_use]
    pub fn links(&self) -> Vec<Link> {
        let mut out = Vec::new();
        let mut link = |rel: Rel, target: &str| {
            out.push(Link {
                rel,
                target: target.to_string(),
            });
        };
        match self {
            Record::Position(r) => {
                r.structure.iter().for_each(|t| link(Rel::HangsOn, t));
                r.toward.iter().for_each(|t| link(Rel::Toward, t));
                r.ties.iter().for_each(|t| link(Rel::Ties, t));
            }
            Record::Unit(r) => {
                for d in r.deployments.iter().filter(|d| !d.is_store()) {
                    let rel = if d.to.is_none() {
                        Rel::DeployedAt
                    } else {
                        Rel::WasAt
                    };
                    link(rel, &d.at);
                }
            }
            Record::Span(r) => {
                link(Rel::SpanFrom, &r.span.from);
                link(Rel::SpanTo, &r.span.to);
            }
            Record::Entry(r) => link(Rel::About, &r.of),
            Record::Order(r) => link(Rel::About, &r.of),
            Record::Source(r) => r.structure.iter().for_each(|t| link(Rel::SourceAt, t)),
            Record::Feeder(r) => {
                r.source.iter().for_each(|t| link(Rel::FedFrom, t));
                r.head.iter().for_each(|t| link(Rel::HeadAt, t));
            }
            Record::Structure(r) => r.circuits.iter().for_each(|t| link(Rel::Carries, t)),
            _ => {}
        }
        out
    }

    /// Words for a search by description: class, kind, road, landmark, feeder.
    #[must_use]
    pub fn search_words(&self) -> String {
        let mut parts: Vec<&str> = vec![self.kind().word()];
        match self {
            Record::Structure(r) => {
                parts.push(r.kind.word());
                parts.extend(
                    [&r.place.road, &r.place.near, &r.place.house, &r.feeder]
                        .into_iter()
                        .flatten()
                        .map(String::as_str),
                );
                parts.extend(r.circuits.iter().map(String::as_str));
            }
            Record::Position(r) => {
                parts.push(r.class.word());
                if let Some(state) = &r.state {
                    for word in state.telling() {
                        parts.push(word);
                    }
                }
                parts.extend(r.feeder.as_deref());
                parts.extend(r.structure.as_deref());
                parts.extend(r.ties.iter().map(String::as_str));
                if !r.ties.is_empty() {
                    parts.push("tie");
                }
            }
            Record::Unit(r) => {
                parts.push(r.class.word());
                parts.extend(r.nameplate.text("interrupter"));
                parts.extend(r.nameplate.text("model"));
                parts.extend(r.present().map(|d| d.at.as_str()));
            }
            Record::Source(r) => {
                parts.push(r.kind.word());
                parts.extend(r.substation.as_deref());
                parts.extend(r.prime_mover.as_deref());
            }
            Record::Order(r) => {
                parts.push(&r.need);
                parts.push(&r.of);
                parts.push(r.state.word());
            }
            Record::Notice(r) => parts.push(&r.text),
            _ => {}
        }
        parts.join(" ")
    }
}
