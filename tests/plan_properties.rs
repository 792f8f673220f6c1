//! Properties of plans on many small made fields, seeded: what must hold whatever the shapes.

mod plan_support;

use plan_support::{Made, PLACE, Rings, collection, feature, job, line, plain, rectangle, said};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use twinsow::coordinates::LonLat;
use twinsow::geometry::Shape;
use twinsow::job::Job;
use twinsow::plan::{self, Options, Plan};

const LAND: &str = r#"
[[exclusion]]
name = "pond"
source = { file = "pond.geojson" }
buffer_m = 2.0
water = true
[[setback]]
name = "brook"
source = { file = "brook.geojson" }
distance_m = 5.0
products = ["starter"]
[headland]
bouts = 1
[zones]
sliver_area_m2 = 5.0
"#;

/// A star-shaped field of 8 to 20 corners, a line that parts it, a pond and a brook beside or in it.
#[derive(Debug, Clone)]
struct Sketch {
    radii: Vec<f64>,
    part: f64,
    pond: [f64; 2],
    brook: f64,
}

fn sketches() -> impl Strategy<Value = Sketch> {
    let pond = [-110.0..110.0f64, -110.0..110.0f64];
    (
        prop::collection::vec(45.0..95.0f64, 8..20),
        -30.0..30.0f64,
        pond,
        -110.0..110.0f64,
    )
        .prop_map(|(radii, part, pond, brook)| Sketch {
            radii,
            part,
            pond,
            brook,
        })
}

impl Sketch {
    fn field(&self) -> Rings {
        let step = std::f64::consts::TAU / self.radii.len() as f64;
        let corner = |(nth, radius): (usize, &f64)| {
            let angle = nth as f64 * step;
            [radius * angle.cos(), radius * angle.sin()]
        };
        vec![self.radii.iter().enumerate().map(corner).collect()]
    }

    fn pond(&self) -> Rings {
        let [x, y] = self.pond;
        rectangle([x - 8.0, y - 5.0], [x + 8.0, y + 5.0])
    }

    fn zones(&self) -> [Rings; 2] {
        [
            vec![vec![
                [-120.0, -120.0],
                [self.part, -120.0],
                [-self.part, 120.0],
                [-120.0, 120.0],
            ]],
            vec![vec![
                [self.part, -120.0],
                [120.0, -120.0],
                [120.0, 120.0],
                [-self.part, 120.0],
            ]],
        ]
    }

    /// Writes the files; `change` may redraw every ring.
    fn write(&self, made: &Made, change: impl Fn(Rings) -> Rings) {
        let [a, b] = self.zones();
        let draw = |properties: &str, rings: Rings| feature(PLACE, properties, &change(rings));
        made.write("job.toml", job(LAND));
        made.write("boundary.geojson", collection(&[draw("", self.field())]));
        made.write("pond.geojson", collection(&[draw("", self.pond())]));
        let brook = [[self.brook, -150.0], [self.brook + 10.0, 150.0]];
        made.write("brook.geojson", collection(&[line(PLACE, &brook)]));
        let zones = [draw(r#""soil":"a""#, a), draw(r#""soil":"b""#, b)];
        made.write("soil.geojson", collection(&zones));
    }
}

/// Runs `check` on so many sketches, always the same ones; TWINSOW_CASES asks for more.
fn for_sketches(cases: u32, check: impl Fn(&Sketch, &Made)) {
    let asked = std::env::var("TWINSOW_CASES").ok();
    let cases = asked.and_then(|text| text.parse().ok()).unwrap_or(cases);
    let config = Config {
        cases,
        max_shrink_iters: 20,
        failure_persistence: None,
        ..Config::default()
    };
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let made = Made::new();
    TestRunner::new_with_rng(config, rng)
        .run(&sketches(), |sketch| {
            check(&sketch, &made);
            Ok(())
        })
        .unwrap_or_else(|error| panic!("{error}"));
}

fn planned(folder: &Path) -> Plan {
    plan_support::planned(folder).unwrap_or_else(|fault| panic!("{fault}"))
}

fn close(found: f64, wanted: f64, share: f64, what: &str) {
    let most = share * wanted.abs() + 1e-9;
    assert!(
        (found - wanted).abs() <= most,
        "{what}: {found}, not {wanted}"
    );
}

#[test]
fn nothing_is_lost_between_land_zones_cells_and_tally() {
    for_sketches(25, |sketch, made| {
        sketch.write(made, |rings| rings);
        let job = Job::load(&made.path().join("job.toml")).expect("a job");
        let prepared = plan_support::prepared(&job).unwrap_or_else(|fault| panic!("{fault}"));
        let plan = plan::rate(&prepared, &job, &Options::default())
            .unwrap_or_else(|fault| panic!("{fault}"));
        let of_land: f64 = prepared.land.land.iter().map(Shape::area_m2).sum();
        let of_rows: f64 = plan.rates.rows.iter().map(|row| row.area_m2).sum();
        let of_zones: f64 = plan.maps.rate.zones.iter().map(|zone| zone.area_m2).sum();
        let of_cells: f64 = plan.maps.rate.metric.covered_m2.iter().sum();
        // Rounding the layers onto the border moves it by less than a micrometre along some 500 m.
        assert!((of_rows - of_land).abs() < 5e-4, "{of_rows}, not {of_land}");
        close(of_zones, of_rows, 1e-12, "zones");
        close(of_cells, of_rows, 1e-9, "cells");
        // Polygons dissolved by row have the area of the row, in whole numbers.
        let units = &prepared.units;
        let mut of_shapes: BTreeMap<u32, i128> = BTreeMap::new();
        for (row, shape) in units.arrangement.dissolve(&units.row_of_face) {
            *of_shapes.entry(row).or_default() += shape.area2();
        }
        for (row, (_, area2)) in units.rows.iter().enumerate() {
            assert_eq!(of_shapes[&(row as u32)], *area2, "row {row}");
        }
        let grids = [plan.maps.rate.metric.kg(), plan.maps.rate.degrees.kg()];
        for (nth, product) in plan.tally.planned.products.iter().enumerate() {
            let of_zones = plan
                .maps
                .rate
                .zones
                .iter()
                .map(|zone| zone.area_m2 * zone.kg_per_ha[nth] / 1e4);
            close(
                of_zones.sum(),
                product.map_kg(),
                1e-9,
                "kilograms of the zones",
            );
            let stated = [product.metric_grid_kg, product.degrees_grid_kg];
            for (grid, stated) in grids.iter().zip(stated) {
                close(
                    grid[nth] - stated,
                    product.map_kg(),
                    1e-9,
                    "kilograms of a grid",
                );
            }
        }
    });
}

#[test]
fn rates_keep_their_limits_and_setbacks_and_water_stay_free() {
    for_sketches(25, |sketch, made| {
        sketch.write(made, |rings| rings);
        let job = Job::load(&made.path().join("job.toml")).expect("a job");
        let prepared = plan_support::prepared(&job).unwrap_or_else(|fault| panic!("{fault}"));
        let plan = plan::rate(&prepared, &job, &Options::default())
            .unwrap_or_else(|fault| panic!("{fault}"));
        for row in &plan.rates.rows {
            let [seed, starter] = [&row.rates[0], &row.rates[1]].map(|rate| rate.kg_per_ha);
            assert!((120.0..=185.0).contains(&seed), "{seed}");
            assert!(
                starter == 0.0 || (40.0..=120.0).contains(&starter),
                "{starter}"
            );
            let zero = row.facts.classes[0] == "b" || !row.facts.setbacks.is_empty();
            assert_eq!(starter == 0.0, zero, "a zero stays zero: {row:?}");
        }
        // Cell by cell, by a measure of its own: the distance from the brook and from the pond, in
        // the plane. 5 m, half of 6 m, 0.5 m and 3 m make the strip; 2 m the pond's buffer.
        let grid = &plan.maps.rate.metric;
        let place = |xy| {
            prepared
                .frame
                .to_plane(LonLat::of_pair(plan_support::degrees(PLACE, xy)))
                .pair()
        };
        let brook = [
            place([sketch.brook, -150.0]),
            place([sketch.brook + 10.0, 150.0]),
        ];
        let pond: Vec<[f64; 2]> = sketch.pond()[0].iter().map(|&xy| place(xy)).collect();
        for cell in 0..grid.covered_m2.len() {
            let [column, row] = [cell % grid.columns, cell / grid.columns].map(|v| v as f64);
            let low = [
                grid.origin[0] + column * grid.cell[0],
                grid.origin[1] + row * grid.cell[1],
            ];
            // A lattice of places in the cell stands for all of it.
            let places = (0..=6).flat_map(|a| (0..=6).map(move |b| [f64::from(a), f64::from(b)]));
            let places = places.map(|[a, b]| {
                [
                    low[0] + a / 6.0 * grid.cell[0],
                    low[1] + b / 6.0 * grid.cell[1],
                ]
            });
            let [mut to_brook, mut to_pond] = [f64::INFINITY; 2];
            for place in places {
                to_brook = to_brook.min(distance(&brook, place));
                to_pond = to_pond.min(distance(&pond, place));
            }
            let rates = grid.kg_per_ha.at(cell);
            if to_brook < 11.49 {
                let starter = rates.map_or(0.0, |rates| rates[1]);
                assert!(starter == 0.0, "{starter} at {to_brook} m of the brook");
            }
            if to_pond < 1.99 && grid.covered_m2[cell] == 0.0 {
                assert!(rates.is_none(), "a rim cell {to_pond} m from the pond");
            }
        }
    });
}

/// Distance of a place to a path, metres.
fn distance(path: &[[f64; 2]], [x, y]: [f64; 2]) -> f64 {
    let closed = path.iter().zip(path.iter().skip(1).chain(path.first()));
    closed.fold(f64::INFINITY, |best, ([ax, ay], [bx, by])| {
        let [dx, dy] = [bx - ax, by - ay];
        let along = (((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
        best.min((x - ax - along * dx).hypot(y - ay - along * dy))
    })
}

#[test]
fn where_rings_start_and_how_they_wind_changes_no_number_and_no_polygon() {
    for_sketches(12, |sketch, made| {
        sketch.write(made, |rings| rings);
        let plain = planned(made.path());
        sketch.write(made, |mut rings| {
            for ring in &mut rings {
                ring.rotate_left(3);
                ring.reverse();
            }
            rings
        });
        let turned = planned(made.path());
        assert_eq!(plain.maps.rate.zones, turned.maps.rate.zones);
        assert_eq!(plain.rates.rows, turned.rates.rows);
        assert_eq!(plain.tally.planned, turned.tally.planned);
        let bits = |plan: &Plan| -> Vec<u64> {
            let grids = [&plan.maps.rate.metric, &plan.maps.rate.degrees];
            let cells = grids.into_iter().flat_map(|grid| grid.kg_per_ha.cells());
            let rates = cells.flat_map(|rates| rates.unwrap_or(&[f64::NAN]));
            rates.map(|rate| rate.to_bits()).collect()
        };
        assert!(bits(&plain) == bits(&turned), "cells differ");
    });
}

#[test]
fn a_zone_split_into_features_is_the_same_land() {
    let whole = plain("");
    let before = planned(whole.path());
    let parts = [
        feature(
            PLACE,
            r#""soil":"a""#,
            &rectangle([-10.0, -10.0], [80.0, 60.0]),
        ),
        feature(
            PLACE,
            r#""soil":"a""#,
            &rectangle([-10.0, 60.0], [80.0, 160.0]),
        ),
        feature(
            PLACE,
            r#""soil":"b""#,
            &rectangle([80.0, -10.0], [210.0, 160.0]),
        ),
    ];
    whole.write("soil.geojson", collection(&parts));
    let after = planned(whole.path());
    for (before, after) in before.rates.rows.iter().zip(&after.rates.rows) {
        assert_eq!(before.facts, after.facts);
        // The corner added on a side that is straight in degrees moves it by less than 0.1 mm.
        close(after.area_m2, before.area_m2, 1e-8, "a row");
    }
    assert_eq!(before.rates.rows.len(), after.rates.rows.len());
}

#[test]
fn one_thread_and_two_write_the_same_bytes() {
    let made = Made::new();
    let sketch = Sketch {
        radii: vec![80.0, 60.0, 90.0, 50.0, 85.0, 70.0, 95.0, 60.0, 75.0],
        part: 20.0,
        pond: [10.0, 20.0],
        brook: -60.0,
    };
    sketch.write(&made, |rings| rings);
    for threads in ["1", "2"] {
        let output = Program { threads }.run(made.path());
        assert!(
            matches!(output.status.code(), Some(0 | 1)),
            "{}",
            said(&output)
        );
    }
    let [one, two] = ["with-1", "with-2"].map(|folder| files(&made.path().join(folder)));
    assert!(
        one.len() > 5 && one.keys().eq(two.keys()),
        "{:?}",
        one.keys()
    );
    for (name, bytes) in &one {
        assert!(two[name] == *bytes, "{name} differs");
    }
}

/// The program with a number of threads and a fixed time.
struct Program {
    threads: &'static str,
}

impl Program {
    fn run(&self, folder: &Path) -> std::process::Output {
        std::process::Command::new(env!("CARGO_BIN_EXE_twinsow"))
            .args(["plan", "job.toml", "--threads", self.threads])
            .args(["--out", &format!("with-{}", self.threads)])
            .env("SOURCE_DATE_EPOCH", "1800000000")
            .current_dir(folder)
            .output()
            .expect("the program starts")
    }
}

/// All files below a folder, by their path in it.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        if path.is_dir() {
            let below = files(&path).into_iter();
            found.extend(below.map(|(file, bytes)| (format!("{name}/{file}"), bytes)));
        } else {
            found.insert(name, fs::read(&path).expect("read"));
        }
    }
    found
}

#[test]
fn water_beside_the_field_keeps_the_rim_free() {
    let made =
        plain("[[exclusion]]\nname = \"pond\"\nsource = { file = \"pond.geojson\" }\nwater = true");
    // 1 m off the eastern side of the field, in the rim of 6 m.
    let pond = rectangle([201.0, 20.0], [230.0, 130.0]);
    made.write("pond.geojson", collection(&[feature(PLACE, "", &pond)]));
    let plan = planned(made.path());
    let grid = &plan.maps.rate.metric;
    let middle = plan
        .land
        .frame
        .to_plane(LonLat::of_pair(plan_support::degrees(PLACE, [204.0, 75.0])))
        .pair();
    let [column, row] =
        [0, 1].map(|axis| ((middle[axis] - grid.origin[axis]) / grid.cell[axis]).floor() as usize);
    let cell = row * grid.columns + column;
    assert_eq!(grid.covered_m2[cell], 0.0);
    assert_eq!(grid.kg_per_ha.at(cell), None);
}
