//! Floor 3: the use-cases. Each takes a store and arguments and returns a
//! plain report, which is also the JSON.

pub mod demo;
pub mod failure;
pub mod find;

pub use failure::{Failure, FailureKind};

/// Version of every JSON document that the program prints.
pub const JSON_VERSION: u32 = 1;
