//! What land lies along a way: per row of the rate table the width that it has in the lane, place by place, exactly.
//!
//! On each straight piece of the way the lane is a rectangle. Where a ring bends, these lap over at the inside of the corner and leave it
//! open outside; that counts for where the lane is cut, not for the land of its pieces.

use super::super::borders::bounds;
use super::super::frame::Edge;
use super::super::lane::{self, Slab};
use super::super::path::{Cell, Path};
use super::super::row_borders::RowBorders;
use super::cuts::{Lane, places};
use rstar::AABB;
use std::collections::BTreeMap;

/// Ways are looked at in parts of this length, so that the box of a long one does not meet all borders, m.
const PART_M: f64 = 100.0;

/// A bend around which ground goes this far is a corner, m; a curve comes in chords that bend less.
const CORNER_M: f64 = 0.5;

/// Widths that differ by less are the same, m.
const SAME_M: f64 = 1e-5;

/// The width of a row's land in a lane on a stretch, by station.
struct Stretch {
    row: u32,
    slab: Slab,
}

impl RowBorders {
    /// The land of some rows along a way, and where it may be cut.
    pub(super) fn lane(
        &self,
        path: &Path,
        half_m: f64,
        least_m: f64,
        counts: &dyn Fn(u32) -> bool,
    ) -> Lane {
        let mut stretches: Vec<Stretch> = Vec::new();
        for cell in path.cells([-half_m, half_m]) {
            let parts = (cell.length_m / PART_M).ceil().max(1.0) as usize;
            let at = |nth: usize| nth as f64 / parts as f64 * cell.length_m;
            for nth in 0..parts {
                self.part(
                    &cell,
                    [at(nth), at(nth + 1)],
                    half_m,
                    counts,
                    &mut stretches,
                );
            }
        }
        stretches.sort_by(|a, b| {
            a.row
                .cmp(&b.row)
                .then(a.slab.from_m.total_cmp(&b.slab.from_m))
        });
        let mut changes = changes(&stretches, half_m);
        // What is touched around a corner of a ring goes no further than a least piece from it.
        let bends = bends(path, half_m);
        let corners = bends.iter().filter(|[_, reach]| *reach > CORNER_M);
        changes.extend(corners.flat_map(|[at, _]| [at - least_m, *at, at + least_m]));
        let places_m = places(path.length_m(), &changes, least_m);
        let mut land: Vec<BTreeMap<u32, f64>> =
            vec![BTreeMap::new(); places_m.len().saturating_sub(1)];
        for Stretch { row, slab } in &stretches {
            let first = places_m
                .partition_point(|place| *place <= slab.from_m)
                .saturating_sub(1);
            for (pair, land) in places_m.windows(2).zip(&mut land).skip(first) {
                let (from, to) = (pair[0].max(slab.from_m), pair[1].min(slab.to_m));
                if pair[0] >= slab.to_m {
                    break;
                }
                if to > from {
                    let width = (inside_at(slab, from) + inside_at(slab, to)) / 2.0;
                    *land.entry(*row).or_default() += width * (to - from);
                }
            }
        }
        let around = around(path, &bends, &stretches, &places_m);
        Lane {
            places_m,
            around,
            land: land
                .into_iter()
                .map(|part| part.into_iter().collect())
                .collect(),
        }
    }

    /// Adds the rows on a part of a straight piece.
    fn part(
        &self,
        cell: &Cell,
        [from, to]: [f64; 2],
        half_m: f64,
        counts: &dyn Fn(u32) -> bool,
        stretches: &mut Vec<Stretch>,
    ) {
        let corners = [[from, -half_m], [to, -half_m], [to, half_m], [from, half_m]];
        let [low, high] = bounds(&corners.map(|at| cell.back(at)));
        let mut edges: BTreeMap<u32, Vec<Edge>> = BTreeMap::new();
        for edge in self.near(&AABB::from_corners(low, high)) {
            let [a, b] = edge.ends.map(|end| cell.turned(end));
            let beside = |axis: usize, [least, most]: [f64; 2]| {
                a[axis].max(b[axis]) < least || a[axis].min(b[axis]) > most
            };
            if beside(0, [from, to]) || beside(1, [-half_m, half_m]) {
                continue;
            }
            let [left, right] = edge.rows;
            if let Some(row) = left {
                edges.entry(row).or_default().push(Edge { from: a, to: b });
            }
            if let Some(row) = right {
                edges.entry(row).or_default().push(Edge { from: b, to: a });
            }
        }
        // Land without a border in the rectangle has all of it or none; its middle says.
        if edges.is_empty() {
            let row = self.row_at(cell.back([(from + to) / 2.0, 0.0]));
            edges.extend(row.map(|row| (row, Vec::new())));
        } else if let Some(row) = self.row_at(cell.back([(from + to) / 2.0, 0.0])) {
            edges.entry(row).or_default();
        }
        for (row, mut edges) in edges.into_iter().filter(|(row, _)| counts(*row)) {
            // In one order, whatever order they were found in.
            let key = |edge: &Edge| [edge.from[0], edge.from[1], edge.to[0], edge.to[1]];
            edges.sort_by(|a, b| {
                let pairs = key(a).into_iter().zip(key(b));
                pairs.fold(std::cmp::Ordering::Equal, |order, (a, b)| {
                    order.then(a.total_cmp(&b))
                })
            });
            let at = |place: [f64; 2]| i32::from(self.row_at(cell.back(place)) == Some(row));
            let slabs = lane::between(&edges, [-half_m, half_m], [from, to], &at);
            let wide = |slab: &Slab| slab.inside_from_m > SAME_M || slab.inside_to_m > SAME_M;
            let slabs = slabs
                .into_iter()
                .filter(|slab| slab.to_m > slab.from_m && wide(slab));
            stretches.extend(slabs.map(|slab| Stretch {
                row,
                slab: slab.moved(cell.from_m),
            }));
        }
    }
}

/// Bends of a way: station, and how far around it ground goes to the nearer piece of the way and not to the nearer station, m.
fn bends(path: &Path, half_m: f64) -> Vec<[f64; 2]> {
    let straights: Vec<_> = path.straights().collect();
    let along = |(start, end, _): &([f64; 2], [f64; 2], f64)| {
        let [x, y] = [end[0] - start[0], end[1] - start[1]];
        let length = x.hypot(y);
        [x / length, y / length]
    };
    let mut bends: Vec<[f64; 2]> = straights
        .windows(2)
        .map(|pair| [pair[1].2, reach_m(along(&pair[0]), along(&pair[1]), half_m)])
        .collect();
    if let (true, Some(last), Some(first)) = (path.closed, straights.last(), straights.first()) {
        let reach = reach_m(along(last), along(first), half_m);
        bends.extend([[0.0, reach], [path.length_m(), reach]]);
    }
    bends
}

/// Per place, the rows that a piece may touch that ends there, for it lies within reach of a bend. Most places have none.
fn around(
    path: &Path,
    bends: &[[f64; 2]],
    stretches: &[Stretch],
    places_m: &[f64],
) -> Vec<Vec<u32>> {
    let length_m = path.length_m();
    // Both by station, so that of a long ring with many bends only what is near is looked at.
    let mut bends = bends.to_vec();
    bends.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let farthest_m = bends.iter().map(|[_, reach]| *reach).fold(0.0, f64::max);
    let mut stretches: Vec<&Stretch> = stretches.iter().collect();
    stretches.sort_by(|a, b| a.slab.from_m.total_cmp(&b.slab.from_m));
    let lengths = stretches.iter().map(|own| own.slab.to_m - own.slab.from_m);
    let longest_m = lengths.fold(0.0, f64::max);
    let near = |place: &f64| {
        let first = bends.partition_point(|[at, _]| *at <= place - farthest_m);
        let bends = bends[first..].iter();
        let bends = bends.take_while(|[at, _]| *at < place + farthest_m);
        let bend = |[at, reach]: &&[f64; 2]| (place - at).abs() < *reach;
        let reach = bends.filter(bend).map(|[_, reach]| *reach);
        let Some(reach) = reach.reduce(f64::max) else {
            return Vec::new();
        };
        let spans =
            [0.0, length_m, -length_m].map(|turn| [place + turn - reach, place + turn + reach]);
        let spans = &spans[..if path.closed { 3 } else { 1 }];
        let mut rows = Vec::new();
        for [from, to] in spans {
            let first =
                stretches.partition_point(|own| own.slab.from_m < from - longest_m - SAME_M);
            let own = stretches[first..].iter();
            let own = own.take_while(|own| own.slab.from_m < *to);
            rows.extend(own.filter(|own| own.slab.to_m > *from).map(|own| own.row));
        }
        rows.sort_unstable();
        rows.dedup();
        rows
    };
    places_m.iter().map(near).collect()
}

/// How far from a bend between two directions the ground of one side reaches into the other, m.
fn reach_m(before: [f64; 2], after: [f64; 2], half_m: f64) -> f64 {
    let cos = (before[0] * after[0] + before[1] * after[1]).clamp(-1.0, 1.0);
    // tan of half the turn; a way that turns back reaches as far as the lane is wide.
    let tan = ((1.0 - cos) / (1.0 + cos).max(1e-9)).sqrt();
    half_m * tan.min(2.0)
}

fn inside_at(slab: &Slab, station_m: f64) -> f64 {
    let share = (station_m - slab.from_m) / (slab.to_m - slab.from_m);
    slab.inside_from_m + share * (slab.inside_to_m - slab.inside_from_m)
}

/// Where the width of a row begins, ends, jumps or bends, and where half of the lane's width passes to or from it.
fn changes(stretches: &[Stretch], half_m: f64) -> Vec<f64> {
    let mut changes = Vec::new();
    for of_row in stretches.chunk_by(|a, b| a.row == b.row) {
        for Stretch { slab, .. } in of_row {
            let [from, to] = [slab.inside_from_m - half_m, slab.inside_to_m - half_m];
            if from * to < 0.0 {
                changes.push(slab.from_m + from / (from - to) * (slab.to_m - slab.from_m));
            }
        }
        let slope =
            |slab: &Slab| (slab.inside_to_m - slab.inside_from_m) / (slab.to_m - slab.from_m);
        for pair in of_row.windows(2) {
            let [a, b] = [&pair[0].slab, &pair[1].slab];
            let goes_on = (b.from_m - a.to_m).abs() < SAME_M
                && (b.inside_from_m - a.inside_to_m).abs() < SAME_M
                && (slope(b) - slope(a)).abs() < 1e-3;
            if !goes_on {
                changes.extend([a.to_m, b.from_m]);
            }
        }
        changes.extend(of_row.first().map(|first| first.slab.from_m));
        changes.extend(of_row.last().map(|last| last.slab.to_m));
    }
    changes
}
