//! Polecard: an equipment register and ID decoder for line crews.
//!
//! Someone types half a mark; the register answers with the record, what is
//! wrong with it and where it hangs; rules then put one question at a time to
//! every plate in the path. The screen, and where each part of it is made:
//!
//! ```text
//!  find > hb2 rc14                          tui::screen::find, work::find, domain::code
//!
//! > HB2-RC-14  recloser, Tannery Rd, …      present::find
//!
//!  HB2-RC-14  OIL RECLOSER, three-phase     work::card, present::card
//!  STOP  fault here 4,310 A, rating …       domain::nameplate, domain::finding
//!  state recorded 3 Oct 2026 14:10 …        domain::asset
//!  path  Hobb bus > HB2-BK-1 > this > …     domain::network, work::section
//!
//!  DEMO Hollin Valley Electric              tui::app
//!  enter open  c check  t trace  h help     tui::command
//! ```
//!
//! The floors; imports go down only, and a test holds it:
//!
//! ```text
//! 8  main
//! 7  tui::{run, term, thrifty}      the terminal
//! 6  tui::{screen, command, …}      screens            cli   one file a subcommand
//! 5  config, keys
//! 4  present                        reports to role-tagged lines
//! 3  work                           use-cases; a report is also the JSON
//! 2  store                          the only SQL       exchange  YAML and CSV
//! 1  domain                         the trade, pure
//! 0  units, calendar, role
//! ```

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
