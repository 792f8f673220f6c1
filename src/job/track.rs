//! What a job file says about points that were recorded while driving.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Rules for points recorded while driving, such as yield or conductivity; in the file they stand in the
/// order in which they were recorded.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Track {
    /// The value written at a point belongs to the place this many points earlier: a combine measures
    /// the grain some seconds after it was cut.
    #[serde(default)]
    #[schemars(range(max = 1000))]
    pub delay_points: u32,
    /// Column of the speed, in any unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub speed_column: Option<String>,
    /// Points at a lower speed, in the column's unit, are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1e6))]
    pub slowest: Option<f64>,
    /// Points at a higher speed are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1e6))]
    pub fastest: Option<f64>,
    /// Points nearer than this to a point of an earlier pass are left out: the header was not full there.
    /// Half the header's width suits most (common practice, no source).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.1, max = 100.0))]
    pub overlap_m: Option<f64>,
}
