//! A map cut to the bouts: whole plans of made fields. Method: docs/methods/cut-map.md.

mod cut_support;
mod plan_support;

use cut_support::{drive, exact, field, field_of, seeded};
use plan_support::{Made, PLACE, collection, feature, job, line, plain, planned, said};
use twinsow::agronomy::Rule;
use twinsow::coordinates::LonLat;
use twinsow::drive::as_driven::DrivenProduct;
use twinsow::drive::cut_map::ProductReport;
use twinsow::job::{Job, LandPart};
use twinsow::plan::Plan;

fn plan(made: &Made) -> Plan {
    planned(made.path()).unwrap_or_else(|fault| panic!("{fault}"))
}

fn changes(plan: &Plan) -> &[ProductReport] {
    &plan.drive.cut_map.as_ref().expect("a cut map").products
}

fn driven<'a>(plan: &'a Plan, id: &str) -> &'a DrivenProduct {
    let driven = plan.drive.as_driven.as_ref().expect("driven");
    driven.products.iter().find(|of| of.id == id).expect(id)
}

fn near_percent(plan: &Plan, id: &str) -> f64 {
    let within = driven(plan, id).within.iter().find(|of| of.percent == 5.0);
    within.expect("5 %").share_percent
}

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b}");
}

/// The second worked example of the page. Strips of 6 m from the eastern side: one lies from 80 to 86 m, of which 2 m
/// are zone a (150 and 100 kg/ha) and 4 m zone b (185 and 0).
#[test]
fn a_border_along_the_bouts_moves_to_their_rim() {
    let cut = plan(&field(82.0, &drive(0.0, "")));
    let [seed, starter] = changes(&cut) else {
        panic!("two products")
    };
    // The mean is 173.3 kg/ha, and 185 is nearer than 150: 300 m2 get 35 kg/ha more.
    near(seed.gained_kg, 300.0 * 35.0 / 10_000.0, 0.01);
    near(seed.lost_kg, 0.0, 0.005);
    // The piece touches land where there is no starter: 300 m2 lose 100 kg/ha.
    near(starter.lost_kg, 300.0 * 100.0 / 10_000.0, 0.03);
    near(starter.gained_kg, 0.0, 1e-9);
    near(seed.cut_kg, seed.wanted_kg + 1.05, 0.01);
    // The plan goes by it: totals, rates with their reasons.
    near(cut.tally.planned.products[1].map_kg(), starter.cut_kg, 1e-6);
    let told = cut.rates.rows.iter().flat_map(|row| &row.rates);
    let told = told.filter(|rate| rate.reasons.iter().any(|of| of.rule == Rule::DrillPiece));
    assert_eq!(told.count(), 2);
    let area: f64 = cut.maps.rate.zones.iter().map(|zone| zone.area_m2).sum();
    near(
        area,
        cut.rates.rows.iter().map(|row| row.area_m2).sum(),
        1e-6,
    );
}

/// Borders square to the bouts, nothing to lose: what the drill lays is the map.
#[test]
fn without_delays_the_drill_lays_the_cut_map() {
    for (heading, border) in [(90.0, 83.3), (0.0, 82.0)] {
        // Whole strips of 6 m both ways, so that the middle of the drill is over the field.
        let cut = plan(&field_of([198.0, 150.0], border, &drive(heading, "")));
        for id in ["seed", "starter"] {
            assert!(near_percent(&cut, id) > 99.999, "{heading} {id}");
            near(driven(&cut, id).following_kg, 0.0, 0.01);
        }
    }
    // 3 s at 10 km/h are 8.33 m, twice on each bout: from the rate for outside the field where it begins, and at its cut.
    let middle = drive(90.0, "");
    let made = field(83.3, &middle);
    let late = job(&middle)
        .replace(
            "working_width_m = 6.0",
            "working_width_m = 6.0\nspeed_km_per_h = 10.0",
        )
        .replace(
            "usable_l = 1900.0",
            "usable_l = 1900.0\ndelays = { step_up_s = 3.0, step_down_s = 3.0 }",
        );
    made.write("job.toml", late);
    let late = plan(&made);
    near(
        late.drive.cut_map.as_ref().expect("cut").least_m,
        30.0 / 3.6,
        1e-9,
    );
    let share = 100.0 - near_percent(&late, "seed");
    near(share, 2.0 * 30.0 / 3.6 / 200.0 * 100.0, 0.05);
}

/// A strip of 3 m of other land across the bouts: a piece of 6 m has to cover it or leave it.
#[test]
fn a_zone_shorter_than_a_piece_does_not_make_a_short_piece() {
    let made = field(80.0, &drive(90.0, "shortest_piece_m = 12.0\n"));
    let zones = [
        ("a", [-10.0, -10.0], [80.0, 160.0]),
        ("b", [80.0, -10.0], [83.0, 160.0]),
        ("a", [83.0, -10.0], [210.0, 160.0]),
    ];
    let zones = zones.map(|(class, from, to)| {
        feature(PLACE, &format!("\"soil\":\"{class}\""), &exact(from, to))
    });
    made.write("soil.geojson", collection(&zones));
    let cut = plan(&made);
    let report = cut.drive.cut_map.as_ref().expect("cut");
    assert_eq!((report.least_m, report.shorter), (12.0, 0));
    // Seed: 12 m with 3 m of b have a mean of 158.75, nearest to 150. Starter: none on 3 m, so none on 12 m.
    let [seed, starter] = changes(&cut) else {
        panic!("two products")
    };
    near(seed.lost_kg, 3.0 * 150.0 * 35.0 / 10_000.0, 0.01);
    near(starter.lost_kg, 9.0 * 150.0 * 100.0 / 10_000.0, 0.03);
}

#[test]
fn headland_and_interior_lie_in_no_zone_together_and_nothing_is_sown_where_it_is_off() {
    let water = "[[setback]]\nname = \"brook\"\nsource = { file = \"brook.geojson\" }\ndistance_m = 10.0\nproducts = [\"starter\"]\n";
    let made = field(
        70.0,
        &format!("[headland]\nbouts = 2\n{}{water}", drive(30.0, "")),
    );
    made.write(
        "brook.geojson",
        collection(&[line(PLACE, &[[20.0, -20.0], [60.0, 170.0]])]),
    );
    let cut = plan(&made);
    let parts: f64 = [LandPart::Headland, LandPart::Interior]
        .iter()
        .flat_map(|part| {
            cut.maps
                .rate
                .zones
                .iter()
                .filter(move |zone| zone.part == *part)
        })
        .map(|zone| zone.area_m2)
        .sum();
    let rows: f64 = cut.rates.rows.iter().map(|row| row.area_m2).sum();
    near(parts, rows, 1e-6);
    for row in cut
        .rates
        .rows
        .iter()
        .filter(|row| !row.facts.setbacks.is_empty())
    {
        assert_eq!(row.rates[1].kg_per_ha, 0.0);
    }
    // Zone b has no starter: none was put there by a piece.
    for row in cut
        .rates
        .rows
        .iter()
        .filter(|row| row.facts.classes == ["b"])
    {
        assert_eq!(row.rates[1].kg_per_ha, 0.0);
    }
    assert_eq!(changes(&cut)[1].gained_kg, 0.0);
    assert!(cut.drive.cut_map.as_ref().expect("cut").undriven_m2 < 1.0);
}

/// Water along the north, the starter off within 8 m of it (1.5 m, half the width, position error and run-on). The outer part of each ring reaches around the corners into that strip; no more
/// than a least piece beside each corner is shut for it, and not the ring's whole side.
#[test]
fn around_a_corner_of_a_ring_no_long_piece_is_shut() {
    let setback = "[headland]\nbouts = 2\n[[setback]]\nname = \"brook\"\nsource = { file = \"brook.geojson\" }\ndistance_m = 1.5\nmeasured_from = \"edge_of_water\"\nproducts = [\"starter\"]\n";
    let made = field(210.0, &format!("{setback}{}", drive(90.0, "")));
    let north = line(PLACE, &[[-50.0, 150.0], [250.0, 150.0]]);
    made.write("brook.geojson", collection(&[north]));
    let cut = plan(&made);
    let shut = |row: &&twinsow::plan::Combination| {
        let starter = &row.rates[1];
        let by_piece = starter.reasons.iter().any(|of| of.rule == Rule::DrillPiece);
        by_piece && starter.kg_per_ha == 0.0
    };
    let rows = cut.rates.rows.iter();
    let shut_m2: f64 = rows.filter(shut).map(|row| row.area_m2).sum();
    // Ring 2 lies from 6 to 12 m from the border: 4 m of it beyond the strip, 200 m long. Beside that two corners of
    // two rings, at most two least pieces of 6 m x 6 m at each.
    let along_the_strip = 4.0 * 200.0;
    assert!(shut_m2 > 0.8 * along_the_strip, "{shut_m2}");
    assert!(shut_m2 < along_the_strip + 8.0 * 36.0, "{shut_m2}");
}

/// Fields of four corners with three slanting zones: what is driven is never farther from the map than without cuts.
#[test]
fn what_is_driven_is_nearer_to_the_cut_map_than_to_the_free_one() {
    let mut state = 77_u64;
    let mut random = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1_u32 << 31)
    };
    for nth in 0..12 {
        let middle = drive((180.0 * random()).round(), "");
        let corner = |x: f64, y: f64, random: &mut dyn FnMut() -> f64| {
            [x + 50.0 * random(), y + 40.0 * random()]
        };
        let ring = vec![
            corner(0.0, 0.0, &mut random),
            corner(150.0, 0.0, &mut random),
            corner(150.0, 110.0, &mut random),
            corner(0.0, 110.0, &mut random),
        ];
        let (low, high) = (40.0 + 40.0 * random(), 100.0 + 40.0 * random());
        let slant = 60.0 * random() - 30.0;
        let zone = |class: &str, west: f64, east: f64| {
            let ring = vec![
                [west - slant, -60.0],
                [east - slant, -60.0],
                [east + slant, 220.0],
                [west + slant, 220.0],
            ];
            feature(PLACE, &format!("\"soil\":\"{class}\""), &vec![ring])
        };
        let run = |middle: &str| {
            let made = plain(middle);
            let boundary = feature(PLACE, r#""name":"made""#, &vec![ring.clone()]);
            made.write("boundary.geojson", collection(&[boundary]));
            let zones = [
                zone("a", -200.0, low),
                zone("b", low, high),
                zone("a", high, 500.0),
            ];
            made.write("soil.geojson", collection(&zones));
            plan(&made)
        };
        let cut = run(&middle);
        let free = run(&middle.replace("cut_to_bouts = true\n", ""));
        for (id, of) in ["seed", "starter"].into_iter().zip(changes(&cut)) {
            let [by_cut, by_free] = [&cut, &free].map(|plan| near_percent(plan, id));
            assert!(by_cut >= by_free - 1e-6, "{nth} {id}: {by_cut} {by_free}");
            // What it is compared with is the plan without cuts.
            near(of.free_driven_within_5_percent, by_free, 1e-6);
            near(of.wanted_kg, driven(&free, id).map_kg, 1e-6);
            near(of.cut_kg, driven(&cut, id).map_kg, 1e-6);
        }
    }
}

/// How many of the fields by number: 6, or as many as this says. `TWINSOW_CUT_FIELDS=500 cargo test --locked --test cut_map seeded -- --nocapture` prints
/// what each of them gives.
const HOW_MANY: &str = "TWINSOW_CUT_FIELDS";

/// By how many percent of the land what is driven may be farther off by the cut map than by the free one: against its own map, where changes of rate
/// take effect late (never where they do not), and against the wanted rates.
const LATE_PERCENT: f64 = 10.0;
const WANTED_PERCENT: f64 = 10.0;

/// What the drill lays by the cut map is no farther from it than what it lays by the free map is from that, but for delays. Against the wanted rates it
/// is, for the reasons on the page; where all land has the product, by no more than is bounded here.
#[test]
fn seeded_fields_are_driven_nearer_to_their_map() {
    let count: u64 = std::env::var(HOW_MANY).map_or(6, |text| text.parse().expect("a count"));
    let mut broken = Vec::new();
    for seed in 0..count {
        let cut = plan(&seeded(seed));
        for of in changes(&cut) {
            let free = of.free_driven_within_5_percent;
            let of_map = of.cut_driven_within_5_percent_of_map - free;
            let of_wanted = of.cut_driven_within_5_percent - free;
            let row = format!("{seed} {} {free:.4} {of_wanted:.4} {of_map:.4}", of.id);
            println!("ROW {row}");
            let late = if seed.is_multiple_of(2) {
                LATE_PERCENT
            } else {
                1e-6
            };
            // A piece that touches land without a product has none of it: of a product of which much land has none, nearly all may go.
            let has_none = seed.is_multiple_of(3) && of.id == "starter";
            if of_map < -late || (!has_none && of_wanted < -WANTED_PERCENT) {
                broken.push(row);
            }
        }
    }
    assert!(broken.is_empty(), "{broken:#?}");
}

/// By an arc, with a drill wider than the field, with one section and with unequal ones.
#[test]
fn it_works_along_a_curve_and_where_the_field_is_narrower_than_the_drill() {
    let made = field(
        82.0,
        &drive(0.0, "").replace("heading_deg = 0\n", "along = { file = \"arc.geojson\" }\n"),
    );
    let arc: Vec<[f64; 2]> = (0..=10)
        .map(|nth| {
            let y = 15.0 * f64::from(nth);
            [90.0 + (y - 75.0).powi(2) / 400.0, y]
        })
        .collect();
    made.write("arc.geojson", collection(&[line(PLACE, &arc)]));
    let curved = plan(&made);
    assert!(
        curved
            .drive
            .report
            .as_ref()
            .is_some_and(|of| of.along_curve)
    );
    assert!(changes(&curved)[1].lost_kg > 0.0);
    assert!(curved.maps.rate.turned.is_none());
    assert!(no_turned_grid(&curved).contains("curve"));
    let middle = drive(90.0, "");
    let made = field_of([200.0, 40.0], 82.0, &middle);
    made.write(
        "job.toml",
        job(&middle).replace(
            "working_width_m = 6.0",
            "working_width_m = 60.0\nsections_m = [20.0, 25.0, 15.0]",
        ),
    );
    let wide = plan(&made);
    let report = wide.drive.cut_map.as_ref().expect("cut");
    // One bout, cut where the zones meet.
    assert_eq!((report.pieces, report.least_m), (2, 60.0));
    // A third of the width across, for three sections, and no more than cell_m, which is the width here.
    let turned = wide.maps.rate.turned.as_ref().expect("a turned grid");
    assert_eq!(turned.grid.cell, [20.0, 60.0]);
    // Headland rings alone have no heading.
    let middle = format!("[headland]\nbouts = 20\n{}", drive(90.0, ""));
    let rings = plan(&field_of([100.0, 80.0], 42.0, &middle));
    assert!(no_turned_grid(&rings).contains("interior"));
    // More pixels than are allowed: the other grids have larger cells than a section is wide.
    let made = field(82.0, &drive(90.0, ""));
    let many = job(&drive(90.0, "")).replace("[[layer]]", "[grid]\nmost_cells = 2000\n[[layer]]");
    let many = many.replace(
        "working_width_m = 6.0",
        "working_width_m = 6.0\nsections_m = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0]",
    );
    made.write("job.toml", many);
    assert!(no_turned_grid(&plan(&made)).contains("most_cells"));
}

/// Why a plan has no grid along its bouts.
fn no_turned_grid(plan: &Plan) -> String {
    let mut findings = plan.findings.iter();
    let found = findings.find(|finding| finding.code == "drive.no_turned_grid");
    assert!(plan.maps.rate.turned.is_none());
    found.expect("a finding").message.clone()
}

/// A grid that is really turned is read back as it is written, and refused as a layer of zones.
#[test]
fn a_turned_grid_is_audited_and_no_layer() {
    let made = field(82.0, &drive(30.0, ""));
    let out = made.run(&["plan", "job.toml", "--only", "geotiff"]);
    assert!(matches!(out.status.code(), Some(0 | 1)), "{}", said(&out));
    let file = "job-plan/gis/rates-turned.tif";
    let audit = made.run(&["audit", file, "--plan", "job-plan/plan.json", "--json"]);
    assert!(audit.status.success(), "{}", said(&audit));
    let read: serde_json::Value = serde_json::from_slice(&audit.stdout).expect("JSON");
    let heading = read["files"][0]["grid"]["heading_deg"].as_f64();
    near(heading.expect("a heading"), 30.0, 1e-9);
    let described = made.run(&["describe", file]);
    assert_eq!(described.status.code(), Some(2), "{}", said(&described));
    assert!(said(&described).contains("rotated"), "{}", said(&described));
}

/// The grid along the bouts: all land in it, and away from the border of the zones just their rates, wherever it is turned to. Its columns lie
/// within the bouts, so along a straight border that the bouts follow no pixel is mixed.
#[test]
fn the_grid_along_the_bouts_lies_where_they_run() {
    for heading in [0.0, 30.0, 90.0, 217.0] {
        let cut = plan(&field_of([198.0, 150.0], 82.0, &drive(heading, "")));
        let turned = cut.maps.rate.turned.as_ref().expect("a turned grid");
        let grid = &turned.grid;
        assert_eq!((turned.heading_deg, grid.cell), (heading, [6.0, 6.0]));
        let land_m2: f64 = cut.rates.rows.iter().map(|row| row.area_m2).sum();
        near(grid.covered_m2.iter().sum(), land_m2, 1e-6);
        let map_kg: Vec<f64> = cut
            .tally
            .planned
            .products
            .iter()
            .map(|of| of.map_kg())
            .collect();
        for (kg, map_kg) in grid.kg().iter().zip(&map_kg) {
            near(
                *kg,
                *map_kg,
                if heading == 0.0 { 1e-3 } else { 0.02 * map_kg },
            );
        }
        let [lon, lat] = plan_support::degrees(PLACE, exact([82.0, 75.0], [0.0, 0.0])[0][0]);
        let border = cut.land.frame.to_plane(LonLat { lon, lat }).pair();
        let (sine, cosine) = heading.to_radians().sin_cos();
        let mut looked = [0, 0];
        for (nth, m2) in grid
            .covered_m2
            .iter()
            .enumerate()
            .filter(|(_, m2)| **m2 > 0.0)
        {
            let right = (nth % grid.columns) as f64 * 6.0 + 3.0;
            let along = (nth / grid.columns) as f64 * 6.0 + 3.0;
            let x = grid.origin[0] + right * cosine + along * sine;
            let y = grid.origin[1] - right * sine + along * cosine;
            assert!(
                m2 <= &36.000_001 && x.abs() < 105.0 && y.abs() < 81.0,
                "{x} {y} {m2}"
            );
            let east = x - border[0];
            if east.abs() > 15.0 {
                let set = grid.kg_per_ha.numbers()[nth] as usize;
                let wanted = if east < 0.0 {
                    [150.0, 100.0]
                } else {
                    [185.0, 0.0]
                };
                assert_eq!(grid.kg_per_ha.sets()[set], wanted, "{heading} {x} {y}");
                looked[usize::from(east > 0.0)] += 1;
            }
        }
        assert!(looked[0] > 250 && looked[1] > 350, "{looked:?}");
    }
}

#[test]
fn what_it_does_not_go_with_is_refused_with_the_reason() {
    let refused = |text: &str, words: &str| {
        let made = Made::new();
        let path = made.write("job.toml", text);
        let fault = Job::load(&path).expect_err(words).to_string();
        assert!(fault.contains(words), "{fault}");
    };
    let free = drive(90.0, "shortest_piece_m = 5.0\n").replace("cut_to_bouts = true\n", "");
    refused(&job(&free), "the map is not cut into pieces");
    refused(
        &job(&drive(90.0, "shortest_piece_m = 0.5\n")),
        "shortest_piece_m",
    );
    let second = "[[product]]\nid = \"potash\"\nname = \"potash\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nrate = { kg_per_ha = 30.0 }\n";
    refused(
        &format!("{}{second}", job(&drive(90.0, ""))),
        "two fertilisers lie beside the seed",
    );
}

/// The files say the same, read back by the audit; `explain` names the rule.
#[test]
fn files_and_explain_go_by_it() {
    let made = field(82.0, &drive(0.0, ""));
    let out = made.run(&["plan", "job.toml"]);
    assert!(
        out.status.success() || out.status.code() == Some(1),
        "{}",
        said(&out)
    );
    let audit = made.run(&["audit", "job-plan", "--plan", "job-plan/plan.json"]);
    assert!(audit.status.success(), "{}", said(&audit));
    let read = String::from_utf8_lossy(&audit.stdout).into_owned();
    assert!(read.contains("rates-turned.tif"), "{read}");
    // Without GeoTIFF it is not there.
    let few = made.run(&["plan", "job.toml", "--only", "geojson", "--out", "few"]);
    assert_eq!(few.status.code(), out.status.code(), "{}", said(&few));
    assert!(!made.path().join("few/gis/rates-turned.tif").exists());
    // The report has the free map, the cut one and what is driven by either, with a picture of each product; the order goes by the cut one.
    let text =
        |name: &str| std::fs::read_to_string(made.path().join("job-plan").join(name)).expect(name);
    let report = text("report.html");
    for shown in [
        "Cut map",
        "As driven by the cut map",
        "<svg class=\"cut\"",
        "than is wanted",
    ] {
        assert!(report.contains(shown), "{shown}");
    }
    let json: serde_json::Value = serde_json::from_str(&text("plan.json")).expect("JSON");
    let products = json["cut_map"]["products"].as_array().expect("products");
    for (of, tally) in products
        .iter()
        .zip(json["tally"]["products"].as_array().expect("products"))
    {
        near(
            tally["steps"][0]["kg"].as_f64().expect("kg"),
            of["cut_kg"].as_f64().expect("kg"),
            1e-6,
        );
    }
    assert!(
        json["gate_check"]
            .as_array()
            .is_some_and(|places| !places.is_empty())
    );
    // 83 m from the west: land of zone b, in the piece that lost its starter; 81 m: land of zone a there.
    let [lon, lat] = plan_support::degrees(PLACE, [81.0, 75.0]);
    let out = made.run(&["explain", "job.toml", "--at", &format!("{lon},{lat}")]);
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(text.contains("185 kg/ha instead of 150 kg/ha"), "{text}");
    assert!(text.contains("0 kg/ha instead of 100 kg/ha"), "{text}");
}
