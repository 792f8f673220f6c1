//! Headland rings: their ways, and where the sections are on along them.
//!
//! A ring drills what of the headland no bout before it has drilled, its own way up to there among them: so it does
//! not drill twice where it meets itself, another ring, or interior bouts driven before. Method: docs/methods/drive.md.

mod near;
mod sweep;
mod switching;
#[cfg(test)]
mod test_slow_way;
#[cfg(test)]
mod tests;

use super::borders::Borders;
use super::bout::{Bout, Section};
use super::path::Path;
use super::report::ring_count;
use super::tramline::{Rhythm, headland};
use crate::geometry::offset::inset;
use crate::geometry::{Pt, Ring, Shape};
use crate::job::{HeadlandTurn, Job, LandPart};
use crate::land::Land;
use near::{Legs, Near};
pub(super) use sweep::{drilled_m2, sweep};
pub(super) use switching::Drilled;

/// The headland and the rings around it; nothing where the job asks for no drive.
pub(super) struct Rings {
    /// From the border inwards.
    pub(super) ways: Vec<Path>,
    /// Per way the ring that it belongs to, from 1 at the border.
    numbers: Vec<usize>,
    /// What lies near each straight piece of each way.
    near: Vec<Near>,
    /// Borders of the headland.
    borders: Borders,
    pub(super) headland_m2: f64,
}

impl Rings {
    /// The rings of a job; each begins at its corner that `starts_at` names.
    pub(super) fn of(land: &Land, job: &Job, starts_at: impl Fn(&[[f64; 2]]) -> usize) -> Self {
        let base = base(land, job);
        let count = job.drive.as_ref().map_or(0, |_| ring_count(land, job));
        let way = |ring: &Ring| Path::new(&started(ring, &starts_at), true);
        let numbered = (1..=count).flat_map(|number| {
            let middles = middle_lines(base, number, job);
            let ways = middles.iter().flat_map(Shape::rings).map(way);
            ways.map(|way| (number, way)).collect::<Vec<_>>()
        });
        let (numbers, ways): (Vec<usize>, Vec<Path>) = numbered.unzip();
        // The interior lies in the land: what is left is the headland.
        let borders = match ways.is_empty() {
            true => Borders::of(&[], &[]),
            false => Borders::of(&land.land, &land.interior),
        };
        let half_m = job.drill.working_width_m / 2.0;
        let legs = Legs::of(&ways, half_m);
        let near = ways.iter().enumerate();
        let near = near.map(|(nth, way)| Near::of(nth, way, half_m, &legs, &borders));
        let near = near.collect();
        let area = |shapes: &[Shape]| shapes.iter().map(Shape::area_m2).sum::<f64>();
        Self {
            near,
            ways,
            numbers,
            borders,
            headland_m2: area(&land.land) - area(&land.interior),
        }
    }
}

/// What the rings go around: the field, or the land where they go around exclusions as well.
fn base<'a>(land: &'a Land, job: &Job) -> &'a [Shape] {
    match job.headland.around_exclusions {
        true => &land.land,
        false => &land.field,
    }
}

/// The middle lines of a ring, from 1 at the border.
fn middle_lines(base: &[Shape], number: usize, job: &Job) -> Vec<Shape> {
    inset(base, (number as f64 - 0.5) * job.drill.working_width_m)
}

/// The ways of a ring, from 1 at the border, wherever they begin.
pub(super) fn ways_of(land: &Land, number: usize, job: &Job) -> Vec<Path> {
    let middles = middle_lines(base(land, job), number, job);
    let rings = middles.iter().flat_map(Shape::rings);
    let way = |ring: &Ring| Path::new(&started(ring, |_| 0), true);
    rings.map(way).collect()
}

/// The corners of a ring from where it is begun.
fn started(ring: &Ring, starts_at: impl Fn(&[[f64; 2]]) -> usize) -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = ring.iter().map(|point: &Pt| point.metres()).collect();
    let first = starts_at(&points);
    if first < points.len() {
        points.rotate_left(first);
    }
    points
}

/// The rings as bouts, in the order in which they are driven.
pub(super) fn bouts(
    rings: &Rings,
    swept: Vec<Vec<Section>>,
    job: &Job,
    rhythm: Option<&Rhythm>,
) -> Vec<Bout> {
    let drill = &job.drill;
    let bout = |(nth, sections): (usize, Vec<Section>)| {
        let way = &rings.ways[nth];
        let (closed, closed_along) = headland::on_ring(rhythm, rings.numbers[nth], way, job);
        Bout {
            number: 0,
            part: LandPart::Headland,
            strip: None,
            sections,
            closed,
            closed_along,
            speed_km_per_h: drill
                .headland_speed_km_per_h
                .unwrap_or(drill.speed_km_per_h),
            path: way.clone(),
        }
    };
    order(rings, job).into_iter().zip(swept).map(bout).collect()
}

/// The numbers of the ways in the order in which they are driven.
fn order(rings: &Rings, job: &Job) -> Vec<usize> {
    let mut order: Vec<usize> = (0..rings.ways.len()).collect();
    if job.drive.as_ref().map(|drive| drive.headland) == Some(HeadlandTurn::Last) {
        order.reverse();
    }
    order
}
