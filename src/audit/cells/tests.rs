use super::*;
use geo::{Area, BooleanOps, Orient, Rect};

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
    let field: [[f64; 2]; 7] = [
        [21.337767671, 61.938212604],
        [21.338432833, 61.937955215],
        [21.338807809, 61.938319819],
        [21.338079698, 61.938714996],
        [21.338079677, 61.938714953],
        [21.337923683, 61.9384638],
        [21.337767671, 61.938212604],
    ];
    let strip: [[f64; 2]; 6] = [
        [21.337767728, 61.938212608],
        [21.337786283, 61.938214543],
        [21.338083768, 61.9387063],
        [21.338079677, 61.938714953],
        [21.337923701, 61.93846378],
        [21.337767728, 61.938212608],
    ];
    let polygon =
        |ring: &[[f64; 2]]| geo::Polygon::new(LineString::from(ring.to_vec()), Vec::new());
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

/// Whole numbers below a bound, the same in every run.
fn numbers(seed: u64) -> impl FnMut(u64) -> u64 {
    let mut state = seed;
    move |bound| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 33) % bound
    }
}

/// Rectangles on the lines of a grid, many of them with sides in common: counted square by square.
#[test]
fn overlapping_outlines_with_borders_in_common_cover_what_their_squares_count() {
    let square_deg = TILE.cell[0] / 2.0;
    for seed in 0..200 {
        let mut number = numbers(seed);
        let mut boxes = |count: u64| -> Vec<[u64; 4]> {
            let mut one = |_| {
                let [west, south] = [number(7), number(3)];
                [
                    west,
                    south,
                    west + 1 + number(8 - west),
                    south + 1 + number(4 - south),
                ]
            };
            (0..count).map(&mut one).collect()
        };
        let (fields, ponds) = (boxes(3), boxes(4));
        let drawn = |boxes: &[[u64; 4]]| -> Vec<geo::Polygon> {
            let degrees = |n: u64, axis: usize| TILE.origin[axis] + n as f64 * square_deg;
            let polygon = |[west, south, east, north]: &[u64; 4]| {
                square(
                    degrees(*west, 0),
                    degrees(*south, 1),
                    degrees(*east, 0),
                    degrees(*north, 1),
                )
            };
            boxes.iter().map(polygon).collect()
        };
        let found = shares(&TILE, &drawn(&fields), &drawn(&ponds));
        let in_any = |boxes: &[[u64; 4]], x: u64, y: u64| {
            let holds = |b: &[u64; 4]| b[0] <= x && x < b[2] && b[1] <= y && y < b[3];
            boxes.iter().any(holds)
        };
        for (at, share) in found.iter().enumerate() {
            let (column, row) = ((at % 4) as u64, (at / 4) as u64);
            let squares = [(0, 0), (1, 0), (0, 1), (1, 1)];
            let land = squares.iter().filter(|(x, y)| {
                let (x, y) = (2 * column + x, 2 * row + y);
                in_any(&fields, x, y) && !in_any(&ponds, x, y)
            });
            let wanted = land.count() as f64 / 4.0;
            assert!(
                (share - wanted).abs() < 1e-5,
                "{seed} {at}: {share} {wanted}"
            );
        }
    }
}

/// Triangles that cross each other and reach beyond the grid's field: all cells together are what geo leaves.
#[test]
fn crossing_outlines_cover_in_all_what_geo_leaves_of_them() {
    let triangles = |number: &mut dyn FnMut(u64) -> u64, count: u64| -> Vec<geo::Polygon> {
        let mut corner = || {
            let mut part = |deg: f64| deg * number(10_000) as f64 / 10_000.0;
            (8.0 + part(0.004), 50.0 + part(0.002))
        };
        let mut triangle = |_| {
            let ring = LineString::from(vec![corner(), corner(), corner()]);
            // Geo counts only rings that run counter-clockwise.
            geo::Polygon::new(ring, Vec::new()).orient(geo::orient::Direction::Default)
        };
        (0..count).map(&mut triangle).collect()
    };
    for seed in 0..200 {
        let mut number = numbers(seed);
        let (fields, ponds) = (triangles(&mut number, 3), triangles(&mut number, 4));
        let found: f64 = shares(&TILE, &fields, &ponds).iter().sum();
        let united = |polygons: &[geo::Polygon]| geo::unary_union(polygons);
        let left = united(&fields).difference(&united(&ponds)).unsigned_area();
        let wanted = left / (TILE.cell[0] * TILE.cell[1]);
        assert!((found - wanted).abs() < 1e-5, "{seed}: {found} {wanted}");
    }
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
