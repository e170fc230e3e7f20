//! Programs in a real pseudo-terminal.

mod drafts;
pub mod harness;
mod screens;
mod term;
