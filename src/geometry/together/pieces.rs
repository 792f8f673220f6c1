//! Borders between groups as straight pieces: which points lie too near to which, found cell by cell.

use super::borders::distance;
use super::{NEAREST, Ways};
use crate::geometry::Arrangement;
use crate::geometry::csr::Csr;
use crate::geometry::grid_index::GridIndex;
use crate::geometry::point::Pt;
use rayon::prelude::*;
use std::collections::{BTreeSet, HashSet};
use std::ops::Range;

/// More points than this in a square of 2^-12 m (a quarter of a millimetre) are a crowd.
const MOST_IN_CROWD: usize = 4;
const CROWD_BITS: u32 = 8;

/// How far from a point borders are looked at, in units.
const REACH: i64 = NEAREST.ceil() as i64;

/// The straight pieces of the borders between groups.
pub(super) struct Pieces {
    /// Their points, border after border: where borders meet, once for each.
    points: Vec<Pt>,
    /// From the lower to the higher point.
    ends: Vec<[Pt; 2]>,
    rank: Vec<u8>,
    /// Borders that are long, by their ends, each with its pieces.
    long: Vec<(Range<u32>, [Pt; 2])>,
}

/// A point, and the number of a piece that it lies too near to.
pub(super) type NearPiece = (Pt, u32);

impl Pieces {
    /// The borders, those longer than `longest_m` in even pieces.
    pub(super) fn of(
        arrangement: &Arrangement,
        group: &[Option<u32>],
        longest_m: f64,
        rank: &impl Fn([Option<u32>; 2]) -> u8,
    ) -> Self {
        let groups = |sides: [u32; 2]| sides.map(|face| group[face as usize]);
        let mut pieces = Self {
            points: Vec::new(),
            ends: Vec::new(),
            rank: Vec::new(),
            long: Vec::new(),
        };
        for (way, sides) in arrangement.ways() {
            let [left, right] = groups(sides);
            if left == right {
                continue;
            }
            pieces.points.extend(way);
            for step in way.windows(2) {
                let ends = [step[0].min(step[1]), step[0].max(step[1])];
                pieces.border(ends, longest_m);
            }
            let rank = rank([left, right]);
            pieces.rank.resize(pieces.ends.len(), rank);
        }
        pieces
    }

    fn border(&mut self, ends: [Pt; 2], longest_m: f64) {
        if ends[0].distance_m(ends[1]) <= longest_m {
            self.ends.push(ends);
            return;
        }
        let parts = parts(ends, longest_m);
        let first = self.ends.len() as u32;
        self.ends
            .extend(parts.windows(2).map(|part| [part[0], part[1]]));
        self.points.extend(&parts[1..parts.len() - 1]);
        self.long.push((first..self.ends.len() as u32, ends));
    }

    pub(super) fn ends(&self, piece: u32) -> [Pt; 2] {
        self.ends[piece as usize]
    }

    pub(super) fn rank(&self, piece: u32) -> u8 {
        self.rank[piece as usize]
    }

    /// The pieces that end in one of these points, ascending.
    pub(super) fn about(&self, points: &BTreeSet<Pt>) -> Vec<u32> {
        let points: HashSet<Pt> = points.iter().copied().collect();
        let ends_there = |piece: &u32| self.ends(*piece).iter().any(|end| points.contains(end));
        (0..self.ends.len() as u32).filter(ends_there).collect()
    }

    /// The long borders that have a part in what lies too near, led through the points that part them.
    pub(super) fn parted(&self, near: &[NearPiece]) -> Ways {
        let points: BTreeSet<Pt> = near.iter().map(|(point, _)| *point).collect();
        let near: BTreeSet<u32> = near.iter().map(|(_, piece)| *piece).collect();
        let has_part = |(pieces, _): &&(Range<u32>, [Pt; 2])| {
            near.range(pieces.clone()).next().is_some()
                || pieces.clone().any(|piece| {
                    let mut ends = self.ends(piece).into_iter();
                    ends.any(|end| points.contains(&end))
                })
        };
        let long = self.long.iter().filter(has_part);
        let way = |pieces: &Range<u32>| {
            let mut way: Vec<Pt> = pieces.clone().map(|piece| self.ends(piece)[0]).collect();
            way.extend(pieces.clone().next_back().map(|piece| self.ends(piece)[1]));
            way
        };
        long.map(|(pieces, ends)| (*ends, way(pieces))).collect()
    }

    /// What is too near in all borders: points in crowds, ascending, and, where no crowd is, points that lie too
    /// near to a border that does not end in them, ascending.
    pub(super) fn search(&self) -> (Vec<Pt>, Vec<NearPiece>) {
        let index = GridIndex::new(self.ends.len(), |piece| std::iter::once(self.ends(piece)));
        let points = self.points_by_cell(&index);
        let in_cell = |cell: usize| {
            let points = self.in_order(points.list(cell));
            let crowds = crowds(&points);
            // Each point of a crowd would lie too near to the borders of all others.
            let near = match crowds.is_empty() {
                true => self.near_in(&points, index.cell(cell)),
                false => Vec::new(),
            };
            (crowds, near)
        };
        let cells = (0..index.len()).into_par_iter().with_min_len(4096);
        let found = cells.map(in_cell);
        let found = found.filter(|(crowds, near)| !crowds.is_empty() || !near.is_empty());
        let (crowds, near): (Vec<_>, Vec<_>) = found.unzip();
        (ascending(crowds), ascending(near))
    }

    /// Points that lie too near to a border that does not end in them, ascending, as far as one of these pieces
    /// lies there.
    pub(super) fn near(&self, fresh: &[[Pt; 2]]) -> Vec<NearPiece> {
        let boxes = fresh.iter().map(|ends| widened(*ends));
        let index = GridIndex::near_boxes(self.ends.len(), |piece| self.ends(piece), boxes);
        let points = self.points_by_cell(&index);
        let in_cell =
            |cell: usize| self.near_in(&self.in_order(points.list(cell)), index.cell(cell));
        let cells = (0..index.len()).into_par_iter().with_min_len(4096);
        let near = cells.map(in_cell).filter(|near| !near.is_empty());
        ascending(near.collect())
    }

    /// Of these points, from west to east, those too near to these pieces.
    fn near_in(&self, points: &[Pt], pieces: &[u32]) -> Vec<NearPiece> {
        let mut near: Vec<NearPiece> = Vec::new();
        for &piece in pieces {
            let [a, b] = self.ends(piece);
            let [low, high] = widened([a, b]);
            let first = points.partition_point(|point| point.x < low.x);
            let beside = points[first..].iter().copied();
            let beside = beside.take_while(|point| point.x <= high.x);
            let too_near = |point: &Pt| {
                (low.y..=high.y).contains(&point.y)
                    && *point != a
                    && *point != b
                    && distance(*point, [a, b]).0 < NEAREST
            };
            near.extend(beside.filter(too_near).map(|point| (point, piece)));
        }
        near
    }

    /// Of each cell that has pieces the points in it and beside it.
    fn points_by_cell(&self, index: &GridIndex) -> Csr<u32> {
        let mut cells: Vec<(u32, u32)> = Vec::with_capacity(self.points.len());
        for (number, &point) in (0..).zip(&self.points) {
            let around = index.around(widened([point, point]));
            let wanted = around.filter(|cell| !index.cell(*cell as usize).is_empty());
            cells.extend(wanted.map(|cell| (cell, number)));
        }
        Csr::from_pairs(index.len(), &cells)
    }

    /// These points from west to east, each once.
    fn in_order(&self, numbers: &[u32]) -> Vec<Pt> {
        let points = numbers.iter().map(|number| self.points[*number as usize]);
        let mut points: Vec<Pt> = points.collect();
        points.sort_unstable();
        points.dedup();
        points
    }
}

/// All of it, ascending, each once.
fn ascending<T: Ord + Copy>(lists: Vec<Vec<T>>) -> Vec<T> {
    let mut all = lists.concat();
    all.sort_unstable();
    all.dedup();
    all
}

/// The square that crowds are counted in.
pub(super) fn square(point: &Pt) -> [i64; 2] {
    [point.x >> CROWD_BITS, point.y >> CROWD_BITS]
}

/// Of these points, each there once, those in crowds.
fn crowds(points: &[Pt]) -> Vec<Pt> {
    if points.len() <= MOST_IN_CROWD {
        return Vec::new();
    }
    let mut points = points.to_vec();
    points.sort_unstable_by_key(square);
    let squares = points.chunk_by(|a, b| square(a) == square(b));
    let crowds = squares.filter(|points| points.len() > MOST_IN_CROWD);
    crowds.flatten().copied().collect()
}

/// The box around two points, wider by how far a border may lie from what is too near to it.
fn widened([a, b]: [Pt; 2]) -> [Pt; 2] {
    [
        Pt {
            x: a.x.min(b.x) - REACH,
            y: a.y.min(b.y) - REACH,
        },
        Pt {
            x: a.x.max(b.x) + REACH,
            y: a.y.max(b.y) + REACH,
        },
    ]
}

/// Points that part a border evenly into pieces no longer than this, its ends included.
fn parts([a, b]: [Pt; 2], longest_m: f64) -> Vec<Pt> {
    let count = (a.distance_m(b) / longest_m).ceil().max(1.0) as i64;
    let along = |from: i64, to: i64, nth: i64| {
        from + ((to - from) as f64 * nth as f64 / count as f64).round() as i64
    };
    let inner = (1..count).map(|nth| Pt {
        x: along(a.x, b.x, nth),
        y: along(a.y, b.y, nth),
    });
    std::iter::once(a).chain(inner).chain([b]).collect()
}
