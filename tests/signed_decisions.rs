//! While a decision is open no file that a terminal could load exists; a signature settles what may be signed for, as
//! long as the case is no stricter.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, job, plain, rectangle, said};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;
use twinsow::findings::{Decision, Settled};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options};

/// Zones a and b with a gap between them: `wide` m of the 200 m of the field.
fn gap(made: &Made, wide: f64) {
    let zone = |class: &str, west: f64, east: f64| {
        let shape = rectangle([west, -10.0], [east, 160.0]);
        feature(PLACE, &format!(r#""soil":"{class}""#), &shape)
    };
    let zones = [zone("a", -10.0, 80.0), zone("b", 80.0 + wide, 210.0)];
    made.write("soil.geojson", collection(&zones));
}

/// The entry that the note asks for, filled in.
fn entry(hectares: f64) -> String {
    format!(
        "[[accepted]]\nfinding = \"zones.gaps_large\"\nplace = \"soil\"\nhectares = {hectares}\nsown = \"seed (wheat); starter (0-0-0)\"\ndrill = \"6 m\"\nwhy = \"the strip is loam, walked on foot\"\nby = \"R. Example\"\non = \"2031-02-03\"\n"
    )
}

fn planned(made: &Made, code: i32) -> Output {
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(code), "{}", said(&output));
    output
}

fn printed(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// All files of the plan but the marker, with `/`, sorted.
fn files(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(here) = open.pop() {
        for each in fs::read_dir(&here).expect("a folder").flatten() {
            let path = each.path();
            match path.is_dir() {
                true => open.push(path),
                false => {
                    let name = path.strip_prefix(folder).expect("inside");
                    found.push(name.to_string_lossy().replace('\\', "/"));
                }
            }
        }
    }
    found.sort();
    found
}

/// Files that a terminal could load.
fn loadable(made: &Made) -> Vec<String> {
    let ends = [".XML", ".bin", ".shp", ".shp.zip", ".dbf", ".shx", ".prj"];
    let all = files(&made.path().join("job-plan")).into_iter();
    all.filter(|name| ends.iter().any(|end| name.ends_with(end)))
        .collect()
}

fn read(made: &Made, name: &str) -> String {
    fs::read_to_string(made.path().join("job-plan").join(name)).expect(name)
}

fn document(made: &Made) -> Value {
    serde_json::from_str(&read(made, "plan.json")).expect("JSON")
}

/// The findings with this code.
fn found(plan: &Value, code: &str) -> Vec<Value> {
    let all = plan["findings"].as_array().expect("findings").iter();
    all.filter(|of| of["code"] == code).cloned().collect()
}

#[test]
fn an_open_decision_about_the_field_leaves_nothing_for_terminals() {
    let made = plain("");
    planned(&made, 0);
    let before = loadable(&made);
    assert!(before.len() > 10, "{before:?}");

    // Planned again into the same folder, the old set must not stay.
    gap(&made, 20.0);
    let output = planned(&made, 1);
    assert_eq!(loadable(&made), Vec::<String>::new());
    let screen = printed(&output);
    assert!(screen.starts_with("NOT READY FOR THE TERMINAL: 1 decision is open."));
    assert!(!screen.contains("If the map will not load"), "{screen}");
    for name in ["terminal/NOT-READY.txt", "terminal/fallback/README.txt"] {
        let page = read(&made, name);
        let third = page.lines().nth(2).unwrap_or_default();
        assert!(third.starts_with("NOT READY FOR THE TERMINAL"), "{page}");
        assert!(page.contains("zones.gaps_large") && page.contains("[[accepted]]"));
        assert!(!page.contains("copy the folder"), "{page}");
    }
    let plan = document(&made);
    assert_eq!(
        plan["terminal"]["held_back"],
        serde_json::json!(["seed", "starter"])
    );
    let report = read(&made, "report.html");
    let main = report.find("<main>").expect("the page");
    assert!(
        report[main..]
            .trim_start_matches("<main>")
            .trim_start()
            .starts_with("<section class=\"sheet open\"")
    );
    assert!(
        !report.contains("Copy to the stick"),
        "the report sends nobody to the stick"
    );
    // All but the terminal's files is there.
    for name in [
        "gis/rates.gpkg",
        "gis/rates.geojson",
        "order.csv",
        "rates.csv",
        "audit.json",
    ] {
        assert!(made.path().join("job-plan").join(name).is_file(), "{name}");
    }
}

#[test]
fn a_signature_settles_it_and_travels_with_the_plan() {
    let made = plain("");
    gap(&made, 20.0);
    made.write("job.toml", job("") + &entry(0.31));
    let output = planned(&made, 0);
    assert!(loadable(&made).len() > 10);
    assert!(!made.path().join("job-plan/terminal/NOT-READY.txt").exists());
    let plan = document(&made);
    let signed = &found(&plan, "zones.gaps_large")[0];
    assert_eq!(signed["severity"], "decision", "it stays a decision");
    let signature = serde_json::json!({
        "by": "R. Example", "on": "2031-02-03", "why": "the strip is loam, walked on foot"
    });
    assert_eq!(signed["accepted"], signature);
    assert_eq!(plan["terminal"].get("held_back"), None);
    let pages = [
        printed(&output),
        read(&made, "terminal/fallback/README.txt"),
    ];
    for page in pages {
        assert!(
            page.contains(
                "Accepted by R. Example on 2031-02-03: the strip is loam, walked on foot"
            ),
            "{page}"
        );
    }
    let report = read(&made, "report.html");
    for sheet in ["id=\"operator\"", "id=\"adviser\""] {
        let at = report.find(sheet).expect("a sheet");
        let end = report[at..].find("</section>").expect("its end");
        let sheet = &report[at..at + end];
        assert!(
            sheet.contains("R. Example") && sheet.contains("walked on foot"),
            "{sheet}"
        );
    }
}

#[test]
fn a_signature_holds_while_the_case_is_no_stricter() {
    let made = plain("");
    gap(&made, 20.0);
    // 20 m of 150 m are 0.30 ha.
    let with = |text: String, code: i32| {
        made.write("job.toml", text);
        let output = planned(&made, code);
        (document(&made), printed(&output))
    };
    // 1 % and 4 % more land than was signed for open nothing, 8 % more do.
    for (hectares, code) in [(0.5, 0), (0.297, 0), (0.288, 0), (0.277, 1)] {
        with(job("") + &entry(hectares), code);
    }
    let not_held = |text: String, why: &str| {
        let (plan, _) = with(text, 1);
        let told = found(&plan, "accepted.does_not_hold");
        let told = told[0]["message"].as_str().expect("a message").to_owned();
        assert!(told.contains(why), "{told}");
        assert!(loadable(&made).is_empty());
    };
    not_held(
        job("").replace("working_width_m = 6.0", "working_width_m = 8.0") + &entry(0.31),
        "drill is '8 m' now, and '6 m' was signed for",
    );
    not_held(
        job("").replace("name = \"seed\"", "name = \"winter oats\"") + &entry(0.31),
        "sown is 'winter oats (wheat); starter (0-0-0)' now",
    );
    let limit = |dry| {
        format!(
            "[[seed_safe]]\ntable = \"manitoba_phosphate\"\ncrop = \"cereals\"\nspread_m = 0.03\ndry = {dry}\n"
        )
    };
    let starter = job("")
        .replace(
            "working_width_m = 6.0",
            "working_width_m = 6.0\nrows = 48\nrow_spacing_m = 0.125",
        )
        .replace(
            "row_spacing_m = 2.0\n",
            "row_spacing_m = 2.0\nspread_m = 0.03\nform = \"monoammonium_phosphate\"\ngrade = { n_percent = 12, p2o5_percent = 52 }\n",
        )
        .replace(
            "hopper = \"rear\"\n",
            "hopper = \"rear\"\nform = \"monoammonium_phosphate\"\ngrade = { n_percent = 12, p2o5_percent = 52 }\n",
        );
    let moist = entry(0.31)
        .replace(
            "starter (0-0-0)",
            "starter (12-52-0, monoammonium phosphate); manitoba_phosphate for cereals, moist, spread 0.03 m",
        )
        .replace("\"6 m\"", "\"6 m, 48 rows, 0.125 m apart\"");
    with(starter.clone() + &limit(false) + &moist, 0);
    not_held(
        starter + &limit(true) + &moist,
        "cereals, dry, spread 0.03 m' now",
    );
    not_held(
        job("").replace(
            "name = \"made\"\n[field]",
            "name = \"made\"\nsowing_date = \"2032-03-20\"\n[field]",
        ) + &entry(0.31)
            + "season = 2031\n",
        "another season",
    );
    not_held(
        job("") + &entry(0.31).replace("hectares = 0.31\n", ""),
        "names no hectares",
    );
    // About another layer, or about nothing at all: told, and nothing is signed.
    for entry in [
        entry(0.31).replace("\"soil\"", "\"yield\""),
        entry(0.31).replace("zones.gaps_large", "zones.special_area_outside"),
        entry(0.31) + "products = [\"seed\"]\n",
    ] {
        let (plan, _) = with(job("") + &entry, 1);
        assert_eq!(found(&plan, "accepted.nothing_to_sign").len(), 1, "{entry}");
    }
}

/// The job with the starter closed at some time of the year, and no sowing date to hold against it.
fn closed() -> String {
    job("").replace(
        "[drill]",
        "[[closed_period]]\nname = \"winter\"\nproducts = [\"starter\"]\nfirst_day = \"11-01\"\nlast_day = \"02-15\"\nsource = \"invented\"\n[drill]",
    )
}

#[test]
fn what_concerns_one_product_leaves_the_others_own_files() {
    let made = plain("");
    made.write("job.toml", closed());
    planned(&made, 1);
    let left = loadable(&made);
    assert!(!left.is_empty());
    for name in &left {
        assert!(
            name.starts_with("terminal/fallback/shapefile-seed/"),
            "{name}"
        );
    }
    let page = read(&made, "terminal/fallback/README.txt");
    assert!(page.contains("nobody can sign for this") && page.contains("shapefile-seed/"));
    assert!(!page.contains("shapefile-starter/") && !page.contains("[[accepted]]"));
    // No flat rate stands in for a map that is held back.
    let flat = page.split("one flat rate").nth(1).unwrap_or_default();
    let flat = flat.split("A flat rate").next().unwrap_or_default();
    assert!(
        flat.contains("seed:") && !flat.contains("    starter:"),
        "{page}"
    );
    // What is held back is not missing.
    let audited = made.run(&["audit", "job-plan", "--plan", "job-plan/plan.json"]);
    assert_eq!(audited.status.code(), Some(0), "{}", said(&audited));
}

#[test]
fn a_terminal_file_beside_an_open_decision_is_wrong() {
    let made = plain("");
    gap(&made, 20.0);
    made.write("job.toml", job("") + &entry(0.31));
    planned(&made, 0);
    let mut plan = document(&made);
    for finding in plan["findings"].as_array_mut().expect("findings") {
        finding
            .as_object_mut()
            .expect("a finding")
            .remove("accepted");
    }
    made.write("job-plan/plan.json", plan.to_string());
    let audited = made.run(&[
        "audit",
        "job-plan",
        "--plan",
        "job-plan/plan.json",
        "--json",
    ]);
    assert_eq!(audited.status.code(), Some(1));
    let audit: Value = serde_json::from_slice(&audited.stdout).expect("JSON");
    let wrong: Vec<&str> = audit["differences"]
        .as_array()
        .expect("differences")
        .iter()
        .filter(|of| of["explained"] == false)
        .map(|of| of["file"].as_str().expect("a file"))
        .collect();
    let named = |part: &str| wrong.iter().any(|file| file.contains(part));
    assert!(
        named("TASKDATA") && named("shapefile-seed") && named("rates.shp.zip"),
        "{wrong:?}"
    );
    assert!(!named("rates.gpkg") && !named("rates.geojson"), "{wrong:?}");
}

#[test]
fn entries_that_cannot_be_are_faults_of_the_job() {
    let made = plain("");
    gap(&made, 20.0);
    let season = job("").replace("[drill]", "[drill]\n");
    let season = format!("sowing_date = \"2032-03-20\"\n{season}");
    let cases = [
        (
            job("") + &entry(0.3).replace("zones.gaps_large", "place.closed"),
            "'place.closed' is not one to sign for",
        ),
        (
            job("") + &entry(0.3).replace("gaps_large", "gaps_larg"),
            "did you mean \"zones.gaps_large\"?",
        ),
        (
            job("") + &entry(0.3).replace("the strip is loam, walked on foot", " "),
            "'why' is empty",
        ),
        (
            job("") + &entry(0.3).replace("R. Example", ""),
            "'by' is empty",
        ),
        (
            job("") + &entry(0.3).replace("2031-02-03", "2031-02-30"),
            "'2031-02-30' is no date",
        ),
        (
            job("") + &entry(0.3).replace("by =", "signed ="),
            "key 'by' is missing in [[accepted]] number 1",
        ),
        (job("") + &entry(0.3) + "products = [\"oats\"]\n", "oats"),
        (
            job("") + &entry(0.3) + "fields = [\"12\"]\n",
            "the job is for one field",
        ),
        (
            season + &entry(0.3),
            "'season' is missing in [[accepted]] number 1",
        ),
    ];
    for (text, wanted) in cases {
        made.write("job.toml", &text);
        let output = made.run(&["plan", "job.toml"]);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(2), "{wanted}: {said}");
        assert!(
            said.contains(wanted) && said.contains("job.toml:"),
            "{wanted}: {said}"
        );
    }
}

#[test]
fn the_entry_that_the_note_offers_holds_once_it_is_filled_in() {
    let made = plain("");
    gap(&made, 20.0);
    planned(&made, 1);
    let note = read(&made, "terminal/NOT-READY.txt");
    let lines = note
        .lines()
        .skip_while(|line| line.trim() != "[[accepted]]");
    let offered: Vec<&str> = lines
        .map(str::trim)
        .take_while(|line| !line.is_empty())
        .collect();
    let offered = offered.join("\n") + "\n";
    made.write("job.toml", job("") + &offered);
    let empty = made.run(&["plan", "job.toml"]);
    assert_eq!(empty.status.code(), Some(2), "it has to be filled in");
    let filled = offered
        .replace("why = \"\"", "why = \"seen\"")
        .replace("by = \"\"", "by = \"R. Example\"")
        .replace("on = \"\"", "on = \"2031-02-03\"");
    made.write("job.toml", job("") + &filled);
    planned(&made, 0);
}

#[test]
fn strict_asks_for_more_and_is_no_way_round() {
    let made = plain("");
    gap(&made, 20.0);
    let strict = |text: &str| {
        made.write("job.toml", text);
        let output = made.run(&["plan", "job.toml", "--strict"]);
        (output.status.code(), loadable(&made).len())
    };
    assert_eq!(strict(&job("")), (Some(1), 0));
    // Signed for, it asks for nothing more, and files are those of a plan without --strict.
    let signed = job("") + &entry(0.31);
    let (code, files) = strict(&signed);
    assert_eq!(code, Some(1), "the rate table has warnings");
    planned(&made, 0);
    assert_eq!(loadable(&made).len(), files);
}

#[test]
fn whichever_forms_are_wanted_a_note_is_left() {
    let made = plain("");
    gap(&made, 20.0);
    for forms in [
        "task-data",
        "fallback",
        "shapefile",
        "task-data,fallback,shapefile",
        "report",
        "tables",
    ] {
        let output = made.run(&["plan", "job.toml", "--only", forms]);
        assert_eq!(output.status.code(), Some(1), "{forms}: {}", said(&output));
        assert_eq!(loadable(&made), Vec::<String>::new(), "{forms}");
        assert!(
            made.path()
                .join("job-plan/terminal/NOT-READY.txt")
                .is_file()
        );
    }
}

#[test]
fn an_order_counts_what_is_open() {
    let made = plain("");
    gap(&made, 20.0);
    for (text, open) in [(job(""), 1), (job("") + &entry(0.31), 0)] {
        made.write("job.toml", &text);
        planned(&made, open);
        for from in ["job-plan", "job.toml"] {
            let output = made.run(&["order", from, "--json"]);
            assert_eq!(output.status.code(), Some(open), "{}", said(&output));
            let order: Value = serde_json::from_slice(&output.stdout).expect("JSON");
            assert_eq!(order["plans"][0]["to_decide"], open);
        }
    }
}

#[test]
fn of_many_fields_each_is_signed_for_by_name() {
    let made = plain("");
    gap(&made, 20.0);
    let field = |id: &str, west: f64, east: f64| {
        feature(
            PLACE,
            &format!(r#""id":"{id}""#),
            &rectangle([west, 0.0], [east, 150.0]),
        )
    };
    made.write(
        "boundary.geojson",
        collection(&[field("12", 0.0, 100.0), field("14", 75.0, 200.0)]),
    );
    let many = job("").replace(
        "boundary = { file = \"boundary.geojson\" }",
        "boundary = { file = \"boundary.geojson\" }\nsplit_by = \"id\"",
    );
    made.write("job.toml", many.clone() + &entry(0.31));
    let unnamed = made.run(&["plan", "job.toml"]);
    assert_eq!(unnamed.status.code(), Some(2));
    assert!(said(&unnamed).contains("'fields' is missing in [[accepted]] number 1"));
    // The note of a field names it.
    made.write("job.toml", &many);
    assert_eq!(made.run(&["plan", "job.toml"]).status.code(), Some(1));
    let note = read(&made, "14/terminal/NOT-READY.txt");
    assert!(note.contains("   fields = [\"14\"]"), "{note}");
    made.write("job.toml", many + &entry(0.31) + "fields = [\"14\"]\n");
    let output = made.run(&["plan", "job.toml", "--together"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let all = loadable(&made);
    assert!(all.iter().all(|name| name.starts_with("14/")), "{all:?}");
    assert!(
        all.iter()
            .any(|name| name == "14/terminal/TASKDATA/TASKDATA.XML")
    );
    assert!(printed(&output).contains("NOT READY FOR THE TERMINAL: 1 open"));
    assert!(made.path().join("job-plan/all-fields.geojson").is_file());
}

/// The page says of every decision what settles it, as the code has it.
#[test]
fn the_page_lists_every_decision() {
    let page = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/methods/decisions.md");
    let page = fs::read_to_string(page).expect("the page");
    let of_commands = [Decision::LogLacksProduct, Decision::EstablishmentBeyond];
    for decision in Decision::ALL {
        let code = decision.code();
        if of_commands.contains(&decision) {
            assert!(page.contains(code), "{code}");
            continue;
        }
        let row = page
            .lines()
            .find(|line| line.starts_with(&format!("| `{code}` |")));
        let cells: Vec<&str> = row
            .unwrap_or_else(|| panic!("no row for {code}"))
            .split('|')
            .collect();
        let settled = match decision.settled() {
            Settled::ByChange => "a change",
            Settled::ByChangeOrSignature => "a change or a signature",
        };
        assert_eq!(cells[3].trim(), settled, "{code}");
        assert!(cells[4].trim().len() > 10, "{code} has no reason");
    }
}

/// The scenario ends with terminal files, and no example asks more than three things.
#[test]
fn ordinary_jobs_ask_three_things_at_most() {
    for (example, most) in [("demo", 0), ("oats-in-peas", 3), ("three-inputs", 3)] {
        let path = format!("{}/examples/{example}/job.toml", env!("CARGO_MANIFEST_DIR"));
        let job = Job::load(Path::new(&path)).map_err(|fault| fault.to_string());
        let plan = plan::plan(&job.expect("a job"), &Disk, &Options::rates_only());
        let plan = plan.map_err(|fault| fault.to_string()).expect("a plan");
        let open = plan.open();
        assert!(open.len() <= most, "{example}: {open:?}");
    }
}
