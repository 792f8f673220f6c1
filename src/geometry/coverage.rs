//! Exact coverage: which share of each grid cell each group of faces covers.
//!
//! Method: signed-area accumulation, as analytic rasterisers of fonts do it. Every edge is walked
//! once through the cells it passes and leaves there, for the groups left and right of it, the
//! height it climbs and the area east of it. A sweep along each row of cells sums the heights:
//! a cell without edges is covered as its western neighbour leaves it.
//!
//! Heights and areas are integers, so what is outside comes out as exactly zero, and what one side
//! of a border loses the other gains. The only rounding is where an edge crosses from cell to cell:
//! half a unit of the grid's coordinates.

use super::csr::Csr;
use crate::units::nearest_whole;
use rayon::prelude::*;

/// A grid of cells in integer coordinates; the unit is the caller's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CellGrid {
    /// South-west corner.
    pub origin: [i64; 2],
    /// Width and height of a cell.
    pub cell: [i64; 2],
    pub columns: usize,
    pub rows: usize,
}

/// A border: from, to, and the groups left and right of it (`None`: nobody's).
pub type Border = ([i64; 2], [i64; 2], [Option<u32>; 2]);

/// A run of cells in one row of which one group covers the same share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    pub column: u32,
    /// Number of cells; more than one only where no border passes.
    pub length: u32,
    pub group: u32,
    /// Share of each cell, above 0 and at most 1.
    pub share: f64,
}

/// The spans of each row, row 0 southernmost, ascending by column and then group.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    rows: Vec<Vec<Span>>,
}

impl Coverage {
    /// Coverage of a grid by groups whose borders are given, each once. All borders must lie on the
    /// grid and close around every group.
    pub fn new(grid: CellGrid, borders: impl Iterator<Item = Border>) -> Self {
        let mut marks = Vec::new();
        for (from, to, groups) in borders {
            if groups[0] != groups[1] {
                walk(&grid, from, to, groups, &mut marks);
            }
        }
        let marks = Csr::from_pairs(grid.columns * grid.rows, &marks);
        let rows = (0..grid.rows)
            .into_par_iter()
            .map(|row| sweep(&grid, row, &marks))
            .collect();
        Self { rows }
    }

    /// Spans of a row.
    pub fn row(&self, row: usize) -> &[Span] {
        &self.rows[row]
    }

    /// All spans with their row.
    pub fn spans(&self) -> impl Iterator<Item = (usize, &Span)> {
        self.rows
            .iter()
            .enumerate()
            .flat_map(|(row, spans)| spans.iter().map(move |s| (row, s)))
    }
}

/// What a piece of a border leaves in a cell. It runs upwards.
#[derive(Clone, Copy)]
struct Mark {
    /// The groups beside it, or [`NOBODY`].
    west: u32,
    east: u32,
    /// Height it climbs in the cell.
    climb: i64,
    /// Twice its mean distance from the cell's east side.
    to_east2: i64,
}

/// Stands for no group.
const NOBODY: u32 = u32::MAX;

impl Mark {
    /// Twice the area between it and the cell's east side.
    fn area2(&self) -> i128 {
        i128::from(self.climb) * i128::from(self.to_east2)
    }
}

/// Walks a border through the cells it passes.
fn walk(
    grid: &CellGrid,
    from: [i64; 2],
    to: [i64; 2],
    [left, right]: [Option<u32>; 2],
    marks: &mut Vec<(u32, Mark)>,
) {
    if from[1] == to[1] {
        return;
    }
    let up = from[1] < to[1];
    let ([low, high], [west, east]) = if up {
        ([from, to], [left, right])
    } else {
        ([to, from], [right, left])
    };
    let [west, east] = [west, east].map(|group| group.unwrap_or(NOBODY));
    let [width, height] = grid.cell;
    let row_of = |y: i64| ((y - grid.origin[1]) / height).clamp(0, grid.rows as i64 - 1);
    let column_of = |x: i64| ((x - grid.origin[0]) / width).clamp(0, grid.columns as i64 - 1);
    let [run, rise] = [(high[0] - low[0]) as f64, (high[1] - low[1]) as f64];
    let [x_min, x_max] = [low[0].min(high[0]), low[0].max(high[0])];
    let x_at = |y: i64| {
        let x = low[0] + nearest_whole((y - low[1]) as f64 / rise * run);
        x.clamp(x_min, x_max)
    };
    let [mut x, mut y] = low;
    for row in row_of(low[1])..=row_of(high[1]) {
        let top = grid.origin[1] + (row + 1) * height;
        let last = top >= high[1] || row + 1 == grid.rows as i64;
        let [x_end, y_end] = if last { high } else { [x_at(top), top] };
        let step = if x_end >= x { 1 } else { -1 };
        let mut column = column_of(x);
        let column_end = column_of(x_end);
        loop {
            let east_side = grid.origin[0] + (column + 1) * width;
            let [x_next, y_next] = if column == column_end {
                [x_end, y_end]
            } else {
                let side = if step > 0 {
                    east_side
                } else {
                    east_side - width
                };
                let y_side = low[1] + nearest_whole((side - low[0]) as f64 / run * rise);
                [side, y_side.clamp(y, y_end)]
            };
            let climb = y_next - y;
            if climb != 0 {
                let to_east2 = 2 * east_side - x - x_next;
                let cell = (row * grid.columns as i64 + column) as u32;
                marks.push((
                    cell,
                    Mark {
                        west,
                        east,
                        climb,
                        to_east2,
                    },
                ));
            }
            [x, y] = [x_next, y_next];
            if column == column_end {
                break;
            }
            column += step;
        }
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

fn sweep(grid: &CellGrid, row: usize, marks: &Csr<Mark>) -> Vec<Span> {
    let [width, height] = grid.cell;
    let cell_area2 = (2 * i128::from(width) * i128::from(height)) as f64;
    let mut spans = Vec::new();
    let mut covers: Vec<Cover> = Vec::new();
    let mut after_last = 0;
    for column in 0..grid.columns {
        let here = marks.list(row * grid.columns + column);
        if here.is_empty() {
            continue;
        }
        push_run(&mut spans, &covers, [after_last, column], height);
        after_last = column + 1;
        for cover in &mut covers {
            cover.area2 = 2 * i128::from(width) * i128::from(cover.height);
        }
        for mark in here {
            for (group, sign) in [(mark.west, -1), (mark.east, 1)] {
                if group == NOBODY {
                    continue;
                }
                let at = covers.partition_point(|cover| cover.group < group);
                if covers.get(at).is_none_or(|cover| cover.group != group) {
                    covers.insert(
                        at,
                        Cover {
                            group,
                            height: 0,
                            area2: 0,
                        },
                    );
                }
                covers[at].height += sign * mark.climb;
                covers[at].area2 += i128::from(sign) * mark.area2();
            }
        }
        for cover in &covers {
            if cover.area2 != 0 {
                let share = cover.area2 as f64 / cell_area2;
                spans.push(Span {
                    column: column as u32,
                    length: 1,
                    group: cover.group,
                    share,
                });
            }
        }
        covers.retain(|cover| cover.height != 0);
    }
    push_run(&mut spans, &covers, [after_last, grid.columns], height);
    spans
}

fn push_run(spans: &mut Vec<Span>, covers: &[Cover], [from, to]: [usize; 2], height: i64) {
    if from == to {
        return;
    }
    for cover in covers {
        let share = cover.height as f64 / height as f64;
        let [column, length] = [from, to - from].map(|v| v as u32);
        spans.push(Span {
            column,
            length,
            group: cover.group,
            share,
        });
    }
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
