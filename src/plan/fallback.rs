//! Rates for when the map does not answer: position lost, or outside the field.

use super::Combination;
use crate::agronomy;
use crate::job::{Fallback, Job, Product};

/// Per product (job order), kg/ha.
pub(super) struct Fallbacks {
    pub(super) position_lost: Vec<f64>,
    pub(super) out_of_field: Vec<f64>,
}

/// The fallback rates of all products. A product with a setback at the border of the land gets zero:
/// where the drill then is, nobody knows.
pub(super) fn rates(
    combinations: &[Combination],
    setback_at_border: &[bool],
    job: &Job,
) -> Fallbacks {
    let base: Vec<f64> = job
        .products
        .iter()
        .enumerate()
        .map(|(nth, product)| {
            let at_border = job
                .setbacks
                .iter()
                .zip(setback_at_border)
                .any(|(setback, &border)| border && setback.products.contains(&product.id));
            if at_border {
                return 0.0;
            }
            product
                .fallback_kg_per_ha
                .unwrap_or_else(|| base_rate(combinations, product, nth, job))
        })
        .collect();
    let rate = |fallback| match fallback {
        Fallback::BaseRate => base.clone(),
        Fallback::Zero => vec![0.0; base.len()],
    };
    Fallbacks {
        position_lost: rate(job.terminal.position_lost),
        out_of_field: rate(job.terminal.out_of_field),
    }
}

/// The mean over all land where no setback switches the product off.
fn base_rate(combinations: &[Combination], product: &Product, nth: usize, job: &Job) -> f64 {
    let is_off = |row: &&Combination| {
        row.facts
            .setbacks
            .iter()
            .any(|&s| job.setbacks[s].products.contains(&product.id))
    };
    let open: Vec<(f64, f64)> = combinations
        .iter()
        .filter(|row| !is_off(row))
        .map(|row| (row.area_m2, row.rates[nth].kg_per_ha))
        .collect();
    agronomy::base_rate(job, nth, &open)
}
