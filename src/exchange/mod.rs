//! Floor 2: YAML and CSV in and out. The only place, beside `config`, that
//! reads or writes YAML.

mod document;
mod emit;
mod export;
mod import;
mod order;
pub mod scheme;

pub use document::{Doc, Documents, ExchangeError, did_you_mean, first_key, record, typed};
pub use emit::document;
pub use export::{Exported, export};
pub use import::{Difference, Imported, Source, import};
