//! A uniform grid over segments: which segments pass near a place.

use super::csr::Csr;
use super::point::Pt;
use rayon::prelude::*;
use std::ops::Range;

/// Cells of 2^shift units; each lists the segments that pass within one unit of it.
pub(crate) struct GridIndex {
    min: Pt,
    shift: u32,
    columns: i64,
    rows: i64,
    cells: Csr<u32>,
}

impl GridIndex {
    /// Indexes the segments of each number from 0 on; about one cell per number that has any.
    pub(crate) fn new<S: Iterator<Item = [Pt; 2]>>(
        numbers: usize,
        segments: impl Fn(u32) -> S + Sync,
    ) -> Self {
        let mut index = Self::empty(numbers, &segments);
        let pairs = index.pairs(numbers, &segments, |_| true, |_| true);
        index.cells = Csr::from_pairs((index.columns * index.rows) as usize, &pairs);
        index
    }

    /// The same index without the cells that no fresh segment passes. `boxes` has the lower and the upper corner
    /// around the segments of each number.
    pub(crate) fn near_fresh<S: Iterator<Item = [Pt; 2]>>(
        numbers: usize,
        segments: impl Fn(u32) -> S + Sync,
        boxes: impl Fn(u32) -> [Pt; 2] + Sync,
        is_fresh: impl Fn(u32) -> bool,
    ) -> Self {
        let mut index = Self::empty(numbers, &|number| std::iter::once(boxes(number)));
        let mut passed = vec![false; (index.columns * index.rows) as usize];
        let all = 0..numbers as u32;
        for segment in all.filter(|number| is_fresh(*number)).flat_map(&segments) {
            index.visit(segment, |cell| passed[cell as usize] = true);
        }
        let is_passed = |cell: u32| passed[cell as usize];
        let is_near = |number: u32| index.around(boxes(number)).any(is_passed);
        let pairs = index.pairs(numbers, &segments, is_near, is_passed);
        index.cells = Csr::from_pairs(passed.len(), &pairs);
        index
    }

    /// The same index, of one segment per number, without the cells that none of these boxes touches; of each box its
    /// lower and its upper corner.
    pub(crate) fn near_boxes(
        numbers: usize,
        segment: impl Fn(u32) -> [Pt; 2] + Sync,
        boxes: impl Iterator<Item = [Pt; 2]>,
    ) -> Self {
        let segments = |number: u32| std::iter::once(segment(number));
        let mut index = Self::empty(numbers, &segments);
        let mut touched = vec![false; (index.columns * index.rows) as usize];
        for cell in boxes.flat_map(|place| index.around(place).collect::<Vec<_>>()) {
            touched[cell as usize] = true;
        }
        let is_touched = |cell: u32| touched[cell as usize];
        let pairs = index.pairs(numbers, &segments, |_| true, is_touched);
        index.cells = Csr::from_pairs(touched.len(), &pairs);
        index
    }

    /// Cells that are wanted with the numbers that pass them, in the order of the numbers. `may_pass` tells of
    /// numbers that pass none.
    fn pairs<S: Iterator<Item = [Pt; 2]>>(
        &self,
        numbers: usize,
        segments: &(impl Fn(u32) -> S + Sync),
        may_pass: impl Fn(u32) -> bool + Sync,
        wanted: impl Fn(u32) -> bool + Sync,
    ) -> Vec<(u32, u32)> {
        let part = |numbers: Range<u32>| {
            let mut pairs = Vec::with_capacity(numbers.len() + numbers.len() / 2);
            for number in numbers.filter(|number| may_pass(*number)) {
                for segment in segments(number) {
                    self.visit(segment, |cell| {
                        if wanted(cell) {
                            add(cell, number, &mut pairs);
                        }
                    });
                }
            }
            pairs
        };
        let mut parts: Vec<Vec<(u32, u32)>> = parts(numbers).into_par_iter().map(part).collect();
        match parts.len() {
            1 => parts.remove(0),
            _ => parts.concat(),
        }
    }

    /// The cells for these segments, nothing in them.
    fn empty<S: Iterator<Item = [Pt; 2]>>(
        numbers: usize,
        segments: &(impl Fn(u32) -> S + Sync),
    ) -> Self {
        let part = |numbers: Range<u32>| {
            let mut part = Around::NOTHING;
            for number in numbers {
                let mut any = 0;
                for [a, b] in segments(number) {
                    any = 1;
                    part.low = lower(part.low, lower(a, b));
                    part.high = upper(part.high, upper(a, b));
                }
                part.numbers += any;
            }
            part
        };
        let found: Vec<Around> = parts(numbers).into_par_iter().map(part).collect();
        let all = found.into_iter().fold(Around::NOTHING, |all, part| Around {
            low: lower(all.low, part.low),
            high: upper(all.high, part.high),
            numbers: all.numbers + part.numbers,
        });
        let [mut min, mut max] = [all.low, all.high];
        if all.numbers == 0 {
            [min, max] = [Pt { x: 0, y: 0 }; 2];
        }
        // One unit of margin, so that the neighbourhood of every segment lies inside.
        let min = Pt {
            x: min.x - 1,
            y: min.y - 1,
        };
        let [width, height] = [max.x - min.x + 2, max.y - min.y + 2];
        let wanted = all.numbers + 1;
        let mut shift = 0;
        while ((width >> shift) + 1).saturating_mul((height >> shift) + 1) > wanted {
            shift += 1;
        }
        let [columns, rows] = [(width >> shift) + 1, (height >> shift) + 1];
        Self {
            min,
            shift,
            columns,
            rows,
            cells: Csr::new(),
        }
    }

    /// How many cells there are.
    pub(crate) fn len(&self) -> usize {
        self.cells.len()
    }

    /// Segments near a cell.
    pub(crate) fn cell(&self, cell: usize) -> &[u32] {
        self.cells.list(cell)
    }

    /// South-west and north-east corner of a cell, one unit beyond it.
    pub(crate) fn corners(&self, cell: usize) -> [Pt; 2] {
        let [column, row] = [cell as i64 % self.columns, cell as i64 / self.columns];
        [-1, 1].map(|beyond| Pt {
            x: self.min.x + ((column + i64::from(beyond > 0)) << self.shift) + beyond,
            y: self.min.y + ((row + i64::from(beyond > 0)) << self.shift) + beyond,
        })
    }

    /// Segments near a point.
    pub(crate) fn at(&self, point: Pt) -> &[u32] {
        match self.column_row(point) {
            Some([column, row]) => self.cells.list((row * self.columns + column) as usize),
            None => &[],
        }
    }

    /// Cells from the one of `point` to the left border, one after the other.
    pub(crate) fn leftwards(&self, point: Pt) -> impl Iterator<Item = &[u32]> {
        let place = self.column_row(point);
        let range = place.map_or(0..0, |[column, _]| 0..column + 1);
        let row = place.map_or(0, |[_, row]| row);
        range
            .rev()
            .map(move |column| self.cells.list((row * self.columns + column) as usize))
    }

    /// The x of the left border of the cell column a point is in.
    pub(crate) fn left_border(&self, cells_to_the_left: i64, point: Pt) -> i64 {
        let column = ((point.x - self.min.x) >> self.shift) - cells_to_the_left;
        self.min.x + (column << self.shift)
    }

    fn column_row(&self, point: Pt) -> Option<[i64; 2]> {
        let column = (point.x - self.min.x) >> self.shift;
        let row = (point.y - self.min.y) >> self.shift;
        let inside = (0..self.columns).contains(&column) && (0..self.rows).contains(&row);
        inside.then_some([column, row])
    }

    /// The column of cells that an x is in, or the nearest one.
    fn column(&self, x: i64) -> i64 {
        ((x - self.min.x) >> self.shift).clamp(0, self.columns - 1)
    }

    /// The row of cells that a y is in, or the nearest one.
    fn row(&self, y: i64) -> i64 {
        ((y - self.min.y) >> self.shift).clamp(0, self.rows - 1)
    }

    /// The cells that a box, thickened by one unit, touches.
    pub(crate) fn around(&self, [low, high]: [Pt; 2]) -> impl Iterator<Item = u32> {
        let columns = self.column(low.x - 1)..=self.column(high.x + 1);
        let rows = self.row(low.y - 1)..=self.row(high.y + 1);
        let of_row = move |row: i64| {
            let first = row * self.columns;
            columns.clone().map(move |column| (first + column) as u32)
        };
        rows.flat_map(of_row)
    }

    /// Calls `found` for each cell that the segment, thickened by one unit, may touch.
    fn visit(&self, [a, b]: [Pt; 2], mut found: impl FnMut(u32)) {
        let [row0, row1] = [a.y.min(b.y) - 1, a.y.max(b.y) + 1].map(|y| self.row(y));
        let [left, right] = [a.x.min(b.x) - 1, a.x.max(b.x) + 1];
        let [column0, column1] = [left, right].map(|x| self.column(x));
        let slim = row1 - row0 <= 1 || column1 - column0 <= 1;
        let slope = (b.x - a.x) as f64 / (b.y - a.y) as f64;
        for row in row0..=row1 {
            let [mut from, mut to] = [column0, column1];
            if !slim {
                // Where the segment is while it passes this row, two units wider on each side to
                // cover the thickening and rounding.
                let bottom = self.min.y + (row << self.shift) - 1;
                let top = bottom + (1 << self.shift) + 2;
                let x_at = |y: i64| a.x as f64 + slope * (y - a.y) as f64;
                let [x0, x1] = [x_at(bottom), x_at(top)];
                from = self.column((x0.min(x1) as i64 - 2).max(left));
                to = self.column((x0.max(x1) as i64 + 2).min(right));
            }
            for column in from..=to {
                found((row * self.columns + column) as u32);
            }
        }
    }
}

/// Notes a number in a cell, unless it has just been noted.
fn add(cell: u32, number: u32, pairs: &mut Vec<(u32, u32)>) {
    if !pairs
        .iter()
        .rev()
        .take(LOOKED_BACK)
        .any(|&pair| pair == (cell, number))
    {
        pairs.push((cell, number));
    }
}

/// How far back a number is looked for: the cells that a few neighbouring segments pass.
const LOOKED_BACK: usize = 6;

/// Fewer numbers than this are not worth a part of their own.
const LEAST_IN_PART: usize = 8192;

/// Numbers from 0 on, in parts for all threads; one part for one thread, which saves putting them together.
fn parts(numbers: usize) -> Vec<Range<u32>> {
    let parts = match rayon::current_num_threads() {
        1 => 1,
        threads => 2 * threads,
    };
    let step = numbers.div_ceil(parts).max(LEAST_IN_PART);
    let starts = (0..numbers).step_by(step);
    starts
        .map(|start| start as u32..numbers.min(start + step) as u32)
        .collect()
}

/// A box, and how many numbers have a segment in it.
struct Around {
    low: Pt,
    high: Pt,
    numbers: i64,
}

impl Around {
    const NOTHING: Self = Self {
        low: Pt {
            x: i64::MAX,
            y: i64::MAX,
        },
        high: Pt {
            x: i64::MIN,
            y: i64::MIN,
        },
        numbers: 0,
    };
}

fn lower(a: Pt, b: Pt) -> Pt {
    Pt {
        x: a.x.min(b.x),
        y: a.y.min(b.y),
    }
}

fn upper(a: Pt, b: Pt) -> Pt {
    Pt {
        x: a.x.max(b.x),
        y: a.y.max(b.y),
    }
}
