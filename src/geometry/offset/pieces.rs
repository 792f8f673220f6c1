//! The land near a border, piece by piece: for borders whose shifted rings would cross themselves without end.
//!
//! Method: the border is cut along a grid, and what lies in a cell is one piece, however often the border comes by: its points, and
//! points on its steps so close together that the circles around them leave no notch. What is near them is one ring
//! (`reach.rs`). The pieces are as many as the ground has cells, not as the border has points; they are united by the sixteen, and
//! what comes of that by the sixteen again.

use super::super::arrangement::{Arrangement, OUTSIDE};
use super::super::point::{Pt, UNITS_PER_M};
use super::super::shape::{Ring, Shape};
use super::reach::Reach;
use super::{ARC_TOLERANCE_M, circle, shifted, where_winding};
use rayon::prelude::*;
use std::collections::HashMap;

/// Pieces that are united at a time.
const TOGETHER: usize = 16;
/// A step of a border longer than so many cells is a piece of its own.
const LONG: f64 = 32.0;
/// The depth of a notch between the circles around two points of a step, m: the circles are larger by as much.
const NOTCH_M: f64 = ARC_TOLERANCE_M / 4.0;
/// A cell of fewer units is none: each step is a piece of its own then.
const LEAST_SIDE: f64 = 1_000.0;
/// Points that a cell holds before those that say nothing are let go.
const HELD: usize = 1_024;

/// The land at most a distance away from lines.
pub(super) fn near(lines: &[Ring], distance_m: f64) -> Vec<Shape> {
    let cells = Cells::of(lines, distance_m);
    let rings = cells.pieces.par_iter().map(|piece| cells.ring(piece));
    let rings: Vec<Ring> = rings.collect();
    united(&rings)
}

/// What lies in each cell, in the order in which the border comes by; and steps that are long.
struct Cells {
    distance_m: f64,
    /// Width of a cell, and how far apart points on a step may lie; units.
    side: f64,
    apart: f64,
    pieces: Vec<Piece>,
}

enum Piece {
    /// Points in a cell, by its column and row.
    In([i64; 2], Vec<Pt>),
    /// A step, or a line of one point.
    Step(Vec<Pt>),
}

impl Cells {
    fn of(lines: &[Ring], distance_m: f64) -> Self {
        let mut cells = Self {
            distance_m,
            side: (distance_m * UNITS_PER_M / std::f64::consts::SQRT_2).floor(),
            apart: (8.0 * distance_m * NOTCH_M).sqrt() * UNITS_PER_M,
            pieces: Vec::new(),
        };
        let mut places: HashMap<[i64; 2], usize> = HashMap::new();
        for line in lines {
            let ends = line.iter().skip(1).chain(line.last());
            for (&a, &b) in line.iter().zip(ends) {
                cells.step(a, b, &mut places);
            }
        }
        cells
    }

    /// Adds a step but for its last point, which is the first of the next.
    fn step(&mut self, a: Pt, b: Pt, places: &mut HashMap<[i64; 2], usize>) {
        let along = [(b.x - a.x) as f64, (b.y - a.y) as f64];
        let length = along[0].hypot(along[1]);
        if self.side < LEAST_SIDE || length > LONG * self.side {
            self.pieces.push(Piece::Step(vec![a, b]));
            return;
        }
        let parts = (length / self.apart).ceil().max(1.0);
        for nth in 0..parts as u32 {
            let share = f64::from(nth) / parts;
            let point = Pt {
                x: a.x + (along[0] * share).round() as i64,
                y: a.y + (along[1] * share).round() as i64,
            };
            let cell = [point.x, point.y].map(|v| (v as f64 / self.side).floor() as i64);
            let next = self.pieces.len();
            let number = *places.entry(cell).or_insert(next);
            if number == next {
                self.pieces.push(Piece::In(cell, Vec::new()));
            }
            let reach = self.reach(cell);
            if let Some(Piece::In(_, points)) = self.pieces.get_mut(number) {
                points.push(point);
                if points.len() > HELD && points.len().is_power_of_two() {
                    *points = reach.deciding(points);
                }
            }
        }
    }

    fn reach(&self, cell: [i64; 2]) -> Reach {
        let middle = cell.map(|nth| (nth as f64 + 0.5) * self.side);
        Reach::of(middle, (self.distance_m + NOTCH_M) * UNITS_PER_M)
    }

    /// The ring around what is near a piece, anticlockwise.
    fn ring(&self, piece: &Piece) -> Ring {
        match piece {
            Piece::In(cell, points) => self.reach(*cell).ring(points),
            Piece::Step(ends) => {
                let mut ring = match ends.as_slice() {
                    [a, b] if a != b => shifted(&[*b, *a], self.distance_m),
                    [point, ..] => circle(*point, self.distance_m),
                    [] => Ring::new(),
                };
                ring.reverse();
                ring
            }
        }
    }
}

/// The land in any of these rings. Goes down to a few of them first, so that few pieces are held at a time.
fn united(rings: &[Ring]) -> Vec<Shape> {
    if rings.len() <= TOGETHER {
        return where_winding(rings, |count| count > 0);
    }
    let parts = rings.par_chunks(rings.len().div_ceil(TOGETHER));
    let parts: Vec<Vec<Shape>> = parts.map(united).collect();
    let rings = parts.into_iter().flatten().flat_map(|shape| {
        let Shape { exterior, holes } = shape;
        std::iter::once(exterior).chain(holes)
    });
    where_winding(&rings.collect::<Vec<_>>(), |count| count > 0)
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

    fn numbers(mut state: u64) -> impl FnMut() -> f64 {
        move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
        }
    }

    /// Borders that run to and fro, narrowly and widely, short steps and long ones: the land near them, against the definition
    /// place by place, and in pieces by the ground.
    #[test]
    fn what_is_near_a_noisy_line_is_within_the_distance_of_it() {
        let mut random = numbers(5);
        let (length_m, distance_m) = (60.0, 3.0);
        for (count, noise_m) in [(1_500, 0.1), (1_500, 0.6), (400, 8.0), (9, 300.0)] {
            let line: Ring = (0..count)
                .map(|nth| {
                    let x = f64::from(nth) / f64::from(count) * length_m;
                    let xy = [x + 0.1 * random(), noise_m * random()];
                    Pt::from_metres(xy).unwrap()
                })
                .collect();
            let lines = [line];
            let pieces = Cells::of(&lines, distance_m).pieces.len();
            let ground = (length_m + 2.0) * (noise_m + 2.0);
            assert!((pieces as f64) < ground, "{noise_m}: {pieces}");
            let found = near(&lines, distance_m);
            for _ in 0..2_000 {
                let at = [
                    length_m * (0.5 + 1.2 * random()),
                    (noise_m + 8.0) * random() * 1.2,
                ];
                let away_m = lines[0].windows(2).map(|step| {
                    super::super::super::thin::distance_m(at, [step[0], step[1]].map(Pt::metres))
                });
                let off_m = away_m.fold(f64::MAX, f64::min) - distance_m;
                if off_m.abs() > ARC_TOLERANCE_M + NOTCH_M {
                    assert_eq!(is_in(&found, at), off_m < 0.0, "{noise_m}: {off_m}");
                }
            }
        }
    }

    /// By crossings of a ray to the east.
    fn is_in(shapes: &[Shape], [x, y]: [f64; 2]) -> bool {
        let rings = shapes.iter().flat_map(Shape::rings);
        let crossed = rings.flat_map(|ring| {
            let ends = ring.iter().skip(1).chain(ring.first());
            let edges = ring.iter().zip(ends).map(|(a, b)| [a.metres(), b.metres()]);
            edges
                .filter(|[a, b]| {
                    (a[1] > y) != (b[1] > y)
                        && a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) > x
                })
                .collect::<Vec<_>>()
        });
        crossed.count() % 2 == 1
    }

    /// Ten times the points on the same ground are no more pieces.
    #[test]
    fn pieces_are_as_many_as_the_ground_has_cells() {
        let pieces = |count: u32| {
            let mut random = numbers(7);
            let line: Ring = (0..count)
                .map(|nth| {
                    let x = f64::from(nth) / f64::from(count) * 100.0;
                    Pt::from_metres([x, 0.05 * random()]).unwrap()
                })
                .collect();
            Cells::of(&[line], 6.0).pieces.len()
        };
        let [few, many] = [2_000, 20_000].map(pieces);
        assert!(many <= few + 2 && few < 60, "{few} {many}");
    }
}
