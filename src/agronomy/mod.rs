//! Wanted rates from agronomic rules, each with the reasons it has that value.

use crate::findings::{Finding, Outcome};
use crate::job::Job;
use crate::zones::Facts;
use serde::Serialize;

/// A rate with everything that made it, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rate {
    pub kg_per_ha: f64,
    pub reasons: Vec<Reason>,
}

/// One step on the way to a rate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reason {
    /// Stable id of the rule, such as `seed.population`.
    pub rule: &'static str,
    /// One sentence a farmer understands, with the numbers in it.
    pub text: String,
    /// The numbers that went in: name with unit, value.
    pub inputs: Vec<(String, f64)>,
    /// The rate after this step, in kg/ha.
    pub kg_per_ha: f64,
    /// Published source of the rule, or "common practice, no source".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<&'static str>,
}

/// The rate of every product (job order) on land with these facts.
///
/// # Errors
/// A class with no rate, naming product, layer and class.
pub fn rates(_job: &Job, _facts: &Facts) -> Outcome<(Vec<Rate>, Vec<Finding>)> {
    todo!()
}

/// The rate a product has on land about which nothing special is known: its base rate, for a lost
/// position. The area-weighted mean of the rates on the land, rounded by the product's step.
pub fn base_rate(_job: &Job, _product: usize, _area_and_rate: &[(f64, f64)]) -> f64 {
    todo!()
}
