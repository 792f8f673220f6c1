//! At the gate: another lot, grain weight or catch, with map, order, sheets and stick anew, and the old plan marked as replaced.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, plain, rectangle, two_zones};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use tempfile::TempDir;

/// A field of 300 x 200 m, a rotor that is not full.
fn job(folder: &Path, name: &str, lon: f64) {
    let here = folder.join(name);
    fs::create_dir(&here).expect("a folder");
    let east = lon + 0.0042;
    let ring = format!("[[[{lon},50],[{east},50],[{east},50.0018],[{lon},50.0018],[{lon},50]]]");
    fs::write(
        here.join("field.geojson"),
        format!(r#"{{"type":"Polygon","coordinates":{ring}}}"#),
    )
    .expect("written");
    let text = format!(
        r#"# {name}, a comment that stays
name = "{name}"
field = {{ name = "{name}", customer = "Estate", boundary = {{ file = "field.geojson" }} }}
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper.rotor]]
name = "A"
cm3_per_rev = 500.0
min_rev_per_min = 1.0
max_rev_per_min = 200.0
filling_percent = 80.0
[[product]]
id = "barley"
name = "Spring barley"
kind = "seed"
crop = "spring barley"
hopper = "front"
lot = "B-17"
thousand_grain_weight_g = 40.0
bulk_density_kg_per_l = 0.7
pack_kg = 500.0
rate = {{ seeds_per_m2 = 350.0 }}
"#
    );
    fs::write(here.join("job.toml"), text).expect("the job");
}

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program starts")
}

fn said(output: &Output) -> String {
    let [out, err] =
        [&output.stdout, &output.stderr].map(|text| String::from_utf8_lossy(text).into_owned());
    format!("{out}{err}")
}

fn plan(folder: &Path, name: &str) -> Value {
    let file = folder.join(name).join("job-plan/plan.json");
    serde_json::from_str(&fs::read_to_string(file).expect("a plan")).expect("JSON")
}

#[test]
fn another_lot_changes_all_that_leaves_the_farm_and_marks_the_old_plan() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    job(here, "one", 8.0);
    job(here, "two", 8.1);
    let output = twinsow(here, &["plan", "one/job.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    twinsow(here, &["plan", "two/job.toml"]);
    let output = twinsow(
        here,
        &["stick", "one/job-plan", "two/job-plan", "--to", "stick"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let before = plan(here, "one");
    let text = fs::read_to_string(here.join("one/job.toml")).expect("the job");

    // Without the other field's plan the stick would lose it: nothing is made of the stick.
    let lot = [
        "reissue",
        "one/job.toml",
        "--lot",
        "barley=B-18",
        "--grain-weight",
        "barley=50",
        "--stick",
        "stick",
    ];
    let output = twinsow(here, &lot);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("two"), "{}", said(&output));
    let output = twinsow(
        here,
        &[&lot[..], &["--plans", "one/job-plan", "two/job-plan"]].concat(),
    );
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let now = plan(here, "one");
    assert_ne!(before["id"], now["id"]);
    // 350 seeds/m2 of 40 g are 140 kg/ha, of 50 g 175.
    let kg = |plan: &Value| {
        plan["tally"]["products"][0]["steps"][0]["kg"]
            .as_f64()
            .expect("kg")
    };
    assert!((kg(&now) / kg(&before) - 1.25).abs() < 1e-9);
    let changed = fs::read_to_string(here.join("one/job.toml")).expect("the job");
    assert_eq!(
        changed,
        text.replace("B-17", "B-18").replace(
            "thousand_grain_weight_g = 40.0",
            "thousand_grain_weight_g = 50.0"
        )
    );
    // The stick holds the new one, and says which it took the place of.
    let set = fs::read_to_string(here.join("stick/TASKDATA/TASKDATA.XML")).expect("the set");
    let id = |plan: &Value| plan["id"].as_str().expect("an id").to_owned();
    assert!(set.contains(&id(&now)) && !set.contains(&id(&before)));
    assert!(set.contains("Lot B-18"));
    let page = fs::read_to_string(here.join("stick/README.txt")).expect("the page");
    assert!(
        page.contains("REPLACED")
            && page.contains(&format!("{}, one: by {}", id(&before), id(&now))),
        "{page}"
    );

    // A set with the old task beside the record is told.
    let output = twinsow(here, &["contents", "stick"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let old = here.join("stick/old/TASKDATA");
    fs::create_dir_all(&old).expect("a folder");
    for entry in fs::read_dir(here.join("stick/TASKDATA")).expect("a set") {
        let entry = entry.expect("a file").path();
        fs::copy(&entry, old.join(entry.file_name().expect("a name"))).expect("copied");
    }
    fs::write(
        old.join("TASKDATA.XML"),
        set.replace(&id(&now), &id(&before)),
    )
    .expect("written");
    let output = twinsow(here, &["contents", "stick"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(
        said(&output).contains(&format!("REPLACED by {}", id(&now))),
        "{}",
        said(&output)
    );
    fs::remove_dir_all(here.join("stick/old")).expect("gone");

    // Back to the old lot: it lies there again, and the other one is replaced.
    let back = [
        "reissue",
        "one/job.toml",
        "--lot",
        "barley=B-17",
        "--grain-weight",
        "barley=40",
        "--stick",
        "stick",
        "--plans",
        "two/job-plan",
    ];
    let output = twinsow(here, &back);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert_eq!(id(&plan(here, "one")), id(&before));
    let record: Value =
        serde_json::from_str(&fs::read_to_string(here.join("stick/stick.json")).expect("a record"))
            .expect("JSON");
    let replaced: Vec<&str> = record["replaced"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|own| own["plan"].as_str().expect("an id"))
        .collect();
    assert_eq!(replaced, [id(&now)]);
}

#[test]
fn a_catch_corrects_what_the_rotor_fills_and_what_makes_no_plan_changes_nothing() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    job(here, "one", 8.0);
    let text = fs::read_to_string(here.join("one/job.toml")).expect("the job");
    // 140 kg/ha on 250 m2 are 3.5 kg; 3.325 were caught: 95 %, so the rotor fills 76 and not 80 %.
    let output = twinsow(
        here,
        &["reissue", "one/job.toml", "--caught", "barley=3.325"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let changed = fs::read_to_string(here.join("one/job.toml")).expect("the job");
    assert_eq!(
        changed,
        text.replace("filling_percent = 80.0", "filling_percent = 76.0")
    );
    let refused = |more: &[&str], words: &str| {
        let output = twinsow(here, &[&["reissue", "one/job.toml"], more].concat());
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains(words), "{}", said(&output));
        // The command is at fault, so nobody is sent to the job file.
        assert!(
            !said(&output).contains("error: one/job.toml"),
            "{}",
            said(&output)
        );
        assert_eq!(
            fs::read_to_string(here.join("one/job.toml")).expect("the job"),
            changed
        );
    };
    refused(&[], "Nothing is to be changed");
    refused(&["--lot", "rye=1"], "no such product");
    refused(&["--lot", "barley"], "--lot PRODUCT=VALUE");
    refused(&["--grain-weight", "barley=heavy"], "--grain-weight");
    refused(
        &["--seeds-per-lb", "barley=11000"],
        "Give it as --grain-weight",
    );
    // The catch of the drill as it was set would be taken off twice: from the filling and from the density.
    for (option, value) in [
        ("--density", "barley=0.63"),
        ("--grain-weight", "barley=50"),
        ("--germination", "barley=95"),
        ("--sowing-date", "2031-03-20"),
    ] {
        let both = [option, value, "--caught", "barley=3.15"];
        refused(&both, &format!("--caught stands beside {option}"));
    }
    // The second of two changes makes no job: the first is taken back.
    refused(
        &["--lot", "barley=B-18", "--grain-weight", "barley=90000"],
        "With --grain-weight barley=90000 ",
    );
    refused(
        &["--lot", "barley=B-18", "--sowing-date", "soon"],
        "--sowing-date is 'soon'",
    );
    refused(
        &["--germination", "barley=-4"],
        "With --germination barley=-4 ",
    );
    refused(
        &["--lot", "barley=B-18", "--lot", "barley=B-19"],
        "--lot names 'barley' twice",
    );
    refused(
        &["--caught", "barley=3.3", "--caught", "barley =3.2"],
        "--caught names 'barley' twice",
    );
    // A stick that is not there is no stick to make anew.
    refused(
        &["--lot", "barley=B-18", "--stick", "nowhere"],
        "--stick is 'nowhere', and no stick is there",
    );
    assert!(!here.join("nowhere").exists());
}

#[test]
fn a_job_that_made_no_plan_before_is_told_as_it_is_and_not_the_command() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    job(here, "one", 8.0);
    let file = here.join("one/job.toml");
    let before = format!("{}[grid]\nmost_cells = 10\n", text(&file));
    fs::write(&file, &before).expect("the job");
    let lot = ["reissue", "one/job.toml", "--lot", "barley=B-18"];
    let refused = ends(here, 2, &lot);
    for part in [
        "error: one/job.toml: cells of ",
        "at most 10 cells",
        "Next: set cell_m under [grid] to ",
        "if your terminal takes it. Nothing was changed.",
    ] {
        assert!(refused.contains(part), "{part}: {refused}");
    }
    for part in ["With --lot", "Correct the command"] {
        assert!(!refused.contains(part), "{refused}");
    }
    assert_eq!(text(&file), before);
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&text(path)).expect("JSON")
}

/// The id of the plan in a folder.
fn id(folder: &Path) -> String {
    let plan = json(&folder.join("plan.json"));
    plan["id"].as_str().expect("an id").to_owned()
}

/// What the program says, which has to end so.
fn ends(folder: &Path, code: i32, arguments: &[&str]) -> String {
    let output = twinsow(folder, arguments);
    assert_eq!(output.status.code(), Some(code), "{}", said(&output));
    said(&output)
}

#[test]
fn the_stick_stays_as_it_was_made_and_the_old_plan_is_kept() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    for (name, lon) in [("one", 8.0), ("two", 8.1)] {
        job(here, name, lon);
        let file = here.join(name).join("job.toml");
        ends(here, 0, &["plan", file.to_str().expect("unicode")]);
    }
    let plans = ["one/job-plan", "two/job-plan"];
    let all = [
        &["stick"],
        &plans[..],
        &["--to", "stick", "--most-fields", "1"],
    ]
    .concat();
    ends(here, 0, &all);
    let file = here.join("one/job.toml");
    let before = text(&file);
    let old = id(&here.join("one/job-plan"));
    let lot = |lot: &'static str, more: &[&'static str]| {
        let all = ["reissue", "one/job.toml", "--lot", lot, "--stick", "stick"];
        [&all[..], more].concat()
    };
    let dropped = ends(here, 2, &lot("barley=B-18", &[]));
    assert!(
        dropped.contains("no plan of them is named: two"),
        "{dropped}"
    );
    // Something of somebody else's in the plan: nothing is changed, and no copy stays.
    let foreign = here.join("one/job-plan/notes.txt");
    fs::write(&foreign, "seen").expect("written");
    let others = ["--plans", "two/job-plan"];
    ends(here, 2, &lot("barley=B-18", &others));
    let kept = here.join(format!("one/job-plan-{old}"));
    assert!(text(&file) == before && !kept.exists());
    fs::remove_file(foreign).expect("removed");

    let shown = ends(here, 0, &lot("barley=B-18", &others));
    assert!(
        shown.contains(&format!(
            "compare one/job-plan-{old} LOG --rest one/job.toml"
        )),
        "{shown}"
    );
    assert!(shown.contains("in 2 parts"), "{shown}");
    assert!(here.join("stick/part-2/TASKDATA/TASKDATA.XML").is_file());
    assert!(!here.join("stick/TASKDATA").exists());
    assert_eq!(id(&kept), old);
    assert!(kept.join("terminal/TASKDATA/TASKDATA.XML").is_file());
    ends(here, 0, &["audit", &format!("one/job-plan-{old}")]);
    // A folder with plans in it still stands for the plan of today.
    let shown = ends(here, 0, &["stick", "one", "two", "--to", "another"]);
    assert!(
        shown.contains("2 fields as") && !shown.contains(&old),
        "{shown}"
    );
    let named = [
        "--plans",
        "two/job-plan",
        &*format!("one/job-plan-{old}").leak(),
    ];
    let twice = ends(here, 2, &lot("barley=B-19", &named));
    assert!(
        twice.contains("plan of 'one' too") || twice.contains("Two plans"),
        "{twice}"
    );

    // What cannot be made of the stick does not hide what was made of the plan.
    let foreign = here.join("stick/log.txt");
    fs::write(&foreign, "logged").expect("written");
    let before = id(&here.join("one/job-plan"));
    let shown = ends(here, 2, &lot("barley=B-20", &others));
    let now = id(&here.join("one/job-plan"));
    assert!(
        shown.contains(&format!("Plan {now}, instead of {before},"))
            && shown.contains("stick could not be made anew")
            && shown.contains("log.txt"),
        "{shown}"
    );
    fs::remove_file(foreign).expect("removed");

    // A record that does not say how the stick was made.
    let record = here.join("stick/stick.json");
    let told = json(&record);
    assert_eq!(
        (&told["machine"], &told["limits"]["fields"]),
        (&"drill".into(), &1.into())
    );
    let mut untold = told;
    untold.as_object_mut().expect("a record").remove("machine");
    fs::write(&record, untold.to_string()).expect("written");
    let before = text(&file);
    let refused = ends(here, 2, &lot("barley=B-21", &others));
    assert!(refused.contains("An earlier version"), "{refused}");
    assert_eq!(text(&file), before);
}

#[test]
fn a_job_in_seeds_per_pound_gets_seeds_per_pound() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    job(here, "one", 8.0);
    let file = here.join("one/job.toml");
    let before = text(&file).replace("thousand_grain_weight_g = 40.0", "seeds_per_lb = 11000");
    fs::write(&file, &before).expect("the job");
    let refused = ends(
        here,
        2,
        &["reissue", "one/job.toml", "--grain-weight", "barley=46.5"],
    );
    assert!(
        refused.contains("--seeds-per-lb, as the job has it"),
        "{refused}"
    );
    assert_eq!(text(&file), before);
    let shown = ends(
        here,
        0,
        &["reissue", "one/job.toml", "--seeds-per-lb", "barley=12000"],
    );
    assert!(
        shown.contains("Spring barley: 12000 seeds per lb"),
        "{shown}"
    );
    let number = text(&file).replace("seeds_per_lb = 12000.0", "seeds_per_lb = 11000");
    assert_eq!(number, before);
}

/// Half of the starter is placed; the other half is left for the spreader.
#[test]
fn the_spreaders_stick_is_left_alone_and_told_to_be_void() {
    let made = plain("");
    let text_of = plan_support::job("").replace(
        "rate = { kg_per_ha = { layer = \"soil\", by_class = { a = 100.0, b = 0.0 } } }\nlimits = { min_kg_per_ha = 40.0, max_kg_per_ha = 120.0 }",
        "grade = { p2o5_percent = 46.0 }\nrate = { kg_per_ha = { layer = \"soil\", by_class = { a = 100.0, b = 63.0 } }, placed_percent = 50.0 }",
    );
    let text_of = text_of.replace(
        "because = \"invented",
        "grade = { p2o5_percent = 46.0 }\nbecause = \"invented",
    );
    let spreader = "[spreader]\nname = \"spreader\"\nworking_width_m = 18.0\nlimits = { step_kg_per_ha = 10.0 }\n";
    made.write("job.toml", format!("{text_of}{spreader}"));
    let here = made.path();
    ends(here, 0, &["plan", "job.toml"]);
    ends(here, 0, &["stick", "job-plan", "--to", "drill"]);
    ends(
        here,
        0,
        &["stick", "job-plan", "--spreader", "--to", "spreader"],
    );
    let set = here.join("spreader/TASKDATA/TASKDATA.XML");
    let (before, of_spreader) = (text(&here.join("job.toml")), text(&set));
    let lot = ["reissue", "job.toml", "--lot", "seed=B-18", "--stick"];
    let refused = ends(here, 2, &[&lot[..], &["spreader"]].concat());
    assert!(refused.contains("This is for the spreader"), "{refused}");
    // Nor does a stick that is made by hand go over it.
    let refused = ends(here, 2, &["stick", "job-plan", "--to", "spreader"]);
    assert!(refused.contains("This is for the spreader"), "{refused}");
    assert_eq!(
        (text(&here.join("job.toml")), text(&set)),
        (before, of_spreader)
    );
    let shown = ends(here, 0, &[&lot[..], &["drill"]].concat());
    assert!(shown.contains("its stick is void too"), "{shown}");
}

/// A field whose seedbed is not known, as a job of this name.
fn of_two_seedbeds(made: &Made, name: &str) {
    let text = format!(
        r#"name = "{name}"
seedbed = "not_known"
[field]
name = "{name}"
boundary = {{ file = "boundary.geojson" }}
[headland]
bouts = 1
sown_twice = false
[[layer]]
name = "soil"
source = {{ file = "soil.geojson" }}
class_attribute = "soil"
[drill]
working_width_m = 6
rows = 48
row_spacing_m = 0.125
[[drill.hopper]]
name = "front"
usable_l = 900
[[drill.hopper]]
name = "rear"
usable_l = 900
[[product]]
id = "seed"
crop = "barley"
name = "Seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = 150 }}
[[product]]
id = "starter"
name = "Starter"
kind = "fertiliser"
hopper = "rear"
form = "monoammonium_phosphate"
grade = {{ n_percent = 12, p2o5_percent = 52 }}
balance = {{ name = "broadcast", grade = {{ p2o5_percent = 46 }}, pack_kg = 50 }}
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = 150, b = 90 }} }} }}
[[seed_safe]]
table = "manitoba_phosphate"
crop = "barley"
spread_m = 0.03
texture_by_class = {{ layer = "soil", by_class = {{ a = "medium", b = "medium" }} }}
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 50
crop = "barley"
row_spacing_m = 0.3
spread_m = 0.01
texture = "light"
dry = true
form = "monoammonium_phosphate"
grade = {{ n_percent = 12, p2o5_percent = 52 }}
because = "drawn"
by = "nobody"
on = "2031-01-15"
"#
    );
    made.write(&format!("{name}.toml"), text);
}

#[test]
fn both_maps_of_a_field_are_kept_named_and_replaced_by_their_own() {
    let made = Made::new();
    let here = made.path();
    let whole = feature(PLACE, "", &rectangle([0.0, 0.0], [120.0, 90.0]));
    made.write("boundary.geojson", collection(&[whole]));
    made.write("soil.geojson", two_zones(PLACE));
    for name in ["Shoal", "Reef"] {
        of_two_seedbeds(&made, name);
        ends(here, 0, &["plan", &format!("{name}.toml")]);
    }
    ends(
        here,
        0,
        &["stick", "Shoal-plan", "Reef-plan", "--to", "stick"],
    );
    let both = || ["dry", "moist"].map(|own| id(&here.join("Shoal-plan").join(own)));
    let (before, job) = (both(), text(&here.join("Shoal.toml")));
    let lot = [
        "reissue",
        "Shoal.toml",
        "--lot",
        "seed=B-18",
        "--stick",
        "stick",
        "--plans",
    ];
    // The other field's map for a moist seedbed lies on it, too.
    let dropped = ends(here, 2, &[&lot[..], &["Reef-plan/dry"]].concat());
    assert!(dropped.contains("Reef, MOIST map"), "{dropped}");
    assert_eq!(text(&here.join("Shoal.toml")), job);
    let shown = ends(here, 0, &[&lot[..], &["Reef-plan"]].concat());
    let now = both();
    let replaced = || {
        let record = json(&here.join("stick/stick.json"));
        let all = record["replaced"].as_array().cloned().unwrap_or_default();
        let pair =
            |own: &Value| ["plan", "by"].map(|key| own[key].as_str().expect("an id").to_owned());
        let mut all: Vec<[String; 2]> = all.iter().map(pair).collect();
        all.sort();
        all
    };
    let mut wanted = Vec::new();
    for (old, new) in before.iter().zip(&now) {
        assert!(
            shown.contains(&format!("Plan {new}, instead of {old},")),
            "{shown}"
        );
        assert_eq!(id(&here.join(format!("Shoal-plan-{old}"))), *old);
        wanted.push([old.clone(), new.clone()]);
    }
    wanted.sort();
    assert_eq!(replaced(), wanted);
    // The good plan for a moist seedbed is left off, and nothing has taken its place.
    ends(
        here,
        0,
        &["stick", "Shoal-plan/dry", "Reef-plan", "--to", "stick"],
    );
    assert_eq!(replaced(), wanted);
}
