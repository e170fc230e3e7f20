//! Floor 3: the use-cases. Each takes a store and arguments and returns a
//! plain report, which is also the JSON.

pub mod also;
pub mod approach;
pub mod aside;
pub mod backup;
pub mod briefing;
pub mod card;
pub mod check;
pub mod conclude;
pub mod decode;
pub mod demo;
pub mod due;
pub mod edit;
pub mod export;
pub mod facts;
pub mod failure;
pub mod fields;
pub mod find;
mod guard;
pub mod heads;
pub mod history;
pub mod import;
pub mod inspect;
pub mod kept;
pub mod log;
pub mod maps;
pub mod mend;
pub mod merge;
pub mod notices;
pub mod orders;
pub mod readback;
pub mod related;
pub mod repoint;
pub mod reports;
pub mod resolve;
pub mod round;
pub mod rules;
pub mod schemes;
pub mod section;
pub mod slot;
pub mod swap;
pub mod times;
pub mod trace;
pub mod undo;
pub mod verify;
pub mod words;

pub use also::{also, also_of};
pub use failure::{Failure, FailureKind};
pub use resolve::{Resolved, resolve, resolve_among};

/// Version of every JSON document that the program prints.
pub const JSON_VERSION: u32 = 1;

/// Whether the utility of a register is made up: then every answer says so.
///
/// # Errors
/// Those of the register.
pub fn is_demo(store: &crate::store::Store) -> Result<bool, Failure> {
    Ok(store.utility()?.is_some_and(|u| u.demo))
}
