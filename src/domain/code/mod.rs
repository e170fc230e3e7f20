//! Numbering schemes as data: reading ids however they come, writing them, and
//! what they are mistaken for.
//!
//! ```text
//!   typed, dictated, misheard text
//!        |  symbols, spoken        letters and digits, with their places
//!        v
//!   net (one a pattern)            repairs of one slip the pattern can hold
//!        |  parse                  cut into fields, check character tried
//!        v
//!   reading                        spans, fields, what was assumed; ranked
//! ```
//!
//! [`decode`] answers "what could this be", [`neighbours`] "what could this be
//! taken for", [`fits`] "is this a proper id", [`compose`] writes one, [`fold`]
//! is the key that searches use, [`say`] the form for the radio.

mod check;
mod decode;
mod form;
mod mistake;
mod net;
mod odds;
mod parse;
mod reading;
mod scheme;
pub mod sounds;
mod spoken;
mod symbols;
mod width;

pub use check::{CheckFault, CheckForm, CheckRule, MethodForm};
pub use decode::{Decoder, MAX_READINGS, Neighbour, decode, fits, neighbours};
pub use mistake::{Mistake, MistakeKind, fold_neighbours, mistake_between, mistake_between_in};
pub use odds::{Odds, Sort, check_penalty, odds};
pub use parse::{ComposeError, FieldText, compose, exact};
pub use reading::{Assumption, AssumptionKind, Reading, Span};
pub use scheme::{Code, Element, Kind, Pattern, Scheme, SchemeFault};
pub use spoken::{say, spoken_to_text, spoken_ways};
pub use symbols::{confusion_fold, fold};
