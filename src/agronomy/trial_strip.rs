//! The rates of land that lies in a strip of a trial: what the strip asks for takes the place of the rule of the product, and every limit after
//! it holds as on all other land. Method: docs/methods/trial-layout.md.

use super::reasons::{RateSoFar, Step};
use super::{Rate, Reason, Rule, Tables, Why, chain};
use crate::findings::{Finding, Outcome};
use crate::job::{Job, Product};
use crate::texts::{Words, quantity};
use crate::zones::Facts;

/// A strip of a trial.
#[derive(Debug, Clone, Copy)]
pub struct Strip<'a> {
    /// Name of the trial.
    pub trial: &'a str,
    /// What it asks for, in job order; `None` for a product that goes by its own rule.
    pub asked: &'a [Option<Asked>],
}

/// What a strip asks for of a product.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// What leaves the drill, kg/ha.
    pub kg_per_ha: f64,
    /// What its land gets in all, drilled and broadcast, kg/ha of the placed product; without it what the drill lays, or the whole that
    /// has this as its placed share.
    pub in_all_kg_per_ha: Option<f64>,
}

impl Asked {
    /// What of a whole the drill lays, kg/ha; `None` where the product's own share says it. A rule of the place that lowered the whole
    /// lowers both by the same share.
    pub(super) fn placed_of(&self, whole_kg_per_ha: f64) -> Option<f64> {
        let in_all = self.in_all_kg_per_ha.filter(|in_all| *in_all > 0.0)?;
        match in_all == whole_kg_per_ha {
            true => Some(self.kg_per_ha),
            false => Some(self.kg_per_ha / in_all * whole_kg_per_ha),
        }
    }
}

/// The rates (job order) of land with these facts in a strip of a trial, and what there is to say.
///
/// # Errors
/// As [`super::rates`].
pub fn in_trial(
    job: &Job,
    tables: &Tables,
    facts: &Facts,
    strip: &Strip,
) -> Outcome<(Vec<Rate>, Vec<Finding>)> {
    let mut findings = Vec::new();
    let rates = chain::rates(job, tables, facts, Some(strip), &mut findings)?;
    Ok((rates, findings))
}

/// A rate of the map on land of a strip that goes by the map, with a reason that says so.
pub fn by_the_map(rate: &Rate, trial: &str, words: Words) -> Rate {
    let mut rate = rate.clone();
    let reason = Reason {
        rule: Rule::TrialStrip,
        text: words.say(&Why::StripByMap {
            trial: trial.to_owned(),
        }),
        inputs: Vec::new(),
        kg_per_ha: rate.kg_per_ha,
        source: None,
    };
    // The stand is the last word about a seed.
    let stand = rate
        .reasons
        .iter()
        .position(|own| own.rule == Rule::SeedStand);
    rate.reasons
        .insert(stand.unwrap_or(rate.reasons.len()), reason);
    rate
}

/// Puts what the strip asks for in place of the rate so far: what its land gets in all, or, of a product of which a share is
/// placed, the whole that has this share.
pub(super) fn ask(
    trial: &str,
    asked: Asked,
    product: &Product,
    so_far: &mut RateSoFar,
) -> Outcome<()> {
    let placed = product.rate.placed_percent.unwrap_or(100.0);
    let whole = match (asked.in_all_kg_per_ha, placed > 0.0) {
        (Some(in_all), _) => in_all,
        (None, true) => asked.kg_per_ha * 100.0 / placed,
        (None, false) => asked.kg_per_ha,
    };
    let before = so_far.kg_per_ha();
    so_far.take(Step {
        rule: Rule::TrialStrip,
        why: Why::Strip {
            trial: trial.to_owned(),
            asked: quantity::GivenRate(asked.kg_per_ha),
            before: quantity::Rate(before * placed / 100.0),
        },
        inputs: &[("asked kg/ha", asked.kg_per_ha), ("kg/ha before", before)],
        kg_per_ha: whole,
        source: None,
    })
}
