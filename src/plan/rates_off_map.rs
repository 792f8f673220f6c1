//! Rates for when the map does not answer: position lost, or outside the field.

use super::{Combination, Rates};
use crate::agronomy::{self, Verdict};
use crate::job::{Fallback, Job, Product};

/// The rates beside a rate table, of all products. What a terminal may send when a task is started does not change
/// with a setback at the border. A product with a setback at the border of the land gets zero for a
/// lost position and outside the field: where the drill then is, nobody knows.
pub(super) fn beside(rows: Vec<Combination>, setback_at_border: &[bool], job: &Job) -> Rates {
    let base: Vec<f64> = job
        .products
        .iter()
        .enumerate()
        .map(|(nth, product)| {
            // What nothing covers beside the seed is not laid where the map does not answer either.
            if is_uncovered(&rows, nth) {
                return 0.0;
            }
            let own = product.fallback_kg_per_ha;
            own.unwrap_or_else(|| base_rate(&rows, product, nth, job))
        })
        .collect();
    let off_at_border: Vec<f64> = job
        .products
        .iter()
        .zip(&base)
        .map(|(product, &base)| {
            let at_border = job
                .setbacks
                .iter()
                .zip(setback_at_border)
                .any(|(setback, &border)| border && setback.products.contains(&product.id));
            if at_border { 0.0 } else { base }
        })
        .collect();
    let rate = |fallback, base: &[f64]| match fallback {
        Fallback::BaseRate => base.to_vec(),
        Fallback::Zero => vec![0.0; base.len()],
    };
    Rates {
        default_kg_per_ha: rate(job.terminal.default_rate, &base),
        position_lost_kg_per_ha: rate(job.terminal.position_lost, &off_at_border),
        out_of_field_kg_per_ha: rate(job.terminal.out_of_field, &off_at_border),
        rows,
    }
}

/// Whether there is land where no limit beside the seed covers a product.
fn is_uncovered(combinations: &[Combination], nth: usize) -> bool {
    let mut checks = combinations
        .iter()
        .filter_map(|row| row.rates.get(nth))
        .flat_map(|rate| &rate.seed_safe);
    checks.any(|check| check.verdict == Verdict::NotCovered)
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
