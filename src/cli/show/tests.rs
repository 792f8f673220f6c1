//! A small plan on the screen and as JSON: the same numbers.

use crate::agronomy::Rate;
use crate::cli::Exit;
use crate::cli::summary::Summary;
use crate::findings::{Decision, Finding, Place};
use crate::frame::Frame;
use crate::job::{Job, LandPart};
use crate::map::{CellRates, Grid, RateMap};
use crate::plan::{Combination, Drive, Maps, OnTerminal, Plan, PlannedLand, Rates, Tallied};
use crate::tally::{ProductTally, Step, StepName, Tally};
use crate::write::Written;
use crate::zones::Facts;
use std::path::{Path, PathBuf};

const JOB: &str = r#"
name = "Plan of tests"
field = { name = "Square", farm = "Test Farm", boundary = { file = "b.geojson" } }
setback = [{ name = "ditch", source = { file = "d.geojson" }, distance_m = 5, products = ["starter"] }]
layer = [{ name = "soil", source = { file = "s.geojson" }, class_attribute = "soil" }]
drill = { working_width_m = 6, hopper = [{ name = "front", usable_l = 1900 }, { name = "rear", usable_l = 1300 }] }
[[product]]
id = "barley"
name = "spring barley"
kind = "seed"
hopper = "front"
rate = { kg_per_ha = 160 }
[[product]]
id = "starter"
name = "granular starter"
kind = "fertiliser"
hopper = "rear"
rate = { kg_per_ha = 100 }
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000
crop = "barley"
row_spacing_m = 2
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#;

fn product(id: &str, kg: f64, packs: Option<u64>) -> ProductTally {
    let step = |step: StepName, text: &str, kg| Step {
        step,
        text: text.to_owned(),
        kg,
    };
    ProductTally {
        id: id.to_owned(),
        name: format!("product {id}"),
        lot: Some("L-7".to_owned()),
        sown_m2: 120_000.0,
        lowest_kg_per_ha: 0.0,
        highest_kg_per_ha: 162.5,
        flat_kg_per_ha: 151.25,
        steps: vec![
            step(StepName::Map, "map total", kg),
            step(StepName::Reserve, "reserve of 3 %", kg * 0.03),
        ],
        as_driven_kg: kg,
        order_kg: kg * 1.03,
        packs,
        one_pack_less: None,
        hopper: "front".to_owned(),
        fills: Some(1.5),
        kg_per_fill: Some(1292.0),
        ha_per_fill: Some(8.1),
        metric_grid_kg: 0.84,
        degrees_grid_kg: -1.26,
        seeds: None,
        lots: Vec::new(),
    }
}

fn plan() -> Plan {
    let facts = |part, soil: &str, setbacks: Vec<usize>| Facts {
        part,
        classes: vec![soil.to_owned()],
        special_areas: Vec::new(),
        setbacks,
    };
    let rate = |kg_per_ha| Rate {
        kg_per_ha,
        reasons: Vec::new(),
        seed_safe: Vec::new(),
        balance: None,
        lot: None,
        stand: None,
        share: None,
        asked: None,
    };
    let row = |facts, area_m2, rates: [f64; 2]| Combination {
        facts,
        area_m2,
        rates: rates.into_iter().map(rate).collect(),
    };
    let grid = Grid {
        origin: [0.0; 2],
        cell: [6.0; 2],
        columns: 0,
        rows: 0,
        covered_m2: Vec::new().into(),
        kg_per_ha: CellRates::of_cells(0, std::iter::empty()),
    };
    Plan {
        id: "a1b2c3".to_owned(),
        other_seedbed: None,
        job: Job::parse(JOB, Path::new("job.toml"))
            .map_err(|fault| fault.to_string())
            .expect("a job"),
        inputs: Vec::new(),
        land: PlannedLand {
            frame: Frame::centred_on(&[crate::coordinates::LonLat::new(2.5, 54.8)])
                .map_err(|fault| fault.to_string())
                .expect("a plane"),
            boundary: Vec::new(),
            exclusions: Vec::new(),
            guide: None,
            on_terminal: OnTerminal::default(),
        },
        rates: Rates {
            rows: vec![
                row(
                    facts(LandPart::Headland, "sand", vec![0]),
                    20_000.0,
                    [162.5, 0.0],
                ),
                row(
                    facts(LandPart::Interior, "loam", vec![]),
                    100_000.0,
                    [149.0, 100.0],
                ),
            ],
            default_kg_per_ha: vec![151.25, 100.0],
            position_lost_kg_per_ha: vec![151.25, 0.0],
            out_of_field_kg_per_ha: vec![151.25, 0.0],
        },
        maps: Maps {
            rate: RateMap {
                zones: Vec::new(),
                metric: grid.clone(),
                degrees: grid,
                terminal: Vec::new(),
                turned: None,
            },
            balance: None,
            drawing: Default::default(),
            known_gate: Default::default(),
        },
        drive: Drive::default(),
        tally: Tallied {
            planned: Tally {
                mapped_m2: 120_000.0,
                boundary_m2: 121_000.0,
                excluded_m2: 1_000.0,
                parts_m2: vec![
                    (LandPart::Headland, 20_000.0),
                    (LandPart::Interior, 100_000.0),
                ],
                products: vec![
                    product("barley", 1815.0, Some(4)),
                    product("starter", 1000.0, None),
                ],
                balances: Vec::new(),
            },
            later: None,
        },
        trials: Vec::new(),
        findings: vec![
            Finding::note(
                "zones.gap_filled",
                Place::file("s.geojson"),
                "A gap was filled.",
            )
            .area(80.0),
            Finding::decision(
                Decision::GapsLarge,
                Place::file("s.geojson"),
                "A large gap was filled.",
            ),
        ],
        spreaders: Vec::new(),
        spreader_of: None,
        of_drill: Vec::new(),
    }
}

fn written() -> Vec<Written> {
    let file = |path: &str, what: &str| Written {
        path: PathBuf::from(path),
        bytes: 1500,
        what: what.to_owned(),
    };
    vec![
        file("plan.json", "everything, for programs"),
        file("gis/rates.gpkg", "rate maps for a GIS"),
    ]
}

#[test]
fn a_plan_is_told_from_land_to_order() {
    let text = super::plan(
        &plan(),
        Path::new("job.toml"),
        Path::new("job-plan"),
        &written(),
        true,
    );
    let plain = text.replace('\u{a0}', " ");
    let squeezed: Vec<String> = plain
        .lines()
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    for line in [
        "Square, Test Farm: 12.00 ha, plan a1b2c3",
        "row land part soil setback ha barley kg/ha kg starter kg/ha kg",
        "1 headland sand ditch 2.00 162.5 325 0 0",
        "2 interior loam 10.00 149 1 490 100 1 000",
        "Land: 12.10 ha in the boundary, less 0.10 ha left out, 12.00 ha mapped: headland 2.00 ha, interior 10.00 ha",
        "map total 1 815",
        "order in 4 packs 1 869",
        "order 1 030",
        "Grids against the polygon map: metric +0.8 kg, degrees -1.3 kg.",
        "Without the map, switch it off by hand at: ditch.",
        "Position lost: barley 151.25 kg/ha, starter 0 kg/ha",
        "Decisions (1)",
        "Notes (1)",
        "gis/rates.gpkg 1.5 rate maps for a GIS",
    ] {
        assert!(
            squeezed.iter().any(|own| own == line),
            "'{line}' is not in:\n{plain}"
        );
    }
    let first = format!(
        "Open first: {}",
        Path::new("job-plan").join("gis/rates.gpkg").display()
    );
    assert!(plain.contains(&first), "{plain}");
}

/// One screen, in the units of the job: 162.5 kg/ha are 145 lb/ac, 1 030 kg are 2 271 lb (1 lb = 0.45359237 kg,
/// 1 ac = 4046.8564224 m2: exact).
#[test]
fn a_plan_in_short_fits_a_screen_in_the_units_of_the_job() {
    let told = |plan: &Plan| {
        let text = super::plan(
            plan,
            Path::new("job.toml"),
            Path::new("job-plan"),
            &written(),
            false,
        );
        let lines = text.replace('\u{a0}', " ");
        let squeezed = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
        lines.lines().map(squeezed).collect::<Vec<String>>()
    };
    let mut plan = plan();
    let lines = told(&plan);
    assert!(lines.len() <= 40, "{lines:#?}");
    let holds = |lines: &[String], line: &str| {
        assert!(lines.iter().any(|own| own == line), "{line}: {lines:#?}");
    };
    holds(&lines, "product barley 0 to 162.5 1 815 1 869 in 4 packs");
    holds(&lines, "NOT READY FOR THE TERMINAL: 1 decision is open.");
    holds(&lines, "1 note: --details");
    holds(&lines, "All tables: twinsow plan job.toml --details");
    plan.job.report.units = crate::job::UnitSystem::UsCustomary;
    let lines = told(&plan);
    holds(&lines, "Square, Test Farm: 29.65 ac, plan a1b2c3");
    holds(&lines, "lb/ac on the map lb to order lb");
    holds(&lines, "product starter 0 to 145 2 205 2 271");
}

#[test]
fn json_has_the_same_numbers() {
    let plan = plan();
    let (job, out) = (Path::new("job.toml"), Path::new("job-plan"));
    let line = Summary::of(&plan, job, out, &written(), Exit::Decide)
        .line()
        .expect("JSON");
    assert_eq!(line.matches('\n').count(), 1);
    let value: serde_json::Value = serde_json::from_str(&line).expect("JSON");
    assert_eq!(
        (&value["exit"], &value["plan"], &value["mapped_ha"]),
        (&1.into(), &"a1b2c3".into(), &12.0.into())
    );
    let row = &value["rates"][1];
    assert_eq!(
        (&row["row"], &row["classes"]["soil"]),
        (&2.into(), &"loam".into())
    );
    assert_eq!(
        (&row["kg_per_ha"]["barley"], &row["kg"]["barley"]),
        (&149.0.into(), &1490.0.into())
    );
    assert_eq!(value["rates"][0]["setbacks"][0], "ditch");
    assert_eq!(value["tally"]["products"][0]["packs"], 4);
    assert_eq!(value["files"][1]["path"], "gis/rates.gpkg");
}

#[test]
fn a_long_rate_table_keeps_the_rows_with_most_land() {
    let mut plan = plan();
    let row = plan.rates.rows[1].clone();
    plan.rates.rows = (1..=50)
        .map(|n| Combination {
            area_m2: f64::from(n) * 1000.0,
            ..row.clone()
        })
        .collect();
    let text = super::rates::table(&plan);
    assert_eq!(
        text.lines()
            .filter(|line| line.contains("interior"))
            .count(),
        40
    );
    // Rows 1 to 10 are hidden: 1000 + ... + 10 000 m2.
    assert!(
        text.ends_with("  and 10 more rows with 5.50 ha: see rates.csv\n"),
        "{text}"
    );
}
