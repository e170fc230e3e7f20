//! Programs in a real pseudo-terminal.

pub mod harness;
mod screens;
mod term;
