//! Fields across the 180th meridian: task data cannot hold them.

use super::PlannedLand;
use crate::findings::{Decision, Finding, Place};
use crate::job::Job;

/// A decision that only another job settles, where boundary and guide line lie on both sides of the meridian.
///
/// The schemas of ISO 11783-10 hold places from -180 to 180. A task has one grid, and a grid goes on to the east from its least corner, so
/// that across the meridian its cells lie beyond 180, where no receiver is; a ring of points would go around the globe the
/// other way. No file can be written that every terminal must take for this field, so none is.
pub(super) fn finding(land: &PlannedLand, job: &Job) -> Option<Finding> {
    let border = || land.boundary.iter().flat_map(|part| part.exterior.iter());
    let points = || border().chain(land.guide.iter().flatten());
    let [west, east] = [
        points().any(|at| at.lon > 90.0),
        points().any(|at| at.lon < -90.0),
    ];
    (west && east).then(|| {
        Finding::decision(
            Decision::Across180,
            Place::file(&job.field.boundary.file),
            "The field, or the line that its bouts run along, lies across the 180th meridian. Task data hold longitudes from -180 to 180, and one grid for a task: the land east of the meridian would lie where no receiver ever is, and a terminal would sow its default rate there. Cut it along the meridian: the boundary into two features with an attribute that tells them apart, and name it as split_by under [field]: each side is then a field of its own, and one stick takes both.".to_owned(),
        )
    })
}
