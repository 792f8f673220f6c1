//! From values on a grid to the polygons of their classes.

use super::classes::classes;
use super::ground::Ground;
use super::regions::{Regions, Rule, join_small};
use super::trace::{Corner, Outline, area2, outlines};
use crate::findings::{Finding, Outcome, Place};
use crate::job::Values;
use crate::read::{Feature, Geometry, Polygon, Value, Xy};

/// Values over a field.
pub(super) struct Grid<'a> {
    pub ground: &'a Ground,
    /// Per pixel of the ground's window; NaN for none.
    pub values: &'a [f64],
    /// The place of a corner between pixels, counted from the window's top left.
    pub at: &'a dyn Fn([f64; 2]) -> Xy,
    /// Where the values are from, and which layer they are, for messages.
    pub place: Place,
    pub what: &'a str,
}

/// Sorts the values into classes, joins zones that are too small, and gives one feature for each
/// connected piece: its class in [`Values::CLASS_ATTRIBUTE`], then the number of its pixels.
///
/// # Errors
/// Values that do not fit the method.
pub(super) fn zones(grid: &Grid, job: &Values) -> Outcome<(Vec<Feature>, Vec<Finding>)> {
    let Grid {
        ground,
        values,
        place,
        what,
        ..
    } = grid;
    let classes = classes(values, &ground.inside, job, (what, place))?;
    let mut findings: Vec<Finding> = classes.finding.into_iter().collect();
    let mut regions = regions(&classes.of, ground);
    if job.smallest_zone_m2 > 0.0 {
        let rule = Rule {
            least_pixels: job.smallest_zone_m2 / ground.pixel_m2,
            join: job.small_zones_join,
            inside: &ground.inside,
            values,
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
            regions = self::regions(&joined, ground);
            findings.push(
                Finding::note(
                    "surface.small_zones",
                    place.clone(),
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
    Ok((features(grid, &regions, &classes.names), findings))
}

fn regions(classes: &[u32], ground: &Ground) -> Regions {
    let (columns, rows) = (ground.window.columns as usize, ground.window.rows as usize);
    Regions::of(classes, columns, rows)
}

fn features(grid: &Grid, regions: &Regions, names: &[String]) -> Vec<Feature> {
    let place = |corners: &Vec<Corner>| {
        let mut ring: Vec<Xy> = corners
            .iter()
            .map(|[column, row]| (grid.at)([*column as f64, *row as f64]))
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
