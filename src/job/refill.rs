//! What a job file says about refilling.

use super::land::Source;
use super::rules::{Check, at};
use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Refilling: where the tender stands and how it fills.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Refill {
    /// Points where the tender stands, or lines along which it can, such as a field edge. Without this and `side_deg`, at any bout end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tender: Option<Source>,
    /// Bout ends within this distance of it are where the drill is filled.
    #[schemars(range(min = 1.0, max = 5000.0))]
    pub reach_m: f64,
    /// Instead of `tender`: the side of the field where it stands, clockwise from north; of each bout, the end towards it counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 360.0))]
    pub side_deg: Option<f64>,
    /// Ids of products that are filled in whole packs only.
    pub whole_packs_of: Vec<String>,
    /// Whether the divider between the two halves can be moved: the plan then names its best place.
    pub movable_divider: bool,
}

impl Default for Refill {
    fn default() -> Self {
        Self {
            tender: None,
            reach_m: 30.0,
            side_deg: None,
            whole_packs_of: Vec::new(),
            movable_divider: false,
        }
    }
}

/// A line of a hopper's own table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Level {
    /// Level above the lowest place, measured at one place that stays the same.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub cm: f64,
    /// Litres in it up to there.
    #[schemars(range(min = 0.0, max = 50000.0))]
    pub l: f64,
}

/// Settings of refilling that do not go together.
pub(super) fn check(check: &mut Check<'_>, job: &Job) {
    let refill = &job.refill;
    if refill.tender.is_some() && refill.side_deg.is_some() {
        check.add(
            at!["refill", "side_deg"],
            "both 'tender' and 'side_deg' are given",
            "one of them",
            "remove one of the two",
        );
    }
    for (n, id) in refill.whole_packs_of.iter().enumerate() {
        let product = job.products.iter().find(|product| product.id == *id);
        let found = match product {
            None => format!("'{id}' is no product of this job"),
            Some(product) if product.pack_kg.is_none() => {
                format!("'{id}' has no pack_kg, so whole packs of it are not known")
            }
            Some(_) => continue,
        };
        check.add(
            at!["refill", "whole_packs_of", n],
            found,
            "ids of products with a pack_kg",
            "correct the id, or add pack_kg to the product",
        );
    }
    for (n, hopper) in job.drill.hoppers.iter().enumerate() {
        if hopper.min_level_l >= hopper.usable_l {
            check.add(
                at!["drill", "hopper", n, "min_level_l"],
                format!(
                    "{} l must stay in hopper '{}', which holds {} l",
                    hopper.min_level_l, hopper.name, hopper.usable_l
                ),
                "less than usable_l",
                "correct one of the two",
            );
        }
        for (m, pair) in hopper.levels.windows(2).enumerate() {
            if let [low, high] = pair
                && (high.cm <= low.cm || high.l <= low.l)
            {
                check.add(
                    at!["drill", "hopper", n, "level", m + 1],
                    format!(
                        "{} cm with {} l comes after {} cm with {} l",
                        high.cm, high.l, low.cm, low.l
                    ),
                    "levels that rise, with more litres each",
                    "order the table from the bottom up",
                );
            }
        }
    }
}
