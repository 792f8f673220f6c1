//! Settings in pounds, acres and feet: turned into the metric ones that all rules work with.

use super::combined::{Combined, Part};
use super::product::{Limits, Lookup, Product, RateRule};
use super::rules::at;
use super::tree::Lines;
use super::types::Job;
use crate::findings::{Fault, Place};
use crate::units::{
    kg_per_ha_from_lb_per_acre, per_m2_from_per_ft2, thousand_grain_weight_g_from_seeds_per_lb,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Limits of a product's rate in pounds per acre, instead of those in kilograms.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitsLbPerAcre {
    /// Lowest rate above zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 4461.0))]
    pub min: Option<f64>,
    /// Highest rate by the product's label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 4461.0))]
    pub label_max: Option<f64>,
    /// Highest rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 4461.0))]
    pub max: Option<f64>,
    /// Rates are rounded to a multiple of this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 892.0), extend("exclusiveMinimum" = 0.0))]
    pub step: Option<f64>,
}

/// Turns all of them into metric settings; the job then has none of them left.
///
/// The faults: a setting that is given in both.
pub(super) fn resolve(job: &mut Job, lines: &Lines, file: &Path) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut twice = |path: &[String], metric: &str| {
        let key = path.last().cloned().unwrap_or_default();
        faults.push(*Fault::input(
            "job.rule",
            Place::file(file).line(lines.at(path)),
            format!("both '{key}' and '{metric}' are given"),
            "one of the two: they say the same in other units of measure",
            "remove one of them",
        ));
    };
    for (n, product) in job.products.iter_mut().enumerate() {
        of_product(product, n, &mut twice);
    }
    if let Some(own) = &mut job.spreader {
        for (key, metric) in of_limits(&mut own.limits_lb_per_acre, &mut own.limits) {
            twice(at!["spreader", "limits_lb_per_acre", key], metric);
        }
    }
    faults
}

fn of_product(product: &mut Product, n: usize, twice: &mut dyn FnMut(&[String], &str)) {
    let weight = thousand_grain_weight_g_from_seeds_per_lb;
    if !take(
        &mut product.seeds_per_lb,
        &mut product.thousand_grain_weight_g,
        weight,
    ) {
        twice(at!["product", n, "seeds_per_lb"], "thousand_grain_weight_g");
    }
    for (m, lot) in product
        .lots
        .iter_mut()
        .flat_map(|lots| &mut lots.each)
        .enumerate()
    {
        if !take(
            &mut lot.seeds_per_lb,
            &mut lot.thousand_grain_weight_g,
            weight,
        ) {
            let path = at!["product", n, "lots", "lot", m, "seeds_per_lb"];
            twice(path, "thousand_grain_weight_g");
        }
    }
    let rate = &mut product.rate;
    for (key, metric) in of_rate(rate) {
        twice(at!["product", n, "rate", key], metric);
    }
    for (m, entry) in rate.by_date.iter_mut().enumerate() {
        if !take(
            &mut entry.more_per_ft2,
            &mut entry.more_per_m2,
            per_m2_from_per_ft2,
        ) {
            let path = at!["product", n, "rate", "by_date", m, "more_per_ft2"];
            twice(path, "more_per_m2");
        }
    }
    for (key, metric) in of_limits(&mut product.limits_lb_per_acre, &mut product.limits) {
        twice(at!["product", n, "limits_lb_per_acre", key], metric);
    }
}

/// The keys that are given twice, with their metric ones.
fn of_rate(rate: &mut RateRule) -> Vec<(&'static str, &'static str)> {
    let (per_ft2, per_acre) = (per_m2_from_per_ft2(1.0), kg_per_ha_from_lb_per_acre(1.0));
    let all = [
        (
            "plants_per_ft2",
            "plants_per_m2",
            &mut rate.plants_per_ft2,
            &mut rate.plants_per_m2,
            per_ft2,
        ),
        (
            "seeds_per_ft2",
            "seeds_per_m2",
            &mut rate.seeds_per_ft2,
            &mut rate.seeds_per_m2,
            per_ft2,
        ),
        (
            "lb_per_acre",
            "kg_per_ha",
            &mut rate.lb_per_acre,
            &mut rate.kg_per_ha,
            per_acre,
        ),
        (
            "need_lb_per_acre",
            "need_kg_per_ha",
            &mut rate.need_lb_per_acre,
            &mut rate.need_kg_per_ha,
            per_acre,
        ),
    ];
    let mut twice = Vec::new();
    for (key, metric, customary, own, factor) in all {
        if !take(customary, own, |lookup| times(lookup, factor)) {
            twice.push((key, metric));
        }
    }
    twice
}

fn of_limits(
    customary: &mut Option<LimitsLbPerAcre>,
    own: &mut Limits,
) -> Vec<(&'static str, &'static str)> {
    let Some(mut lb) = customary.take() else {
        return Vec::new();
    };
    let all = [
        (
            "min",
            "limits.min_kg_per_ha",
            &mut lb.min,
            &mut own.min_kg_per_ha,
        ),
        (
            "label_max",
            "limits.label_max_kg_per_ha",
            &mut lb.label_max,
            &mut own.label_max_kg_per_ha,
        ),
        (
            "max",
            "limits.max_kg_per_ha",
            &mut lb.max,
            &mut own.max_kg_per_ha,
        ),
        (
            "step",
            "limits.step_kg_per_ha",
            &mut lb.step,
            &mut own.step_kg_per_ha,
        ),
    ];
    let mut twice = Vec::new();
    for (key, metric, customary, own) in all {
        if !take(customary, own, kg_per_ha_from_lb_per_acre) {
            twice.push((key, metric));
        }
    }
    twice
}

/// Moves a setting to its metric place; false where both are given.
fn take<T>(from: &mut Option<T>, to: &mut Option<T>, metric: impl Fn(T) -> T) -> bool {
    let Some(given) = from.take() else {
        return true;
    };
    let free = to.is_none();
    *to = Some(metric(given));
    free
}

/// A lookup whose every number is multiplied.
fn times(lookup: Lookup, factor: f64) -> Lookup {
    match lookup {
        Lookup::Same(number) => Lookup::Same(number * factor),
        Lookup::ByClass(table) => Lookup::ByClass(table_times(table, factor)),
        Lookup::Combined(combined) => Lookup::Combined(combined_times(combined, factor)),
    }
}

fn table_times(mut table: super::ByClass, factor: f64) -> super::ByClass {
    table
        .by_class
        .values_mut()
        .for_each(|number| *number *= factor);
    table
        .curve
        .iter_mut()
        .for_each(|point| point.value *= factor);
    table.otherwise = table.otherwise.map(|number| number * factor);
    table
}

/// A sum has its parts multiplied; a product gets the factor as one more part.
fn combined_times(mut combined: Combined, factor: f64) -> Combined {
    combined
        .first
        .iter_mut()
        .for_each(|rule| rule.value *= factor);
    combined.otherwise = combined.otherwise.map(|number| number * factor);
    let parts = std::mem::take(&mut combined.sum).into_iter();
    let scaled = parts.map(|part| match part {
        Part::Same(number) => Part::Same(number * factor),
        Part::ByClass(table) => Part::ByClass(table_times(table, factor)),
    });
    combined.sum = scaled.collect();
    if !combined.product.is_empty() {
        combined.product.push(Part::Same(factor));
    }
    combined
}
