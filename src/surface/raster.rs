//! Zones from a raster: its values over the field, sorted into classes, as polygons.

use super::classes::classes;
use super::field_place::FieldPlace;
use super::fitting::{becomes, fitting, grown, said, seen};
use super::ground::{self, Ground};
use super::zones::{Cleaned, Grid, TooMany, Zones, zones};
use crate::findings::Outcome;
use crate::frame::Crs;
use crate::job::{Values, ZoneLayer};
use crate::read::{Layer, Raster, Stored, Xy};

/// Makes the polygon layer of a raster: one feature for each connected piece of a class, in the
/// raster's CRS, with its class in [`Values::CLASS_ATTRIBUTE`]. It reaches a pixel or two beyond the
/// field so that pixels at the border are whole. Land without a
/// value is a gap.
///
/// # Errors
/// The raster does not reach the field or has no value there; its values do not fit the method;
/// what [`Raster::pixels`] refuses.
pub fn raster_zones(
    raster: &Raster,
    crs: &Crs,
    field: FieldPlace,
    layer: &ZoneLayer,
    job: &Values,
) -> Outcome<(Layer, Vec<Cleaned>)> {
    let what = format!("layer '{}'", layer.name);
    let one_of = becomes(job);
    let (mut view, mut factor) = fitting(raster, crs, field, one_of)?;
    let mut why = "it has more than 16 million pixels over the field".to_owned();
    loop {
        let mut zones = match zones_of(&view, crs, field, &what, job)? {
            Ok(zones) => zones,
            Err(TooMany { found, most }) => {
                factor = grown(factor, found, most);
                view = seen(raster, factor, one_of);
                why = format!("it falls into {found} pieces of one class or more");
                continue;
            }
        };
        if factor > 1 {
            let finding = said(raster, factor, &why, &what, one_of);
            zones.findings.insert(0, finding);
        }
        zones.findings.splice(0..0, raster.findings.iter().cloned());
        return Ok(zones.into_layer(raster.outline()));
    }
}

/// The zones of a raster as it is seen, or how many pieces it falls into if they are too many.
fn zones_of(
    raster: &Raster,
    crs: &Crs,
    field: FieldPlace,
    what: &str,
    job: &Values,
) -> Outcome<Result<Zones<Xy>, TooMany>> {
    let (ground, pixels) = pixels(raster, crs, field, job)?;
    let (left, top) = (
        f64::from(ground.window.column),
        f64::from(ground.window.row),
    );
    let grid = Grid {
        ground: &ground,
        values: &pixels,
        at: &|[column, row]| raster.at([left + column, top + row]),
        place: raster.place(),
        what,
    };
    let classes = classes(&pixels, &ground, job, what, &grid.place)?;
    Ok(zones(&grid, classes, job))
}

/// The part of a raster over the field; only what is near the field counts.
///
/// # Errors
/// As [`raster_zones`].
pub(super) fn pixels(
    raster: &Raster,
    crs: &Crs,
    field: FieldPlace,
    job: &Values,
) -> Outcome<(Ground, Stored)> {
    let mut ground = ground::under(raster, crs, field.frame, field.boundary)?;
    let mut pixels = raster.stored(job.band, ground.window)?;
    if let Some(none) = job.no_value {
        pixels.without(none);
    }
    if ground.inside.is_empty() {
        // A field smaller than a pixel.
        ground.inside.clone_from(&ground.near);
    }
    Ok((ground, pixels))
}
