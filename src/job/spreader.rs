//! The spreader: the machine that broadcasts what is not placed with the seed.

use super::date;
use super::product::{Limits, Product};
use super::rules::{Check, at};
use super::types::Job;
use super::us_units::LimitsLbPerAcre;
use crate::units::UnitSystem;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The machine that broadcasts what is left of a fertiliser (`[product.balance]`): it gets maps of its own, on a stick of its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spreader {
    /// Name of the spreader, for sheets.
    #[serde(default)]
    pub name: String,
    /// Distance of its tracks.
    #[schemars(range(min = 1.0, max = 60.0))]
    pub working_width_m: f64,
    /// How far to each side of its track grains may land, by its manual; setbacks are widened by it. Without it the working
    /// width, for the patterns of neighbouring tracks overlap.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 100.0))]
    pub throw_m: Option<f64>,
    /// Error of its position; widens every setback. Without it that of the drill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 20.0))]
    pub position_error_m: Option<f64>,
    /// How far it still spreads along its track after it was shut; widens every setback. Without it that of the drill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 50.0))]
    pub run_on_m: Option<f64>,
    /// Edge of the cells of its grid. Without it that of `[grid]`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 100.0))]
    pub cell_m: Option<f64>,
    /// Least and most that it spreads, what the label allows, and the step, so that its screen shows round numbers.
    #[serde(default)]
    pub limits: Limits,
    /// The same limits in pounds per acre, instead of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits_lb_per_acre: Option<LimitsLbPerAcre>,
    /// Units of its screen; without it those of `[report]`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub units: Option<UnitSystem>,
    /// Day it is spread, YYYY-MM-DD, for closed periods; without it the sowing date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 10, max = 10))]
    pub spreading_date: Option<String>,
}

impl Spreader {
    /// How far to each side of its track grains may land, m.
    pub fn throw_m(&self) -> f64 {
        let width = self.working_width_m;
        self.throw_m.unwrap_or(width).max(width / 2.0)
    }
}

/// What is broadcast for a product, as orders, setbacks and closed periods call it.
pub fn balance_id(product: &Product) -> String {
    format!("{}_balance", product.id)
}

/// Whether an id stands for what a spreader of this job broadcasts.
pub fn is_spread(job: &Job, id: &str) -> bool {
    job.spreader.is_some() && job.products.iter().any(|product| balance_id(product) == id)
}

/// Limits that can be, a date that is one, and no product that is called as what is spread.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    let Some(spreader) = &job.spreader else {
        return;
    };
    if let Some(day) = &spreader.spreading_date
        && date::day_number(day).is_none()
    {
        check.add(
            at!["spreader", "spreading_date"],
            format!("'{day}' is no date"),
            "YYYY-MM-DD, such as 2026-03-14",
            "correct the date",
        );
    }
    if spreader
        .throw_m
        .is_some_and(|throw| throw < spreader.working_width_m / 2.0)
    {
        check.add(
            at!["spreader", "throw_m"],
            "it throws less far than to the middle between two tracks",
            format!(
                "half of working_width_m, {}, or more",
                spreader.working_width_m / 2.0
            ),
            "take how far grains land to one side of the track from its manual, or leave throw_m out",
        );
    }
    if spreader.limits.label_max_seeds_per_ha.is_some() {
        check.add(
            at!["spreader", "limits", "label_max_seeds_per_ha"],
            "a spreader of fertiliser has a limit in seeds",
            "label_max_kg_per_ha, what the fertiliser's label allows",
            "remove it",
        );
    }
    for (n, product) in job.products.iter().enumerate() {
        if job
            .products
            .iter()
            .any(|other| balance_id(other) == product.id)
        {
            check.add(
                at!["product", n, "id"],
                format!(
                    "'{}' is what the spreader's share of another product is called",
                    product.id
                ),
                "another id",
                "change it",
            );
        }
    }
}
