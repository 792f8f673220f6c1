//! What is left to broadcast as files of its own for the spreader: its steps, its reach, one stick for each machine.

mod plan_support;

use plan_support::{Made, PLACE, collection, degrees, job, line, plain, planned, said};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;
use twinsow::audit::JobFacts;
use twinsow::plan::Plan;

/// Half of the starter is placed, 50 and 31.5 kg/ha; the other half is left for the spreader. `more` stands in [spreader].
fn with_spreader(middle: &str, more: &str) -> String {
    let text = job(middle).replace(
        "rate = { kg_per_ha = { layer = \"soil\", by_class = { a = 100.0, b = 0.0 } } }\nlimits = { min_kg_per_ha = 40.0, max_kg_per_ha = 120.0 }",
        "grade = { p2o5_percent = 46.0 }\nrate = { kg_per_ha = { layer = \"soil\", by_class = { a = 100.0, b = 63.0 } }, placed_percent = 50.0 }",
    );
    let text = text.replace(
        "because = \"invented",
        "grade = { p2o5_percent = 46.0 }\nbecause = \"invented",
    );
    assert!(text.contains("placed_percent"), "{text}");
    format!("{text}[spreader]\nname = \"spreader\"\nworking_width_m = 18.0\n{more}\n")
}

fn made(middle: &str, more: &str) -> Made {
    let made = plain("");
    made.write("job.toml", with_spreader(middle, more));
    made
}

fn of_spreader(plan: &Plan) -> &Plan {
    assert_eq!(plan.spreaders.len(), 1);
    &plan.spreaders[0].plan
}

/// Rates of the spreader above zero, in order.
fn rates(plan: &Plan) -> Vec<f64> {
    let rows = of_spreader(plan).rates.rows.iter();
    let mut rates: Vec<f64> = rows
        .map(|row| row.rates[0].kg_per_ha)
        .filter(|rate| *rate > 0.0)
        .collect();
    rates.sort_by(f64::total_cmp);
    rates.dedup();
    rates
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).expect("a file")).expect("JSON")
}

/// Worked by hand: 80 x 150 m with 50 kg/ha and 120 x 150 m with 31.5 are 60 + 56.7 = 116.7 kg. In steps of 10 the rates are
/// 50 and 30: 60 + 54 = 114 kg.
#[test]
fn rates_go_to_the_spreaders_step_and_the_order_with_them() {
    let made = made(
        "",
        "limits = { min_kg_per_ha = 20.0, step_kg_per_ha = 10.0 }",
    );
    let plan = planned(made.path()).expect("a plan");
    assert_eq!(rates(&plan), [30.0, 50.0]);
    let balance = &plan.tally.planned.balances[0];
    // The made field is 200 m by 150 m near enough: 0.3 %.
    assert!(
        (balance.map_kg() / 116.7 - 1.0).abs() < 3e-3,
        "{}",
        balance.map_kg()
    );
    let own = balance.spreader.as_ref().expect("a spreader");
    assert!((own.map_kg / 114.0 - 1.0).abs() < 3e-3, "{}", own.map_kg);
    assert_eq!(
        own.map_kg,
        of_spreader(&plan).tally.planned.products[0].map_kg()
    );
    let sown: f64 = balance
        .steps
        .iter()
        .filter(|step| step.step.is_sown())
        .map(|step| step.kg)
        .sum();
    assert!((sown - own.map_kg).abs() < 1e-6, "{sown} {}", own.map_kg);
    let order = of_spreader(&plan).tally.planned.products[0].order_kg;
    assert!((balance.order_kg - order).abs() < 1e-6);
    // The drill's rates and files are those without a spreader.
    let text = with_spreader("", "");
    let without = text.split("[spreader]").next().expect("a job");
    made.write("job.toml", without);
    let alone = planned(made.path()).expect("a plan");
    assert_eq!(alone.maps.rate, plan.maps.rate);
    assert_eq!(alone.maps.balance, plan.maps.balance);
}

#[test]
fn no_label_and_no_rule_of_the_place_is_passed_by_rounding() {
    // The label's 49 is no multiple of 10: 40 is the last step below it. 31.5 would be rounded up to 40 with steps of 20.
    for (limits, wanted) in [
        (
            "{ label_max_kg_per_ha = 49.0, step_kg_per_ha = 10.0 }",
            vec![30.0, 40.0],
        ),
        ("{ step_kg_per_ha = 20.0 }", vec![40.0, 60.0]),
        ("{ min_kg_per_ha = 40.0 }", vec![40.0, 50.0]),
    ] {
        let made = made("", &format!("limits = {limits}"));
        assert_eq!(
            rates(&planned(made.path()).expect("a plan")),
            wanted,
            "{limits}"
        );
    }
    // 46 kg/ha P2O5 are 100 kg/ha: what is placed and spread is just allowed, so nothing may be rounded up.
    let limit = "[[place_limit]]\nname = \"rule\"\nnutrient = \"p2o5\"\nmost_kg_per_ha = 46.0\nsource = \"invented for this test\"\n";
    for (limits, wanted) in [
        ("{ step_kg_per_ha = 20.0 }", vec![20.0, 40.0]),
        ("{ min_kg_per_ha = 40.0 }", vec![50.0]),
    ] {
        let made = made(limit, &format!("limits = {limits}"));
        assert_eq!(
            rates(&planned(made.path()).expect("a plan")),
            wanted,
            "{limits}"
        );
    }
}

/// 1 lb/ac is 1.120851 kg/ha (NIST SP 811, appendix B: 0.4535924 kg, 4046.873 m2).
#[test]
fn a_screen_in_pounds_shows_round_pounds() {
    let made = made(
        "",
        "units = \"us_customary\"\nlimits_lb_per_acre = { step = 5.0 }",
    );
    let plan = planned(made.path()).expect("a plan");
    let pounds: Vec<f64> = rates(&plan).iter().map(|rate| rate / 1.120851).collect();
    for (found, wanted) in pounds.iter().zip([30.0, 45.0]) {
        assert!((found - wanted).abs() < 1e-4, "{pounds:?}");
    }
    assert!(made.run(&["plan", "job.toml"]).status.success());
    let set = fs::read_to_string(
        made.path()
            .join("job-plan/spreader/terminal/TASKDATA/TASKDATA.XML"),
    )
    .expect("a set");
    assert!(set.contains("E=\"lb/ac\"") && !set.contains("E=\"kg/ha\""));
}

/// A ditch along the western border: the starter is off within 2 m, and a rule of its own keeps the spreader 12 m away.
fn ditch(made: &Made, of: &str, metres: f64) -> String {
    made.write(
        "ditch.geojson",
        collection(&[line(PLACE, &[[0.0, -50.0], [0.0, 200.0]])]),
    );
    format!(
        "[[setback]]\nname = \"{of}\"\nsource = {{ file = \"ditch.geojson\" }}\ndistance_m = {metres}\nproducts = [\"{of}\"]\n"
    )
}

/// Metres east of the western border where the spreader's rate begins, by its map zones.
fn begins_m(plan: &Plan) -> f64 {
    let zones = of_spreader(plan)
        .maps
        .rate
        .zones
        .iter()
        .filter(|zone| zone.kg_per_ha[0] > 0.0);
    let points = zones
        .flat_map(|zone| zone.polygons.iter())
        .flat_map(|polygon| &polygon.exterior);
    let west = points.map(|at| at.lon).fold(f64::INFINITY, f64::min);
    let [per_100_m, _] = degrees([0.0, PLACE[1]], [100.0, 0.0]);
    (west - PLACE[0]) / per_100_m * 100.0
}

/// Off within distance + throw + position error + run-on: 2 + 15 + 0.5 + 1; as far as the working width, 18, where no throw is
/// named. What is thrown lands farther than half the width.
#[test]
fn setbacks_hold_as_far_as_the_spreader_throws() {
    let settings = "position_error_m = 0.5\nrun_on_m = 1.0";
    for (throw, of, metres, wanted) in [
        ("throw_m = 15.0", "starter", 2.0, 18.5),
        ("", "starter", 2.0, 21.5),
        ("throw_m = 15.0", "starter_balance", 12.0, 28.5),
    ] {
        let made = made("", "");
        let setback = ditch(&made, of, metres);
        made.write(
            "job.toml",
            with_spreader(&setback, &format!("{settings}\n{throw}")),
        );
        let plan = planned(made.path()).expect("a plan");
        let found = begins_m(&plan);
        assert!((found - wanted).abs() < 0.1, "{throw} {of}: {found} m");
        // The same by the audit's own geometry: every cell of its task data.
        let output = made.run(&["plan", "job.toml"]);
        assert!(output.status.success(), "{}", said(&output));
        let held = twinsow::audit::audit(
            &[made.path().join("job-plan/spreader/terminal/TASKDATA")],
            None,
            Some(&JobFacts::of(of_spreader(&plan).job.clone()).expect("facts")),
            made.path(),
        );
        let held = held.expect("an audit");
        assert_eq!(held.complaints(), Vec::<String>::new());
        // And it sees a strip that is wider than what was kept.
        let mut wider = of_spreader(&plan).job.clone();
        wider.drill.run_on_m += 12.0;
        let held = twinsow::audit::audit(
            &[made.path().join("job-plan/spreader/terminal/TASKDATA")],
            None,
            Some(&JobFacts::of(wider.clone()).expect("facts")),
            made.path(),
        );
        assert!(!held.expect("an audit").complaints().is_empty());
    }
}

/// All files of the plan that a terminal could load.
fn loadable(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(here) = open.pop() {
        for path in fs::read_dir(&here)
            .expect("a folder")
            .flatten()
            .map(|entry| entry.path())
        {
            if path.is_dir() {
                open.push(path);
                continue;
            }
            let name = path
                .strip_prefix(folder)
                .expect("inside")
                .to_string_lossy()
                .replace('\\', "/");
            if [".XML", ".bin", ".shp", ".dbf", ".shp.zip"]
                .iter()
                .any(|end| name.ends_with(end))
            {
                found.push(name);
            }
        }
    }
    found
}

#[test]
fn decisions_that_hold_the_product_hold_the_spreaders_files() {
    let made = made("", "limits = { step_kg_per_ha = 10.0 }");
    let folder = made.path().join("job-plan");
    assert_eq!(made.run(&["plan", "job.toml"]).status.code(), Some(0));
    let ready = loadable(&folder);
    assert!(
        ready
            .iter()
            .filter(|name| name.starts_with("spreader/"))
            .count()
            > 8,
        "{ready:?}"
    );

    // No limit covers the starter any more: all of it waits, and so does what would be spread for it.
    let text = with_spreader("", "limits = { step_kg_per_ha = 10.0 }");
    let (before, rest) = text.split_once("[[own_seed_limit]]").expect("a limit");
    let after = rest.split_once("[spreader]").expect("a spreader").1;
    made.write("job.toml", format!("{before}[spreader]{after}"));
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let left = loadable(&folder);
    assert!(
        left.iter().all(|name| !name.starts_with("spreader/")),
        "{left:?}"
    );
    let note = fs::read_to_string(folder.join("spreader/terminal/NOT-READY.txt")).expect("a note");
    assert!(
        note.contains("NOT READY") && !note.contains("finding = "),
        "{note}"
    );

    // A closed period on the day of spreading holds the spreader alone.
    let closed = "[[closed_period]]\nname = \"winter\"\nproducts = [\"starter_balance\"]\nfirst_day = \"10-15\"\nlast_day = \"01-31\"\nsource = \"invented for this test\"\n";
    for (day, code, spread) in [("2031-01-31", 1, false), ("2031-02-01", 0, true)] {
        made.write(
            "job.toml",
            with_spreader(closed, &format!("spreading_date = \"{day}\"")),
        );
        let output = made.run(&["plan", "job.toml", "--sowing-date", "2031-03-01"]);
        assert_eq!(output.status.code(), Some(code), "{day}: {}", said(&output));
        let left = loadable(&folder);
        assert!(
            left.contains(&"terminal/TASKDATA/TASKDATA.XML".to_owned()),
            "{left:?}"
        );
        assert_eq!(
            left.iter().any(|name| name.starts_with("spreader/")),
            spread,
            "{left:?}"
        );
        let order = made.run(&["order", "job-plan"]);
        assert_eq!(order.status.code(), Some(code), "{day}: {}", said(&order));
        let answer = streamed(made.path());
        assert_eq!(answer["exit"], code, "{day}: {answer}");
        let held = match spread {
            true => Value::Null,
            false => serde_json::json!(["starter_balance"]),
        };
        assert_eq!(answer["held_back"], held, "{day}: {answer}");
    }
}

/// The answer of 'twinsow stream' to one line, sown in March.
fn streamed(folder: &Path) -> Value {
    fs::write(
        folder.join("line.json"),
        "{\"job\":{\"sowing_date\":\"2031-03-01\"}}\n",
    )
    .expect("written");
    let line = fs::File::open(folder.join("line.json")).expect("a file");
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["stream", "--job", "job.toml"])
        .current_dir(folder)
        .stdin(line)
        .output()
        .expect("the program starts");
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {output:?}"))
}

/// Files of the audit of the folder `job-plan` against its plan, and its exit code.
fn audited(made: &Made) -> (Vec<String>, Option<i32>) {
    let output = made.run(&[
        "audit",
        "job-plan",
        "--plan",
        "job-plan/plan.json",
        "--json",
    ]);
    let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let files = found["files"].as_array().expect("files").iter();
    let files = files.map(|file| file["file"].as_str().expect("a name").to_owned());
    (files.collect(), output.status.code())
}

#[test]
fn an_audit_of_the_drills_folder_reads_the_spreaders_plan() {
    let made = made("", "limits = { step_kg_per_ha = 10.0 }");
    assert!(made.run(&["plan", "job.toml"]).status.success());
    let (files, code) = audited(&made);
    assert_eq!(code, Some(0));
    let inside = |files: &[String]| {
        let own = files.iter();
        own.filter(|file| file.starts_with("job-plan/spreader/"))
            .count()
    };
    assert!(inside(&files) > 8, "{files:?}");
    // A file that is only called so hides nothing.
    let stray = made.path().join("job-plan/gis/plan.json");
    fs::write(&stray, "{}").expect("written");
    assert_eq!(audited(&made), (files, Some(0)));
    fs::remove_file(&stray).expect("removed");

    let grid = made
        .path()
        .join("job-plan/spreader/terminal/TASKDATA/GRD00001.bin");
    let mut cells = fs::read(&grid).expect("a grid");
    let at = cells.chunks(4).position(|cell| cell != [0; 4]);
    cells[at.expect("a rate") * 4] ^= 1;
    fs::write(&grid, cells).expect("written");
    let (files, code) = audited(&made);
    assert_eq!(code, Some(1), "{files:?}");
    // Without its own plan.json they are held against the drill's, and are wrong.
    assert!(made.run(&["plan", "job.toml"]).status.success());
    fs::write(made.path().join("job-plan/spreader/plan.json"), "{").expect("written");
    let (files, code) = audited(&made);
    assert_eq!(code, Some(1), "{files:?}");
    assert!(inside(&files) > 8, "{files:?}");
}

#[test]
fn what_was_not_written_for_the_spreader_is_not_named() {
    let made = made("", "limits = { step_kg_per_ha = 10.0 }");
    let output = made.run(&["plan", "job.toml", "--only", "report,tables"]);
    assert!(output.status.success(), "{}", said(&output));
    let folder = made.path().join("job-plan");
    assert!(!folder.join("spreader").exists());
    let plan = json(&folder.join("plan.json"));
    let spreader = &plan["tally"]["balances"][0]["spreader"];
    assert!(
        spreader["plan"].is_string() && spreader["folder"].is_null(),
        "{spreader}"
    );
    let page = fs::read_to_string(folder.join("report.html")).expect("a page");
    assert!(page.contains("whose files were not written") && !page.contains("<code>spreader/"));
    let refused = made.run(&["stick", "job-plan", "--spreader", "--to", "stick"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        said(&refused).contains("was written without the files for its spreader"),
        "{}",
        said(&refused)
    );
}

#[test]
fn each_machine_has_a_stick_of_its_own() {
    let made = made("", "limits = { step_kg_per_ha = 10.0 }");
    assert!(made.run(&["plan", "job.toml"]).status.success());
    let refused = made.run(&["stick", "job-plan", "job-plan/spreader", "--to", "both"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        said(&refused).contains("the drill's meters would get the spreader's rates"),
        "{}",
        said(&refused)
    );
    assert!(!made.path().join("both").exists());
    let refused = made.run(&["order", "job-plan", "job-plan/spreader"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        said(&refused).contains("holds what it spreads"),
        "{}",
        said(&refused)
    );

    for (to, more) in [
        ("drill-stick", None),
        ("spreader-stick", Some("--spreader")),
    ] {
        let mut args = vec!["stick", "job-plan", "--to", to];
        args.extend(more);
        let output = made.run(&args);
        assert!(output.status.success(), "{}", said(&output));
    }
    let record = json(&made.path().join("spreader-stick/stick.json"));
    let plan = json(&made.path().join("job-plan/plan.json"));
    let spreader = &plan["tally"]["balances"][0]["spreader"];
    assert_eq!(record["fields"][0]["plan"], spreader["plan"]);
    assert_eq!(
        record["fields"][0]["products"][0]["map_kg"],
        spreader["map_kg"]
    );
    assert_eq!(
        json(&made.path().join("drill-stick/stick.json"))["fields"][0]["plan"],
        plan["id"]
    );
    let page = fs::read_to_string(made.path().join("spreader-stick/README.txt")).expect("a page");
    assert!(page.starts_with("FOR THE SPREADER ALONE"), "{page}");
    assert!(
        !page.contains("flat rate without a map") && !page.contains("hopper '"),
        "{page}"
    );
    // The drill's files say nothing of the spreader's product, and both are read back.
    let drill =
        fs::read_to_string(made.path().join("drill-stick/TASKDATA/TASKDATA.XML")).expect("a set");
    assert_eq!(drill.matches("<PDT ").count(), 2);
    let audit = json(&made.path().join("job-plan/spreader/audit.json"));
    assert_eq!(audit["plan"], spreader["plan"]);
    assert_eq!(
        audit["differences"]
            .as_array()
            .map(|all| all.iter().any(|of| of["explained"] == false)),
        Some(false)
    );

    // A changed cell is refused.
    let grid = made
        .path()
        .join("job-plan/spreader/terminal/TASKDATA/GRD00001.bin");
    let mut cells = fs::read(&grid).expect("a grid");
    let at = cells
        .chunks(4)
        .position(|cell| cell != [0; 4])
        .expect("a rate")
        * 4;
    cells[at] ^= 1;
    fs::write(&grid, cells).expect("written");
    let refused = made.run(&["stick", "job-plan", "--spreader", "--to", "spreader-stick"]);
    assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
}

#[test]
fn a_spreader_with_nothing_to_spread_is_told() {
    let made = plain("");
    made.write(
        "job.toml",
        format!("{}[spreader]\nworking_width_m = 18.0\n", job("")),
    );
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("no product of it can leave anything to broadcast"),
        "{}",
        said(&output)
    );
    made.write("job.toml", with_spreader("", "throw_m = 5.0"));
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("throws less far"),
        "{}",
        said(&output)
    );
    for (more, wanted) in [
        (
            "limits = { min_kg_per_ha = 50.0, max_kg_per_ha = 40.0 }",
            "[spreader]",
        ),
        (
            "limits = { label_max_seeds_per_ha = 5.0 }",
            "limit in seeds",
        ),
    ] {
        made.write("job.toml", with_spreader("", more));
        let output = made.run(&["plan", "job.toml"]);
        assert_eq!(output.status.code(), Some(2), "{more}");
        assert!(said(&output).contains(wanted), "{}", said(&output));
    }
}

/// A closed period and a signature that name what is broadcast alone are for the spreader's plan.
#[test]
fn what_concerns_the_spreader_alone_is_settled_there() {
    let closed = "[[closed_period]]\nname = \"winter\"\nproducts = [\"starter_balance\"]\nfirst_day = \"10-15\"\nlast_day = \"01-31\"\nsource = \"invented for this test\"\n";
    let made = made(closed, "spreading_date = \"2031-03-01\"");
    let plan = planned(made.path()).expect("a plan");
    assert!(plan.open().is_empty() && of_spreader(&plan).open().is_empty());
    // Without any date the spreader's plan waits, and the drill's does not.
    made.write("job.toml", with_spreader(closed, ""));
    let plan = planned(made.path()).expect("a plan");
    assert!(plan.open().is_empty(), "{:?}", plan.open());
    assert_eq!(of_spreader(&plan).open().len(), 1);

    // Potash instead of the starter's rest, far beyond every recommendation: the entry of the note settles it.
    let text = with_spreader("", "limits = { step_kg_per_ha = 10.0 }")
        .replace(
            "grade = { p2o5_percent = 46.0 }",
            "grade = { p2o5_percent = 5.0 }",
        )
        .replace(
            "[spreader]",
            "[product.balance]\nname = \"potash\"\ngrade = { k2o_percent = 60.0 }\n[spreader]",
        )
        .replace("a = 100.0, b = 63.0", "a = 1300.0, b = 1300.0")
        .replace("placed_percent = 50.0", "placed_percent = 4.0");
    made.write("job.toml", &text);
    let plan = planned(made.path()).expect("a plan");
    assert!(plan.open().is_empty(), "{:?}", plan.open());
    let open = of_spreader(&plan).open();
    assert_eq!(open.len(), 1, "{open:?}");
    let own = of_spreader(&plan);
    let entry = open[0].entry(&own.job).expect("an entry");
    let lines: Vec<String> = twinsow::write::open_lines(own)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(
        lines
            .iter()
            .any(|line| line.trim() == "products = [\"starter_balance\"]"),
        "{lines:?}"
    );
    let entry = entry
        .replace("why = \"\"", "why = \"seen\"")
        .replace("by = \"\"", "by = \"the grower\"")
        .replace("on = \"\"", "on = \"2031-02-01\"");
    made.write("job.toml", format!("{text}{entry}\n"));
    let plan = planned(made.path()).expect("a plan");
    assert!(plan.open().is_empty() && of_spreader(&plan).open().is_empty());
    assert_eq!(of_spreader(&plan).signed().len(), 1);
    let told = |plan: &Plan| {
        plan.findings
            .iter()
            .any(|of| of.code.starts_with("accepted."))
    };
    assert!(!told(&plan) && !told(of_spreader(&plan)));
}

/// A ditch for the spreader alone that does not reach the land: the drill has nothing to wait for, and the entry that settles it is in the
/// words of the spreader's job.
#[test]
fn a_decision_about_what_is_spread_holds_the_spreaders_files_alone() {
    let made = made("", "");
    made.write(
        "ditch.geojson",
        collection(&[line(PLACE, &[[900.0, -50.0], [900.0, 200.0]])]),
    );
    let setback = "[[setback]]\nname = \"far ditch\"\nsource = { file = \"ditch.geojson\" }\ndistance_m = 5\nproducts = [\"starter_balance\"]\n";
    let text = with_spreader(setback, "");
    made.write("job.toml", &text);
    let folder = made.path().join("job-plan");
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let left = loadable(&folder);
    assert!(
        left.contains(&"terminal/TASKDATA/TASKDATA.XML".to_owned()),
        "{left:?}"
    );
    assert!(
        left.iter().all(|name| !name.starts_with("spreader/")),
        "{left:?}"
    );
    assert!(!folder.join("terminal/NOT-READY.txt").exists());
    let plan = planned(made.path()).expect("a plan");
    assert!(plan.open().is_empty() && !plan.holds_any_back() && plan.waits());
    let open = of_spreader(&plan).open();
    assert_eq!(open.len(), 1, "{open:?}");
    let entry = open[0].entry(&of_spreader(&plan).job).expect("an entry");
    let entry = entry
        .replace("why = \"\"", "why = \"seen\"")
        .replace("by = \"\"", "by = \"the grower\"")
        .replace("on = \"\"", "on = \"2031-02-01\"");
    made.write("job.toml", format!("{text}{entry}\n"));
    let plan = planned(made.path()).expect("a plan");
    assert_eq!(of_spreader(&plan).signed().len(), 1);
    assert!(!plan.waits());
    assert!(
        !plan
            .findings
            .iter()
            .chain(&of_spreader(&plan).findings)
            .any(|of| of.code.starts_with("accepted."))
    );
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(
        loadable(&folder)
            .iter()
            .any(|name| name.starts_with("spreader/"))
    );

    // All of the starter is placed: nothing is spread, nothing is to be decided, and the entry answers nothing.
    let placed = text.replace("placed_percent = 50.0", "placed_percent = 100.0");
    made.write("job.toml", format!("{placed}{entry}\n"));
    let plan = planned(made.path()).expect("a plan");
    assert!(plan.spreaders.is_empty() && !plan.waits());
    let told = |code: &str| {
        let all = plan.findings.iter().filter(|of| of.code == code);
        all.map(|of| (of.severity, of.message.clone()))
            .collect::<Vec<_>>()
    };
    let nothing = told("accepted.nothing_to_sign");
    assert_eq!(nothing.len(), 1, "{nothing:?}");
    assert!(nothing[0].1.contains("'starter_balance'"), "{nothing:?}");
    assert_eq!(told(open[0].decision.code()).len(), 1);
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
}
