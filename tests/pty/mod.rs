//! Programs in a real pseudo-terminal.

mod drafts;
pub mod harness;
mod reports;
mod screens;
mod term;
