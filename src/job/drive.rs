//! What a job file says about driving.

use super::rules::{Check, at};
use super::tramline::Start;
use super::types::{Job, Source};
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
    /// A line, such as last year's, that the interior bouts run along: a straight A-B line or a curve; instead of
    /// `heading`. Its first feature counts (`only` picks one), and one bout has it in its middle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub along: Option<Source>,
    /// Whether the headland is driven before the interior or after it.
    #[serde(default)]
    pub headland: HeadlandTurn,
    /// Headings that the search for the fewest turns leaves out, such as straight down a slope; either
    /// way along them.
    #[serde(default)]
    pub avoid: Vec<HeadingRange>,
    /// Share of the time that is spent sowing, for the time in the field; without it no time is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100.0), extend("exclusiveMinimum" = 0.0))]
    pub field_efficiency_percent: Option<f64>,
    /// When a section is on in the interior: while any part, half, or all of its width is in it.
    #[serde(default)]
    pub switch_rule: SwitchRule,
    /// Numbers of equal sections to compare with one: what they would save.
    #[serde(default = "two")]
    #[schemars(inner(range(min = 1, max = 200)))]
    pub compare_sections: Vec<u32>,
    /// Whether what the drill cannot follow is joined: zones too narrow or too short for it go to the neighbour with
    /// the longest shared border, rates that a meter cannot tell apart (`resolves_percent`) become the lowest of them.
    /// The difference in kg is said. Without it such land is only named.
    #[serde(default)]
    pub join_too_fine: bool,
    /// Which map the terminal follows: the grid in degrees of the task data, or the polygons.
    #[serde(default)]
    pub follows: Follows,
}

fn two() -> Vec<u32> {
    vec![2]
}

/// Headings from one to another, clockwise, in degrees from north.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeadingRange {
    /// First heading.
    #[schemars(range(min = 0.0, max = 360.0))]
    pub from_deg: f64,
    /// Last heading; below the first one it goes on through north.
    #[schemars(range(min = 0.0, max = 360.0))]
    pub to_deg: f64,
}

impl HeadingRange {
    /// Whether a line with this heading, driven either way, lies in it.
    pub fn holds(&self, heading_deg: f64) -> bool {
        let span = (self.to_deg - self.from_deg).rem_euclid(360.0);
        let ways = [heading_deg, heading_deg + 180.0];
        ways.iter()
            .any(|way| (way - self.from_deg).rem_euclid(360.0) <= span)
    }
}

/// Settings about the heading that do not go together.
pub(super) fn check(check: &mut Check<'_>, job: &Job) {
    let Some(drive) = &job.drive else {
        return;
    };
    if drive.along.is_some() {
        let both = drive.heading_deg.is_some() || drive.heading != Heading::default();
        if both {
            check.add(
                at!["drive", "along"],
                "both a line and a heading are given for the bouts",
                "one of 'along', 'heading' and 'heading_deg'",
                "remove all but one",
            );
        }
        let half = job
            .tramline
            .as_ref()
            .is_some_and(|tramline| tramline.start == Start::Half);
        if half {
            check.add(
                at!["tramline", "start"],
                "start = \"half\" is given, and the line in 'along' says where the bouts lie",
                "start = \"whole\" together with 'along'",
                "remove 'start', or move the line by half a bout",
            );
        }
    }
    if drive.avoid.is_empty() {
        return;
    }
    if drive.heading != Heading::FewestTurns || drive.heading_deg.is_some() || drive.along.is_some()
    {
        check.add(
            at!["drive", "avoid"],
            "headings to avoid are given, and none is searched",
            "'avoid' together with heading = \"fewest_turns\"",
            "set heading = \"fewest_turns\", or remove 'avoid'",
        );
    }
    let all = (0..180).all(|heading| {
        let mut ranges = drive.avoid.iter();
        ranges.any(|range| range.holds(f64::from(heading)))
    });
    if all {
        check.add(
            at!["drive", "avoid"],
            "the headings to avoid leave none",
            "ranges that leave some of the headings from 0 to 179 degrees",
            "narrow them; a heading counts in both of its directions",
        );
    }
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

/// When the headland is driven.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeadlandTurn {
    /// Before the interior, from the border inwards.
    #[default]
    First,
    /// After the interior, from the interior outwards.
    Last,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_counts_both_ways_and_through_north() {
        let range = |from_deg, to_deg| HeadingRange { from_deg, to_deg };
        assert!(range(60.0, 120.0).holds(90.0) && range(60.0, 120.0).holds(270.0));
        assert!(!range(60.0, 120.0).holds(59.0) && !range(60.0, 120.0).holds(121.0));
        assert!(range(350.0, 10.0).holds(0.0) && range(350.0, 10.0).holds(175.0));
        assert!(!range(350.0, 10.0).holds(90.0));
        assert!(range(0.0, 180.0).holds(33.0));
    }
}
