//! Records of the register as plain data: structures, positions, units,
//! spans, sources, feeders and what is written about them.

mod class;
mod field;
mod line;
mod name;
mod paper;
mod plate;
mod position;
mod record;
mod stated;
mod structure;
mod then;
mod unit;

pub(crate) use class::words;
pub use class::{Answer, Class, an};
pub use field::{Field, FieldMap, Holds, Table};
pub use line::{Conductor, Feeder, Grounding, Source, SourceKind, Span, SpanEnds, SpanKind};
pub use name::{Name, RecordId};
pub use paper::{
    CurveDoc, Defect, Depth, Entry, EntryKind, FormDoc, IntervalDoc, KeptDoc, MapDoc, Notice,
    NoticeRule, Order, OrderState, Priority, ReadBy, SchemeDoc, Utility,
};
pub use plate::{Nameplate, PLATE, PlateTable, SETTINGS, SettingTable, Settings};
pub use position::{
    Customers, Element, ElementKind, FaultKind, FaultStudy, Hold, LoadStudy, Normally, Position,
    Stands, State, Switchable,
};
pub use record::{Kind, Link, Named, Record, Rel};
pub use stated::{Plain, ReadFrom, Standing, Stated};
pub use structure::{Hazard, JointUser, Place, Pole, Structure, StructureKind};
pub use then::{dated_after, on_day};
pub use unit::{Deployment, STORES, Unit};
