//! Floor 2: YAML and CSV in and out. The only place, beside `config`, that
//! reads or writes YAML.

mod ahead;
mod alone;
pub mod csv;
mod document;
pub mod draft;
mod emit;
mod export;
mod flow;
mod forms;
mod import;
mod imported;
mod intervals;
mod left_out;
pub mod map;
mod matching;
mod only_new;
mod order;
mod replay;
pub mod scheme;
mod source;

pub use ahead::stop;
pub use csv::{
    Because, Contradiction, CsvAsk, CsvExported, CsvImported, Progress, Refusal, Take, Tally,
    export_csv,
};
pub use document::{Doc, Documents, ExchangeError, did_you_mean, first_key, record, typed};
pub use draft::{Draft, FormKind, Kept, Waiting, waiting};
pub use emit::document;
pub use export::{Exported, export, head_of};
pub use flow::{explain, flow, flow_or_block};
pub use forms::{Forms, form};
pub use import::{import, import_as};
pub use imported::{Difference, Imported, YamlAsk};
pub use intervals::{interval, shipped_intervals};
pub use map::CsvMap;
pub use only_new::{free_name, write_new};
pub use source::Source;
