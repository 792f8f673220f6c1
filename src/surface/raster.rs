//! Zones from a raster: its values over the field, sorted into classes, as polygons.

use super::classes::classes;
use super::ground::{self, Ground};
use super::zones::{Cleaned, Grid, zones};
use crate::findings::Outcome;
use crate::frame::{Crs, Frame};
use crate::job::{Values, ZoneLayer};
use crate::read::{Layer, Raster};

/// Makes the polygon layer of a raster: one feature for each connected piece of a class, in the
/// raster's CRS, with its class in [`Values::CLASS_ATTRIBUTE`]. It reaches a pixel or two beyond the
/// field (`boundary`, in the field's plane) so that pixels at the border are whole. Land without a
/// value is a gap.
///
/// # Errors
/// The raster does not reach the field or has no value there; its values do not fit the method;
/// what [`Raster::pixels`] refuses.
pub fn raster_zones(
    raster: &Raster,
    crs: &Crs,
    (frame, boundary): (&Frame, &Layer),
    layer: &ZoneLayer,
    job: &Values,
) -> Outcome<(Layer, Vec<Cleaned>)> {
    let what = format!("layer '{}'", layer.name);
    let (ground, pixels) = pixels(raster, crs, (frame, boundary), job)?;
    let (left, top) = (
        f64::from(ground.window.column),
        f64::from(ground.window.row),
    );
    let grid = Grid {
        ground: &ground,
        values: &pixels,
        at: &|[column, row]| raster.at([left + column, top + row]),
        place: raster.place(),
        what: &what,
    };
    let classes = classes(&pixels, &ground.inside, job, (&what, &grid.place))?;
    let mut zones = zones(&grid, classes, job);
    zones.findings.splice(0..0, raster.findings.iter().cloned());
    Ok(zones.into_layer(raster.outline()))
}

/// The part of a raster over the field: NaN for no value, and away from the field.
///
/// # Errors
/// As [`raster_zones`].
pub(super) fn pixels(
    raster: &Raster,
    crs: &Crs,
    (frame, boundary): (&Frame, &Layer),
    job: &Values,
) -> Outcome<(Ground, Vec<f64>)> {
    let mut ground = ground::under(raster, crs, frame, boundary)?;
    let mut pixels = raster.pixels(job.band, ground.window)?.values;
    for (value, near) in pixels.iter_mut().zip(&ground.near) {
        if !near || job.no_value == Some(*value) {
            *value = f64::NAN;
        }
    }
    if !ground.inside.contains(&true) {
        // A field smaller than a pixel.
        ground.inside.clone_from(&ground.near);
    }
    Ok((ground, pixels))
}
