//! Exact coverage: which share of each grid cell each group of faces covers.
//!
//! Method: signed-area accumulation, as analytic rasterisers of fonts do it. Every edge is walked
//! once through the cells it passes and leaves there, for the groups left and right of it, the
//! height it climbs and the area east of it (`walk.rs`). A sweep along each row of cells sums the heights:
//! a cell without edges is covered as its western neighbour leaves it, and is never visited.
//!
//! Heights and areas are integers, so what is outside comes out as exactly zero, and what one side
//! of a border loses the other gains. The only rounding is where an edge crosses from cell to cell:
//! half a unit of the grid's coordinates.

mod walk;

use super::csr::Csr;
use rayon::prelude::*;
use walk::{Marks, NOBODY, Walk};

/// A grid of cells in integer coordinates; the unit is the caller's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CellGrid {
    /// South-west corner.
    pub origin: [i64; 2],
    /// Width and height of a cell.
    pub cell: [i64; 2],
    /// Columns of the grid.
    pub columns: usize,
    /// Rows of the grid.
    pub rows: usize,
}

/// A border: from, to, and the groups left and right of it (`None`: nobody's).
pub type Border = ([i64; 2], [i64; 2], [Option<u32>; 2]);

/// A run of cells in one row of which one group covers the same share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Column of the cell.
    pub column: u32,
    /// Number of cells; more than one only where no border passes.
    pub length: u32,
    /// Group of the land.
    pub group: u32,
    /// Share of each cell, above 0 and at most 1.
    pub share: f64,
}

/// Rows that are swept together.
const ROWS_AT_ONCE: usize = 64;

/// The spans of each row, row 0 southernmost, ascending by column and then group.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    /// Lists of [`ROWS_AT_ONCE`] rows each.
    blocks: Vec<Csr<Span>>,
}

impl Coverage {
    /// Coverage of a grid by groups whose borders are given, each once. All borders must lie on the
    /// grid and close around every group. Borders that follow each other along a line are walked fastest.
    pub fn new(grid: CellGrid, borders: impl Iterator<Item = Border>) -> Self {
        let mut walk = Walk::on(grid);
        for (from, to, groups) in borders {
            if groups[0] != groups[1] {
                walk.along(from, to, groups);
            }
        }
        let marks = walk.into_marks();
        let numbers: Vec<(u32, u32)> = marks.iter().zip(0..).map(|(m, nth)| (m.row, nth)).collect();
        let of_row = Csr::from_pairs(grid.rows, &numbers);
        drop(numbers);
        let blocks = (0..grid.rows.div_ceil(ROWS_AT_ONCE))
            .into_par_iter()
            .map(|block| {
                let first = block * ROWS_AT_ONCE;
                let rows = first..grid.rows.min(first + ROWS_AT_ONCE);
                let mut sweep = Sweep::of(&grid, &marks);
                let mut spans = Csr::new();
                rows.for_each(|row| spans.push(sweep.row(of_row.list(row))));
                spans.shrink_to_fit();
                spans
            })
            .collect();
        Self { blocks }
    }

    /// Spans of a row.
    pub fn row(&self, row: usize) -> &[Span] {
        self.blocks[row / ROWS_AT_ONCE].list(row % ROWS_AT_ONCE)
    }

    /// All spans with their row.
    pub fn spans(&self) -> impl Iterator<Item = (usize, &Span)> {
        let rows = self.blocks.iter().flat_map(|block| block.lists());
        rows.enumerate()
            .flat_map(|(row, spans)| spans.iter().map(move |s| (row, s)))
    }
}

/// How much of a row a group covers at some column.
#[derive(Clone, Copy)]
struct Cover {
    group: u32,
    /// Height covered where no border passes.
    height: i64,
    /// Twice the area by which the current cell differs from that.
    area2: i128,
}

/// Sweeps rows from west to east; its lists are kept from row to row.
struct Sweep<'a> {
    grid: &'a CellGrid,
    marks: &'a Marks,
    cell_area2: f64,
    /// Of each mark of the row its column, and in the lower half its number.
    keys: Vec<u64>,
    covers: Vec<Cover>,
    spans: Vec<Span>,
}

impl<'a> Sweep<'a> {
    fn of(grid: &'a CellGrid, marks: &'a Marks) -> Self {
        let [width, height] = grid.cell.map(i128::from);
        Self {
            grid,
            marks,
            cell_area2: (2 * width * height) as f64,
            keys: Vec::new(),
            covers: Vec::new(),
            spans: Vec::new(),
        }
    }

    /// Spans of the row that these marks, by number, are in.
    fn row(&mut self, marks: &[u32]) -> impl Iterator<Item = Span> {
        let column = |nth: u32| u64::from(self.marks.get(nth).column);
        let key = |&nth: &u32| column(nth) << 32 | u64::from(nth);
        self.keys.clear();
        self.keys.extend(marks.iter().map(key));
        // Sums of integers are the same in any order, so it need not be that of the borders.
        self.keys.sort_unstable();
        let keys = std::mem::take(&mut self.keys);
        self.covers.clear();
        let mut after_last = 0;
        for here in keys.chunk_by(|a, b| a >> 32 == b >> 32) {
            let column = (here[0] >> 32) as u32;
            self.push_run([after_last, column]);
            after_last = column + 1;
            self.cell(column, here);
        }
        self.push_run([after_last, self.grid.columns as u32]);
        self.keys = keys;
        self.spans.drain(..)
    }

    /// A cell that borders pass.
    fn cell(&mut self, column: u32, marks: &[u64]) {
        let width2 = 2 * i128::from(self.grid.cell[0]);
        for cover in &mut self.covers {
            cover.area2 = width2 * i128::from(cover.height);
        }
        for key in marks {
            let mark = self.marks.get(*key as u32);
            let [left, right] = mark.groups;
            for (group, climb, area2) in [
                (left, -mark.climb, -mark.area2),
                (right, mark.climb, mark.area2),
            ] {
                if group != NOBODY {
                    let cover = cover_of(&mut self.covers, group);
                    cover.height += climb;
                    cover.area2 += area2;
                }
            }
        }
        for cover in &self.covers {
            if cover.area2 != 0 {
                self.spans.push(Span {
                    column,
                    length: 1,
                    group: cover.group,
                    share: cover.area2 as f64 / self.cell_area2,
                });
            }
        }
        self.covers.retain(|cover| cover.height != 0);
    }

    /// Cells that no border passes.
    fn push_run(&mut self, [from, to]: [u32; 2]) {
        if from == to {
            return;
        }
        let height = self.grid.cell[1] as f64;
        let span = |cover: &Cover| Span {
            column: from,
            length: to - from,
            group: cover.group,
            share: cover.height as f64 / height,
        };
        self.spans.extend(self.covers.iter().map(span));
    }
}

/// The entry of a group, in order of groups; a new one covers nothing yet.
fn cover_of(covers: &mut Vec<Cover>, group: u32) -> &mut Cover {
    let at = covers.partition_point(|cover| cover.group < group);
    if covers.get(at).is_none_or(|cover| cover.group != group) {
        let new = Cover {
            group,
            height: 0,
            area2: 0,
        };
        covers.insert(at, new);
    }
    &mut covers[at]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Slow oracle: the area of a ring clipped to a box, in 80-bit-safe relative coordinates.
    fn clipped_area(ring: &[[f64; 2]], low: [f64; 2], high: [f64; 2]) -> f64 {
        let mut ring = ring.to_vec();
        for axis in 0..2 {
            for (bound, sign) in [(low[axis], 1.0), (high[axis], -1.0)] {
                let inside = |p: &[f64; 2]| sign * (p[axis] - bound) >= 0.0;
                let mut kept = Vec::new();
                for (nth, to) in ring.iter().enumerate() {
                    let from = ring[(nth + ring.len() - 1) % ring.len()];
                    if inside(&from) != inside(to) {
                        let along = (bound - from[axis]) / (to[axis] - from[axis]);
                        kept.push([0, 1].map(|k| from[k] + along * (to[k] - from[k])));
                    }
                    if inside(to) {
                        kept.push(*to);
                    }
                }
                ring = kept;
            }
        }
        let ends = ring.iter().skip(1).chain(ring.first());
        let twice = ring
            .iter()
            .zip(ends)
            .map(|(a, b)| (a[0] - low[0]) * (b[1] - low[1]) - (a[1] - low[1]) * (b[0] - low[0]));
        twice.sum::<f64>() / 2.0
    }

    fn share(coverage: &Coverage, row: usize, column: usize, group: u32) -> f64 {
        let at = |span: &&Span| {
            span.group == group
                && (span.column..span.column + span.length).contains(&(column as u32))
        };
        coverage
            .row(row)
            .iter()
            .find(at)
            .map_or(0.0, |span| span.share)
    }

    fn ring_borders(ring: &[[i64; 2]], group: u32) -> Vec<Border> {
        let ends = ring.iter().skip(1).chain(ring.first());
        ring.iter()
            .zip(ends)
            .map(|(&a, &b)| (a, b, [Some(group), None]))
            .collect()
    }

    const GRID: CellGrid = CellGrid {
        origin: [-100, 50],
        cell: [1 << 33, 1 << 33],
        columns: 6,
        rows: 5,
    };

    #[test]
    fn a_square_over_four_quarters() {
        let half = 1i64 << 32;
        let ring = [
            [half, half],
            [3 * half, half],
            [3 * half, 3 * half],
            [half, 3 * half],
        ];
        let grid = CellGrid {
            origin: [0, 0],
            cell: [1 << 33; 2],
            columns: 3,
            rows: 3,
        };
        let coverage = Coverage::new(grid, ring_borders(&ring, 7).into_iter());
        for (row, column) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
            assert_eq!(share(&coverage, row, column, 7), 0.25);
        }
        assert_eq!(coverage.spans().count(), 4);
    }

    #[test]
    fn borders_on_cell_borders_leave_nothing_next_door() {
        let cell = 1i64 << 33;
        let ring = [
            [cell, cell],
            [2 * cell, cell],
            [2 * cell, 2 * cell],
            [cell, 2 * cell],
        ];
        let grid = CellGrid {
            origin: [0, 0],
            cell: [cell; 2],
            columns: 3,
            rows: 3,
        };
        for direction in [1, -1] {
            let mut ring = ring;
            let mut group = [Some(1), None];
            if direction < 0 {
                ring.reverse();
                group.reverse();
            }
            let ends = ring.iter().skip(1).chain(ring.first());
            let borders: Vec<Border> = ring
                .iter()
                .zip(ends)
                .map(|(&a, &b)| (a, b, group))
                .collect();
            let coverage = Coverage::new(grid, borders.into_iter());
            let spans: Vec<_> = coverage.spans().collect();
            assert_eq!(
                spans,
                [(
                    1,
                    &Span {
                        column: 1,
                        length: 1,
                        group: 1,
                        share: 1.0
                    }
                )]
            );
        }
    }

    #[test]
    fn a_grid_without_cells_covers_nothing() {
        for (columns, rows) in [(0, 0), (0, 3), (3, 0)] {
            let grid = CellGrid {
                columns,
                rows,
                ..GRID
            };
            let coverage = Coverage::new(grid, std::iter::empty());
            assert_eq!(coverage.spans().count(), 0);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

        /// A fan of triangles around a centre: each equals its clip in every cell.
        #[test]
        fn every_cell_equals_its_clip(
            places in prop::collection::vec((0i64..6 << 33, 0i64..5 << 33), 4..9),
        ) {
            let place = |&(x, y): &(i64, i64)| [x - 100, y + 50];
            let centre = place(&places[0]);
            let mut borders = Vec::new();
            let mut triangles = Vec::new();
            for (group, pair) in places[1..].windows(2).enumerate() {
                let ring = [centre, place(&pair[0]), place(&pair[1])];
                borders.extend(ring_borders(&ring, group as u32));
                triangles.push(ring);
            }
            let coverage = Coverage::new(GRID, borders.into_iter());
            let cell_area = (1u64 << 33) as f64 * (1u64 << 33) as f64;
            for (group, ring) in triangles.iter().enumerate() {
                let ring = ring.map(|point| point.map(|v| v as f64));
                for row in 0..GRID.rows {
                    for column in 0..GRID.columns {
                        let low = [GRID.origin[0] + column as i64 * GRID.cell[0],
                                   GRID.origin[1] + row as i64 * GRID.cell[1]];
                        let high = [low[0] + GRID.cell[0], low[1] + GRID.cell[1]].map(|v| v as f64);
                        let expected = clipped_area(&ring, low.map(|v| v as f64), high) / cell_area;
                        let got = share(&coverage, row, column, group as u32);
                        prop_assert!((got - expected).abs() < 3e-10, "{got} {expected}");
                    }
                }
            }
        }
    }
}
