//! Zones from a raster: its values over the field, sorted into classes, as polygons.

use super::classes::classes;
use super::ground::{self, Ground};
use super::regions::{Regions, Rule, join_small};
use super::trace::{Corner, Outline, area2, outlines};
use crate::findings::{Finding, Outcome};
use crate::frame::{Crs, Frame};
use crate::job::{Values, ZoneLayer};
use crate::read::{Feature, Geometry, Layer, Polygon, Raster, Value};

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
) -> Outcome<Layer> {
    let what = format!("layer '{}'", layer.name);
    let place = raster.place();
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
    let classes = classes(&pixels, &ground.inside, job, (&what, &place))?;
    let mut findings = raster.findings.clone();
    findings.extend(classes.finding);
    let mut regions = regions(&classes.of, &ground);
    if job.smallest_zone_m2 > 0.0 {
        let rule = Rule {
            least_pixels: job.smallest_zone_m2 / ground.pixel_m2,
            join: job.small_zones_join,
            inside: &ground.inside,
            values: &pixels,
            pixel_m: ground.pixel_m,
        };
        let joined = join_small(&regions, &rule);
        let moved = joined
            .iter()
            .zip(&classes.of)
            .zip(&ground.inside)
            .filter(|((now, before), inside)| **inside && now != before)
            .count();
        if moved > 0 {
            let before = regions.class.len();
            regions = self::regions(&joined, &ground);
            findings.push(
                Finding::note(
                    "surface.small_zones",
                    place,
                    format!(
                        "zones of {what} smaller than {} m2 joined a neighbour: {before} zones became {}, and {moved} pixels changed class",
                        job.smallest_zone_m2,
                        regions.class.len()
                    ),
                )
                .area(moved as f64 * ground.pixel_m2),
            );
        }
    }
    Ok(Layer {
        features: features(raster, &ground, &regions, &classes.names),
        findings,
        attributes: vec![Values::CLASS_ATTRIBUTE.to_owned(), "pixels".to_owned()],
        ..raster.outline()
    })
}

fn regions(classes: &[u32], ground: &Ground) -> Regions {
    let (columns, rows) = (ground.window.columns as usize, ground.window.rows as usize);
    Regions::of(classes, columns, rows)
}

fn features(raster: &Raster, ground: &Ground, regions: &Regions, names: &[String]) -> Vec<Feature> {
    let place = |corners: &Vec<Corner>| {
        let mut ring: Vec<[f64; 2]> = corners
            .iter()
            .map(|[column, row]| {
                raster.at([
                    (*column + i64::from(ground.window.column)) as f64,
                    (*row + i64::from(ground.window.row)) as f64,
                ])
            })
            .collect();
        ring.extend(ring.first().copied());
        ring
    };
    outlines(regions)
        .iter()
        .zip(&regions.class)
        .enumerate()
        .map(|(number, (outline, &class))| Feature {
            name: (number + 1).to_string(),
            geometry: Geometry::Polygons(vec![Polygon {
                exterior: place(&outline.exterior),
                holes: outline.holes.iter().map(place).collect(),
            }]),
            values: vec![
                Value::Text(names.get(class as usize).cloned().unwrap_or_default()),
                Value::Integer(pixels(outline)),
            ],
        })
        .collect()
}

/// How many pixels an outline holds.
fn pixels(outline: &Outline) -> i64 {
    let holes: i64 = outline.holes.iter().map(|hole| area2(hole)).sum();
    (area2(&outline.exterior) + holes) / 2
}
