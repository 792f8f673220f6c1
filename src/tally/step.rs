//! The steps from the map to the order.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// One line of the tally.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// Which step it is.
    pub step: StepName,
    /// The step in words.
    pub text: String,
    /// What this step adds, kg (the first line: the map total).
    pub kg: f64,
}

/// What a step stands for. Outputs name it in snake case, such as `map`, `reserve`, `packs`.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum StepName {
    /// What the polygon map sows.
    Map,
    /// Closed tramline rows.
    Tramlines,
    /// More to open outlets while sections are shut.
    Sections,
    /// Sown a second time or beyond the land.
    Overlap,
    Missed,
    /// What a spreader's own least, most and step change about a balance.
    SpreaderSteps,
    /// What it leaves out along setbacks, for it throws farther than the drill is wide.
    SpreaderSetbacks,
    /// What the drill sows because it follows the map late and in one piece.
    Following,
    Reserve,
    /// What the meter cannot empty.
    Residue,
    /// What the plan of the same field for the other seedbed needs more.
    OtherSeedbed,
    /// What is broadcast of the very product that is placed: more in the order of the product, less in that of the balance.
    OneOrder,
    /// Rounded up to whole packs.
    Packs,
}

impl StepName {
    /// Whether it belongs to what leaves the outlets.
    pub fn is_sown(self) -> bool {
        match self {
            Self::Map
            | Self::Tramlines
            | Self::Sections
            | Self::Overlap
            | Self::Missed
            | Self::SpreaderSteps
            | Self::SpreaderSetbacks
            | Self::Following => true,
            Self::Reserve | Self::Residue | Self::OtherSeedbed | Self::OneOrder | Self::Packs => {
                false
            }
        }
    }
}

impl fmt::Display for StepName {
    /// As in outputs.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(out)
    }
}

/// What the polygon map sows, kg: the first step.
pub(super) fn map_kg(steps: &[Step]) -> f64 {
    let map = steps.iter().find(|step| step.step == StepName::Map);
    map.map_or(0.0, |step| step.kg)
}
