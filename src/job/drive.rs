//! What a job file says about driving.

use super::land::Source;
use super::product::Kind;
use super::rules::{Check, at};
use super::tramline::Start;
use super::types::Job;
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
    /// Whether the map is cut to the bouts: pieces as wide as the drill along bouts and rings, cut across where that costs least
    /// against the wanted rates, each with one rate per product. Without it borders lie where the zones have them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub cut_to_bouts: bool,
    /// With `cut_to_bouts`: the least length of a piece along the bout; none is shorter than any change of rate
    /// takes by the `delays`. Without it one working width.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 1000.0))]
    pub shortest_piece_m: Option<f64>,
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
    cut_to_bouts(check, job, drive);
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

/// What a cut map does not go with: a piece has one rate per product, whatever land it lies on.
fn cut_to_bouts(check: &mut Check<'_>, job: &Job, drive: &Drive) {
    if !drive.cut_to_bouts {
        if drive.shortest_piece_m.is_some() {
            check.add(
                at!["drive", "shortest_piece_m"],
                "a least length of pieces is given, and the map is not cut into pieces",
                "'shortest_piece_m' together with cut_to_bouts = true",
                "set cut_to_bouts = true, or remove 'shortest_piece_m'",
            );
        }
        return;
    }
    let path = at!["drive", "cut_to_bouts"];
    if job.mixture.is_some() {
        check.add(
            path,
            "the map is to be cut to the bouts, and two seeds are tied in a [mixture]: a piece takes one rate of each, and their shares would part",
            "cut_to_bouts = true without [mixture]",
            "remove cut_to_bouts; borders then lie where the zones have them",
        );
    }
    let mut lots = job.products.iter().filter(|product| product.lots.is_some());
    if let Some(product) = lots.next() {
        check.add(
            path,
            format!(
                "the map is to be cut to the bouts, and the lots of '{}' lie by class: a piece may lie on land of two lots, and a hopper holds one",
                product.id
            ),
            "cut_to_bouts = true without lots by class",
            "remove cut_to_bouts, or plan the land of each lot as a job of its own",
        );
    }
    let beside_seed = job
        .products
        .iter()
        .any(|product| product.kind == Kind::Seed && !product.surface_applied);
    let fertilisers = job
        .products
        .iter()
        .filter(|product| product.kind == Kind::Fertiliser && !product.surface_applied);
    if beside_seed && fertilisers.count() > 1 {
        check.add(
            path,
            "the map is to be cut to the bouts, and two fertilisers lie beside the seed: their limit holds for both together, a piece takes the rate of each by itself",
            "cut_to_bouts = true with at most one fertiliser beside the seed",
            "remove cut_to_bouts; borders then lie where the zones have them",
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
