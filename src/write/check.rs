//! What every format takes for granted about a plan, checked once before anything is written.

use super::rings::{self, Winding};
use crate::findings::{Fault, Outcome, Place};
use crate::map::{Grid, NO_SET};
use crate::plan::Plan;

/// Refuses a plan whose parts do not fit together: writing it would give files that say something
/// else than the plan.
///
/// # Errors
/// One fault that names the part and the place.
pub(super) fn whole(plan: &Plan) -> Outcome<()> {
    let products = plan.job.products.len();
    if products == 0 {
        return Err(broken("It has no product".to_string(), Place::nowhere()));
    }
    let counts = [
        ("default rates", plan.rates.default_kg_per_ha.len()),
        (
            "rates for a lost position",
            plan.rates.position_lost_kg_per_ha.len(),
        ),
        (
            "rates outside the field",
            plan.rates.out_of_field_kg_per_ha.len(),
        ),
        ("products in the tally", plan.tally.planned.products.len()),
    ];
    for (what, count) in counts {
        if count != products {
            let found = format!("It has {count} {what} for {products} products");
            return Err(broken(found, Place::nowhere()));
        }
    }
    let fallbacks = plan
        .rates
        .position_lost_kg_per_ha
        .iter()
        .chain(&plan.rates.default_kg_per_ha)
        .chain(&plan.rates.out_of_field_kg_per_ha);
    for &rate in fallbacks {
        rate_is_one(rate, Place::nowhere())?;
    }
    for (index, row) in plan.rates.rows.iter().enumerate() {
        let place = Place::nowhere().feature(format!("row {} of the rate table", index + 1));
        if row.rates.len() != products || row.facts.classes.len() != plan.job.layers.len() {
            return Err(broken(
                "Its rates or classes are not complete".to_string(),
                place,
            ));
        }
        for rate in &row.rates {
            rate_is_one(rate.kg_per_ha, place.clone())?;
        }
    }
    for zone in &plan.maps.rate.zones {
        let place = Place::nowhere().feature(format!("map zone {}", zone.id));
        if zone.kg_per_ha.len() != products {
            return Err(broken("Its rates are not complete".to_string(), place));
        }
        for &rate in &zone.kg_per_ha {
            rate_is_one(rate, place.clone())?;
        }
        // 9 decimals are the coarsest of all formats.
        if !rings::any(&zone.polygons, Winding::ExteriorCounterClockwise, Some(9)) {
            return Err(broken("It has no land".to_string(), place));
        }
        if zone
            .combinations
            .iter()
            .any(|&row| row == 0 || row > plan.rates.rows.len())
        {
            return Err(broken(
                "It names a row that the rate table lacks".to_string(),
                place,
            ));
        }
    }
    grid(&plan.maps.rate.metric, products, "metric grid")?;
    if let Some(turned) = &plan.maps.rate.turned {
        grid(&turned.grid, products, "grid along the bouts")?;
    }
    if let Some(of) = &plan.maps.balance {
        grid(
            &of.grid,
            plan.tally.planned.balances.len(),
            "grid of the balance",
        )?;
    }
    grid(&plan.maps.rate.degrees, products, "grid in degrees")
}

fn grid(grid: &Grid, products: usize, name: &str) -> Outcome<()> {
    let place = Place::nowhere().layer(name);
    let cells = grid.columns.checked_mul(grid.rows).unwrap_or(0);
    let complete = cells > 0
        && grid.covered_m2.len() == cells
        && grid.kg_per_ha.numbers().len() == cells
        && grid.kg_per_ha.each() == products
        && grid
            .kg_per_ha
            .sets()
            .iter()
            .all(|rates| rates.len() == products);
    if !complete {
        let found = format!(
            "{} columns and {} rows do not fit its values",
            grid.columns, grid.rows
        );
        return Err(broken(found, place));
    }
    let numbers = grid.origin.iter().chain(&grid.cell);
    if !numbers.clone().all(|number| number.is_finite()) || grid.cell.iter().any(|&c| c <= 0.0) {
        return Err(broken(
            "Its origin or cell is no usable number".to_string(),
            place,
        ));
    }
    let mut cells = grid.covered_m2.iter().zip(grid.kg_per_ha.numbers());
    let bare = cells.position(|(covered, set)| *covered > 0.0 && *set == NO_SET);
    if let Some(index) = bare {
        let (row, column) = (index / grid.columns, index % grid.columns);
        let covered = grid.covered_m2[index];
        let found = format!(
            "The cell in column {column}, row {row} (from 0, south-west) covers {covered} m2 of land and has no rate"
        );
        return Err(broken(found, place));
    }
    let mut rates = grid.kg_per_ha.sets().iter().flatten();
    rates.try_for_each(|&rate| rate_is_one(rate, place.clone()))
}

fn is_rate(rate: f64) -> bool {
    rate.is_finite() && rate >= 0.0
}

fn rate_is_one(rate: f64, place: Place) -> Outcome<()> {
    if is_rate(rate) {
        return Ok(());
    }
    Err(broken(format!("A rate is {rate} kg/ha"), place))
}

fn broken(found: String, place: Place) -> Box<Fault> {
    Fault::program(
        "write.plan_broken",
        place,
        format!("The plan cannot be written. {found}"),
        "rates of 0 kg/ha and above for every product, on every piece of land",
    )
}
