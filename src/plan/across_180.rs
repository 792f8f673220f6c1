//! Fields across the 180th meridian: what terminals do there is not known.

use super::PlannedLand;
use crate::findings::{Decision, Finding, Place};
use crate::job::Job;

/// A decision where one part of the boundary lies west of the meridian and another east of it. Grids of task data and
/// Shapefiles count on to the east beyond 180 there, and the receiver's longitudes begin again at -180.
pub(super) fn finding(land: &PlannedLand, job: &Job) -> Option<Finding> {
    let points = || land.boundary.iter().flat_map(|part| part.exterior.iter());
    let [west, east] = [
        points().any(|at| at.lon > 90.0),
        points().any(|at| at.lon < -90.0),
    ];
    (west && east).then(|| {
        Finding::decision(
            Decision::Across180,
            Place::file(&job.field.boundary.file),
            "The field lies across the 180th meridian. East of it the longitudes of grids and Shapefiles count on beyond 180, and a receiver says -180 and up: a terminal may find no map there and sow its default rate. Plan the land on each side as a field of its own, or try the map in the terminal with the drill raised, on both sides, and sign.".to_owned(),
        )
    })
}
