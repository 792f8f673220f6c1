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
    let sides = |lon: f64| [lon > 90.0, lon < -90.0];
    let both = |sides: [bool; 2], own: [bool; 2]| [sides[0] || own[0], sides[1] || own[1]];
    let field = border().map(|at| sides(at.lon)).fold([false; 2], both);
    let line = land.guide.iter().flatten().map(|at| sides(at.lon));
    let all = line.fold(field, both);
    let decision = |message: String| {
        Finding::decision(
            Decision::Across180,
            Place::file(&job.field.boundary.file),
            message,
        )
    };
    let why = "Task data hold longitudes from -180 to 180, and one grid for a task: the land east of the meridian would lie where no receiver ever is, and a terminal would sow its default rate there.";
    match [field, all] {
        [[true, true], _] => Some(decision(format!(
            "The field lies across the 180th meridian. {why} Cut it along the meridian: the boundary into two features with an attribute that tells them apart, and name it as split_by under [field]: each side is then a field of its own, and one stick takes both. A line in along that crosses the meridian too holds both sides back: then make a job for each side, and give each a line of its own that ends at the meridian."
        ))),
        [_, [true, true]] => Some(decision(
            "The line in along, by which the bouts run, lies across the 180th meridian or on its other side, where no longitude of task data follows the field's. Cut the line at the meridian and name the piece on the side of the field. Of a job with split_by, make a job for each side, and give each a line of its own.".to_owned(),
        )),
        _ => None,
    }
}
