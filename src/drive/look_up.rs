//! Where along a way the map's answer changes.

use super::as_driven::Ground;
use super::path::Path;
use super::row_borders::RowBorders;
use crate::coordinates::{LonLat, PlaneXy};
use crate::frame::Frame;
use crate::job::{Follows, Job};
use crate::map::{Grid, east_of};

/// Straight pieces are taken for straight in degrees up to this length, m: over it, the two lines part
/// by less than a tenth of a millimetre (length^2 x tan(latitude) / (8 x earth's radius), up to 75 degrees).
const STRAIGHT_M: f64 = 25.0;

/// The map that a terminal follows.
pub(super) enum Map<'a> {
    /// The grid in degrees. Outside of it, and in cells without a rate, the rates for outside the field.
    Grid {
        grid: &'a Grid,
        frame: &'a Frame,
        outside: &'a [f64],
    },
    /// The land units with the rates of their rows.
    Polygons {
        borders: RowBorders,
        rates: &'a [Vec<f64>],
        outside: &'a [f64],
    },
}

/// A rate per product from a station on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Answer {
    pub from_m: f64,
    pub kg_per_ha: Vec<f64>,
}

impl<'a> Map<'a> {
    /// The map that the job says the terminal follows.
    pub fn followed(ground: &Ground<'a>, job: &Job) -> Self {
        let follows = job.drive.as_ref().map(|drive| drive.follows);
        match follows.unwrap_or_default() {
            Follows::Grid => Map::Grid {
                grid: ground.degrees,
                frame: ground.frame,
                outside: ground.outside,
            },
            Follows::Polygons => Map::Polygons {
                borders: RowBorders::of(ground.units),
                rates: ground.rates,
                outside: ground.outside,
            },
        }
    }
}

impl Map<'_> {
    /// The answers along a way, the first from its start on; neighbours differ.
    pub fn along(&self, path: &Path) -> Vec<Answer> {
        let mut answers: Vec<Answer> = Vec::new();
        let mut say = |from_m: f64, kg_per_ha: &[f64]| {
            if answers
                .last()
                .is_none_or(|last| last.kg_per_ha != kg_per_ha)
            {
                answers.push(Answer {
                    from_m,
                    kg_per_ha: kg_per_ha.to_vec(),
                });
            }
        };
        for (start, end, from_m) in path.straights() {
            match self {
                Map::Grid {
                    grid,
                    frame,
                    outside,
                } => along_cells(grid, frame, [start, end], |metres, cell| {
                    let rates = cell.and_then(|cell| grid.kg_per_ha.at(cell));
                    say(from_m + metres, rates.unwrap_or(outside));
                }),
                Map::Polygons {
                    borders,
                    rates,
                    outside,
                } => {
                    for (metres, row) in borders.along([start, end]) {
                        let rates = row.map_or(*outside, |row| &rates[row as usize]);
                        say(from_m + metres, rates);
                    }
                }
            }
        }
        answers
    }
}

/// The cells along a straight piece, with the metres at which each is entered.
fn along_cells(
    grid: &Grid,
    frame: &Frame,
    [start, end]: [[f64; 2]; 2],
    mut entered: impl FnMut(f64, Option<usize>),
) {
    let way = [end[0] - start[0], end[1] - start[1]];
    let length = way[0].hypot(way[1]);
    let parts = (length / STRAIGHT_M).ceil().max(1.0) as usize;
    let at = |share: f64| [start[0] + share * way[0], start[1] + share * way[1]];
    let places: Vec<LonLat> = (0..=parts)
        .map(|nth| frame.fast_to_lon_lat(PlaneXy::of_pair(at(nth as f64 / parts as f64))))
        .collect();
    // In cells from the south-west corner, across the antimeridian if need be.
    let cells = |LonLat { lon, lat }| {
        let east = east_of(lon, grid.origin[0]);
        [east / grid.cell[0], (lat - grid.origin[1]) / grid.cell[1]]
    };
    for (nth, pair) in places.windows(2).enumerate() {
        let &[a, b] = pair else { continue };
        let [a, b] = [cells(a), cells(b)];
        let mut shares = vec![0.0, 1.0];
        for (from, to) in a.into_iter().zip(b) {
            let (low, high) = (from.min(to), from.max(to));
            // A step is far below one cell per metre, so these are few.
            let lines = low.ceil() as i64..=high.floor() as i64;
            let crossing = |line: i64| (line as f64 - from) / (to - from);
            shares.extend(
                lines
                    .map(crossing)
                    .filter(|share| (0.0..=1.0).contains(share)),
            );
        }
        shares.sort_by(f64::total_cmp);
        for piece in shares.windows(2) {
            let &[from, to] = piece else { continue };
            if to <= from {
                continue;
            }
            let middle = (from + to) / 2.0;
            let [column, row] = [0, 1].map(|axis| a[axis] + middle * (b[axis] - a[axis]));
            let inside = column >= 0.0
                && row >= 0.0
                && column < grid.columns as f64
                && row < grid.rows as f64;
            let cell = inside.then(|| row as usize * grid.columns + column as usize);
            entered((nth as f64 + from) / parts as f64 * length, cell);
        }
    }
}
