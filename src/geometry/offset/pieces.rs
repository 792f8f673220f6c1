//! The land near a border, piece by piece: for borders whose shifted rings would cross themselves without end.
//!
//! Method: the border is cut into runs of points that lie close together, and each run is taken for its convex hull.
//! What is near a hull is convex and drawn without a crossing; the pieces are united by the sixteen, and what comes of
//! that by the sixteen again. Most of a piece lies inside its neighbours and is gone after the first round.
//!
//! A border that runs to and fro wider than that is cut along a grid instead, and what lies in a cell is taken for its hull,
//! however often the border comes by: the pieces are then as many as the ground has cells, not as the border has points.
//!
//! A run no wider than w makes the land near it larger than the border does, by no more than w * w / 8 d at a distance d:
//! between two points of it that are w apart, a circle around both leaves a notch of that depth.

use super::super::arrangement::{Arrangement, OUTSIDE};
use super::super::point::{Pt, UNITS_PER_M, cross};
use super::super::shape::{Ring, Shape};
use super::{ARC_TOLERANCE_M, circle, shifted, where_winding};
use rayon::prelude::*;
use std::collections::HashMap;

/// Pieces that are united at a time.
const TOGETHER: usize = 16;

/// The land at most a distance away from lines.
pub(super) fn near(lines: &[Ring], distance_m: f64) -> Vec<Shape> {
    let widest = (8.0 * distance_m * ARC_TOLERANCE_M / 2.0).sqrt() * UNITS_PER_M;
    let runs: Vec<Ring> = lines
        .iter()
        .flat_map(|points| runs(points, widest))
        .map(hull)
        .collect();
    let cells = cells(lines, widest, runs.len() / FEWER);
    united(cells.as_ref().unwrap_or(&runs), distance_m)
}

/// A grid is worth it where it makes so many times fewer pieces.
const FEWER: usize = 2;
/// A step of a border longer than so many cells is a piece of its own.
const LONG: f64 = 32.0;

/// The hulls of what lies in each cell of a grid, in the order in which the border comes by; `None` where these are more
/// than `most`. A cell is no wider than `widest` from corner to corner.
fn cells(lines: &[Ring], widest: f64, most: usize) -> Option<Vec<Ring>> {
    // One unit less, for places are rounded.
    let side = (widest / std::f64::consts::SQRT_2).floor() - 1.0;
    if side < 1.0 {
        return None;
    }
    let mut places: HashMap<[i64; 2], usize> = HashMap::new();
    let mut pieces: Vec<Ring> = Vec::new();
    for line in lines {
        let ends = line.iter().skip(1).chain(line.last());
        for (&a, &b) in line.iter().zip(ends) {
            let along = [(b.x - a.x) as f64, (b.y - a.y) as f64];
            if along[0].hypot(along[1]) > LONG * side {
                pieces.push(vec![a, b]);
            } else {
                // Shares of the way at which it goes from one cell to the next.
                let mut shares = vec![0.0, 1.0];
                for (from, along) in [(a.x as f64, along[0]), (a.y as f64, along[1])] {
                    let (low, high) = (from.min(from + along), from.max(from + along));
                    let mut edge = (low / side).floor() * side + side;
                    while edge < high {
                        shares.push((edge - from) / along);
                        edge += side;
                    }
                }
                shares.sort_unstable_by(f64::total_cmp);
                let at = |share: f64| Pt {
                    x: a.x + (along[0] * share).round() as i64,
                    y: a.y + (along[1] * share).round() as i64,
                };
                for pair in shares.windows(2) {
                    let &[from, to] = pair else { continue };
                    let middle = (from + to) / 2.0;
                    let cell = [(a.x as f64, along[0]), (a.y as f64, along[1])]
                        .map(|(from, along)| ((from + along * middle) / side).floor() as i64);
                    let nth = *places.entry(cell).or_insert_with(|| {
                        pieces.push(Ring::new());
                        pieces.len() - 1
                    });
                    if let Some(piece) = pieces.get_mut(nth) {
                        piece.extend([at(from), at(to)]);
                        // What lies within the hull says nothing more.
                        if piece.len() > HELD {
                            *piece = hull(piece);
                        }
                    }
                }
            }
            if pieces.len() > most {
                return None;
            }
        }
    }
    Some(pieces.iter().map(|piece| hull(piece)).collect())
}

/// Points that a cell holds before they are taken for their hull.
const HELD: usize = 64;

/// Runs of neighbours whose box is no longer than this from corner to corner, two points at least; each starts with
/// the last point of the one before.
fn runs(points: &[Pt], widest: f64) -> Vec<&[Pt]> {
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
        runs.push(&points[from..to]);
        if to >= points.len() {
            break;
        }
        from = to - 1;
    }
    runs
}

/// What is near any of these hulls. Goes down to a few of them first, so that few pieces are held at a time.
fn united(hulls: &[Ring], distance_m: f64) -> Vec<Shape> {
    let rings: Vec<Ring> = match hulls.len() {
        0 => return Vec::new(),
        1..=TOGETHER => hulls.iter().map(|hull| around(hull, distance_m)).collect(),
        more => {
            let parts = hulls.par_chunks(more.div_ceil(TOGETHER));
            let parts = parts.map(|part| united(part, distance_m));
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
fn around(hull: &[Pt], distance_m: f64) -> Ring {
    let mut ring = match hull {
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

#[cfg(test)]
mod tests {
    use super::super::super::point::Pt;
    use super::*;

    /// A border that runs to and fro wider than a run may be: by cells it has fewer pieces, and the land near it is the
    /// same but for what either may add along the border, 0.5 mm.
    #[test]
    fn cells_and_runs_come_to_the_same_land() {
        let mut state = 5u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
        };
        let (length_m, distance_m) = (3.0, 3.0);
        let points = (0..1_500).map(|nth| [f64::from(nth) / 1_500.0 * length_m, 0.0]);
        let line: Ring = points
            .map(|[x, y]| Pt::from_metres([x + 0.4 * random(), y + 0.4 * random()]).unwrap())
            .collect();
        let widest = (8.0 * distance_m * ARC_TOLERANCE_M / 2.0).sqrt() * UNITS_PER_M;
        let runs: Vec<Ring> = runs(&line, widest).into_iter().map(hull).collect();
        let lines = [line];
        let cells = cells(&lines, widest, runs.len() / FEWER).expect("fewer");
        assert!(
            3 * cells.len() < runs.len(),
            "{} {}",
            cells.len(),
            runs.len()
        );
        for cell in &cells {
            let (a, b) = (cell[0], cell[cell.len() / 2]);
            assert!(((a.x - b.x) as f64).hypot((a.y - b.y) as f64) <= widest);
        }
        let area = |pieces: &[Ring]| {
            let land = united(pieces, distance_m);
            land.iter().map(Shape::area_m2).sum::<f64>()
        };
        let (by_cells, by_runs) = (area(&cells), area(&runs));
        let around_m = 2.0 * (length_m + 0.4) + std::f64::consts::TAU * (distance_m + 0.2);
        assert!(
            (by_cells - by_runs).abs() < 0.001 * around_m,
            "{by_cells} {by_runs}"
        );
        // Points wide apart are not worth a grid.
        let far: Ring = (0..50)
            .map(|nth| Pt::from_metres([f64::from(nth), 0.0]).unwrap())
            .collect();
        assert!(super::cells(&[far], widest, 24).is_none());
    }
}
