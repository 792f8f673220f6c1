//! The totals of a plan.

use super::rated_land::RatedLand;
use super::{Drive, Later, flat, later};
use crate::agronomy::Rate;
use crate::findings::{Finding, Outcome};
use crate::job::Job;
use crate::map::RateMap;
use crate::tally::{self, Counted, Tally};

/// What the map comes to: area, kilograms, order.
#[derive(Debug, Clone, PartialEq)]
pub struct Tallied {
    /// On the sowing date of the job.
    pub planned: Tally,
    /// What sowing a week later would need, where a rate goes by date.
    pub later: Option<Later>,
}

/// Counts the map as it is driven, and makes the order.
///
/// # Errors
/// A rate that cannot be made for the later date.
pub(super) fn counted(
    land: &RatedLand,
    map: &RateMap,
    drive: &Drive,
    job: &Job,
) -> Outcome<(Tallied, Vec<Finding>)> {
    let rows = land.rates.rows.iter();
    let rows: Vec<(f64, &[Rate])> = rows
        .map(|row| (row.area_m2, row.rates.as_slice()))
        .collect();
    let beside = drive.spread.iter().map(|of| &of.as_driven);
    let driven = drive.as_driven.iter().chain(beside);
    let counted = Counted {
        land: &land.prepared.land,
        units: land.units(),
        rates: &land.kg_per_ha,
        map,
        rows: &rows,
        tramline: land.prepared.tramlines.as_ref(),
        driven: driven.flat_map(|driven| &driven.products).collect(),
    };
    let planned = tally::count(&counted, job);
    let findings = flat::findings(&land.rates.rows, &planned.products, job);
    let later = later::week(land, &planned, job)?;
    Ok((Tallied { planned, later }, findings))
}
