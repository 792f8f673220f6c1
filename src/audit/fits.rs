//! How much of each cell of a grid in degrees an outline covers, and how large a cell is. Nothing of it is
//! shared with what made the grid but the exact arithmetic underneath.

use crate::frame::zone_m2;
use crate::geometry::coverage::{CellGrid, Coverage};
use crate::geometry::{Overlay, Pt, Shape};
use crate::read::{Polygon, Xy};

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

/// Steps of a cell's edge in which outlines are measured: of a cell of 24 m, 6 micrometres.
pub(super) const STEPS: f64 = 4_194_304.0;

/// Area of a cell of this row (0 is south), m2: of the piece of the ellipsoid between its meridians and parallels.
pub(super) fn cell_m2(tile: &Tile, row: usize) -> f64 {
    let parallel = |row: usize| tile.origin[1] + row as f64 * tile.cell[1];
    zone_m2([parallel(row), parallel(row + 1)], tile.cell[0])
}

/// The covered share of each cell, columns fastest; `None` where no arithmetic reaches.
pub(super) fn shares(tile: &Tile, boundary: &[Polygon], obstacles: &[Polygon]) -> Option<Vec<f64>> {
    let mut overlay = Overlay::default();
    let mut inner = Vec::new();
    for (polygons, is_boundary) in [(boundary, true), (obstacles, false)] {
        for polygon in polygons {
            let exterior = ring(tile, &polygon.exterior);
            if exterior.len() < 3 {
                continue;
            }
            let holes = polygon.holes.iter().map(|hole| ring(tile, hole));
            let holes = holes.filter(|hole| hole.len() >= 3).collect();
            overlay.add(Shape { exterior, holes });
            inner.push(is_boundary);
        }
    }
    let arrangement = overlay.arrange();
    let of_face: Vec<Option<u32>> = (0..arrangement.faces())
        .map(|face| {
            let covering = overlay.covering(&arrangement, face as u32);
            let is = |kind: bool| {
                covering
                    .iter()
                    .any(|at| inner.get(*at as usize) == Some(&kind))
            };
            (is(true) && !is(false)).then_some(0)
        })
        .collect();
    let step = STEPS as i64;
    let grid = CellGrid {
        origin: [0, 0],
        cell: [step, step],
        columns: tile.columns,
        rows: tile.rows,
    };
    let group = |face: u32| of_face.get(face as usize).copied().flatten();
    let borders = arrangement
        .edges()
        .map(|([from, to], sides)| ([from.x, from.y], [to.x, to.y], sides.map(group)));
    let coverage = Coverage::new(grid, borders);
    let mut shares = vec![0.0; tile.columns.checked_mul(tile.rows)?];
    for (row, span) in coverage.spans() {
        let first = row * tile.columns + span.column as usize;
        if let Some(cells) = shares.get_mut(first..first + span.length as usize) {
            cells.iter_mut().for_each(|share| *share += span.share);
        }
    }
    Some(shares)
}

/// A ring in steps of the grid, cut to the grid (Sutherland and Hodgman, 1974: one half plane after the
/// other; pieces along the border enclose nothing).
fn ring(tile: &Tile, ring: &[Xy]) -> Vec<Pt> {
    let scaled = ring.iter().map(|point| {
        let mut away = [point[0] - tile.origin[0], point[1] - tile.origin[1]];
        // Across the antimeridian: a grid lies east of its corner.
        if away[0] < -180.0 {
            away[0] += 360.0;
        }
        [0, 1].map(|axis| away[axis] / tile.cell[axis] * STEPS)
    });
    let mut points: Vec<Xy> = scaled.collect();
    let east = tile.columns as f64 * STEPS;
    let north = tile.rows as f64 * STEPS;
    for (axis, limit, sign) in [
        (0, 0.0, 1.0),
        (0, east, -1.0),
        (1, 0.0, 1.0),
        (1, north, -1.0),
    ] {
        points = cut(&points, axis, limit, sign);
    }
    let mut placed: Vec<Pt> = points
        .iter()
        .map(|[x, y]| Pt {
            x: x.round() as i64,
            y: y.round() as i64,
        })
        .collect();
    placed.dedup();
    if placed.len() > 1 && placed.first() == placed.last() {
        placed.pop();
    }
    placed
}

fn cut(points: &[Xy], axis: usize, limit: f64, sign: f64) -> Vec<Xy> {
    let inside = |point: &Xy| (point[axis] - limit) * sign >= 0.0;
    let mut kept = Vec::with_capacity(points.len() + 4);
    let before = points.iter().cycle().skip(points.len().saturating_sub(1));
    for (from, to) in before.zip(points) {
        if inside(from) != inside(to) {
            let share = (limit - from[axis]) / (to[axis] - from[axis]);
            let mut at = [0, 1].map(|n: usize| from[n] + share * (to[n] - from[n]));
            at[axis] = limit;
            kept.push(at);
        }
        if inside(to) {
            kept.push(*to);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_covers_what_it_encloses_and_no_obstacle() {
        let tile = Tile {
            origin: [8.0, 50.0],
            cell: [0.001, 0.001],
            columns: 4,
            rows: 2,
        };
        let square = |west: f64, south: f64, east: f64, north: f64| Polygon {
            exterior: vec![
                [west, south],
                [east, south],
                [east, north],
                [west, north],
                [west, south],
            ],
            holes: Vec::new(),
        };
        // Half of the first column lies beyond the west side of the grid.
        let field = square(7.9, 50.0, 8.0025, 50.002);
        let pond = square(8.001, 50.0005, 8.002, 50.5);
        let shares = shares(&tile, &[field], &[pond]).unwrap();
        let wanted = [1.0, 0.5, 0.5, 0.0, 1.0, 0.0, 0.5, 0.0];
        for (share, wanted) in shares.iter().zip(wanted) {
            assert!((share - wanted).abs() < 1e-4, "{shares:?}");
        }
    }
}
