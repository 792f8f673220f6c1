//! The gate check: places near the field entrance whose rates are far apart, to be looked up on the screen with
//! the drill raised. Method: docs/methods/gate-check.md.

use super::Plan;
use crate::map::Grid;
use crate::read::Xy;
use crate::units::nearest_whole;
use serde::Serialize;
use std::collections::BTreeMap;

/// Number of places.
const PLACES: usize = 3;
/// Sets of rates that are looked at, the nearest ones.
const MOST_SETS: usize = 30;
/// Share of a whole cell that has to be land, so that the place lies well inside.
const WHOLE: f64 = 0.98;

/// How far the fast way into the plane may be from the series, metres, with room to spare.
const WITHIN_M: f64 = 1e-6;
/// Stands for a cell without rates.
const NO_SET: u32 = u32::MAX;

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
        let from_entrance = |[x, y]: Xy| (x - entrance[0]).hypot(y - entrance[1]);
        let about_m = |place: Xy| {
            let mut place = [place];
            self.frame.all_to_plane(&mut place);
            place.map(from_entrance)[0]
        };
        let exactly_m = |place: Xy| from_entrance(self.frame.to_plane(place));
        let mut near = nearest(grid, about_m, exactly_m);
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
        let turned = |[x, y]: Xy| (-x * cosine + y * sine, x * sine + y * cosine);
        let corners = || self.boundary.iter().flat_map(|part| &part.exterior);
        let mut about: Vec<Xy> = corners().copied().collect();
        self.frame.all_to_plane(&mut about);
        let least = about
            .iter()
            .map(|&place| turned(place).0)
            .fold(f64::INFINITY, f64::min);
        // The series takes long; it decides among those that may be the first.
        let may_be_first = corners()
            .zip(&about)
            .filter(|(_, place)| turned(**place).0 <= least + 2.0 * WITHIN_M)
            .map(|(corner, _)| (*corner, turned(self.frame.to_plane(*corner))));
        let first =
            may_be_first.min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        first.map_or(self.frame.origin(), |(corner, _)| corner)
    }
}

/// Different sets of rates in steps of 0.01 kg/ha, and per cell the number of its set.
fn sets(grid: &Grid) -> (Vec<Vec<i64>>, Vec<u32>) {
    let mut numbers: BTreeMap<Vec<i64>, u32> = BTreeMap::new();
    let mut sets: Vec<Vec<i64>> = Vec::new();
    let mut own: Vec<i64> = Vec::new();
    let mut before = NO_SET;
    let of_cell = (0..grid.covered_m2.len()).map(|at| {
        own.clear();
        for rates in &grid.kg_per_ha {
            match rates.get(at).filter(|rate| !rate.is_nan()) {
                Some(rate) => own.push(nearest_whole(rate * 100.0)),
                None => return NO_SET,
            }
        }
        // Mostly a cell has the rates of the one before.
        if sets.get(before as usize) != Some(&own) {
            before = match numbers.get(&own) {
                Some(number) => *number,
                None => {
                    let number = sets.len() as u32;
                    numbers.insert(own.clone(), number);
                    sets.push(own.clone());
                    number
                }
            };
        }
        before
    });
    let of_cell = of_cell.collect();
    (sets, of_cell)
}

/// The nearest cell of each set of rates, nearest first: cells whole on land with the same rates all around
/// them; where no set has such a cell, any whole cell. `about_m` is a distance to [`WITHIN_M`], and fast.
fn nearest(
    grid: &Grid,
    about_m: impl Fn(Xy) -> f64,
    exactly_m: impl Fn(Xy) -> f64,
) -> Vec<Candidate> {
    let whole = WHOLE * grid.covered_m2.iter().copied().fold(0.0, f64::max);
    let (sets, of_cell) = sets(grid);
    let same_around = |column: usize, row: usize, own: u32| {
        if column == 0 || row == 0 || column + 1 >= grid.columns || row + 1 >= grid.rows {
            return false;
        }
        (row - 1..=row + 1).all(|row| {
            let first = row * grid.columns + column - 1;
            let three = of_cell.get(first..first + 3);
            three.is_some_and(|three| three.iter().all(|set| *set == own))
        })
    };
    // Per set: whether the same rates lie all around, and the place with its distance.
    let mut best: Vec<Option<(bool, Candidate)>> = sets.iter().map(|_| None).collect();
    for (at, (&covered, &own)) in grid.covered_m2.iter().zip(&of_cell).enumerate() {
        let Some(known) = best.get_mut(own as usize) else {
            continue;
        };
        if covered < whole || covered <= 0.0 {
            continue;
        }
        let (column, row) = (at % grid.columns.max(1), at / grid.columns.max(1));
        let place = [
            grid.origin[0] + (column as f64 + 0.5) * grid.cell[0],
            grid.origin[1] + (row as f64 + 0.5) * grid.cell[1],
        ];
        let inner = same_around(column, row, own);
        if let Some((known_inner, candidate)) = known {
            if *known_inner && !inner {
                continue;
            }
            let no_nearer = about_m(place) > candidate.distance_m + WITHIN_M;
            if inner == *known_inner && (no_nearer || exactly_m(place) >= candidate.distance_m) {
                continue;
            }
        }
        let raw = sets.get(own as usize).cloned().unwrap_or_default();
        let distance_m = exactly_m(place);
        let lon_lat = place;
        let candidate = Candidate {
            lon_lat,
            distance_m,
            raw,
        };
        *known = Some((inner, candidate));
    }
    let mut best: Vec<(bool, Candidate)> = best.into_iter().flatten().collect();
    // Where two are as far away, the one with the lower rates comes first.
    best.sort_by(|(_, a), (_, b)| a.raw.cmp(&b.raw));
    let inner_only = best.iter().filter(|(inner, _)| *inner).count() >= PLACES;
    let mut all: Vec<Candidate> = best
        .into_iter()
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
        let far = |[lon, lat]: Xy| (lon - 8.0).hypot(lat - 50.0) * 1e5;
        let near = nearest(&grid(), far, far);
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
        let near = nearest(&grid, |[lon, _]| lon, |[lon, _]| lon);
        assert_eq!(far_apart(&near), [0]);
    }
}
