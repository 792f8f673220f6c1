//! What a plan asks for, counted from the land and the job before it is made: memory, and time with it, go by that.

use crate::codec::room;
use crate::findings::{Fault, Outcome, Place};
use crate::geometry::{Pt, Shape};
use crate::job::Job;
use crate::land::Land;
use crate::map::GridCells;
use crate::zones::LandUnits;

/// What is counted, each with the bytes that it takes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Asked {
    kinds: [Kind; 6],
}

/// A thing that a plan has many of.
#[derive(Debug, Clone, PartialEq)]
struct Kind {
    what: &'static str,
    count: f64,
    each: f64,
    /// What to do where it is too much.
    next: &'static str,
}

impl Asked {
    /// Counted: cells of the larger grid, points on borders, sections of bouts and of rings, bends of bouts along a curve, and how
    /// often bouts cross borders. Bouts and crossings go by lengths, so that they hold for any heading.
    pub(super) fn of(land: &Land, units: &LandUnits, cells: &GridCells, job: &Job) -> Self {
        let (mut points, mut length_m) = (0.0, 0.0);
        for ([from, to], _) in units.arrangement.edges_between(|_| true) {
            points += 1.0;
            length_m += from.distance_m(to);
        }
        let width_m = job.drill.working_width_m;
        let (mut of_bouts, mut of_bends, mut of_rings, mut crossings) = (0.0, 0.0, 0.0, 0.0);
        if job.drive.is_some() {
            let sections = sections(job);
            let bends = land
                .guide
                .as_ref()
                .map_or(0, |line| line.len().saturating_sub(2));
            let across_m = across_m(&land.field);
            [of_bouts, of_bends, crossings] = bouts(across_m, length_m, width_m, sections, bends);
            let rings = (land.headland_m / width_m).ceil();
            // A ring has about the corners of the interior, which is made as it is.
            let around = match land.interior.is_empty() {
                true => &land.land,
                false => &land.interior,
            };
            let corners = around.iter().flat_map(Shape::rings).map(Vec::len);
            of_rings = rings * corners.sum::<usize>() as f64 * sections;
        }
        let products = job.products.len() as f64;
        let per_cell = room::PER_CELL as f64 + room::PER_CELL_AND_PRODUCT as f64 * products;
        let of = |what, count: f64, each: f64, next| Kind {
            what,
            count,
            each,
            next,
        };
        // A spreader has a plan of its own, and so has each of two seedbeds.
        let plans = [job.spreader.is_some(), job.is_for_two_seedbeds()];
        let plans = 1.0 + plans.into_iter().filter(|more| *more).count() as f64;
        let [point, part, bend, crossing] = [
            room::PER_POINT,
            room::PER_PART,
            room::PER_BEND,
            room::PER_CROSSING,
        ]
        .map(|bytes| bytes as f64 * plans);
        Self {
            kinds: [
                of(
                    "cells of the grid",
                    cells.larger() as f64,
                    per_cell * plans,
                    "set a larger cell_m under [grid]",
                ),
                of(
                    "points on borders",
                    points,
                    point,
                    "in a GIS, simplify the outlines to the centimetres that they are known to",
                ),
                of(
                    "sections of bouts",
                    of_bouts,
                    part,
                    "look whether the field is one, and at working_width_m, sections_m and compare_sections",
                ),
                of(
                    "bends in sections of bouts",
                    of_bends,
                    bend,
                    "in a GIS, simplify the line in along, by 2 cm or so",
                ),
                of(
                    "sections on pieces of headland rings",
                    of_rings,
                    part,
                    "look at the width under [headland] against working_width_m, and simplify the boundary in a GIS",
                ),
                of(
                    "places where bouts cross borders",
                    crossings,
                    crossing,
                    "look at working_width_m, and whether the layers are those of one field",
                ),
            ],
        }
    }

    /// The same once the lines of the bouts along a curve are known, with so many bends in all: beside a line that winds they are more than its own.
    pub(super) fn with_bends(mut self, bends: usize, job: &Job) -> Self {
        let [_, _, _, of_bends, ..] = &mut self.kinds;
        of_bends.count = of_bends.count.max(bends as f64 * sections(job));
        self
    }

    /// Bytes in all.
    fn bytes(&self) -> f64 {
        self.kinds.iter().map(|kind| kind.count * kind.each).sum()
    }

    /// Refuses what takes more than [`room::MOST_OF_A_PLAN`].
    ///
    /// # Errors
    /// What was counted, what is allowed, and what to do about the largest of it.
    pub(super) fn within(&self, job: &Job) -> Outcome<()> {
        if self.bytes() <= room::MOST_OF_A_PLAN as f64 {
            return Ok(());
        }
        let kinds = self.kinds.iter().filter(|kind| kind.count > 0.0);
        let counted: Vec<String> = kinds
            .map(|kind| format!("{:.0} {}", kind.count.ceil(), kind.what))
            .collect();
        let bytes = |kind: &&Kind| kind.count * kind.each;
        let largest = self
            .kinds
            .iter()
            .max_by(|a, b| bytes(a).total_cmp(&bytes(b)));
        let gigabytes = |bytes: f64| bytes / 1e9;
        Err(Fault::input(
            "plan.too_much",
            Place::file(&job.file),
            format!(
                "the plan would take some {:.1} GB of memory: {}",
                gigabytes(self.bytes()),
                counted.join(", ")
            ),
            format!(
                "up to {:.0} GB in all",
                gigabytes(room::MOST_OF_A_PLAN as f64)
            ),
            largest.map_or("", |kind| kind.next),
        ))
    }
}

/// Sections of the drill, and the most that are compared.
fn sections(job: &Job) -> f64 {
    let own = job.drill.sections_m.len().max(1);
    let compared = job.drive.iter().flat_map(|drive| &drive.compare_sections);
    let compared = compared.map(|count| *count as usize).max();
    (own + compared.unwrap_or(1)) as f64
}

/// Sections of bouts, bends in them along a curve, and places where bouts cross borders, of land so far across with so much border.
fn bouts(across_m: f64, length_m: f64, width_m: f64, sections: f64, bends: usize) -> [f64; 3] {
    let of_bouts = (across_m / width_m + 1.0) * sections;
    // A border meets as many bouts as it has widths, however often these bend.
    [of_bouts, of_bouts * bends as f64, length_m / width_m]
}

/// From corner to corner of a box around shapes, m: no strip lies farther from another.
fn across_m(shapes: &[Shape]) -> f64 {
    let points = || shapes.iter().flat_map(|shape| &shape.exterior);
    let extreme = |of: fn(&Pt) -> i64| {
        let (low, high) = (points().map(of).min(), points().map(of).max());
        high.zip(low).map_or(0.0, |(high, low)| (high - low) as f64)
    };
    extreme(|p| p.x).hypot(extreme(|p| p.y)) / crate::geometry::point::UNITS_PER_M
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ordinary_field_along_a_recorded_curve_is_not_too_much() {
        // A square of 40 ha with four zones, a drill of 6 m with 12 sections and one compared, a curve of 500 points.
        let side_m = 400_000_f64.sqrt();
        let counts = bouts(side_m * 2_f64.sqrt(), 6.0 * side_m, 6.0, 13.0, 498);
        let each = [room::PER_PART, room::PER_BEND, room::PER_CROSSING];
        let bytes = counts
            .iter()
            .zip(each)
            .map(|(count, each)| count * each as f64);
        let bytes: f64 = bytes.sum();
        assert!(bytes < 0.1 * room::MOST_OF_A_PLAN as f64, "{bytes}");
        // Without a curve there are none.
        assert_eq!(bouts(600.0, 600.0, 6.0, 2.0, 0), [202.0, 0.0, 100.0]);
    }
}
