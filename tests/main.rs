//! One test binary: it links once and runs fast.
#![allow(clippy::unwrap_used)]

mod cli;
mod code;
mod code_properties;
mod find;
mod floors;
mod pty;
mod roundtrip;
mod store;
mod support;
