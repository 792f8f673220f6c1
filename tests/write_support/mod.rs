//! A small plan built by hand: three products, two layers, a field in two parts with a pond, a
//! setback, and texts that try the quoting of every format. Figures are plain to recompute.

use std::path::PathBuf;
use std::sync::Arc;
use twinsow::agronomy::{Rate, Reason, Rule};
use twinsow::coordinates::LonLat;
use twinsow::findings::{Finding, Place};
use twinsow::frame::Frame;
use twinsow::job::{Job, LandPart};
use twinsow::map::{CellRates, Grid, MapZone, RateMap, TerminalMap, TerminalZone};
use twinsow::plan::{
    Combination, Drive, Input, Maps, OnTerminal, Plan, PlannedLand, Rates, Tallied,
};
use twinsow::read::Polygon;
use twinsow::tally::{ProductTally, Step, StepName, Tally};
use twinsow::zones::Facts;

pub const TIMESTAMP: &str = "2026-03-14T09:30:00Z";

const JOB: &str = r#"
name = "Spring barley & starter on Otterbrook <east> 2026"

[field]
name = "Otterbrook"
farm = "Höfle & Söhne \"Nordhang\""
customer = ""
boundary = { file = "boundary.geojson" }

[[setback]]
name = "-brook"
source = { file = "brook.geojson" }
distance_m = 5.0
products = ["starter"]

[[special_area]]
name = "entrance"
source = { file = "entrance.geojson" }
percent = { barley = 115 }

[[layer]]
name = "soil type"
source = { file = "soil.geojson" }
class_attribute = "class"

[[layer]]
name = "soil typo"
source = { file = "phosphate.geojson" }
class_attribute = "band"

[drill]
working_width_m = 6.0

[[product]]
id = "barley"
name = "Spring barley \"Anouk\" <C1>"
kind = "seed"
hopper = "front"
lot = "=HYPERLINK(1)"
bulk_density_kg_per_l = 0.68
thousand_grain_weight_g = 47.5
pack_kg = 25.0
rate = { kg_per_ha = 180.0 }

[[product]]
id = "starter"
name = "NP 12-52"
kind = "fertiliser"
hopper = "rear"
rate = { kg_per_ha = 90.0 }

[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "barley"
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"

[[product]]
id = "Barley"
name = "Clover on top"
kind = "seed"
hopper = "top"
surface_applied = true
rate = { kg_per_ha = 4.0 }
"#;

/// Centre of the field.
pub const ORIGIN: LonLat = LonLat::new(8.25, 50.5);

fn square(west: f64, south: f64, width: f64, height: f64) -> Vec<LonLat> {
    let (east, north) = (west + width, south + height);
    [
        [west, south],
        [east, south],
        [east, north],
        [west, north],
        [west, south],
    ]
    .map(LonLat::of_pair)
    .to_vec()
}

fn polygon(exterior: Vec<LonLat>, holes: Vec<Vec<LonLat>>) -> Polygon<LonLat> {
    Polygon { exterior, holes }
}

/// Columns and rows of the metric grid: more than one tile each way, neither a multiple of one.
pub const METRIC: [usize; 2] = [300, 270];
pub const DEGREES: [usize; 2] = [7, 5];

/// A rate that differs from cell to cell, so that no reader can swap cells and get away with it.
pub fn metric_rate(product: usize, column: usize, row: usize) -> f64 {
    [120.0, 40.0, 2.0][product] + column as f64 * 0.25 + row as f64 * 0.001
}

/// As [`metric_rate`], for the other grid; two decimals survive, a third does not.
pub fn degrees_rate(product: usize, column: usize, row: usize) -> f64 {
    if product == 1 && row == 0 {
        return 0.0;
    }
    [150.0, 60.0, 3.0][product] + column as f64 * 1.25 + row as f64 * 0.104
}

fn grid(
    origin: [f64; 2],
    cell: [f64; 2],
    [columns, rows]: [usize; 2],
    rate: fn(usize, usize, usize) -> f64,
) -> Grid {
    let cells = || (0..rows).flat_map(move |row| (0..columns).map(move |column| (column, row)));
    // The west-most column lies outside; its south-west cell carries no rate, the others a rim.
    let covered = |(column, row): (usize, usize)| {
        if column == 0 {
            0.0
        } else {
            30.0 + row as f64 * 0.5
        }
    };
    let rates = |(column, row)| match (column, row) {
        (0, 0) => None,
        _ => Some([0, 1, 2].map(|product| rate(product, column, row))),
    };
    let rates: Vec<Option<[f64; 3]>> = cells().map(rates).collect();
    let rates = rates.iter().map(|rates| rates.as_ref().map(|of| &of[..]));
    Grid {
        origin,
        cell,
        columns,
        rows,
        covered_m2: Arc::new(cells().map(covered).collect()),
        kg_per_ha: CellRates::of_cells(3, rates),
    }
}

fn rate(kg_per_ha: f64) -> Rate {
    let reason = Reason {
        rule: Rule::RateDirect,
        text: format!("The job asks for {kg_per_ha} kg/ha."),
        inputs: vec![("rate kg/ha".to_string(), kg_per_ha)],
        kg_per_ha,
        source: None,
    };
    Rate {
        kg_per_ha,
        reasons: vec![reason],
        seed_safe: Vec::new(),
        balance: None,
        lot: None,
        stand: None,
        share: None,
        asked: None,
    }
}

fn combination(part: LandPart, classes: [&str; 2], area_m2: f64, rates: [f64; 3]) -> Combination {
    let headland = part == LandPart::Headland;
    let facts = Facts {
        part,
        classes: classes.map(str::to_string).to_vec(),
        special_areas: if headland { vec![0] } else { vec![] },
        setbacks: if headland { vec![0] } else { vec![] },
    };
    Combination {
        facts,
        area_m2,
        rates: rates.map(rate).to_vec(),
    }
}

fn zones(west: f64, south: f64) -> Vec<MapZone> {
    let zone = |id, part, rates: [f64; 3], area_m2, combinations, polygons| MapZone {
        id,
        part,
        kg_per_ha: rates.to_vec(),
        area_m2,
        combinations,
        polygons: Arc::new(polygons),
    };
    // Clockwise on purpose, and not closed: each format winds and closes rings its own way.
    let mut clockwise = square(west, south + 0.004, 0.004, 0.002);
    clockwise.reverse();
    clockwise.pop();
    let pond = square(west + 0.001, south + 0.001, 0.0005, 0.0005);
    vec![
        zone(
            1,
            LandPart::Interior,
            [180.0, 90.0, 4.0],
            113_000.0,
            vec![1, 2],
            vec![
                polygon(square(west, south, 0.004, 0.004), vec![pond]),
                polygon(square(west + 0.006, south, 0.002, 0.002), vec![]),
            ],
        ),
        zone(
            2,
            LandPart::Headland,
            [198.5, 0.0, 4.0],
            62_000.0,
            vec![3],
            vec![polygon(clockwise, vec![])],
        ),
    ]
}

/// The polygons as they are, for all products and for each.
fn terminal(zones: &[MapZone]) -> Vec<TerminalMap> {
    [vec![0, 1, 2], vec![0], vec![1], vec![2]]
        .into_iter()
        .map(|products| TerminalMap {
            zones: zones
                .iter()
                .map(|zone| TerminalZone {
                    kg_per_ha: products.iter().map(|&at| zone.kg_per_ha[at]).collect(),
                    area_before_m2: zone.area_m2,
                    area_m2: zone.area_m2,
                    polygons: zone.polygons.to_vec(),
                })
                .collect(),
            products,
            points_before: 20,
            points: 20,
        })
        .collect()
}

fn tally(products: [(&str, &str, f64); 3]) -> Tally {
    let product = |(id, name, kg): (&str, &str, f64)| ProductTally {
        id: id.to_string(),
        name: name.to_string(),
        lot: (id == "barley").then(|| "=HYPERLINK(1)".to_string()),
        sown_m2: 175_000.0,
        lowest_kg_per_ha: 0.0,
        highest_kg_per_ha: 198.5,
        flat_kg_per_ha: 186.55,
        steps: vec![
            Step {
                step: StepName::Map,
                text: "Map total".to_string(),
                kg,
            },
            Step {
                step: StepName::Reserve,
                text: "Reserve 3 %".to_string(),
                kg: kg * 0.03,
            },
        ],
        as_driven_kg: kg,
        order_kg: kg * 1.03,
        packs: (id == "barley").then_some(135),
        one_pack_less: None,
        hopper: "front".to_string(),
        fills: None,
        kg_per_fill: None,
        ha_per_fill: None,
        metric_grid_kg: 0.0,
        degrees_grid_kg: 0.0,
        seeds: None,
        lots: Vec::new(),
    };
    Tally {
        mapped_m2: 175_000.0,
        boundary_m2: 177_000.0,
        excluded_m2: 2_000.0,
        parts_m2: vec![
            (LandPart::Headland, 62_000.0),
            (LandPart::Interior, 113_000.0),
        ],
        products: products.map(product).to_vec(),
        balances: Vec::new(),
    }
}

/// The plan.
pub fn plan() -> Plan {
    let job: Job = toml::from_str(JOB).unwrap();
    let job = Job {
        folder: PathBuf::from("farm"),
        file: PathBuf::from("farm/job.toml"),
        ..job
    };
    let (west, south) = (ORIGIN.lon - 0.004, ORIGIN.lat - 0.003);
    let first = combination(
        LandPart::Interior,
        ["Lehm ü", "low"],
        63_000.0,
        [180.0, 90.0, 4.0],
    );
    let second = combination(
        LandPart::Interior,
        ["sand", "low"],
        50_000.0,
        [180.0, 90.0, 4.0],
    );
    let third = combination(
        LandPart::Headland,
        ["sand", "+high"],
        62_000.0,
        [198.5, 0.0, 4.0],
    );
    Plan {
        id: "a1b2c3".to_string(),
        other_seedbed: None,
        job,
        inputs: vec![Input {
            role: "boundary".to_string(),
            file: "boundary.geojson".to_string(),
            sha256: "00".repeat(32),
            crs: "OGC:CRS84".to_string(),
            accuracy_m: None,
        }],
        land: PlannedLand {
            frame: Frame::about(ORIGIN.lon, ORIGIN.lat),
            boundary: vec![
                polygon(square(west, south, 0.004, 0.006), vec![]),
                polygon(square(west + 0.006, south, 0.002, 0.002), vec![]),
            ],
            exclusions: vec![
                polygon(square(west + 0.001, south + 0.001, 0.0005, 0.0005), vec![]),
                polygon(square(west + 0.0039, south + 0.003, 0.0005, 0.0005), vec![]),
            ],
            guide: None,
            on_terminal: OnTerminal::default(),
        },
        rates: Rates {
            rows: vec![first, second, third],
            default_kg_per_ha: vec![186.5, 88.0, 4.0],
            position_lost_kg_per_ha: vec![186.5, 0.0, 4.0],
            out_of_field_kg_per_ha: vec![0.0, 0.0, 0.0],
        },
        maps: Maps {
            rate: RateMap {
                zones: zones(west, south),
                metric: grid([-742.5, -668.0], [5.0, 4.0], METRIC, metric_rate),
                degrees: grid(
                    [8.245987654, 50.497123456],
                    [0.001234567891234, 0.000987654321],
                    DEGREES,
                    degrees_rate,
                ),
                terminal: terminal(&zones(west, south)),
                turned: None,
            },
            balance: None,
            drawing: Default::default(),
            known_gate: Default::default(),
        },
        drive: Drive::default(),
        tally: Tallied {
            planned: tally([
                ("barley", "Spring barley \"Anouk\" <C1>", 3_264.7),
                ("starter", "NP 12-52", 1_017.0),
                ("Barley", "Clover on top", 70.0),
            ]),
            later: None,
        },
        trials: Vec::new(),
        findings: vec![Finding::note(
            "zones.gap_filled",
            Place::file("soil.geojson").at(ORIGIN),
            "A gap of 12 m2 took the class of its neighbour.",
        )],
        spreaders: Vec::new(),
        spreader_of: None,
        of_drill: Vec::new(),
    }
}
