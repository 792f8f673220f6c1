//! How much of each cell of a grid in degrees land covers, and how large a cell is.
//!
//! Outlines are laid over each other by geo, put onto whole steps of a cell, and their edges followed from cell to cell: each
//! adds the land between it and the west side of its cell, and all of the cells to the west of it. Sums are whole
//! numbers, so a cell that no land reaches has exactly none.

use super::ellipsoid;
use super::overlay::{Land, cut_to, outlined, without};
use crate::read::Xy;
use geo::{Coord, LineString, MapCoords};

/// A grid in degrees.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tile {
    /// Outer south-west corner: longitude, latitude.
    pub origin: [f64; 2],
    /// Width and height of a cell, degrees.
    pub cell: [f64; 2],
    pub columns: usize,
    pub rows: usize,
}

/// Most steps of a cell's edge, and of all cells side by side: geo keeps whole numbers up to the second as they are.
const MOST_STEPS: i64 = 1 << 22;
const MOST_STEPS_OF_GRID: i64 = 1 << 29;

impl Tile {
    /// In how many steps of a cell's edge outlines are measured: of a cell of 24 m in a grid of 128, 6 micrometres.
    pub(super) fn steps(&self) -> i64 {
        let cells = self.columns.max(self.rows).max(1) as i64;
        let mut steps = MOST_STEPS;
        while steps > 1 && steps.saturating_mul(cells) > MOST_STEPS_OF_GRID {
            steps /= 2;
        }
        steps
    }
}

/// Area of a cell of this row (0 is south), m2: of the piece of the ellipsoid between its meridians and parallels.
pub(super) fn cell_m2(tile: &Tile, row: usize) -> f64 {
    let parallel = |row: usize| tile.origin[1] + row as f64 * tile.cell[1];
    ellipsoid::zone_m2([parallel(row), parallel(row + 1)], tile.cell[0])
}

/// The share of each cell that lies in the boundary and in no obstacle (polygons in degrees), columns fastest.
pub(super) fn shares(
    tile: &Tile,
    boundary: &[geo::Polygon],
    obstacles: &[geo::Polygon],
) -> Vec<f64> {
    let in_grid = |polygons: &[geo::Polygon]| {
        let placed = polygons.iter().map(|polygon| {
            let ring = |ring: &LineString| placed(tile, ring);
            let holes = polygon.interiors().iter().map(ring).collect();
            geo::Polygon::new(ring(polygon.exterior()), holes)
        });
        outlined(placed.collect::<Vec<_>>())
    };
    covered(tile, &without(&in_grid(boundary), &in_grid(obstacles)))
}

/// A ring in steps from the grid's corner, cut to the grid.
fn placed(tile: &Tile, ring: &LineString) -> LineString {
    let steps = tile.steps() as f64;
    let from_corner = |at: &Coord| {
        let mut away = [at.x - tile.origin[0], at.y - tile.origin[1]];
        // Across the antimeridian: a grid lies east of its corner.
        if away[0] < -180.0 {
            away[0] += 360.0;
        }
        [0, 1].map(|axis| away[axis] / tile.cell[axis] * steps)
    };
    let all = ring.0.iter().map(from_corner).collect();
    let high = [tile.columns as f64 * steps, tile.rows as f64 * steps];
    let cut: Vec<Xy> = cut_to(all, [0.0; 2], high);
    LineString::from(cut).map_coords(|at| Coord {
        x: at.x.round(),
        y: at.y.round(),
    })
}

/// What an edge does in the cell that it passes.
struct Passed {
    column: usize,
    /// Steps that it goes north there.
    north: i64,
    /// Twice the land between it and the west side of the cell, counted north.
    twice: i128,
}

/// The covered share of each cell; land in steps, within the grid.
fn covered(tile: &Tile, land: &Land) -> Vec<f64> {
    let steps = tile.steps();
    let mut rows: Vec<Vec<Passed>> = Vec::new();
    rows.resize_with(tile.rows, Vec::new);
    for polygon in land {
        for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
            for edge in ring.lines() {
                let end = |at: Coord| [at.x.round() as i64, at.y.round() as i64];
                let [from, to] = [end(edge.start), end(edge.end)];
                for piece in cut_at(from, to, 1, steps) {
                    follow(&mut rows, piece, steps);
                }
            }
        }
    }
    let mut shares = Vec::with_capacity(tile.columns.saturating_mul(tile.rows));
    let twice_cell = 2.0 * (steps as f64) * (steps as f64);
    for row in &mut rows {
        row.sort_by_key(|passed| passed.column);
        let mut passed = row.iter().peekable();
        // All that goes north to the east of a cell covers it whole.
        let mut east: i64 = row.iter().map(|passed| passed.north).sum();
        for column in 0..tile.columns {
            let mut twice = 0;
            while let Some(here) = passed.next_if(|passed| passed.column == column) {
                twice += here.twice;
                east -= here.north;
            }
            twice += 2 * i128::from(steps) * i128::from(east);
            shares.push(twice as f64 / twice_cell);
        }
    }
    shares
}

/// Notes what a piece of an edge, which stays in one row, does in each of its cells.
fn follow(rows: &mut [Vec<Passed>], [from, to]: [[i64; 2]; 2], steps: i64) {
    let low = from[1].min(to[1]);
    let row = usize::try_from(low.div_euclid(steps)).ok();
    let Some(row) = row.and_then(|row| rows.get_mut(row)) else {
        return;
    };
    for [from, to] in cut_at(from, to, 0, steps) {
        let north = to[1] - from[1];
        let west = from[0].min(to[0]).div_euclid(steps);
        let Some(column) = usize::try_from(west).ok().filter(|_| north != 0) else {
            continue;
        };
        let beyond = i128::from(from[0]) + i128::from(to[0]) - 2 * i128::from(west * steps);
        row.push(Passed {
            column,
            north,
            twice: i128::from(north) * beyond,
        });
    }
}

/// An edge in pieces that end on the lines between cells along an axis, each on the nearest whole step.
fn cut_at(
    from: [i64; 2],
    to: [i64; 2],
    axis: usize,
    steps: i64,
) -> impl Iterator<Item = [[i64; 2]; 2]> {
    let other = 1 - axis;
    let (low, high) = (from[axis].min(to[axis]), from[axis].max(to[axis]));
    let first = low.div_euclid(steps) + 1;
    let lines = (high - 1).div_euclid(steps) - first + 1;
    let forth = from[axis] <= to[axis];
    let on_line = move |nth: i64| {
        let line = steps
            * if forth {
                first + nth
            } else {
                first + lines - 1 - nth
            };
        let along = i128::from(line - from[axis]) * i128::from(to[other] - from[other]);
        let length = i128::from(to[axis] - from[axis]);
        // Rounded to the nearest.
        let moved = (2 * along + length.abs() * along.signum()) / (2 * length);
        let mut at = from;
        at[axis] = line;
        at[other] += moved as i64;
        at
    };
    let ends = (0..lines.max(0)).map(on_line).chain([to]);
    ends.scan(from, |before, end| {
        Some([std::mem::replace(before, end), end])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, BooleanOps, Rect};

    const TILE: Tile = Tile {
        origin: [8.0, 50.0],
        cell: [0.001, 0.001],
        columns: 4,
        rows: 2,
    };

    fn square(west: f64, south: f64, east: f64, north: f64) -> geo::Polygon {
        Rect::new((west, south), (east, north)).to_polygon()
    }

    #[test]
    fn an_outline_covers_what_it_encloses_and_no_obstacle() {
        // Half of the first column lies beyond the west side of the grid.
        let field = square(7.9, 50.0, 8.0025, 50.002);
        let pond = square(8.001, 50.0005, 8.002, 50.5);
        let shares = shares(&TILE, &[field], &[pond]);
        let wanted = [1.0, 0.5, 0.5, 0.0, 1.0, 0.0, 0.5, 0.0];
        for (share, wanted) in shares.iter().zip(wanted) {
            assert!((share - wanted).abs() < 1e-4, "{shares:?}");
        }
    }

    #[test]
    fn borders_on_the_lines_between_cells_leave_nothing_next_door() {
        let field = square(8.001, 50.0, 8.002, 50.001);
        let shares = shares(&TILE, &[field], &[]);
        assert_eq!(shares, [0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
    }

    /// A strip along the border of a field, for which geo gives the hole that it leaves as an exterior runs.
    #[test]
    fn a_narrow_obstacle_along_the_border_takes_its_land_away() {
        let tile = Tile {
            origin: [21.337653376, 61.937901365],
            cell: [0.000053652934, 0.00002527714],
            columns: 24,
            rows: 35,
        };
        let field: [Xy; 7] = [
            [21.337767671, 61.938212604],
            [21.338432833, 61.937955215],
            [21.338807809, 61.938319819],
            [21.338079698, 61.938714996],
            [21.338079677, 61.938714953],
            [21.337923683, 61.9384638],
            [21.337767671, 61.938212604],
        ];
        let strip: [Xy; 6] = [
            [21.337767728, 61.938212608],
            [21.337786283, 61.938214543],
            [21.338083768, 61.9387063],
            [21.338079677, 61.938714953],
            [21.337923701, 61.93846378],
            [21.337767728, 61.938212608],
        ];
        let polygon = |ring: &[Xy]| geo::Polygon::new(LineString::from(ring.to_vec()), Vec::new());
        let [field, strip] = [polygon(&field), polygon(&strip)];
        let cells = |obstacles: &[geo::Polygon]| -> f64 {
            let shares = shares(&tile, std::slice::from_ref(&field), obstacles);
            assert!(shares.iter().all(|share| (0.0..=1.0).contains(share)));
            shares.iter().sum()
        };
        let taken = cells(&[]) - cells(std::slice::from_ref(&strip));
        let wanted = strip.unsigned_area() / (tile.cell[0] * tile.cell[1]);
        assert!((taken / wanted - 1.0).abs() < 1e-3, "{taken} {wanted}");
    }

    /// Rings of many corners, with a hole: each share is that of what geo cuts out of the cell.
    #[test]
    fn shares_are_those_of_the_land_that_geo_cuts_out_of_each_cell() {
        let tile = Tile {
            columns: 23,
            rows: 17,
            cell: [0.000_31, 0.000_23],
            ..TILE
        };
        let ring = |points: u32, radius: f64, turn: f64| {
            let point = |nth: u32| {
                let (sine, cosine) = (f64::from(nth) * turn).sin_cos();
                let away = radius * (1.0 + 0.2 * (f64::from(nth) * 1.7).sin());
                (8.0036 + away * cosine, 50.0019 + 0.5 * away * sine)
            };
            LineString::from((0..points).map(point).collect::<Vec<_>>())
        };
        let turn = std::f64::consts::TAU / 120.0;
        let field = geo::Polygon::new(ring(120, 0.0028, turn), vec![ring(40, 0.0007, 3.0 * turn)]);
        let mut sum = 0.0;
        let found = shares(&tile, std::slice::from_ref(&field), &[]);
        for (at, share) in found.iter().enumerate() {
            let (column, row) = (at % tile.columns, at / tile.columns);
            let corner = |column: usize, row: usize| {
                (
                    tile.origin[0] + column as f64 * tile.cell[0],
                    tile.origin[1] + row as f64 * tile.cell[1],
                )
            };
            let cell = Rect::new(corner(column, row), corner(column + 1, row + 1)).to_polygon();
            let wanted = field.intersection(&cell).unsigned_area() / cell.unsigned_area();
            assert!(
                (share - wanted).abs() < 1e-5,
                "{column} {row}: {share} {wanted}"
            );
            sum += share;
        }
        let wanted = field.unsigned_area() / (tile.cell[0] * tile.cell[1]);
        assert!((sum / wanted - 1.0).abs() < 1e-6, "{sum} {wanted}");
    }
}
