//! Programs in a real pseudo-terminal.

mod drafts;
mod due;
pub mod harness;
mod reports;
mod screens;
mod term;
mod times;
