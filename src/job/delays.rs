//! What a job file says about how late a meter answers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Seconds from the terminal's word to the change at the outlets, as far as the terminal does not make
/// up for them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MeterDelays {
    /// From off to the first grain.
    #[schemars(range(min = 0.0, max = 30.0))]
    pub start_s: f64,
    /// From off to the last grain: what the hoses still hold.
    #[schemars(range(min = 0.0, max = 30.0))]
    pub stop_s: f64,
    /// To a higher rate.
    #[schemars(range(min = 0.0, max = 30.0))]
    pub step_up_s: f64,
    /// To a lower rate.
    #[schemars(range(min = 0.0, max = 30.0))]
    pub step_down_s: f64,
}
