//! What the drill makes of the rates of a plan.

use super::drill_by_lot;
use super::rated_land::RatedLand;
use super::rates::{Combination, Rates, kg_per_ha};
use crate::drill::{self, Report, Row};
use crate::findings::Finding;
use crate::job::Job;

/// Rotors, flows and speeds.
pub(super) fn report(rates: &Rates, job: &Job) -> Report {
    drill::report(job, &rows(&rates.rows, &kg_per_ha(&rates.rows)))
}

/// What metering units, air stream and speed cannot do, with each lot of a product too.
pub(super) fn findings(land: &RatedLand, job: &Job) -> Vec<Finding> {
    let rows = land.drill_rows();
    let mut found = drill::findings(job, &rows, &drill::report(job, &rows));
    found.extend(drill_by_lot::findings(&land.rates.rows, job));
    found
}

/// Rows of the rate table as the drill meets them, with these rates (per row, per product, kg/ha).
pub(super) fn rows<'a>(rows: &[Combination], kg_per_ha: &'a [Vec<f64>]) -> Vec<Row<'a>> {
    let rows = rows.iter().zip(kg_per_ha);
    rows.map(|(row, kg_per_ha)| Row {
        part: row.facts.part,
        area_m2: row.area_m2,
        kg_per_ha,
    })
    .collect()
}
