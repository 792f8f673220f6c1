//! Wanted rates from agronomic rules, each with the reasons it has that value.
//!
//! One file per rule: [`seed`] and [`nutrient`] are plain arithmetic without a job; `base` picks the
//! rule a product names; `adjust` and `limit` are the steps after it; `chain` puts the steps in order
//! and writes the reasons down; `class` and `check` find the numbers in the job's tables.
//!
//! Order of the steps: base, adjustments, special areas, the share in a mixture, rules of the place, the share that is placed, most, seed-safe limit or
//! least and step, setbacks. A rate of 0 stays 0 through every step, and a setback is the last word.

mod adjust;
mod apply_limits;
mod balance;
mod base;
pub mod caution;
mod chain;
mod check;
mod class;
mod combined;
pub mod crop_list;
pub mod crop_tolerance;
pub mod crops;
mod grade_name;
mod library;
mod limit;
mod lot_by_class;
pub mod mixture;
pub mod nutrient;
mod on_piece;
mod other_nutrients;
pub mod placed;
pub mod offtake;
mod local_rules;
mod reasons;
mod recommend;
mod rule;
mod rule_coverage;
pub mod seed;
mod seed_row;
pub mod seedbed;
pub mod seed_safe;
mod sowing_dates;
mod spread_rate;
mod stand;
pub mod tables;
mod text;
mod toml_words;
mod trial_strip;
mod unusual_need;
mod why;

pub use balance::{Balance, balance_grade, balance_name, has_balance, in_all_kg_per_ha};
pub use check::check_classes;
pub use class::class_key;
pub use library::{Tables, table_files};
pub use lot_by_class::lot_on;
pub use mixture::Share;
pub use on_piece::{OnPiece, most_kg_per_ha, on_piece, times_on_piece};
pub use placed::Placed;
pub use rule::{Effect, Rule};
pub use rule_coverage::check_rules;
pub use seed_row::{Laid, SeedSafeCheck, Verdict};
pub use sowing_dates::check_dates;
pub use spread_rate::{SpreadRates, spread_limits};
pub use stand::Stand;
pub use trial_strip::{Asked, Strip, by_the_map, in_trial};
pub(crate) use why::Why;

use crate::findings::{Finding, Outcome};
use crate::job::Job;
use crate::zones::Facts;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// No drill delivers more than this. A rate above it comes from numbers in the wrong unit, so it is
/// refused, in kg/ha. Common practice, no source.
pub const MOST_KG_PER_HA: f64 = 5_000.0;

/// A rate with everything that made it, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rate {
    pub kg_per_ha: f64,
    pub reasons: Vec<Reason>,
    /// For fertiliser beside the seed: what each table of seed-safe limits says.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub seed_safe: Vec<SeedSafeCheck>,
    /// What is left to broadcast; none for products that leave no balance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub balance: Option<Balance>,
    /// The lot that is sown, by its place in the product's list.
    #[serde(skip)]
    pub lot: Option<usize>,
    /// For seed of a known grain weight: seeds, plants to expect, and other units of the trade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stand: Option<Stand>,
    /// For one of two species sown at once: its shares of its full rate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<Share>,
    /// In a strip of a trial: what the strip asks for, where it does not go by the map.
    #[serde(skip)]
    pub asked: Option<Asked>,
}

/// One step on the way to a rate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Its rule.
    pub rule: Rule,
    /// One sentence a farmer understands, with the numbers in it, in the units of the job's pages.
    pub text: String,
    /// The numbers that went in: name with unit, value.
    pub inputs: Vec<(String, f64)>,
    /// The rate after this step, in kg/ha of product; a step that only finds a need carries the rate it
    /// leads to.
    pub kg_per_ha: f64,
    /// Published source of the rule, or "common practice, no source".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<Cow<'static, str>>,
}

impl Rate {
    /// Whether a limit from above made it lower (of the job, the label, the place, or beside the seed), and the product
    /// is not off there anyway.
    pub fn held_down(&self) -> bool {
        let does = |effect: Effect| self.reasons.iter().any(|of| of.rule.effect() == effect);
        does(Effect::HoldsDown) && !does(Effect::SwitchesOff)
    }
}

/// The rate of every product (job order) on land with these facts, in kg/ha, and what was capped,
/// raised or rounded coarsely on the way.
///
/// # Errors
/// A class with no rate, naming product, layer and class; a number that is missing, negative, not
/// finite or in the wrong unit; limits that leave no rate. [`check_classes`] gives a better message for
/// classes, because it sees the whole field: call it first.
pub fn rates(job: &Job, tables: &Tables, facts: &Facts) -> Outcome<(Vec<Rate>, Vec<Finding>)> {
    let mut findings = Vec::new();
    let rates = chain::rates(job, tables, facts, None, &mut findings)?;
    Ok((rates, findings))
}

/// Checks the limits of every product, before any land is looked at.
///
/// # Errors
/// A limit or step that is negative, not finite or zero where zero makes no sense; a least rate above the
/// most; no multiple of the step between the two.
pub fn check_limits(job: &Job) -> Outcome<()> {
    for product in &job.products {
        limit::Limited::new(&product.limits)
            .map_err(|fault| chain::blame(job, product, None, *fault))?;
    }
    Ok(())
}

/// The rate a product has on land about which nothing special is known: its base rate, for a lost
/// position. The area-weighted mean of the rates on the land, rounded by the product's step.
///
/// `area_and_rate` holds pairs of m2 and kg/ha; the result is kg/ha. What is averaged is the caller's
/// choice: leave out land where a setback switches the product off, or the mean sinks. Land of no area,
/// or rates that are all 0, give 0. Any other mean is brought inside the product's limits and onto its
/// step, as in [`rates`]. A product number the job does not have gives 0.
pub fn base_rate(job: &Job, product: usize, area_and_rate: &[(f64, f64)]) -> f64 {
    let area: f64 = area_and_rate.iter().map(|(area, _)| area).sum();
    let mass: f64 = area_and_rate.iter().map(|(area, rate)| area * rate).sum();
    let Some(product) = job.products.get(product) else {
        return 0.0;
    };
    if area <= 0.0 || mass <= 0.0 {
        return 0.0;
    }
    let mean = mass / area;
    // Limits that leave no rate are a fault in `rates`, so here the bare mean is all there is to say.
    limit::Limited::new(&product.limits).map_or(mean, |limited| limited.apply(mean))
}

#[cfg(test)]
mod tests;
