//! Rates on the land, before any map, drive or order is made of them: [`rates_on_land`].

use super::Prepared;
use super::joining;
use super::rates::{self, Combination};
use crate::findings::Outcome;
use crate::job::Job;
use crate::zones::LandUnits;

/// The rate table, and the pieces of land where joining zones made others of them.
pub struct RatesOnLand {
    /// Land with the same facts, its area and its rates.
    pub rows: Vec<Combination>,
    /// The pieces of land, each with its row; none where they are those of the prepared job.
    pub units: Option<LandUnits>,
}

/// The first steps of [`super::rate`]: the rates that it puts on the land, in a small part of the time. Where the job cuts its
/// map to the bouts, or has trials, this is the land before that.
///
/// # Errors
/// As [`super::rate`] for rates.
pub fn rates_on_land(prepared: &Prepared, job: &Job) -> Outcome<RatesOnLand> {
    let (rows, _) = rates::table(prepared, job)?;
    let (land, _) = joining::joined(prepared, rows, job);
    Ok(land.into_parts())
}
