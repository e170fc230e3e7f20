//! Polecard: an equipment register and ID decoder for line crews.
//!
//! Imports go down only.

pub mod calendar;
pub mod cli;
pub mod config;
pub mod domain;
pub mod exchange;
pub mod keys;
pub mod present;
pub mod role;
pub mod store;
pub mod tui;
pub mod units;
pub mod work;
