//! The map of what is left to broadcast.

use super::Combination;
use crate::agronomy;
use crate::frame::Frame;
use crate::job::Job;
use crate::map::{self, Grid, GridCells, MapZone};
use crate::zones::LandUnits;

/// The zones and the metric grid of the balances, in the order of the products that can leave one; nothing if
/// none can.
pub(super) fn maps(
    combinations: &[Combination],
    units: &LandUnits,
    cells: &GridCells,
    job: &Job,
    frame: &Frame,
) -> (Vec<MapZone>, Option<Grid>) {
    let leaving: Vec<usize> = job
        .products
        .iter()
        .enumerate()
        .filter(|(_, product)| agronomy::has_balance(job, product))
        .map(|(nth, _)| nth)
        .collect();
    if leaving.is_empty() {
        return (Vec::new(), None);
    }
    let of_row = |row: &Combination| {
        let balance = |nth: &usize| row.rates.get(*nth)?.balance.as_ref();
        let rates = leaving.iter();
        rates
            .map(|nth| balance(nth).map_or(0.0, |balance| balance.kg_per_ha))
            .collect()
    };
    let rates: Vec<Vec<f64>> = combinations.iter().map(of_row).collect();
    (
        map::united(units, &rates, frame),
        Some(map::metric_grid(cells, &rates, &leaving)),
    )
}
