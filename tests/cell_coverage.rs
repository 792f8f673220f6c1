//! The coverage of cells against a clip of every cell in rational numbers: within 1e-10 of a cell,
//! exactly nothing outside, exactly all of it inside.

mod exact_support;
mod plan_support;

use exact_support::draw::{Dice, ring_area2, star};
use exact_support::{Q, Ring, area2, between, exact, near, whole};
use std::collections::BTreeMap;
use twinsow::geometry::UNITS_PER_M;
use twinsow::geometry::coverage::{Border, CellGrid, Coverage};
use twinsow::job::Job;
use twinsow::plan::{self, Options};

/// What the coverage may differ by, in cells.
const WITHIN: f64 = 1e-10;

/// Cells of 5 m and of 1 m as the metric grid has them, and of odd sides. A cell of degrees has as many units as one of 1 m.
const GRIDS: [CellGrid; 3] = [
    CellGrid {
        origin: [-(15 << 36), 20 << 36],
        cell: [5 << 36; 2],
        columns: 7,
        rows: 6,
    },
    CellGrid {
        origin: [0, 0],
        cell: [1 << 36; 2],
        columns: 6,
        rows: 7,
    },
    CellGrid {
        origin: [77_777_777_777, -99_999_999_999],
        cell: [(3 << 33) + 1, (1 << 34) - 7],
        columns: 5,
        rows: 5,
    },
];

/// A corner of cells.
fn corner(grid: &CellGrid, [column, row]: [i64; 2]) -> [i64; 2] {
    [
        grid.origin[0] + column * grid.cell[0],
        grid.origin[1] + row * grid.cell[1],
    ]
}

/// A place anywhere on the grid, its rim included.
fn anywhere(grid: &CellGrid, dice: &mut Dice) -> [i64; 2] {
    let size = [grid.columns as i64, grid.rows as i64];
    [0, 1].map(|axis| {
        let cell = dice.below(size[axis]);
        let within = match dice.below(8) {
            0 => 0,
            1 => grid.cell[axis],
            _ => dice.below(grid.cell[axis] + 1),
        };
        grid.origin[axis] + cell * grid.cell[axis] + within
    })
}

/// A corner of cells anywhere on the grid.
fn any_corner(grid: &CellGrid, dice: &mut Dice) -> [i64; 2] {
    let at = [grid.columns, grid.rows].map(|count| dice.below(count as i64 + 1));
    corner(grid, at)
}

/// Rings of one group: they count with the sign of their winding.
type Group = Vec<Ring>;

fn borders_of(groups: &[Group]) -> Vec<Border> {
    let mut borders = Vec::new();
    for (number, rings) in groups.iter().enumerate() {
        for ring in rings {
            let ends = ring.iter().skip(1).chain(ring.first());
            borders.extend(
                ring.iter()
                    .zip(ends)
                    .map(|(&from, &to)| (from, to, [Some(number as u32), None])),
            );
        }
    }
    borders
}

/// Every border once, with the group on either side, as the program hands them over.
fn shared(borders: Vec<Border>, dice: &mut Dice) -> Vec<Border> {
    let mut known: BTreeMap<[[i64; 2]; 2], [Option<u32>; 2]> = BTreeMap::new();
    for (from, to, [left, _]) in borders {
        let (key, side) = match from < to {
            true => ([from, to], 0),
            false => ([to, from], 1),
        };
        let sides = known.entry(key).or_default();
        assert_eq!(sides[side], None, "two groups on one side of a border");
        sides[side] = left;
    }
    let mut borders: Vec<Border> = known
        .into_iter()
        .map(|([from, to], [left, right])| match dice.below(2) {
            0 => (from, to, [left, right]),
            _ => (to, from, [right, left]),
        })
        .collect();
    dice.shuffle(&mut borders);
    borders
}

/// Share of each cell that a group covers, exactly, by row and column.
fn clipped(grid: &CellGrid, group: &Group) -> Vec<Q> {
    let mut shares = vec![whole(0); grid.columns * grid.rows];
    let cell_area2 = whole(2) * whole(grid.cell[0]) * whole(grid.cell[1]);
    for ring in group.iter().map(exact) {
        for row in 0..grid.rows {
            let [_, south] = corner(grid, [0, row as i64]);
            let strip = between(&ring, 1, south, south + grid.cell[1]);
            if strip.is_empty() {
                continue;
            }
            for column in 0..grid.columns {
                let [west, _] = corner(grid, [column as i64, 0]);
                let piece = between(&strip, 0, west, west + grid.cell[0]);
                shares[row * grid.columns + column] += area2(&piece) / &cell_area2;
            }
        }
    }
    shares
}

/// Share of each cell that a group covers by the kernel; `None` where it has no span.
fn swept(grid: &CellGrid, coverage: &Coverage, group: u32) -> Vec<Option<f64>> {
    let mut shares = vec![None; grid.columns * grid.rows];
    for (row, span) in coverage.spans().filter(|(_, span)| span.group == group) {
        for column in span.column..span.column + span.length {
            let share = &mut shares[row * grid.columns + column as usize];
            assert_eq!(*share, None, "a cell has two spans of one group");
            *share = Some(span.share);
        }
    }
    shares
}

/// Holds groups against their clips; returns the largest difference.
fn hold(what: &str, grid: &CellGrid, groups: &[Group], borders: Vec<Border>) -> f64 {
    let coverage = Coverage::new(*grid, borders.into_iter());
    let mut worst = 0.0f64;
    for (number, group) in groups.iter().enumerate() {
        let swept = swept(grid, &coverage, number as u32);
        let clipped = clipped(grid, group);
        for (cell, (got, expected)) in swept.iter().zip(&clipped).enumerate() {
            let place = format!(
                "{what}: group {number}, column {}, row {}",
                cell % grid.columns,
                cell / grid.columns
            );
            if *expected == whole(0) {
                assert_eq!(*got, None, "{place}: nothing is there");
            } else if *expected == whole(1) {
                assert_eq!(*got, Some(1.0), "{place}: wholly inside");
            }
            let difference = (got.unwrap_or(0.0) - near(expected)).abs();
            assert!(
                difference < WITHIN,
                "{place}: {got:?}, by the clip {}",
                near(expected)
            );
            worst = worst.max(difference);
        }
    }
    worst
}

/// The same through separate borders for each group.
fn hold_each(what: &str, grid: &CellGrid, groups: &[Group]) -> f64 {
    hold(what, grid, groups, borders_of(groups))
}

fn rounds(seed: u64, count: usize, mut work: impl FnMut(&CellGrid, &mut Dice)) {
    for round in 0..count {
        let mut dice = Dice::new(seed + round as u64);
        work(&GRIDS[round % GRIDS.len()], &mut dice);
    }
}

#[test]
fn stars_with_holes() {
    rounds(100, 60, |grid, dice| {
        let middle = [grid.columns, grid.rows].map(|count| count as i64);
        let centre = [0, 1].map(|k| grid.origin[k] + middle[k] * grid.cell[k] / 2);
        let radius = [0, 1].map(|k| (middle[k] * grid.cell[k]) as f64 / 2.0);
        let points = dice.between(3, 20) as usize;
        let outer = star(dice, centre, radius, 0.5, points);
        let mut hole = star(dice, centre, radius.map(|r| 0.2 * r), 0.2, 7);
        hole.reverse();
        hold_each("star", grid, &[vec![outer, hole]]);
    });
}

#[test]
fn triangles_anywhere_with_points_on_borders_of_cells() {
    rounds(200, 150, |grid, dice| {
        let ring: Ring = (0..3).map(|_| anywhere(grid, dice)).collect();
        hold_each("triangle", grid, &[vec![ring]]);
    });
}

#[test]
fn borders_along_and_corners_on_those_of_cells() {
    rounds(300, 90, |grid, dice| {
        let mut ring: Ring = Vec::new();
        // From corner of cells to corner of cells: level, upright and slanting borders.
        for _ in 0..dice.between(3, 9) {
            let mut next = any_corner(grid, dice);
            if let Some(before) = ring.last() {
                match dice.below(3) {
                    0 => next[0] = before[0],
                    1 => next[1] = before[1],
                    _ => {}
                }
            }
            ring.push(next);
        }
        // Such a ring may cross itself: then land counts as often as it winds around it.
        hold_each("corners", grid, &[vec![ring]]);
    });
}

#[test]
fn slivers() {
    rounds(400, 90, |grid, dice| {
        let [from, to] = [anywhere(grid, dice), anywhere(grid, dice)];
        let size = [grid.columns as i64, grid.rows as i64];
        let last = corner(grid, size);
        let width = 1 << dice.below(20);
        let beside = |point: [i64; 2], by: i64| {
            [0, 1].map(|k| (point[k] + by).clamp(grid.origin[k], last[k]))
        };
        let far = beside(to, dice.below(width + 1));
        let ring = vec![from, to, far, beside(from, -dice.below(width + 1))];
        hold_each("sliver", grid, &[vec![ring]]);
    });
}

#[test]
fn inside_one_cell() {
    rounds(500, 60, |grid, dice| {
        let at = [grid.columns, grid.rows].map(|count| dice.below(count as i64));
        let low = corner(grid, at);
        let centre = [0, 1].map(|k| low[k] + grid.cell[k] / 2);
        // Down to some units across.
        let part = 0.5f64.powi(dice.between(1, 30) as i32);
        let radius = grid.cell.map(|side| part * side as f64);
        let ring = star(dice, centre, radius, 0.1, 6);
        hold_each("in a cell", grid, &[vec![ring]]);
    });
}

/// Every cell inside the land of a tiling is full, and its groups sum to all of it.
#[test]
fn groups_that_tile_the_land_with_every_border_given_once() {
    rounds(600, 24, |grid, dice| {
        let size = [grid.columns as i64, grid.rows as i64];
        let centre = [0, 1].map(|k| grid.origin[k] + size[k] * grid.cell[k] / 2);
        let radius = [0, 1].map(|k| (size[k] * grid.cell[k]) as f64 / 2.0);
        let rim = star(dice, centre, radius, 0.8, 11);
        let ends = rim.iter().skip(1).chain(rim.first());
        let groups: Vec<Group> = rim
            .iter()
            .zip(ends)
            .map(|(&a, &b)| vec![vec![centre, a, b]])
            .collect();
        let borders = shared(borders_of(&groups), dice);
        hold("fan", grid, &groups, borders.clone());
        let coverage = Coverage::new(*grid, borders.into_iter());
        let land = clipped(grid, &vec![rim]);
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let here = coverage.row(row).iter().filter(|span| {
                    (span.column..span.column + span.length).contains(&(column as u32))
                });
                let sum: f64 = here.map(|span| span.share).sum();
                let expected = near(&land[row * grid.columns + column]);
                assert!((sum - expected).abs() < WITHIN, "{sum} {expected}");
            }
        }
    });
}

/// A tiling of whole cells: every group has its cells, all of each, and nobody else's.
#[test]
fn blocks_of_whole_cells_are_all_or_nothing() {
    rounds(700, 12, |grid, dice| {
        let cut = dice.between(1, grid.columns as i64);
        let [columns, rows] = [grid.columns as i64, grid.rows as i64];
        let block = |west: i64, east: i64| {
            let corners = [[west, 0], [east, 0], [east, rows], [west, rows]];
            vec![corners.map(|at| corner(grid, at)).to_vec()]
        };
        let groups = [block(0, cut), block(cut, columns)];
        assert!(groups.iter().all(|rings| ring_area2(&rings[0]) > 0));
        let borders = shared(borders_of(&groups), dice);
        let worst = hold("blocks", grid, &groups, borders);
        assert_eq!(worst, 0.0);
    });
}

/// Two layers over a winding field in five rows of the rate table and more.
fn two_layers() -> plan_support::Made {
    let made = plan_support::Made::new();
    let mut dice = Dice::new(800);
    let in_metres = |ring: Ring| -> Vec<[f64; 2]> {
        ring.iter().map(|p| p.map(|v| v as f64 / 1000.0)).collect()
    };
    let boundary = star(&mut dice, [45_000, 35_000], [44_000.0, 34_000.0], 0.7, 17);
    let hole = star(&mut dice, [50_000, 40_000], [6_000.0, 5_000.0], 0.5, 6);
    let feature = |properties: &str, rings: &plan_support::Rings| {
        plan_support::feature(plan_support::PLACE, properties, rings)
    };
    let field = feature(
        r#""name":"made""#,
        &vec![in_metres(boundary), in_metres(hole)],
    );
    made.write("boundary.geojson", plan_support::collection(&[field]));
    for (layer, names) in [("soil", ["a", "b", "c"]), ("need", ["low", "high", "low"])] {
        // Bands with a winding border between them.
        let mut borders = Vec::new();
        for nth in 0..=names.len() {
            let border: Vec<[f64; 2]> = (0..=12)
                .map(|step| {
                    let along = 90.0 * f64::from(step) / 12.0;
                    let across = -5.0 + 30.0 * nth as f64 + 6.0 * dice.share();
                    match layer {
                        "soil" => [across, along - 5.0],
                        _ => [along, across - 8.0],
                    }
                })
                .collect();
            borders.push(border);
        }
        let zones: Vec<String> = names
            .iter()
            .zip(borders.windows(2))
            .map(|(name, pair)| {
                let ring = pair[0].iter().chain(pair[1].iter().rev()).copied();
                feature(&format!(r#""{layer}":"{name}""#), &vec![ring.collect()])
            })
            .collect();
        made.write(
            &format!("{layer}.geojson"),
            plan_support::collection(&zones),
        );
    }
    let job = r#"name = "made"
[field]
name = "made"
boundary = { file = "boundary.geojson" }
[headland]
width_m = 6.0
[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "soil"
[[layer]]
name = "need"
source = { file = "need.geojson" }
class_attribute = "need"
[grid]
cell_m = 5.0
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper]]
name = "rear"
usable_l = 1300.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = { kg_per_ha = { layer = "soil", by_class = { a = 150.0, b = 190.0, c = 165.0 } } }
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
rate = { kg_per_ha = { layer = "need", by_class = { low = 60.0, high = 110.0 } } }
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "wheat"
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#;
    made.write("job.toml", job);
    made
}

/// The grid of a plan, cell by cell: covered area and the rates of the land that covers most of it, by
/// the clip of every row of the rate table.
#[test]
fn rates_of_cells_are_those_of_the_land_that_the_clip_finds() {
    let made = two_layers();
    let job = Job::load(&made.path().join("job.toml")).expect("a job");
    let prepared = plan_support::prepared(&job).expect("land");
    let plan = plan::rate(&prepared, &job, &Options::default()).expect("a plan");
    let grid = &plan.maps.rate.metric;
    let units = |metres: f64| (metres * UNITS_PER_M) as i64;
    let cells = CellGrid {
        origin: grid.origin.map(units),
        cell: grid.cell.map(units),
        columns: grid.columns,
        rows: grid.rows,
    };
    let mut rows: Vec<Group> = vec![Vec::new(); plan.rates.rows.len()];
    let dissolved = prepared
        .units
        .arrangement
        .dissolve(&prepared.units.row_of_face);
    for (row, shape) in &dissolved {
        let rings = shape
            .rings()
            .map(|ring| ring.iter().map(|p| [p.x, p.y]).collect());
        rows[*row as usize].extend(rings);
    }
    // Share of each cell by set of rates.
    let mut shares: Vec<BTreeMap<Vec<u64>, Q>> = vec![BTreeMap::new(); grid.covered_m2.len()];
    for (row, group) in plan.rates.rows.iter().zip(&rows) {
        let rates = || {
            row.rates
                .iter()
                .map(|rate| rate.kg_per_ha.to_bits())
                .collect()
        };
        for (cell, share) in clipped(&cells, group).into_iter().enumerate() {
            if share != whole(0) {
                *shares[cell].entry(rates()).or_insert_with(|| whole(0)) += share;
            }
        }
    }
    let cell_m2 = grid.cell[0] * grid.cell[1];
    let (mut mixed, mut full, mut kg) = (0, 0, vec![0.0; job.products.len()]);
    for (cell, shares) in shares.iter().enumerate() {
        let covered: Q = shares.values().fold(whole(0), |sum, share| sum + share);
        let got = grid.covered_m2[cell];
        if covered == whole(0) {
            assert_eq!(got, 0.0, "cell {cell}: nothing is there");
            continue;
        }
        assert!(
            (got / cell_m2 - near(&covered)).abs() < WITHIN,
            "cell {cell}"
        );
        full += usize::from(covered == whole(1));
        mixed += usize::from(shares.len() > 1);
        let mut by_share: Vec<(&Q, &Vec<u64>)> = shares.iter().map(|(r, s)| (s, r)).collect();
        by_share.sort();
        let (most, rates) = by_share[by_share.len() - 1];
        if let [.., (second, _), _] = by_share[..] {
            assert!(
                near(&(most - second)) > WITHIN,
                "cell {cell}: too close to call"
            );
        }
        for (product, &rate) in rates.iter().enumerate() {
            let rate = f64::from_bits(rate);
            let got = grid.kg_per_ha.at(cell).map(|rates| rates[product]);
            assert_eq!(got, Some(rate), "cell {cell}, {shares:?}");
            kg[product] += near(&covered) * cell_m2 * rate / 10_000.0;
        }
    }
    assert!(full > 20 && mixed > 20, "{full} full, {mixed} mixed cells");
    for (got, expected) in grid.kg().iter().zip(&kg) {
        assert!((got / expected - 1.0).abs() < 1e-10, "{got} {expected}");
    }
}
