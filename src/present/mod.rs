//! Floor 4: reports as role-tagged text, width-aware, in box characters or
//! ASCII. The screens and the command line both print through here, so they
//! cannot disagree.

pub mod approach;
pub mod backup;
mod block;
pub mod briefing;
pub mod card;
pub mod check;
pub mod concluded;
pub mod due;
pub mod find;
pub mod import;
pub mod kept;
pub mod maps;
pub mod orders;
pub mod plot;
pub mod reports;
pub mod rules;
pub mod swap;
pub mod text;
pub mod times;
pub mod trace;
pub mod verify;
pub mod written;

pub use text::{Line, Piece, Style};
