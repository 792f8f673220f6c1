//! The map of what is left to broadcast.

use super::rated_land::RatedLand;
use super::{BalanceMap, Combination};
use crate::agronomy;
use crate::job::Job;
use crate::map;

/// Zones and metric grid, with a rate per product that can leave something, in job order; `None` if none can.
pub(super) fn map(land: &RatedLand, job: &Job) -> Option<BalanceMap> {
    let leaving: Vec<usize> = job
        .products
        .iter()
        .enumerate()
        .filter(|(_, product)| agronomy::has_balance(job, product))
        .map(|(nth, _)| nth)
        .collect();
    if leaving.is_empty() {
        return None;
    }
    let of_row = |row: &Combination| {
        let balance = |nth: &usize| row.rates.get(*nth)?.balance.as_ref();
        let rates = leaving.iter();
        rates
            .map(|nth| balance(nth).map_or(0.0, |balance| balance.kg_per_ha))
            .collect()
    };
    let rates: Vec<Vec<f64>> = land.rates.rows.iter().map(of_row).collect();
    Some(BalanceMap {
        zones: map::united(land.units(), &rates, &land.prepared.frame),
        grid: map::metric_grid(land.cells(), &rates, &leaving),
    })
}
