//! What a machine file says about the flow to outlets that are shut while others sow.

use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What becomes of the product of outlets that are shut while others sow.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ClosedFlow {
    /// The meter slows; the product is saved.
    #[default]
    MeterSlows,
    /// The flow returns to the hopper; the product is saved.
    Returned,
    /// The open outlets get it; nothing is saved.
    Redistributed,
}

/// The rules for the two kinds of shut outlets.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ShutFlows {
    /// Closed tramline rows.
    pub rows: ClosedFlow,
    /// Sections that are off.
    pub sections: ClosedFlow,
}

impl ShutFlows {
    /// As the job says: closed rows as the drill's sections, unless `[tramline]` has a rule of its own.
    pub fn of(job: &Job) -> Self {
        let sections = job.drill.shut_flow;
        let tramline = job.tramline.as_ref();
        Self {
            rows: tramline
                .and_then(|tramline| tramline.closed_flow)
                .unwrap_or(sections),
            sections,
        }
    }
}
