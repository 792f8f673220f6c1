//! Which cells of a grid show the mistakes that the gate check is for. Method: docs/methods/gate-check.md.

use super::mistakes::{self, Mistake, rates_at, raw};
use crate::coordinates::LonLat;
use crate::map::{Grid, NO_SET};

/// Number of places.
const PLACES: usize = 3;
/// Sets of rates that are looked at, the nearest ones.
const MOST_SETS: usize = 30;
/// Share of a whole cell that has to be land, so that the place lies well inside.
const WHOLE: f64 = 0.98;

/// How far the fast way into the plane may be from the series, metres, with room to spare.
const WITHIN_M: f64 = 1e-6;

/// A cell that could be one.
pub(super) struct Candidate {
    cell: [usize; 2],
    pub lon_lat: LonLat,
    pub distance_m: f64,
    pub raw: Vec<i64>,
}

/// How far a place is from the entrance, metres: to [`WITHIN_M`], and fast; exactly; and how far it is at least, by
/// its latitude alone.
pub(super) struct Distances<'a> {
    pub about_m: &'a dyn Fn(LonLat) -> f64,
    pub exactly_m: &'a dyn Fn(LonLat) -> f64,
    pub at_least_m: &'a dyn Fn(f64) -> f64,
}

impl Distances<'_> {
    /// The rows of a grid with the distance that all their middles have at least, nearest first.
    fn rows(&self, grid: &Grid) -> Vec<(f64, usize)> {
        let least_m = |row: usize| (self.at_least_m)(middle(grid, [0, row]).lat);
        let mut rows: Vec<(f64, usize)> = (0..grid.rows).map(|row| (least_m(row), row)).collect();
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        rows
    }
}

/// The best place so far, and whether the same rates lie all around it, which counts more than the distance.
type Best = Option<(bool, Candidate)>;

/// Whether no place that is at least so far away can take the place of this one.
fn beyond(best: &Best, least_m: f64) -> bool {
    let inner = best.as_ref().filter(|(inner, _)| *inner);
    inner.is_some_and(|(_, known)| least_m > known.distance_m + WITHIN_M)
}

/// Whether a place comes before the best one so far; of two that are as far away the one further south, then west.
fn better(best: &Best, inner: bool, distance_m: f64, [column, row]: [usize; 2]) -> bool {
    best.as_ref().is_none_or(|(known_inner, known)| {
        let first = [row, column] < [known.cell[1], known.cell[0]];
        let nearer = distance_m < known.distance_m || (distance_m == known.distance_m && first);
        inner && !known_inner || inner == *known_inner && nearer
    })
}

/// The places, nearest first, and the mistakes that none of them shows.
///
/// A job has three products at the most, so the mistakes fit into the bits of a mask.
pub(super) fn cells_to_show(grid: &Grid, distances: &Distances) -> (Vec<Candidate>, Vec<Mistake>) {
    let products = grid.kg_per_ha.each();
    let mistakes = mistakes::all(grid, products);
    let highest = |nth: usize| {
        let rates = grid.kg_per_ha.sets().iter().map(|set| set[nth]);
        rates.fold(0.0, f64::max) * 100.0
    };
    let most: Vec<f64> = (0..products).map(highest).collect();
    let mut candidates = nearest(grid, distances);
    candidates.truncate(MOST_SETS);
    let masks = |all: &[Candidate]| -> Vec<u64> {
        let of = |own: &Candidate| {
            let shown = mistakes.iter().enumerate();
            let shown = shown.filter(|(_, of)| of.shows(grid, own.cell, &own.raw, &most));
            shown.fold(0, |mask, (at, _)| mask | 1 << at)
        };
        all.iter().map(of).collect()
    };
    // A mistake that none of the nearest cells shows may show at another one.
    let shown = masks(&candidates)
        .into_iter()
        .fold(0, |all, mask| all | mask);
    let open = mistakes.iter().enumerate();
    let open: Vec<Mistake> = open
        .filter(|(at, _)| shown & (1 << at) == 0)
        .map(|(_, of)| *of)
        .collect();
    candidates.extend(nearest_showing(grid, distances, &open, &most));
    candidates.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    candidates.dedup_by(|a, b| a.cell == b.cell);
    let masks = masks(&candidates);
    let places = far_apart(&candidates, &masks);
    let seen = places.iter().filter_map(|at| masks.get(*at));
    let seen = seen.fold(0, |all, mask| all | mask);
    let missed = mistakes.iter().enumerate();
    let missed = missed.filter(|(at, _)| seen & (1 << at) == 0);
    let missed = missed.map(|(_, of)| *of).collect();
    let of_places = candidates.into_iter().enumerate();
    let of_places = of_places.filter(|(at, _)| places.contains(at));
    (of_places.map(|(_, cell)| cell).collect(), missed)
}

/// The middle of a cell.
fn middle(grid: &Grid, [column, row]: [usize; 2]) -> LonLat {
    LonLat::new(
        grid.origin[0] + (column as f64 + 0.5) * grid.cell[0],
        grid.origin[1] + (row as f64 + 0.5) * grid.cell[1],
    )
}

/// Whether all eight neighbours have these rates as well.
fn same_around(grid: &Grid, [column, row]: [usize; 2], own: &[i64]) -> bool {
    if column == 0 || row == 0 {
        return false;
    }
    let same = |column, row| rates_at(grid, column, row).as_deref() == Some(own);
    (row - 1..=row + 1).all(|row| (column - 1..=column + 1).all(|column| same(column, row)))
}

/// Covered area from which a cell is whole on land.
fn whole_m2(grid: &Grid) -> f64 {
    WHOLE * grid.covered_m2.iter().copied().fold(0.0, f64::max)
}

/// For each of these mistakes the nearest cell that shows it, whole on land with the same rates all around it; where there
/// is none, any whole cell.
fn nearest_showing(
    grid: &Grid,
    distances: &Distances,
    mistakes: &[Mistake],
    most: &[f64],
) -> Vec<Candidate> {
    let whole = whole_m2(grid);
    let mut best: Vec<Best> = mistakes.iter().map(|_| None).collect();
    for (least_m, row) in distances.rows(grid) {
        if best.iter().all(|best| beyond(best, least_m)) {
            break;
        }
        for column in 0..grid.columns {
            let covered = grid.covered_m2[row * grid.columns + column];
            if covered < whole || covered <= 0.0 {
                continue;
            }
            let cell = [column, row];
            let lon_lat = middle(grid, cell);
            let about_m = (distances.about_m)(lon_lat);
            if best.iter().all(|best| beyond(best, about_m)) {
                continue;
            }
            let Some(own) = rates_at(grid, column, row) else {
                continue;
            };
            let distance_m = (distances.exactly_m)(lon_lat);
            let inner = same_around(grid, cell, &own);
            for (best, mistake) in best.iter_mut().zip(mistakes) {
                if better(best, inner, distance_m, cell) && mistake.shows(grid, cell, &own, most) {
                    let candidate = Candidate {
                        cell,
                        lon_lat,
                        distance_m,
                        raw: own.clone(),
                    };
                    *best = Some((inner, candidate));
                }
            }
        }
    }
    best.into_iter().flatten().map(|(_, own)| own).collect()
}

/// Different sets of rates in steps of 0.01 kg/ha, and per set of the grid the number of its one: rates that are
/// closer to each other than a step are the same on a screen.
fn sets(grid: &Grid) -> (Vec<Vec<i64>>, Vec<u32>) {
    let mut sets: Vec<Vec<i64>> = grid.kg_per_ha.sets().iter().map(|set| raw(set)).collect();
    sets.sort();
    sets.dedup();
    let number = |set: &Vec<f64>| sets.binary_search(&raw(set)).map_or(NO_SET, |at| at as u32);
    let of_set = grid.kg_per_ha.sets().iter().map(number).collect();
    (sets, of_set)
}

/// The nearest cell of each set of rates, nearest first: cells whole on land with the same rates all around
/// them; where no set has such a cell, any whole cell.
fn nearest(grid: &Grid, distances: &Distances) -> Vec<Candidate> {
    let whole = whole_m2(grid);
    let (sets, of_set) = sets(grid);
    let set_of = |number: &u32| of_set.get(*number as usize).copied().unwrap_or(NO_SET);
    let numbers = grid.kg_per_ha.numbers();
    let same_around = |[column, row]: [usize; 2], own: u32| {
        if column == 0 || row == 0 || column + 1 >= grid.columns || row + 1 >= grid.rows {
            return false;
        }
        (row - 1..=row + 1).all(|row| {
            let first = row * grid.columns + column - 1;
            let three = numbers.get(first..first + 3);
            three.is_some_and(|three| three.iter().all(|number| set_of(number) == own))
        })
    };
    let mut best: Vec<Best> = sets.iter().map(|_| None).collect();
    for (least_m, row) in distances.rows(grid) {
        if best.iter().all(|best| beyond(best, least_m)) {
            break;
        }
        for column in 0..grid.columns {
            let at = row * grid.columns + column;
            let (covered, own) = (grid.covered_m2[at], set_of(&numbers[at]));
            let Some(known) = best.get_mut(own as usize) else {
                continue;
            };
            if covered < whole || covered <= 0.0 || beyond(known, least_m) {
                continue;
            }
            let cell = [column, row];
            let inner = same_around(cell, own);
            let lon_lat = middle(grid, cell);
            if !inner && matches!(known, Some((true, _)))
                || beyond(known, (distances.about_m)(lon_lat))
            {
                continue;
            }
            let distance_m = (distances.exactly_m)(lon_lat);
            if better(known, inner, distance_m, cell) {
                let candidate = Candidate {
                    cell,
                    lon_lat,
                    distance_m,
                    raw: sets.get(own as usize).cloned().unwrap_or_default(),
                };
                *known = Some((inner, candidate));
            }
        }
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

/// The three that show the most mistakes together (a bit of the mask each); of such, those whose rates are farthest
/// apart, less half a point for a way as long as the longest one.
fn far_apart(near: &[Candidate], masks: &[u64]) -> Vec<usize> {
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
    let mask = |at: usize| masks.get(at).copied().unwrap_or_default();
    let mut best: Option<(u32, f64, [usize; 3])> = None;
    for (i, a) in near.iter().enumerate() {
        for (j, b) in near.iter().enumerate().skip(i + 1) {
            for (k, c) in near.iter().enumerate().skip(j + 1) {
                let least = apart(a, b).min(apart(b, c)).min(apart(a, c));
                let score = least - 0.5 * c.distance_m / farthest;
                let shown = (mask(i) | mask(j) | mask(k)).count_ones();
                if best.is_none_or(|(known, most, _)| (shown, score) > (known, most)) {
                    best = Some((shown, score, [i, j, k]));
                }
            }
        }
    }
    best.map_or(Vec::new(), |(.., places)| places.to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::CellRates;

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
            covered_m2: vec![100.0; cells].into(),
            kg_per_ha: rates_of(cells, |at| rates[block(at)]),
        }
    }

    /// Distances of a made-up plane, about which the latitude alone tells nothing.
    fn distances<'a>(distance: &'a dyn Fn(LonLat) -> f64) -> Distances<'a> {
        Distances {
            about_m: distance,
            exactly_m: distance,
            at_least_m: &|_| 0.0,
        }
    }

    fn rates_of(cells: usize, of: impl Fn(usize) -> [f64; 2]) -> CellRates {
        let rates: Vec<[f64; 2]> = (0..cells).map(of).collect();
        CellRates::of_cells(2, rates.iter().map(|rates| Some(&rates[..])))
    }

    /// The rates of a cell that has some.
    fn of_cell(grid: &Grid, cell: usize) -> [f64; 2] {
        grid.kg_per_ha.at(cell).unwrap().try_into().unwrap()
    }

    #[test]
    fn places_lie_inside_their_block_and_far_apart_in_rates() {
        let far = |LonLat { lon, lat }| (lon - 8.0).hypot(lat - 50.0) * 1e5;
        let near = nearest(&grid(), &distances(&far));
        assert_eq!(near.len(), 4);
        // Not the corner cell, for its neighbours are not known: the cell inside of it.
        assert!(
            (near[0].lon_lat.lon - 8.0015).abs() < 1e-9,
            "{:?}",
            near[0].lon_lat
        );
        let chosen: Vec<&Vec<i64>> = far_apart(&near, &[])
            .iter()
            .map(|at| &near[*at].raw)
            .collect();
        // 100 and 101 kg/ha cannot be told apart on a screen: one of the two is left out.
        assert!(chosen.contains(&&vec![20_000, 0]) && chosen.contains(&&vec![10_000, 9_000]));
    }

    #[test]
    fn one_set_of_rates_gives_one_place() {
        let mut grid = grid();
        grid.kg_per_ha = rates_of(grid.columns * grid.rows, |_| [120.0; 2]);
        let near = nearest(&grid, &distances(&|place| place.lon));
        assert_eq!(far_apart(&near, &[]), [0]);
    }

    /// The grid after something went wrong, and what it then says at a place.
    fn at(grid: &Grid, LonLat { lon, lat }: LonLat) -> Vec<i64> {
        let column = ((lon - grid.origin[0]) / grid.cell[0]).floor();
        let row = ((lat - grid.origin[1]) / grid.cell[1]).floor();
        let inside = column >= 0.0 && row >= 0.0;
        let rates = inside.then(|| rates_at(grid, column as usize, row as usize));
        rates.flatten().unwrap_or_else(|| vec![0; 2])
    }

    fn cells(grid: &Grid, from: impl Fn(usize, usize) -> usize) -> Grid {
        let from = |cell| from(cell % grid.columns, cell / grid.columns);
        let cells = grid.columns * grid.rows;
        Grid {
            kg_per_ha: rates_of(cells, |cell| of_cell(grid, from(cell))),
            ..grid.clone()
        }
    }

    /// Zones that are the same upside down but for a patch far away from the gate.
    fn with_patch(patch: bool) -> Grid {
        let (columns, rows) = (24, 12);
        let seed = |cell: usize| match (cell % columns, cell / columns) {
            (0..6, _) => 150.0,
            (6..12, _) => 200.0,
            (16..22, 7..) if patch => 120.0,
            _ => 100.0,
        };
        Grid {
            origin: [8.0, 50.0],
            cell: [0.001, 0.001],
            columns,
            rows,
            covered_m2: vec![100.0; columns * rows].into(),
            kg_per_ha: rates_of(columns * rows, |cell| [seed(cell), 100.0]),
        }
    }

    #[test]
    fn the_places_show_whatever_the_map_can_show() {
        let grid = with_patch(true);
        let from_gate = |LonLat { lon, lat }| (lon - 8.0).hypot(lat - 50.0) * 1e5;
        let (places, missed) = cells_to_show(&grid, &distances(&from_gate));
        assert_eq!((places.len(), missed.len()), (3, 0), "{missed:?}");
        let (columns, rows) = (grid.columns, grid.rows);
        let mut swapped = grid.clone();
        let exchanged = |cell| {
            let [a, b] = of_cell(&grid, cell);
            [b, a]
        };
        swapped.kg_per_ha = rates_of(columns * rows, exchanged);
        let mut shifted = grid.clone();
        shifted.origin[1] += 3.0 * grid.cell[1];
        let wrong = [
            ("swapped", swapped),
            ("flipped", cells(&grid, |c, r| (rows - 1 - r) * columns + c)),
            (
                "mirrored",
                cells(&grid, |c, r| r * columns + columns - 1 - c),
            ),
            (
                "turned",
                cells(&grid, |c, r| (rows - 1 - r) * columns + columns - 1 - c),
            ),
            ("shifted", shifted),
        ];
        for (what, wrong) in wrong {
            let shows = |place: &Candidate| at(&wrong, place.lon_lat) != place.raw;
            assert!(places.iter().any(shows), "{what}");
        }
        // Unchanged, every place says what it should.
        assert!(
            places
                .iter()
                .all(|place| at(&grid, place.lon_lat) == place.raw)
        );
    }

    #[test]
    fn rows_that_are_too_far_away_are_left_out_and_change_nothing() {
        for gate in [
            [8.0, 50.0],
            [8.0125, 50.006],
            [8.03, 50.02],
            [7.98, 50.0065],
        ] {
            let far = |LonLat { lon, lat }| (lon - gate[0]).hypot(lat - gate[1]) * 1e5;
            let by_row = Distances {
                at_least_m: &|lat| (lat - gate[1]).abs() * 1e5,
                ..distances(&far)
            };
            for grid in [grid(), with_patch(true), with_patch(false)] {
                let places = |distances: &Distances| {
                    let (places, missed) = cells_to_show(&grid, distances);
                    let places = places.into_iter().map(|place| (place.cell, place.raw));
                    (places.collect::<Vec<_>>(), missed)
                };
                assert_eq!(places(&by_row), places(&distances(&far)), "{gate:?}");
            }
        }
    }

    #[test]
    fn what_the_map_cannot_show_is_said() {
        let from_gate = |LonLat { lon, lat }| (lon - 8.0).hypot(lat - 50.0);
        let (places, missed) = cells_to_show(&with_patch(false), &distances(&from_gate));
        assert_eq!(places.len(), 3);
        let said: Vec<String> = missed.iter().map(|of| of.words(&["a", "b"])).collect();
        assert!(
            said.contains(&"a map with north and south exchanged".to_string()),
            "{said:?}"
        );
        let mut alike = with_patch(true);
        alike.kg_per_ha = rates_of(alike.columns * alike.rows, |_| [100.0; 2]);
        let (_, missed) = cells_to_show(&alike, &distances(&|place| place.lon));
        assert!(missed.contains(&Mistake::Swapped(0, 1)), "{missed:?}");
        assert!(!missed.contains(&Mistake::Unit));
    }
}
