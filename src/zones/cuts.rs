//! Cuts across gaps that run along the border of the land.
//!
//! A layer drawn a few metres short of the border leaves one strip that passes many classes; as one
//! gap it would get one class. So where the class beside such a strip changes, the strip is cut on
//! the shortest way to the border, and each piece is a gap of its own. A cut is a triangle a
//! micrometre wide.

use super::faces::Faces;
use crate::geometry::{Pt, Shape, UnionFind};
use std::collections::BTreeMap;

/// How far a cut reaches beyond the border, in grid units, so that rounding cannot keep it short.
const BEYOND: f64 = 4.0;

/// Smallest gap that is worth a cut, m2.
const SMALLEST_M2: f64 = 1.0;

/// What is known of the border of a gap.
#[derive(Default)]
struct Strip {
    area_m2: f64,
    /// Edges with no land on the other side.
    outer: Vec<[Pt; 2]>,
    /// Per point of the border: the classes beside its edges.
    beside: BTreeMap<Pt, Vec<u32>>,
}

/// The cuts of each layer.
pub(super) fn across_gaps(faces: &Faces) -> Vec<Vec<Shape>> {
    (0..faces.class.len())
        .map(|layer| strips(faces, layer).iter().flat_map(Strip::cuts).collect())
        .collect()
}

fn strips(faces: &Faces, layer: usize) -> Vec<Strip> {
    let class = &faces.class[layer];
    let is_land = |face: u32| faces.fixed[face as usize].is_some();
    let is_gap = |face: u32| is_land(face) && class[face as usize].is_none();
    if !(0..class.len() as u32).any(is_gap) {
        return Vec::new();
    }
    let mut sets = UnionFind::new(class.len());
    for [left, right] in faces.arrangement.neighbours() {
        if is_gap(left) && is_gap(right) {
            sets.unite(left, right);
        }
    }
    let mut strips: BTreeMap<u32, Strip> = BTreeMap::new();
    for face in (0..class.len() as u32).filter(|&face| is_gap(face)) {
        strips.entry(sets.find(face)).or_default().area_m2 += faces.arrangement.area_m2(face);
    }
    let of_gap = |sides: [u32; 2]| sides.into_iter().any(is_gap);
    for (ends, [left, right]) in faces.arrangement.edges_between(of_gap) {
        for (here, there) in [(left, right), (right, left)] {
            if !is_gap(here) {
                continue;
            }
            let strip = strips.entry(sets.find(here)).or_default();
            match class[there as usize] {
                Some(class) => {
                    for end in ends {
                        strip.beside.entry(end).or_default().push(class);
                    }
                }
                None if !is_land(there) => strip.outer.push(ends),
                None => {}
            }
        }
    }
    strips.into_values().collect()
}

impl Strip {
    fn cuts(&self) -> Vec<Shape> {
        if self.area_m2 < SMALLEST_M2 || self.outer.is_empty() {
            return Vec::new();
        }
        let changes = self
            .beside
            .iter()
            .filter(|(_, classes)| classes.windows(2).any(|c| c[0] != c[1]));
        changes.filter_map(|(&point, _)| self.cut(point)).collect()
    }

    /// The cut from a point of the border; `None` for a point that is on the outer border itself.
    fn cut(&self, from: Pt) -> Option<Shape> {
        let to = self
            .outer
            .iter()
            .map(|&edge| nearest(edge, from))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let (length, [x, y]) = to.filter(|(length, _)| *length > BEYOND)?;
        let [dx, dy] = [x / length, y / length];
        let reach = length + BEYOND;
        // The far side is two units wide: one to each side, rounded away from the middle.
        let end = |side: f64| Pt {
            x: from.x + (reach * dx - side * dy).round() as i64,
            y: from.y + (reach * dy + side * dx).round() as i64,
        };
        Some(Shape {
            exterior: vec![from, end(-1.0), end(1.0)],
            holes: Vec::new(),
        })
    }
}

/// Distance from a point to an edge, and the way there, in grid units.
fn nearest([a, b]: [Pt; 2], from: Pt) -> (f64, [f64; 2]) {
    let to_a = [(a.x - from.x) as f64, (a.y - from.y) as f64];
    let along = [(b.x - a.x) as f64, (b.y - a.y) as f64];
    let length2 = along[0] * along[0] + along[1] * along[1];
    let share = (-(to_a[0] * along[0] + to_a[1] * along[1]) / length2).clamp(0.0, 1.0);
    let way = [to_a[0] + share * along[0], to_a[1] + share * along[1]];
    (way[0].hypot(way[1]), way)
}
