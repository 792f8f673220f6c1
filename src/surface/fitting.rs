//! How fine a raster is looked at: as it is, or with blocks of its pixels made one.

use super::field_place::FieldPlace;
use super::ground;
use crate::findings::{Finding, Outcome};
use crate::frame::Crs;
use crate::job::{ClassMethod, Values};
use crate::read::{OneOf, Raster};

/// Pixels over one field that are taken as they are: 4 000 x 4 000 and a little more. Beyond, the memory that
/// zones need passes what is promised (512 MB).
const MOST_PIXELS: f64 = 16_500_000.0;
/// Connected pieces of one class, before small ones join their neighbours, and after. No drill can follow a
/// thousandth of them.
pub(super) const MOST_PIECES: usize = 1_000_000;
pub(super) const MOST_ZONES: usize = 100_000;

/// The raster as it is, or the coarser view of it that a field can bear, and how many pixels are one in it.
///
/// # Errors
/// The raster does not reach the field.
pub(super) fn fitting(
    raster: &Raster,
    crs: &Crs,
    field: FieldPlace,
    becomes: OneOf,
) -> Outcome<(Raster, u32)> {
    let window = ground::window_under(raster, crs, field.frame, field.boundary)?;
    let pixels = f64::from(window.columns) * f64::from(window.rows);
    let factor = (pixels / MOST_PIXELS).sqrt().ceil().max(1.0) as u32;
    Ok((seen(raster, factor, becomes), factor))
}

/// The raster with `factor` x `factor` pixels as one.
pub(super) fn seen(raster: &Raster, factor: u32, becomes: OneOf) -> Raster {
    match factor {
        0 | 1 => raster.clone(),
        _ => raster.coarser(factor, becomes),
    }
}

/// What blocks of pixels become for these classes.
pub(super) fn becomes(job: &Values) -> OneOf {
    match job.method {
        ClassMethod::AsTheyAre => OneOf::Most,
        _ => OneOf::Mean,
    }
}

/// By how much more blocks have to grow for this many pieces to become no more than `most`.
pub(super) fn grown(factor: u32, pieces: usize, most: usize) -> u32 {
    let times = (pieces as f64 / most as f64).sqrt().ceil().max(2.0);
    (f64::from(factor) * times) as u32
}

/// Says that pixels were made one.
pub(super) fn said(raster: &Raster, factor: u32, why: &str, what: &str, becomes: OneOf) -> Finding {
    let how = match becomes {
        OneOf::Most => "each with the class that most of them have",
        OneOf::Mean => "each with the mean of their values",
    };
    Finding::warning(
        "surface.coarsened",
        raster.place(),
        format!(
            "{what}: {why}, finer than any drill follows. {factor} x {factor} pixels were taken as one, {how}; areas are exact for these"
        ),
    )
}
