//! Upkeep: what readings mean, what wears, and when something is due.
