//! The gate check: places near the field entrance whose rates are far apart, to be looked up on the screen with
//! the drill raised. Method: docs/methods/gate-check.md.

use super::Plan;
use crate::map::Grid;
use crate::read::Xy;
use serde::Serialize;
use std::collections::BTreeMap;

/// Number of places.
const PLACES: usize = 3;
/// Sets of rates that are looked at, the nearest ones.
const MOST_SETS: usize = 30;
/// Share of a whole cell that has to be land, so that the place lies well inside.
const WHOLE: f64 = 0.98;

/// A place of the gate check.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GatePlace {
    /// Middle of a cell of the terminal's grid, degrees on WGS 84.
    pub lon_lat: Xy,
    /// From the entrance, metres.
    pub distance_m: f64,
    /// What the screen has to show, per product in job order; as task data hold it, to 0.01 kg/ha.
    pub kg_per_ha: Vec<f64>,
}

/// A cell that could be one.
struct Candidate {
    lon_lat: Xy,
    distance_m: f64,
    raw: Vec<i64>,
}

impl Plan {
    /// Up to three places with different rates, nearest first; fewer where the map has fewer sets of rates.
    pub fn gate_check(&self) -> Vec<GatePlace> {
        let entrance = self.frame.to_plane(self.entrance());
        let grid = &self.map.degrees;
        let mut near = nearest(grid, |place| {
            let [x, y] = self.frame.to_plane(place);
            (x - entrance[0]).hypot(y - entrance[1])
        });
        near.truncate(MOST_SETS);
        let mut places: Vec<GatePlace> = far_apart(&near)
            .into_iter()
            .filter_map(|at| near.get(at))
            .map(|cell| GatePlace {
                lon_lat: cell.lon_lat,
                distance_m: cell.distance_m,
                kg_per_ha: cell.raw.iter().map(|raw| *raw as f64 / 100.0).collect(),
            })
            .collect();
        places.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
        places
    }

    /// Where the drill enters: what the job says, else the start of the first bout, which lies along the
    /// border on the right of the heading.
    fn entrance(&self) -> Xy {
        if let Some(entrance) = self.job.field.entrance {
            return [entrance.lon, entrance.lat];
        }
        let heading = self.drive.as_ref().map_or(0.0, |drive| drive.heading_deg);
        let (sine, cosine) = heading.to_radians().sin_cos();
        let corners = self.boundary.iter().flat_map(|part| &part.exterior);
        let turned = |corner: &Xy| {
            let [x, y] = self.frame.to_plane(*corner);
            (-x * cosine + y * sine, x * sine + y * cosine)
        };
        let first = corners.min_by(|a, b| {
            let (a, b) = (turned(a), turned(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        first.copied().unwrap_or(self.frame.origin())
    }
}

/// The nearest cell of each set of rates, nearest first: cells whole on land with the same rates all around
/// them; where no set has such a cell, any whole cell.
fn nearest(grid: &Grid, distance_m: impl Fn(Xy) -> f64) -> Vec<Candidate> {
    let whole = WHOLE * grid.covered_m2.iter().copied().fold(0.0, f64::max);
    let raw = |at: usize| -> Option<Vec<i64>> {
        let rates = grid.kg_per_ha.iter().map(|rates| rates.get(at).copied());
        rates
            .map(|rate| Some((rate.filter(|rate| !rate.is_nan())? * 100.0).round() as i64))
            .collect()
    };
    let same_around = |column: usize, row: usize, own: &[i64]| {
        let (columns, rows) = (
            column.wrapping_sub(1)..=column + 1,
            row.wrapping_sub(1)..=row + 1,
        );
        if column == 0 || row == 0 || column + 1 >= grid.columns || row + 1 >= grid.rows {
            return false;
        }
        rows.clone().all(|row| {
            columns
                .clone()
                .all(|column| raw(row * grid.columns + column).as_deref() == Some(own))
        })
    };
    let mut best: BTreeMap<Vec<i64>, (bool, Candidate)> = BTreeMap::new();
    for (at, &covered) in grid.covered_m2.iter().enumerate() {
        let Some(own) = raw(at).filter(|_| covered >= whole && covered > 0.0) else {
            continue;
        };
        let (column, row) = (at % grid.columns.max(1), at / grid.columns.max(1));
        let place = [
            grid.origin[0] + (column as f64 + 0.5) * grid.cell[0],
            grid.origin[1] + (row as f64 + 0.5) * grid.cell[1],
        ];
        let inner = same_around(column, row, &own);
        let distance_m = distance_m(place);
        let better = best.get(&own).is_none_or(|(known_inner, known)| {
            (inner && !known_inner) || (inner == *known_inner && distance_m < known.distance_m)
        });
        if better {
            let lon_lat = place;
            let raw = own.clone();
            let candidate = Candidate {
                lon_lat,
                distance_m,
                raw,
            };
            best.insert(own, (inner, candidate));
        }
    }
    let inner_only = best.values().filter(|(inner, _)| *inner).count() >= PLACES;
    let mut all: Vec<Candidate> = best
        .into_values()
        .filter(|(inner, _)| *inner || !inner_only)
        .map(|(_, candidate)| candidate)
        .collect();
    all.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    all
}

/// The three whose rates are farthest apart, less half a point for a way as long as the longest one.
fn far_apart(near: &[Candidate]) -> Vec<usize> {
    if near.len() <= PLACES {
        return (0..near.len()).collect();
    }
    let products = near.first().map_or(0, |first| first.raw.len());
    let most: Vec<f64> = (0..products)
        .map(|at| {
            near.iter()
                .filter_map(|c| c.raw.get(at))
                .fold(1.0_f64, |a, b| a.max(*b as f64))
        })
        .collect();
    let farthest = near.iter().map(|c| c.distance_m).fold(1.0, f64::max);
    let apart = |a: &Candidate, b: &Candidate| {
        let pairs = a.raw.iter().zip(&b.raw).zip(&most);
        pairs
            .map(|((a, b), most)| (a - b).abs() as f64 / most)
            .fold(0.0, f64::max)
    };
    let mut best: Option<(f64, [usize; 3])> = None;
    for (i, a) in near.iter().enumerate() {
        for (j, b) in near.iter().enumerate().skip(i + 1) {
            for (k, c) in near.iter().enumerate().skip(j + 1) {
                let least = apart(a, b).min(apart(b, c)).min(apart(a, c));
                let score = least - 0.5 * c.distance_m / farthest;
                if best.is_none_or(|(most, _)| score > most) {
                    best = Some((score, [i, j, k]));
                }
            }
        }
    }
    best.map_or(Vec::new(), |(_, places)| places.to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four columns of blocks of 4 by 4 cells, each block with rates of its own; the outermost cells are rim.
    fn grid() -> Grid {
        let (columns, rows) = (16, 4);
        let cells = columns * rows;
        let block = |at: usize| (at % columns) / 4;
        let rates = [[100.0, 50.0], [101.0, 50.0], [200.0, 0.0], [100.0, 90.0]];
        Grid {
            origin: [8.0, 50.0],
            cell: [0.001, 0.001],
            columns,
            rows,
            covered_m2: vec![100.0; cells],
            kg_per_ha: (0..2)
                .map(|product| (0..cells).map(|at| rates[block(at)][product]).collect())
                .collect(),
        }
    }

    #[test]
    fn places_lie_inside_their_block_and_far_apart_in_rates() {
        let near = nearest(&grid(), |[lon, lat]| (lon - 8.0).hypot(lat - 50.0) * 1e5);
        assert_eq!(near.len(), 4);
        // Not the corner cell, for its neighbours are not known: the cell inside of it.
        assert!(
            (near[0].lon_lat[0] - 8.0015).abs() < 1e-9,
            "{:?}",
            near[0].lon_lat
        );
        let chosen: Vec<&Vec<i64>> = far_apart(&near).iter().map(|at| &near[*at].raw).collect();
        // 100 and 101 kg/ha cannot be told apart on a screen: one of the two is left out.
        assert!(chosen.contains(&&vec![20_000, 0]) && chosen.contains(&&vec![10_000, 9_000]));
    }

    #[test]
    fn one_set_of_rates_gives_one_place() {
        let mut grid = grid();
        for rates in &mut grid.kg_per_ha {
            rates.fill(120.0);
        }
        let near = nearest(&grid, |[lon, _]| lon);
        assert_eq!(far_apart(&near), [0]);
    }
}
