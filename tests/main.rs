//! One test binary: it links once and runs fast.
#![allow(clippy::unwrap_used)]

mod backup;
mod card;
mod check;
mod clerk;
mod cli;
mod code;
mod code_properties;
mod correct;
mod csv;
mod demo;
mod docs;
mod due;
mod duty;
mod effective;
mod entries;
mod faults;
mod find;
mod floors;
mod keys;
mod network;
mod notices;
mod odd;
mod orders;
mod pty;
mod published;
mod reports;
mod roundtrip;
mod scenarios;
mod screens;
mod screenshots;
mod store;
mod support;
mod swap;
mod upkeep;
mod verify;
