//! The keys of `plan.json` that one command needs; whatever else the file holds is skipped unread.
//! What each of them is stands at [`super::PlanDocument`].

#![allow(missing_docs)]

use super::{Frame, Grids, LandRates, ShutByHand, TerminalFiles, Zone, ZoneMap};
use crate::drive;
use crate::drive::as_driven::AsDriven;
use crate::drive::spread::Spread;
use crate::findings::Finding;
use crate::job::Job;
use crate::plan::{GatePlace, Input, LaidTrial, OtherSeedbed};
use crate::tally::Tally;
use schemars::JsonSchema;
use serde::Deserialize;

/// What delivered files are held against.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ToAudit {
    pub id: String,
    pub job: Job,
    pub frame: Frame<'static>,
    pub map: ZoneMap<'static>,
    pub balance: Vec<Zone<'static>>,
    pub grids: Grids<'static>,
    pub terminal: TerminalFiles<'static>,
    pub as_driven: Option<AsDriven>,
    pub spread: Vec<Spread>,
    pub tally: Tally,
    pub findings: Vec<Finding>,
}

/// What a terminal's log is held against.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ToCompare {
    pub id: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedbed: Option<OtherSeedbed>,
    pub job: Job,
    pub rate_table: Vec<LandRates<'static>>,
    pub map: ZoneMap<'static>,
    pub grids: Grids<'static>,
    pub terminal: TerminalFiles<'static>,
    #[serde(default, skip_serializing_if = "<[LaidTrial]>::is_empty")]
    pub trials: Vec<LaidTrial>,
}

/// What a field record takes beside what a comparison does.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ToRecord {
    pub job: Job,
    pub inputs: Vec<Input>,
}

/// What an order over many fields takes.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ToOrder {
    pub id: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedbed: Option<OtherSeedbed>,
    pub job: Job,
    pub tally: Tally,
    pub findings: Vec<Finding>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreader_of: Option<String>,
}

/// What the week's list takes.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ToWeek {
    pub id: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedbed: Option<OtherSeedbed>,
    pub job: Job,
    pub terminal: TerminalFiles<'static>,
    pub drive: Option<drive::Report>,
    pub tally: Tally,
    pub findings: Vec<Finding>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreader_of: Option<String>,
}

/// What a stick with many fields takes.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ToStick {
    pub id: String,
    pub made_at: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedbed: Option<OtherSeedbed>,
    pub job: Job,
    pub terminal: TerminalFiles<'static>,
    pub gate_check: Vec<GatePlace>,
    pub shut_by_hand: Vec<ShutByHand<'static>>,
    pub tally: Tally,
    pub findings: Vec<Finding>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreader_of: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only: Option<Vec<String>>,
}
