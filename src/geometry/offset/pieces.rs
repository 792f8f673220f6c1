//! The land near a border, piece by piece: for borders whose shifted rings would cross themselves without end.
//!
//! Method: the border is cut into runs of points that lie close together, and each run is taken for its convex hull.
//! What is near a hull is convex and drawn without a crossing; the pieces are united by the sixteen, and what comes of
//! that by the sixteen again. Most of a piece lies inside its neighbours and is gone after the first round.
//!
//! A run no wider than w makes the land near it larger than the border does, by no more than w * w / 8 d at a distance d:
//! between two points of it that are w apart, a circle around both leaves a notch of that depth.

use super::super::arrangement::{Arrangement, OUTSIDE};
use super::super::point::{Pt, UNITS_PER_M, cross};
use super::super::shape::{Ring, Shape};
use super::{ARC_TOLERANCE_M, circle, shifted, where_winding};
use rayon::prelude::*;
use std::ops::Range;

/// Pieces that are united at a time.
const TOGETHER: usize = 16;

/// The land at most a distance away from lines.
pub(super) fn near(lines: &[Ring], distance_m: f64) -> Vec<Shape> {
    let widest = (8.0 * distance_m * ARC_TOLERANCE_M / 2.0).sqrt() * UNITS_PER_M;
    let runs: Vec<(usize, Range<usize>)> = lines
        .iter()
        .enumerate()
        .flat_map(|(line, points)| runs(points, widest).into_iter().map(move |run| (line, run)))
        .collect();
    united(lines, &runs, distance_m)
}

/// Runs of neighbours whose box is no longer than this from corner to corner, two points at least; each starts with
/// the last point of the one before.
fn runs(points: &[Pt], widest: f64) -> Vec<Range<usize>> {
    let mut runs = Vec::new();
    let mut from = 0;
    while from + 1 < points.len() || (from == 0 && points.len() == 1) {
        let (mut low, mut high) = (points[from], points[from]);
        let mut to = from + 1;
        while let Some(point) = points.get(to) {
            let next_low = Pt {
                x: low.x.min(point.x),
                y: low.y.min(point.y),
            };
            let next_high = Pt {
                x: high.x.max(point.x),
                y: high.y.max(point.y),
            };
            let size = ((next_high.x - next_low.x) as f64).hypot((next_high.y - next_low.y) as f64);
            if size > widest && to > from + 1 {
                break;
            }
            (low, high) = (next_low, next_high);
            to += 1;
        }
        runs.push(from..to);
        if to >= points.len() {
            break;
        }
        from = to - 1;
    }
    runs
}

/// What is near any of the runs. Goes down to a few runs first, so that few pieces are held at a time.
fn united(lines: &[Ring], runs: &[(usize, Range<usize>)], distance_m: f64) -> Vec<Shape> {
    let rings: Vec<Ring> = match runs.len() {
        0 => return Vec::new(),
        1..=TOGETHER => runs
            .iter()
            .map(|(line, run)| around(&lines[*line][run.clone()], distance_m))
            .collect(),
        more => {
            let parts = runs.par_chunks(more.div_ceil(TOGETHER));
            let parts = parts.map(|part| united(lines, part, distance_m));
            let parts: Vec<Vec<Shape>> = parts.collect();
            let rings = parts.into_iter().flatten().flat_map(|shape| {
                let Shape { exterior, holes } = shape;
                std::iter::once(exterior).chain(holes)
            });
            rings.collect()
        }
    };
    where_winding(&rings, |count| count > 0)
}

/// The ring around what is near the hull of some points, anticlockwise.
fn around(points: &[Pt], distance_m: f64) -> Ring {
    let mut ring = match hull(points).as_slice() {
        [] => Ring::new(),
        [point] => circle(*point, distance_m),
        // Run backwards, a ring has what lies outside of it on its left.
        hull => shifted(&hull.iter().rev().copied().collect::<Ring>(), distance_m),
    };
    ring.reverse();
    ring
}

/// The convex hull, anticlockwise, without points along its sides (Andrew's chain).
fn hull(points: &[Pt]) -> Ring {
    let mut sorted = points.to_vec();
    sorted.sort_unstable_by_key(|point| (point.x, point.y));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let half = |points: &mut dyn Iterator<Item = Pt>| {
        let mut side: Ring = Vec::new();
        for point in points {
            while let [.., before, last] = side.as_slice()
                && cross(*before, *last, point) <= 0
            {
                side.pop();
            }
            side.push(point);
        }
        side.pop();
        side
    };
    let mut ring = half(&mut sorted.iter().copied());
    ring.extend(half(&mut sorted.iter().rev().copied()));
    ring
}

/// The land of shapes that lies beyond what is near their border.
pub(super) fn without(shapes: &[Shape], near: &[Shape]) -> Vec<Shape> {
    let rings = |source: u32, shapes: &[Shape]| {
        let rings = shapes.iter().flat_map(Shape::rings);
        rings
            .map(move |ring| (source, ring.clone()))
            .collect::<Vec<_>>()
    };
    let all = [rings(0, shapes), rings(1, near)].concat();
    let arrangement = Arrangement::new(all.iter().map(|(source, ring)| (*source, &ring[..])));
    let is_left = |face: u32| {
        face != OUTSIDE && arrangement.winding(face, 0) > 0 && arrangement.winding(face, 1) <= 0
    };
    let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
        .map(|face| is_left(face).then_some(0))
        .collect();
    let left = arrangement.dissolve(&group).into_iter();
    left.map(|(_, shape)| shape).collect()
}
