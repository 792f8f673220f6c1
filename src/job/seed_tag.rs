//! The most seeds that a seed tag allows, turned into the most by weight that all limits work with.

use super::product::{Kind, Product};
use super::rules::{Check, at};
use super::types::Job;

/// A cap by seeds that cannot be turned into weight.
pub(super) fn check(check: &mut Check<'_>, n: usize, product: &Product) {
    if product.limits.label_max_seeds_per_ha.is_none() {
        return;
    }
    let path = at!["product", n, "limits", "label_max_seeds_per_ha"];
    let id = &product.id;
    if product.kind != Kind::Seed {
        check.add(
            path,
            format!("'{id}' is no seed and has a cap in seeds"),
            "label_max_seeds_per_ha of a seed",
            "remove it, or use label_max_kg_per_ha",
        );
    } else if product
        .every()
        .iter()
        .any(|own| own.thousand_grain_weight_g.is_none())
    {
        check.add(
            path,
            format!("the cap in seeds of '{id}' cannot be turned into kg/ha without the thousand-grain weight"),
            "label_max_seeds_per_ha together with thousand_grain_weight_g, of each lot where there are several",
            "add thousand_grain_weight_g from the seed tag",
        );
    }
}

/// Makes the most by weight of every seed as strict as its cap by seeds. Of several lots the one with the lightest
/// grain decides, since limits are the product's.
pub(super) fn resolve(job: &mut Job) {
    for product in &mut job.products {
        let Some(seeds) = product.limits.label_max_seeds_per_ha else {
            continue;
        };
        let weights = product
            .every()
            .into_iter()
            .filter_map(|own| own.thousand_grain_weight_g);
        let Some(lightest_g) = weights.reduce(f64::min) else {
            continue;
        };
        // Grams per thousand seeds are milligrams per seed; a million of them are a kilogram.
        let by_seeds = seeds * lightest_g / 1.0e6;
        let limits = &mut product.limits;
        let by_weight = limits.label_max_kg_per_ha.unwrap_or(f64::INFINITY);
        limits.label_max_kg_per_ha = Some(by_weight.min(by_seeds));
    }
}
