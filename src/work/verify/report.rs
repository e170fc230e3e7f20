//! What verify tells: findings, scores, and what to read next.

use serde::Serialize;

use super::{ChainReport, Score};
use crate::calendar::Moment;
use crate::domain::asset::Kind;
use crate::domain::finding::RuleStanding;

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VerifyFinding {
    pub rule: &'static str,
    /// The record's present name.
    pub record: String,
    pub kind: Kind,
    pub id: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    /// What is the matter, and why it matters.
    pub why: String,
    /// What to do.
    pub fix: &'static str,
    pub source: &'static str,
    pub standing: RuleStanding,
}

/// How many findings a rule made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Count {
    pub rule: &'static str,
    pub found: usize,
    /// Those listed under `findings`.
    pub listed: usize,
}

/// A plate to read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadNext {
    pub unit: String,
    pub id: String,
    pub position: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feeder: Option<String>,
    pub fields: Vec<&'static str>,
    pub because: String,
}

/// The health of a register.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VerifyReport {
    pub polecard: u32,
    pub read_at: Moment,
    /// The utility is made up.
    pub demo: bool,
    pub records: usize,
    /// What says that the register was altered outside the program, whatever
    /// rules were asked for; first of all to be read.
    pub stops: Vec<String>,
    pub chain: ChainReport,
    pub findings: Vec<VerifyFinding>,
    pub counts: Vec<Count>,
    pub scores: Vec<Score>,
    /// Worst hazard first.
    pub read_next: Vec<ReadNext>,
    /// Units at positions whose plates are not all read.
    pub unread_plates: usize,
}
