//! What a job file says about driving.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the field is driven.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drive {
    /// How the heading of the interior bouts is found.
    #[serde(default)]
    pub heading: Heading,
    /// Heading of the interior bouts in the field's plane, clockwise from north; instead of `heading`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 360.0))]
    pub heading_deg: Option<f64>,
    /// Share of the time that is spent sowing, for the time in the field; without it no time is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100.0), extend("exclusiveMinimum" = 0.0))]
    pub field_efficiency_percent: Option<f64>,
    /// When a section is on in the interior: while any part, half, or all of its width is in it.
    #[serde(default)]
    pub switch_rule: SwitchRule,
    /// Which map the terminal follows: the grid in degrees of the task data, or the polygons.
    #[serde(default)]
    pub follows: Follows,
}

/// When a section is on.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SwitchRule {
    /// While any part of its width is in the interior.
    #[default]
    AnyPartIn,
    /// While at least half of its width is.
    HalfIn,
    /// While all of its width is.
    AllIn,
}

/// The map that the terminal follows.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Follows {
    /// The grid in degrees.
    #[default]
    Grid,
    /// The map zones.
    Polygons,
}

/// Where the heading comes from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Heading {
    /// Along the longest straight edge of the land.
    #[default]
    LongestEdge,
    /// The heading with the fewest bouts, searched in whole degrees.
    FewestTurns,
}
