//! The sources that a job names, and how far from the field each still counts.

use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Source, SurfaceMethod, Values, ZoneLayer};
use crate::land::widening_m;
use crate::map;
use crate::read::{self, Raster};

/// Points within this distance of the field's box still count for its surface.
const POINT_REACH_M: f64 = 50.0;

/// A source that a job names.
pub(super) struct Wanted<'a> {
    pub source: &'a Source,
    /// What it is for, in words.
    pub role: String,
    /// What lies farther than this from the field, metres, does not count.
    pub margin_m: f64,
}

/// The exclusions, in job order, as all lists here.
pub(super) fn exclusions(job: &Job) -> Vec<Wanted<'_>> {
    // Water beside the field keeps the cells of the rim free, though it never touches the land.
    let around_m = map::around_m(job);
    let wanted = job.exclusions.iter().map(|exclusion| Wanted {
        source: &exclusion.source,
        role: format!("exclusion '{}'", exclusion.name),
        margin_m: exclusion.buffer_m + around_m,
    });
    wanted.collect()
}

/// The setbacks.
pub(super) fn setbacks(job: &Job) -> Vec<Wanted<'_>> {
    let around_m = widening_m(&job.drill) + map::around_m(job);
    let wanted = job.setbacks.iter().map(|setback| Wanted {
        source: &setback.source,
        role: format!("setback '{}'", setback.name),
        margin_m: setback.distance_m + around_m,
    });
    wanted.collect()
}

/// The special areas.
pub(super) fn special_areas(job: &Job) -> Vec<Wanted<'_>> {
    let wanted = job.special_areas.iter().map(|area| Wanted {
        source: &area.source,
        role: format!("special area '{}'", area.name),
        margin_m: 0.0,
    });
    wanted.collect()
}

/// The zone layers: polygons, points or rasters.
pub(super) fn layers(job: &Job) -> Vec<Wanted<'_>> {
    let wanted = job.layers.iter().map(|layer| Wanted {
        source: &layer.source,
        role: format!("layer '{}'", layer.name),
        margin_m: match layer.values.as_ref().and_then(|values| values.surface) {
            Some(_) => POINT_REACH_M,
            None => 0.0,
        },
    });
    wanted.collect()
}

/// How polygons are made of a layer with `values`: by a surface through its points, or `None` for a
/// raster.
///
/// # Errors
/// A file that is neither, or whose settings are those of the other.
pub(super) fn surface(
    job: &Job,
    layer: &ZoneLayer,
    values: &Values,
) -> Outcome<Option<SurfaceMethod>> {
    let file = job.folder.join(&layer.source.file);
    let fault = |found: &str, next: &str| {
        Fault::input(
            "plan.values",
            Place::file(&file),
            format!("{found} (layer '{}')", layer.name),
            "`values` with `surface` and `column` for points, without them for a raster",
            next,
        )
    };
    match (Raster::is(&file), values.surface) {
        (true, Some(_)) => Err(fault(
            "this is a raster, and `surface` is for points",
            "remove `surface` and `column`, or name a file of points",
        )),
        (false, None) => {
            // A file that is missing or damaged is told so first.
            read::open(&layer.source, &job.folder)?;
            Err(fault(
                "this is no raster",
                "for points add surface = \"kriging\" and column = \"...\" to `values`; for polygons replace `values` by class_attribute",
            ))
        }
        (_, surface) => Ok(surface),
    }
}
