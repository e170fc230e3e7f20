//! What readings mean: published values row by row, and what holds of every
//! row; forms of the register; the wiring to log, card and check.

mod capped;
mod rows;
mod wired;
