//! How much of each cell of a grid in degrees land covers, and how large a cell is.
//!
//! Outlines are put onto whole steps of a cell. Edges in a row of cells that lie over each other are taken in bands between the heights at which
//! they end or cross: there edges lie side by side, and going over them from west to east, and over what lies west of them, tells where the land begins and
//! ends, however outlines overlap. Such a border adds the land between it and the west side of its cell, and all of
//! the cells to the west of it. Sums are whole numbers, so a cell that no land reaches has exactly none.

use super::ellipsoid;
use super::overlay::cut_to;
use geo::{Coord, LineString};
use std::collections::BTreeMap;

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
///
/// Rings may run either way, cross themselves and each other: an outline encloses what lies in it an odd number of
/// times, and any hole takes away.
pub(super) fn shares(
    tile: &Tile,
    boundary: &[geo::Polygon],
    obstacles: &[geo::Polygon],
) -> Vec<f64> {
    let mut land = Outlines::default();
    for (polygons, kind) in [(boundary, Kind::Field), (obstacles, Kind::Obstacle)] {
        for polygon in polygons {
            land.add(tile, polygon, kind);
        }
    }
    let mut shares = Vec::with_capacity(tile.columns.saturating_mul(tile.rows));
    let twice_cell = 2.0 * (tile.steps() as f64) * (tile.steps() as f64);
    for pieces in &mut land.rows {
        let mut row = RowSums::of(tile);
        land.inside
            .follow_borders(pieces, |side, from, to| row.add(side, from, to));
        shares.extend(row.twice_covered().map(|twice| twice as f64 / twice_cell));
    }
    shares
}

/// A ring in steps from the grid's corner, cut to the grid.
fn placed(tile: &Tile, ring: &LineString) -> Vec<At> {
    let steps = tile.steps() as f64;
    let from_corner = |at: &Coord| {
        let mut away = [at.x - tile.origin[0], at.y - tile.origin[1]];
        // Across the antimeridian: a grid lies east of its corner, and what lies around a field may lie west of it.
        if away[0] < -180.0 {
            away[0] += 360.0;
        } else if away[0] > 180.0 {
            away[0] -= 360.0;
        }
        [0, 1].map(|axis| away[axis] / tile.cell[axis] * steps)
    };
    let all = ring.0.iter().map(from_corner).collect();
    let high = [tile.columns as f64 * steps, tile.rows as f64 * steps];
    let cut: Vec<[f64; 2]> = cut_to(all, [0.0; 2], high);
    cut.iter()
        .map(|at| at.map(|number| number.round() as i64))
        .collect()
}

/// A place, in steps from the grid's corner.
type At = [i64; 2];

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Field,
    Obstacle,
}

/// All outlines of a grid, by row of cells.
#[derive(Default)]
struct Outlines {
    rows: Vec<Vec<Piece>>,
    inside: Inside,
}

/// A piece of an edge within a row, from its lower to its upper end. None is level.
struct Piece {
    low: At,
    high: At,
    ring: usize,
}

impl Piece {
    /// Where the piece is at this height, on the nearest whole step.
    fn x_at(&self, y: i64) -> i64 {
        let across = i128::from(y - self.low[1]) * i128::from(self.high[0] - self.low[0]);
        self.low[0] + nearest(across, i128::from(self.high[1] - self.low[1]))
    }

    /// West and east end.
    fn span(&self) -> [i64; 2] {
        let [low, high] = [self.low[0], self.high[0]];
        [low.min(high), low.max(high)]
    }
}

/// The whole number nearest to a fraction; its divisor is positive.
fn nearest(number: i128, divisor: i128) -> i64 {
    (2 * number + divisor).div_euclid(2 * divisor) as i64
}

impl Outlines {
    fn add(&mut self, tile: &Tile, polygon: &geo::Polygon, kind: Kind) {
        self.rows.resize_with(tile.rows, Vec::new);
        let nth = self.inside.polygons.len();
        self.inside.polygons.push((kind, InPolygon::default()));
        let rings = std::iter::once(polygon.exterior()).chain(polygon.interiors());
        for (of_polygon, ring) in rings.enumerate() {
            let number = self.inside.rings.len();
            self.inside.rings.push(InRing {
                polygon: nth,
                is_hole: of_polygon > 0,
                inside: false,
            });
            let points = placed(tile, ring);
            let next = points.iter().cycle().skip(1);
            for (from, to) in points.iter().zip(next) {
                self.add_edge(tile.steps(), number, *from, *to);
            }
        }
    }

    fn add_edge(&mut self, steps: i64, ring: usize, from: At, to: At) {
        for [from, to] in cut_at(from, to, 1, steps) {
            let [low, high] = match from[1] < to[1] {
                true => [from, to],
                false => [to, from],
            };
            let row = usize::try_from(low[1].div_euclid(steps)).ok();
            let row = row.and_then(|row| self.rows.get_mut(row));
            // What is level bounds nothing; cut to the grid, nothing else lies outside of the rows.
            if let Some(row) = row.filter(|_| low[1] < high[1]) {
                row.push(Piece { low, high, ring });
            }
        }
    }
}

/// What a place is inside of, while one goes from west to east.
#[derive(Default)]
struct Inside {
    rings: Vec<InRing>,
    polygons: Vec<(Kind, InPolygon)>,
    fields: usize,
    obstacles: usize,
}

struct InRing {
    polygon: usize,
    is_hole: bool,
    inside: bool,
}

#[derive(Default)]
struct InPolygon {
    outline: bool,
    holes: usize,
}

impl InPolygon {
    fn is_land(&self) -> bool {
        self.outline && self.holes == 0
    }
}

/// On which side of a border the land lies.
#[derive(Debug, Clone, Copy, PartialEq)]
enum LandOn {
    East,
    West,
}

impl Inside {
    fn is_land(&self) -> bool {
        self.fields > 0 && self.obstacles == 0
    }

    /// Over an edge of this ring.
    fn pass(&mut self, ring: usize) {
        let ring = &mut self.rings[ring];
        ring.inside = !ring.inside;
        let (kind, polygon) = &mut self.polygons[ring.polygon];
        let before = polygon.is_land();
        match (ring.is_hole, ring.inside) {
            (false, inside) => polygon.outline = inside,
            (true, true) => polygon.holes += 1,
            (true, false) => polygon.holes -= 1,
        }
        let number = match kind {
            Kind::Field => &mut self.fields,
            Kind::Obstacle => &mut self.obstacles,
        };
        match (before, polygon.is_land()) {
            (false, true) => *number += 1,
            (true, false) => *number -= 1,
            _ => {}
        }
    }

    /// Gives all borders of the land in one row of cells, each from its lower to its upper end. Pieces that lie side by side
    /// from west to east are followed one lot after the other: a level border of many points has few of them at one place.
    fn follow_borders(&mut self, row: &mut [Piece], mut border: impl FnMut(LandOn, At, At)) {
        row.sort_by_key(|piece| piece.span()[0]);
        let mut west = Crossed::default();
        let mut rest = row;
        while !rest.is_empty() {
            let (mut count, mut east) = (0, i64::MIN);
            while let Some(piece) = rest.get(count)
                && (count == 0 || piece.span()[0] < east)
            {
                east = east.max(piece.span()[1]);
                count += 1;
            }
            let (lot, after) = std::mem::take(&mut rest).split_at_mut(count);
            self.follow_lot(lot, &west, &mut border);
            for piece in lot.iter() {
                west.change(piece.low[1], piece.ring);
                west.change(piece.high[1], piece.ring);
            }
            rest = after;
        }
    }

    /// The same of pieces with nothing between them and what was crossed on the west of them.
    fn follow_lot(
        &mut self,
        lot: &mut [Piece],
        west: &Crossed,
        border: &mut impl FnMut(LandOn, At, At),
    ) {
        lot.sort_by_key(|piece| piece.low[1]);
        let mut heights = heights(lot);
        if let [lowest, .., highest] = heights[..] {
            heights.extend(west.0.range(lowest + 1..highest).map(|(height, _)| *height));
            heights.sort_unstable();
            heights.dedup();
        }
        let mut crossed = west.0.iter().peekable();
        let mut passed: Vec<usize> = Vec::new();
        let mut coming = lot.iter().peekable();
        let mut here: Vec<&Piece> = Vec::new();
        let mut side_by_side: Vec<([i64; 2], usize)> = Vec::new();
        for band in heights.windows(2) {
            let (low, high) = (band[0], band[1]);
            while let Some((_, rings)) = crossed.next_if(|(height, _)| **height <= low) {
                rings.iter().for_each(|ring| self.pass(*ring));
                passed.extend(rings);
            }
            here.retain(|piece| piece.high[1] > low);
            while let Some(piece) = coming.next_if(|piece| piece.low[1] <= low) {
                here.push(piece);
            }
            side_by_side.clear();
            side_by_side.extend(
                here.iter()
                    .map(|piece| ([piece.x_at(low), piece.x_at(high)], piece.ring)),
            );
            side_by_side.sort_by_key(|([low, high], ring)| (low + high, *ring));
            for ([x_low, x_high], ring) in &side_by_side {
                let before = self.is_land();
                self.pass(*ring);
                let side = match (before, self.is_land()) {
                    (false, true) => LandOn::East,
                    (true, false) => LandOn::West,
                    _ => continue,
                };
                border(side, [*x_low, low], [*x_high, high]);
            }
            // Back to the west side: over an edge twice is not at all.
            side_by_side.iter().for_each(|(_, ring)| self.pass(*ring));
        }
        passed.into_iter().for_each(|ring| self.pass(ring));
    }
}

/// The heights, from south to north along a line, at which one goes over edges of rings, and which rings these are.
#[derive(Default)]
struct Crossed(BTreeMap<i64, Vec<usize>>);

impl Crossed {
    /// One more edge of a ring at this height, or, where there is one, none.
    fn change(&mut self, height: i64, ring: usize) {
        let rings = self.0.entry(height).or_default();
        match rings.iter().position(|known| *known == ring) {
            None => rings.push(ring),
            Some(nth) => {
                rings.swap_remove(nth);
            }
        }
        if rings.is_empty() {
            self.0.remove(&height);
        }
    }
}

/// All heights at which pieces of a row end or cross, from south to north.
fn heights(row: &[Piece]) -> Vec<i64> {
    let ends = row.iter().flat_map(|piece| [piece.low[1], piece.high[1]]);
    let mut heights: Vec<i64> = ends.collect();
    let mut by_west: Vec<&Piece> = row.iter().collect();
    by_west.sort_by_key(|piece| piece.span()[0]);
    let mut near: Vec<&Piece> = Vec::new();
    for piece in by_west {
        near.retain(|other| other.span()[1] >= piece.span()[0]);
        heights.extend(near.iter().filter_map(|other| crossing(piece, other)));
        near.push(piece);
    }
    heights.sort_unstable();
    heights.dedup();
    heights
}

/// The height at which two pieces change sides, on the nearest whole step.
fn crossing(one: &Piece, other: &Piece) -> Option<i64> {
    let low = one.low[1].max(other.low[1]);
    let high = one.high[1].min(other.high[1]);
    if low >= high {
        return None;
    }
    let apart = |y: i64| one.x_at(y) - other.x_at(y);
    let (at_low, at_high) = (apart(low), apart(high));
    if at_low.signum() * at_high.signum() >= 0 {
        return None;
    }
    let up = i128::from(high - low) * i128::from(at_low.abs());
    let apart = i128::from(at_low.abs()) + i128::from(at_high.abs());
    Some(low + nearest(up, apart))
}

/// What the borders of a row cover of its cells, in squares of half a step.
struct RowSums {
    steps: i64,
    /// By the cell that a border passes, and one for the east side of the grid: steps that borders with land on the west go
    /// north there, less those with land on the east.
    north: Vec<i64>,
    /// Twice the land between them and the west side of that cell.
    twice: Vec<i128>,
}

impl RowSums {
    fn of(tile: &Tile) -> Self {
        Self {
            steps: tile.steps(),
            north: vec![0; tile.columns + 1],
            twice: vec![0; tile.columns + 1],
        }
    }

    fn add(&mut self, side: LandOn, from: At, to: At) {
        let sign = match side {
            LandOn::West => 1,
            LandOn::East => -1,
        };
        for [from, to] in cut_at(from, to, 0, self.steps) {
            let north = sign * (to[1] - from[1]);
            let west = from[0].min(to[0]).div_euclid(self.steps);
            let beyond = i128::from(from[0] + to[0] - 2 * west * self.steps);
            let column = west as usize;
            self.north[column] += north;
            self.twice[column] += i128::from(north) * beyond;
        }
    }

    /// Twice the land in each cell, from west to east.
    fn twice_covered(&self) -> impl Iterator<Item = i128> {
        // All that goes north to the east of a cell covers it whole.
        let mut east: i64 = self.north.iter().sum();
        let whole = 2 * i128::from(self.steps);
        let cells = self.north.iter().zip(&self.twice);
        cells.take(self.north.len() - 1).map(move |(north, twice)| {
            east -= north;
            twice + whole * i128::from(east)
        })
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
mod tests;
