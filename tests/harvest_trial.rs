//! A trial in the map from plan to next year's trial: what each plot got by the log, what the map gained in each zone, and
//! what to try next.

mod log_support;

use log_support::*;
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use tempfile::TempDir;

/// Six pairs of strips of barley by the map against a flat rate, from the south to the north through three zones.
const TRIAL: &str = "
[drive]
heading_deg = 0
[grid]
cell_m = 3
[[trial]]
name = \"did the map pay\"
design = \"map_against_flat\"
product = \"barley\"
header_width_m = 9
";

fn planned() -> &'static TempDir {
    static PLANNED: OnceLock<TempDir> = OnceLock::new();
    PLANNED.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        plan(folder.path());
        let job = folder.path().join("job.toml");
        let text = fs::read_to_string(&job).unwrap() + TRIAL;
        fs::write(&job, text).unwrap();
        fs::remove_dir_all(folder.path().join("plan")).unwrap();
        planned_by(folder.path(), "job.toml", "plan");
        folder
    })
}

fn planned_by(folder: &Path, job: &str, out: &str) {
    let output = run(folder, &["plan", job, "--out", out]);
    let code = output.status.code();
    assert!(
        code.is_some_and(|code| code < 2),
        "{}",
        text(&output.stderr)
    );
}

/// A plot of the plan: its name, treatment, its rate of barley, and its outline in metres.
struct Plot {
    id: String,
    treatment: String,
    kg_per_ha: f64,
    /// West, south, east, north.
    lies: [f64; 4],
}

fn plots() -> Vec<Plot> {
    let bytes = fs::read(planned().path().join("plan/plan.json")).unwrap();
    let plan: Value = serde_json::from_slice(&bytes).unwrap();
    let [east_m, north_m] = {
        let [[a, b], [c, d]] = [degrees(0.0, 0.0), degrees(1.0, 1.0)];
        [1.0 / (c - a), 1.0 / (d - b)]
    };
    let [lon, lat] = degrees(0.0, 0.0);
    let plot = |own: &Value| {
        let mut lies = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
        for at in own["outline_lon_lat"].as_array().unwrap() {
            let x = (at[0].as_f64().unwrap() - lon) * east_m;
            let y = (at[1].as_f64().unwrap() - lat) * north_m;
            lies = [
                lies[0].min(x),
                lies[1].min(y),
                lies[2].max(x),
                lies[3].max(y),
            ];
        }
        let name = |key: &str| own[key].as_str().unwrap().to_owned();
        Plot {
            id: name("id"),
            treatment: name("treatment"),
            kg_per_ha: own["kg_per_ha"][0].as_f64().unwrap(),
            lies,
        }
    };
    let all = plan["trials"][0]["plots"].as_array().unwrap();
    all.iter().map(plot).collect()
}

/// The log of a drill that did as the plan says, but for barley where `other` says another rate.
fn drilled(folder: &Path, other: impl Fn(&Plot) -> Option<f64>) {
    let plots = plots();
    let mut moments = drive(&whole(), 0.0, &mut Noise(9), 0.0);
    for own in &mut moments {
        // The rate holds for the stretch ahead.
        let ahead = if own.north {
            STEP_M / 2.0
        } else {
            -STEP_M / 2.0
        };
        let [x, y] = [own.at[0], own.at[1] + ahead];
        let within = |plot: &&Plot| {
            let [west, south, east, north] = plot.lies;
            (west..east).contains(&x) && (south..north).contains(&y)
        };
        if let Some(plot) = plots.iter().find(within) {
            let planned = (plot.treatment == "flat").then_some(plot.kg_per_ha);
            if let Some(rate) = other(plot).or(planned) {
                own.rate[0] = rate;
            }
        }
    }
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    write(
        folder,
        Vec::new(),
        task("=as driven", children),
        &[log(&common(), &moments)],
    );
}

/// Yield points of all plots; strips by the map give `gain` t/ha more by zone from the south to the north.
fn harvested(folder: &Path, gain: [f64; 3], treatment: impl Fn(&Plot) -> String) {
    harvested_where(folder, gain, treatment, |_, at| Some((at, 0.0)));
}

/// The same, with readings moved and their yields changed: what a place in a plot becomes, and t/ha more; `None` where nothing was cut.
fn harvested_where(
    folder: &Path,
    gain: [f64; 3],
    treatment: impl Fn(&Plot) -> String,
    cut: impl Fn(&Plot, [f64; 2]) -> Option<([f64; 2], f64)>,
) {
    let mut noise = Noise(21);
    let mut csv = String::from("lon,lat,yield\n");
    for (nth, plot) in plots().iter().enumerate() {
        let [west, south, east, north] = plot.lies;
        let x = (west + east) / 2.0;
        let of_plot = 0.06 * noise.next();
        let steps = ((north - south) / 2.0) as usize;
        for step in 0..=steps {
            let along = step as f64 * 2.0;
            let y = if nth % 2 == 0 {
                south + along
            } else {
                north - along
            };
            let zone = ((y / HIGH_M * 3.0) as usize).min(2);
            let more = if treatment(plot) == "map" {
                gain[zone]
            } else {
                0.0
            };
            let value = 7.5 + 0.001 * x + of_plot + more + 0.15 * noise.next();
            let Some(([x, y], changed)) = cut(plot, [x, y]) else {
                continue;
            };
            let value = value + changed;
            let [lon, lat] = degrees(x, y);
            let _ = writeln!(csv, "{lon:.9},{lat:.9},{value:.3}");
        }
    }
    fs::write(folder.join("yield.csv"), csv).unwrap();
}

fn harvest(folder: &Path, more: &[&str]) -> std::process::Output {
    let plan = planned().path().join("plan");
    let arguments = [
        "harvest",
        plan.to_str().unwrap(),
        "yield.csv",
        "--column",
        "yield=yield:t/ha",
        "--yield-at",
        "15",
        "--moisture-basis",
        "15",
        "--out",
        "harvest",
        "--json",
    ];
    run(folder, &[&arguments, more].concat())
}

fn told(folder: &Path, more: &[&str]) -> Value {
    let output = harvest(folder, more);
    assert!(output.status.success(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

#[test]
fn gains_are_told_by_zone_and_lead_to_next_years_trial() {
    let folder = tempfile::tempdir().unwrap();
    let own = |plot: &Plot| plot.treatment.clone();
    harvested(folder.path(), [0.0, 0.0, 0.6], own);
    let price = ["--price", "150,200,250", "--cost", "map=10"];
    let found = told(folder.path(), &price);
    let zones = found["by_zone"].as_array().unwrap();
    let rates: Vec<f64> = zones
        .iter()
        .map(|own| number(&own["map_kg_per_ha"][0]))
        .collect();
    assert_eq!(rates, SEED);
    for (zone, gain) in zones.iter().zip([0.0, 0.0, 600.0]) {
        assert_eq!(zone["pairs"], 6);
        let effect = &zone["effect"];
        let [value, from, to] = ["kg_per_ha", "from", "to"].map(|key| number(&effect[key]));
        assert!(from <= gain && gain <= to, "{from} to {to}, not {gain}");
        assert!(to - from < 400.0, "{from} to {to}");
        assert_eq!(zone["shown"], gain > 0.0, "{from} to {to}");
        // Price less the cost of the map.
        let worth = number(&zone["worth"]["per_ha"]);
        assert!((worth - (0.2 * value - 10.0)).abs() < 1e-6, "{worth}");
    }
    // Nothing was shown in the two southern zones, nor that they differ; the northern one stays.
    let joins: Vec<bool> = zones.iter().map(|own| own["joins_next"] == true).collect();
    assert_eq!(joins, [true, false, false]);
    let page = fs::read_to_string(folder.path().join("harvest/harvest.html")).unwrap();
    assert!(
        page.contains("Make one zone of 150 kg&#x2f;ha, 170 kg&#x2f;ha"),
        "zones to merge"
    );
    assert!(page.contains("next-trial.toml"));
    // What it proposes is part of a job: next year's plan takes it.
    let proposed = fs::read_to_string(folder.path().join("harvest/next-trial.toml")).unwrap();
    assert!(
        proposed.contains("rates_kg_per_ha = [130, 157, 183, 210]"),
        "{proposed}"
    );
    let job = fs::read_to_string(planned().path().join("job.toml")).unwrap();
    // The field is small: two blocks are all that its zones hold.
    let next = job.split("[[trial]]").next().unwrap().to_owned() + &proposed + "blocks = 2\n";
    let next = next.replace("heading_deg = 0\n", "heading_deg = 90\n");
    for file in ["boundary.geojson", "soil.geojson", "brook.geojson"] {
        fs::copy(planned().path().join(file), folder.path().join(file)).unwrap();
    }
    fs::write(folder.path().join("next.toml"), next).unwrap();
    planned_by(folder.path(), "next.toml", "next");
}

#[test]
fn the_log_decides_what_a_plot_got_and_not_the_plan() {
    let folder = tempfile::tempdir().unwrap();
    let plots = plots();
    let of_map = plots.iter().find(|plot| plot.treatment == "map").unwrap();
    let flat_kg = plots
        .iter()
        .find(|plot| plot.treatment == "flat")
        .unwrap()
        .kg_per_ha;
    let id = of_map.id.clone();
    // As planned: every plot got what it was to get.
    drilled(folder.path(), |_| None);
    harvested(folder.path(), [0.4; 3], |plot| plot.treatment.clone());
    let found = told(folder.path(), &["--log", "TASKDATA"]);
    for plot in found["by_log"].as_array().unwrap() {
        assert_eq!(plot["got"], plot["planned"], "{plot}");
        assert!(number(&plot["drilled_percent"]) > 95.0, "{plot}");
    }
    assert_eq!(found["answer"]["blocks"], 6);
    // The map was off in one strip: it is no witness for the map, whatever the plan says.
    drilled(folder.path(), |plot| (plot.id == id).then_some(flat_kg));
    harvested(folder.path(), [0.4; 3], |plot| match plot.id == id {
        true => "flat".to_owned(),
        false => plot.treatment.clone(),
    });
    let found = told(folder.path(), &["--log", "TASKDATA"]);
    let own = found["by_log"].as_array().unwrap();
    let own = own.iter().find(|plot| plot["id"] == id.as_str()).unwrap();
    assert_eq!(own["got"], "flat", "{own}");
    assert_eq!(found["answer"]["blocks"], 5);
    let effect = number(&found["answer"]["effect"]["kg_per_ha"]);
    assert!((effect - 400.0).abs() < 60.0, "{effect}");
    let page = fs::read_to_string(folder.path().join("harvest/harvest.html")).unwrap();
    assert!(page.contains("by the log of the drill"));
    // Without the log the plan decides, and the answer is too small.
    let by_plan = told(folder.path(), &[]);
    assert!(number(&by_plan["answer"]["effect"]["kg_per_ha"]) < effect - 40.0);
    // Half the rate is nothing that the trial tries: left out, and said.
    drilled(folder.path(), |plot| {
        (plot.id == id).then_some(flat_kg / 2.0)
    });
    let found = told(folder.path(), &["--log", "TASKDATA"]);
    let findings = found["findings"].to_string();
    assert!(findings.contains("harvest.plot_by_log"), "{findings}");
    assert_eq!(found["answer"]["blocks"], 5);
}

/// Yield points beside the plots: one clear error, which names the way on.
#[test]
fn without_its_plots_the_harvest_goes_on_where_it_is_asked_to() {
    let folder = tempfile::tempdir().unwrap();
    let mut csv = String::from("lon,lat,yield\n");
    // Along the south-western border, between the end of the land and the plots' ends.
    for step in 0..100 {
        let [lon, lat] = degrees(
            2.0 + 0.2 * f64::from(step % 10),
            2.0 + 0.2 * f64::from(step),
        );
        let _ = writeln!(
            csv,
            "{lon:.9},{lat:.9},{}",
            7.0 + 0.01 * f64::from(step % 7)
        );
    }
    fs::write(folder.path().join("yield.csv"), csv).unwrap();
    let refused = harvest(folder.path(), &[]);
    assert_eq!(refused.status.code(), Some(2), "{}", text(&refused.stdout));
    assert!(
        text(&refused.stderr).contains("--no-trial"),
        "{}",
        text(&refused.stderr)
    );
    // No plot has a reading: each says so with its number.
    assert!(
        text(&refused.stderr).contains("' has 0"),
        "{}",
        text(&refused.stderr)
    );
    // Readings of another field.
    let ours = folder.path().join("yield.csv");
    let csv = fs::read_to_string(&ours).unwrap();
    let mut elsewhere = String::from("lon,lat,yield\n");
    for step in 0..100 {
        let [lon, lat] = degrees(9_000.0 + f64::from(step), 9_000.0);
        let _ = writeln!(elsewhere, "{lon:.9},{lat:.9},7");
    }
    fs::write(&ours, elsewhere).unwrap();
    let other = harvest(folder.path(), &[]);
    assert!(
        text(&other.stderr).contains("All 100 readings lie outside the land of plan"),
        "{}",
        text(&other.stderr)
    );
    fs::write(&ours, csv).unwrap();
    let found = told(folder.path(), &["--no-trial"]);
    assert!(found["answer"].is_null());
    assert!(number(&found["mean_kg_per_ha"]) > 6_900.0);
}

/// The ledger gets yield and removal: 7.0 and 10.5 kg per tonne at 15 % (RB209 section 4, table 4.12, page 18).
#[test]
fn the_harvest_goes_into_the_ledger() {
    let folder = tempfile::tempdir().unwrap();
    harvested(folder.path(), [0.0; 3], |plot| plot.treatment.clone());
    let asked = [
        "--ledger",
        "ledger",
        "--harvested-on",
        "2027-08-12",
        "--straw",
        "removed",
        "--crop",
        "winter wheat",
    ];
    let found = told(folder.path(), &asked);
    let ledger = fs::read_to_string(folder.path().join("ledger/2027.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(ledger.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|own| own == name).unwrap();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), found["zones"].as_array().unwrap().len());
    for row in rows {
        let number = |name: &str| row[column(name)].parse::<f64>().unwrap();
        assert_eq!(&row[column("what")], "harvested");
        let t_per_ha = number("yield_t_per_ha");
        assert!((7.0..8.5).contains(&t_per_ha));
        assert!((number("p2o5_kg_per_ha") + 7.0 * t_per_ha).abs() < 0.01);
        assert!((number("k2o_kg_per_ha") + 10.5 * t_per_ha).abs() < 0.01);
        // Nothing is published there for N and S.
        assert_eq!(
            (&row[column("n_kg_per_ha")], &row[column("s_kg_per_ha")]),
            ("", "")
        );
    }
    let land: Value =
        serde_json::from_slice(&fs::read(folder.path().join("ledger/2027.geojson")).unwrap())
            .unwrap();
    assert_eq!(land["features"][0]["properties"]["what"], "harvested");
    let properties = &land["features"][0]["properties"];
    assert!(properties["customer"].is_string() && properties["farm"].is_string());
    // Barley that may be winter or spring barley: the potash of its straw is not known.
    let mut asked = asked;
    asked[7] = "barley";
    told(folder.path(), &asked);
    let ledger = fs::read_to_string(folder.path().join("ledger/2027.csv")).unwrap();
    let row = ledger.lines().nth(1).unwrap().to_owned();
    assert_eq!(
        row.split(',').nth(column("k2o_kg_per_ha")),
        Some(""),
        "{row}"
    );
    // A slip of the pen would leave the removal blank.
    asked[7] = "winter whaet";
    let slip = harvest(folder.path(), &asked);
    assert_eq!(slip.status.code(), Some(2));
    assert!(
        text(&slip.stderr).contains("'winter wheat'"),
        "{}",
        text(&slip.stderr)
    );
    let unknown = harvest(
        folder.path(),
        &[
            "--ledger",
            "ledger",
            "--harvested-on",
            "12 August",
            "--straw",
            "left",
        ],
    );
    assert_eq!(unknown.status.code(), Some(2));
}

/// Several years together are a layer of the next job: each square against the mean of its year.
#[test]
fn several_years_become_a_layer() {
    let folder = tempfile::tempdir().unwrap();
    harvested(folder.path(), [0.0; 3], |plot| plot.treatment.clone());
    told(folder.path(), &["--no-trial"]);
    let first = folder.path().join("harvest/yield.geojson");
    fs::copy(&first, folder.path().join("before.geojson")).unwrap();
    let years = [
        "--no-trial",
        "--year",
        "before.geojson",
        "--year",
        "before.geojson",
    ];
    let found = told(folder.path(), &years);
    let squares = found["years"].as_array().unwrap();
    assert!(squares.len() > 50, "{}", squares.len());
    // The same map three times: nothing varies, and the mean of the field is 100 %.
    let mean = squares
        .iter()
        .map(|own| number(&own["percent"]))
        .sum::<f64>()
        / squares.len() as f64;
    assert!((mean - 100.0).abs() < 0.5, "{mean}");
    for square in squares {
        assert_eq!(square["years"], 3);
        assert!(number(&square["variation_percent"]) < 1.0, "{square}");
    }
    // Next year's job takes it as zones.
    let job = fs::read_to_string(planned().path().join("job.toml")).unwrap();
    let layer = "[[layer]]\nname = \"years\"\nsource = { file = \"harvest/years.geojson\" }\nclass_attribute = \"class\"\n";
    let job = job.split("[drive]").next().unwrap().to_owned() + layer;
    for file in ["boundary.geojson", "soil.geojson", "brook.geojson"] {
        fs::copy(planned().path().join(file), folder.path().join(file)).unwrap();
    }
    fs::write(folder.path().join("next.toml"), job).unwrap();
    planned_by(folder.path(), "next.toml", "next");
    let page = fs::read_to_string(folder.path().join("harvest/harvest.html")).unwrap();
    assert!(page.contains("Several years"));
    let wrong = harvest(
        folder.path(),
        &[
            "--no-trial",
            "--year",
            "before.geojson",
            "--year-attribute",
            "yield",
        ],
    );
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        text(&wrong.stderr).contains("kg_per_ha"),
        "{}",
        text(&wrong.stderr)
    );
}

/// The harvester's own time logs: entry 84 is mg/m2 and 99 parts per million (ISO 11783-11). 8 t/ha at 18 % are 7.808 t/ha at 16 %.
#[test]
fn time_logs_of_the_harvester_are_yields() {
    let folder = tempfile::tempdir().unwrap();
    let moments = drive(&whole(), 0.0, &mut Noise(3), 0.0);
    let columns = |ddi: u16, moisture: bool| {
        let mut all = vec![
            down("DET1"),
            column(ddi, "DET1", |own, _| match own.down {
                true => 800_000 + i32::try_from(own.bout).unwrap() * 100,
                false => 0,
            }),
            column(67, "DET1", |_, _| 6_000),
        ];
        if moisture {
            all.push(column(99, "DET1", |_, _| 180_000));
        }
        all
    };
    let written = |ddi: u16, moisture: bool| {
        let logs = [log(&columns(ddi, moisture), &moments)];
        write(
            folder.path(),
            Vec::new(),
            task("harvest", Vec::new()),
            &logs,
        );
    };
    let plan = planned().path().join("plan");
    let harvest = |more: &[&str]| {
        let arguments = [
            "harvest",
            plan.to_str().unwrap(),
            "TASKDATA",
            "--moisture-basis",
            "16",
            "--out",
            "harvest",
            "--no-trial",
            "--json",
        ];
        run(folder.path(), &[&arguments, more].concat())
    };
    written(84, true);
    let output = harvest(&["--yield-at", "harvested"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    // Bouts differ by 1 kg/ha, so the mean is that of bout 19.5.
    let wanted = (8_000.0 + 19.5) * (100.0 - 18.0) / (100.0 - 16.0);
    let mean = number(&found["mean_kg_per_ha"]);
    assert!((mean - wanted).abs() < 5.0, "{mean}, not {wanted}");
    assert!(
        number(&found["counting"]) > 2_500.0,
        "{}",
        found["counting"]
    );
    // A yield by volume is no mass, and a moisture that no entry says is asked for.
    written(83, true);
    let refused = harvest(&["--yield-at", "harvested"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        text(&refused.stderr).contains("volume per area"),
        "{}",
        text(&refused.stderr)
    );
    written(84, false);
    // What is asked for is taken: logs have no columns to name.
    for asked in [&["--yield-at", "harvested"][..], &[]] {
        let refused = harvest(asked);
        assert_eq!(refused.status.code(), Some(2));
        let message = text(&refused.stderr);
        assert!(
            message.contains("--yield-at") && !message.contains("--column"),
            "{message}"
        );
    }
    written(87, false);
    let refused = harvest(&["--yield-at", "16"]);
    assert_eq!(refused.status.code(), Some(2));
    let message = text(&refused.stderr);
    assert!(message.contains("as points"), "{message}");
    written(84, false);
    let columns = harvest(&["--yield-at", "16", "--column", "yield=a:t/ha"]);
    assert_eq!(columns.status.code(), Some(2));
    assert!(harvest(&["--yield-at", "16"]).status.success());
}

/// What cleaning takes and what jumps aside does not shorten a plot; where one plot of a pair was cut in part, the other counts over
/// the same stretch.
#[test]
fn plots_count_over_what_was_cut_of_all_in_their_block() {
    let folder = tempfile::tempdir().unwrap();
    let own = |plot: &Plot| plot.treatment.clone();
    let readings = |found: &Value| -> Vec<f64> {
        let plots = found["plots"].as_array().unwrap().iter();
        plots.map(|plot| number(&plot["readings"])).collect()
    };
    let cut_short = |found: &Value| -> Vec<String> {
        let findings = found["findings"].as_array().unwrap().iter();
        let own = findings.filter(|of| of["code"] == "harvest.cut_short");
        own.map(|of| of["message"].as_str().unwrap().to_owned())
            .collect()
    };
    harvested(folder.path(), [0.0; 3], own);
    let whole = told(folder.path(), &[]);
    assert_eq!(cut_short(&whole), Vec::<String>::new());
    // Every 40th metre a place jumps 4 m aside, out of its plot: one reading is lost there, not 60 m.
    harvested_where(folder.path(), [0.0; 3], own, |_, [x, y]| {
        let jumps = (y / 2.0) as i64 % 20 == 0;
        Some(([x + if jumps { 4.0 } else { 0.0 }, y], 0.0))
    });
    let jumping = told(folder.path(), &[]);
    for (with, without) in readings(&jumping).iter().zip(readings(&whole)) {
        assert!(
            *with > 0.8 * without && *with < without,
            "{with} of {without}"
        );
    }
    // Yields rise by 3 t/ha from the south to the north, and the northern half of one flat plot was not cut.
    let plots = plots();
    let flat = plots.iter().find(|plot| plot.treatment == "flat").unwrap();
    let [_, south, _, north] = flat.lies;
    harvested_where(folder.path(), [0.0; 3], own, |plot, [x, y]| {
        let cut = plot.id != flat.id || y < (south + north) / 2.0;
        cut.then_some(([x, y], 3.0 * y / HIGH_M))
    });
    let found = told(folder.path(), &[]);
    let effect = &found["answer"]["effect"];
    // Taken over its whole length, the other plot of that pair would give some 0.7 t/ha more, the mean of six pairs 0.1.
    assert!(number(&effect["kg_per_ha"]).abs() < 60.0, "{effect}");
    assert!(
        number(&effect["to"]) - number(&effect["from"]) < 250.0,
        "{effect}"
    );
    let told_so = cut_short(&found);
    assert_eq!(told_so.len(), 1);
    assert!(told_so[0].contains("over the same stretch"), "{told_so:?}");
    // With 40 m of it left it is no witness.
    harvested_where(folder.path(), [0.0; 3], own, |plot, [x, y]| {
        let cut = plot.id != flat.id || y < south + 40.0;
        cut.then_some(([x, y], 0.0))
    });
    let found = told(folder.path(), &[]);
    assert!(cut_short(&found)[0].contains("it was left out"));
    assert_eq!(found["answer"]["blocks"], 5);
}
