//! Floor 1: the trade itself. Pure: no input or output, no clock, no terminal.

pub mod approach;
pub mod asset;
pub mod change;
pub mod code;
pub mod curve;
pub mod fault;
pub mod finding;
pub mod form;
pub mod melting;
pub mod nameplate;
pub mod network;
pub mod order;
pub mod outlier;
pub mod pairs;
pub mod repoint;
pub mod report;
pub mod second;
pub mod sequence;
pub mod trade;
pub mod upkeep;
pub mod verify;
pub mod who;
