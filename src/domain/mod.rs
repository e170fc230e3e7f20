//! Floor 1: the trade itself. Pure: no input or output, no clock, no terminal.

pub mod asset;
pub mod change;
pub mod code;
pub mod fault;
pub mod finding;
pub mod form;
pub mod nameplate;
pub mod network;
pub mod second;
pub mod verify;
