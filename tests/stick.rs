//! Many fields on one stick: one set for each form, ids that stay, and what is refused.

mod farm_support;

use farm_support::{JOB, farm};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;
use twinsow::read::taskdata::{self, AsWritten, TaskSet};

/// The farm's job with a second seed in a second hopper, so that no limit beside the seed is asked for.
fn two_products() -> String {
    JOB.replace(
        "[[product]]\nid = \"seed\"",
        "[[drill.hopper]]\nname = \"rear\"\nusable_l = 900.0\n\n[[product]]\nid = \"rye\"\ncrop = \"rye\"\nname = \"Rye\"\nkind = \"seed\"\nhopper = \"rear\"\nrate.kg_per_ha = { layer = \"soil\", by_class = { \"sand\" = 105.0, \"loam\" = 90.0 } }\n\n[[product]]\nid = \"seed\"",
    )
}

fn twinsow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .env("SOURCE_DATE_EPOCH", "1767225600")
        .output()
        .expect("the program starts")
}

fn path(path: &Path) -> &str {
    path.to_str().expect("unicode")
}

/// Plans of three fields of a farm, changed by `change`, in the folder `name`.
fn planned(folder: &Path, name: &str, change: impl Fn(String) -> String) -> PathBuf {
    let job = farm(folder, &[8.0, 8.003, 8.1], None);
    fs::write(&job, change(two_products())).expect("the job");
    let out = folder.join(name);
    let output = twinsow(&[
        "plan",
        path(&job),
        "--out",
        path(&out),
        "--only",
        "task-data,fallback",
    ]);
    assert!(output.status.code() < Some(2), "{}", said(&output));
    out
}

fn said(output: &Output) -> String {
    let [out, err] =
        [&output.stdout, &output.stderr].map(|text| String::from_utf8_lossy(text).into_owned());
    format!("{out}{err}")
}

fn same(text: String) -> String {
    text
}

/// A stick of these plans, which has to be made.
fn stick(plans: &[&Path], to: &Path, more: &[&str]) -> String {
    let mut arguments = vec!["stick"];
    arguments.extend(plans.iter().map(|own| path(own)));
    arguments.extend(["--to", path(to)]);
    arguments.extend(more);
    let output = twinsow(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    said(&output)
}

fn refused(plans: &[&Path], to: &Path) -> String {
    let mut arguments = vec!["stick"];
    arguments.extend(plans.iter().map(|own| path(own)));
    arguments.extend(["--to", path(to)]);
    let output = twinsow(&arguments);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    said(&output)
}

fn read(folder: &Path) -> (TaskSet, AsWritten) {
    let set = taskdata::read(folder).expect("a set");
    assert!(set.findings.is_empty(), "{:?}", set.findings);
    (set, taskdata::as_written(folder).expect("a set"))
}

/// All ids that elements of a set have, but those that say the same in every form.
fn ids(set: &AsWritten) -> BTreeSet<String> {
    let own = set.root.children.iter();
    let own = own.filter(|element| !["VPN", "PGP"].contains(&element.tag.as_ref()));
    own.filter_map(|element| element.get("A").map(str::to_owned))
        .collect()
}

/// What a field has in a set, as text, and its grids: by the field's name.
fn by_field(set: &AsWritten) -> BTreeMap<String, (String, Vec<Vec<u8>>)> {
    let of = |tag: &'static str| set.root.children.iter().filter(move |own| own.tag == tag);
    let fields = of("PFD").map(|field| {
        let mut text = field.document().expect("text");
        let mut grids = Vec::new();
        for task in of("TSK").filter(|task| task.get("E") == field.get("A")) {
            text.extend(task.document().expect("text"));
            for grid in task.children.iter().filter(|own| own.tag == "GRD") {
                let bytes = set
                    .grids
                    .iter()
                    .find(|(name, _)| Some(name.as_str()) == grid.get("G"));
                grids.push(bytes.expect("a grid").1.clone());
            }
        }
        let name = field.get("C").expect("a name").to_owned();
        (name, (String::from_utf8(text).expect("text"), grids))
    });
    fields.collect()
}

fn forms(stick: &Path) -> Vec<PathBuf> {
    let beside = fs::read_dir(stick.join("fallback")).expect("forms");
    let beside = beside.map(|entry| entry.expect("a form").path().join("TASKDATA"));
    let mut all: Vec<PathBuf> = beside.collect();
    all.sort();
    all.insert(0, stick.join("TASKDATA"));
    all
}

#[test]
fn every_form_holds_every_field_with_the_bytes_of_its_plan() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    let to = folder.path().join("stick");
    let text = stick(&[&plans], &to, &[]);
    assert!(text.contains("3 fields as task-data-4.3"), "{text}");
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let forms = forms(&to);
    assert_eq!(forms.len(), 7);
    for form in &forms {
        let (set, raw) = read(form);
        assert_eq!(set.partfields.len(), 3, "{}", form.display());
        // One customer and one farm for all, though the job names none.
        let owners: BTreeSet<_> = set
            .partfields
            .iter()
            .map(|own| (&own.customer, &own.farm))
            .collect();
        assert_eq!(owners.len(), 1);
        let products: Vec<&str> = set.products.iter().map(|(_, name)| name.as_str()).collect();
        assert_eq!(products, ["Rye", "Seed"]);
        let per_field = if form.to_string_lossy().contains("per-product") {
            2
        } else {
            1
        };
        assert_eq!(set.tasks.len(), 3 * per_field);
        let own = ids(&raw);
        assert!(own.is_disjoint(&seen), "{}: {own:?}", form.display());
        seen.extend(own);
        let found = by_field(&raw);
        for number in 1..=3 {
            let inside = form.strip_prefix(&to).expect("below");
            let delivered = plans.join(number.to_string()).join("terminal").join(inside);
            let planned = by_field(&read(&delivered).1);
            let name = format!("Square {number}");
            assert_eq!(found[&name].1, planned[&name].1, "{}", form.display());
        }
    }
    // Rye is 90 to 105 kg/ha, the other seed 120 to 150: its rates are further apart for their height.
    let page = fs::read_to_string(to.join("README.txt")).expect("a page");
    let wanted =
        "if the terminal runs one map only: map Seed, for its rates are furthest apart; flat: Rye ";
    assert_eq!(page.matches(wanted).count(), 3, "{page}");
    let audit = twinsow(&["audit", path(&to)]);
    assert_eq!(audit.status.code(), Some(0), "{}", said(&audit));
}

#[test]
fn planning_one_field_again_changes_no_other() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    let other = planned(folder.path(), "other", |job| {
        job.replace("\"sand\" = 120.0", "\"sand\" = 125.0")
    });
    let to = folder.path().join("stick");
    let [one, two, three] = ["1", "2", "3"].map(|number| plans.join(number));
    let again = other.join("2");
    stick(&[&two, &three], &to, &[]);
    let first: Vec<_> = forms(&to)
        .iter()
        .map(|form| by_field(&read(form).1))
        .collect();
    // A field more, which stands before the others, and another plan of field 2.
    let text = stick(&[&one, &again, &three], &to, &[]);
    assert!(!text.contains("not any more"), "{text}");
    for (form, before) in forms(&to).iter().zip(&first) {
        let now = by_field(&read(form).1);
        assert_eq!(before["Square 3"], now["Square 3"], "{}", form.display());
        assert_ne!(before["Square 2"], now["Square 2"]);
        let of = |text: &str, mark: &str| {
            let rest = text.split(mark).nth(1).expect(mark);
            rest.split('"').next().expect("an end").to_owned()
        };
        for mark in ["<PFD A=\"", " G=\"GRD"] {
            if form.to_string_lossy().contains("polygons") && mark.contains("GRD") {
                continue;
            }
            assert_eq!(
                of(&before["Square 2"].0, mark),
                of(&now["Square 2"].0, mark)
            );
        }
        // A task that was driven is not replaced.
        assert_ne!(
            of(&before["Square 2"].0, "<TSK A=\""),
            of(&now["Square 2"].0, "<TSK A=\"")
        );
    }
    let text = stick(&[&one, &again], &to, &[]);
    assert!(
        text.contains("note: 'Square 3' was on it before and is not any more."),
        "{text}"
    );
    // And back again, with the number that it had.
    stick(&[&one, &two, &three], &to, &[]);
    let now = by_field(&read(&to).1);
    assert_eq!(first[0]["Square 3"], now["Square 3"]);
    assert_eq!(first[0]["Square 2"], now["Square 2"]);
}

#[test]
fn what_is_not_as_planned_is_refused_and_nothing_touched() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    let to = folder.path().join("stick");
    stick(&[&plans], &to, &[]);
    let before = fs::read(to.join("TASKDATA/TASKDATA.XML")).expect("a set");
    let undecided = planned(folder.path(), "undecided", |job| {
        job.replace("crop = \"wheat\"\n", "")
    });
    let text = refused(&[&undecided], &to);
    assert!(
        text.contains("crops.not_named") && text.contains("'Spring 1'"),
        "{text}"
    );
    let text = refused(&[&plans, &plans.join("2")], &to);
    assert!(
        text.contains("Two plans are of the field 'Square 2'"),
        "{text}"
    );
    // The task data of one field in the folder of another.
    let [own, foreign] = ["1", "2"].map(|number| plans.join(number).join("terminal/TASKDATA"));
    let kept: Vec<_> = ["TASKDATA.XML", "GRD00001.bin"]
        .map(|name| fs::read(own.join(name)).expect("a file"))
        .into();
    for name in ["TASKDATA.XML", "GRD00001.bin"] {
        fs::copy(foreign.join(name), own.join(name)).expect("a copy");
    }
    let text = refused(&[&plans], &to);
    assert!(text.contains("do not say what plan"), "{text}");
    fs::write(own.join("TASKDATA.XML"), &kept[0]).expect("a file");
    // One rate of one cell, in the middle of the field.
    let mut grid = kept[1].clone();
    let middle = grid.len() / 2 / 8 * 8;
    grid[middle] ^= 1;
    fs::write(own.join("GRD00001.bin"), &grid).expect("a file");
    let text = refused(&[&plans], &to);
    assert!(text.contains("do not say what plan"), "{text}");
    fs::write(own.join("GRD00001.bin"), &kept[1]).expect("a file");
    stick(&[&plans], &folder.path().join("whole"), &[]);
    fs::remove_file(own.join("GRD00001.bin")).expect("removed");
    refused(&[&plans], &to);
    assert_eq!(
        fs::read(to.join("TASKDATA/TASKDATA.XML")).expect("a set"),
        before
    );
}

#[test]
fn a_folder_with_other_things_in_it_is_left_alone() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    // The stick itself, with what the terminal has logged.
    let logged = folder.path().join("media/TASKDATA");
    fs::create_dir_all(&logged).expect("a folder");
    fs::write(logged.join("TASKDATA.XML"), "<ISO11783_TaskData/>").expect("a file");
    for to in [folder.path().join("media"), logged.clone()] {
        let text = refused(&[&plans], &to);
        assert!(text.contains("TASKDATA.XML"), "{text}");
    }
    assert_eq!(
        fs::read(logged.join("TASKDATA.XML")).expect("a file"),
        b"<ISO11783_TaskData/>"
    );
    // A plan would be replaced by a stick.
    let text = refused(&[&plans.join("1")], &plans.join("2"));
    assert!(text.contains("holds a plan"), "{text}");
    assert!(plans.join("2/plan.json").exists());
    let text = refused(
        &[folder.path().join("media").as_path()],
        &folder.path().join("new"),
    );
    assert!(text.contains("There is no plan here"), "{text}");
    assert!(!folder.path().join("new").exists());
    // A record that somebody has changed.
    let to = folder.path().join("stick");
    stick(&[&plans], &to, &[]);
    fs::write(to.join("stick.json"), "{}").expect("a file");
    let text = refused(&[&plans], &to);
    assert!(text.contains("no record of a stick"), "{text}");
}

#[test]
fn what_the_terminal_does_not_hold_is_split() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    let to = folder.path().join("stick");
    let text = stick(&[&plans], &to, &["--most-fields", "2"]);
    assert!(text.contains("in 2 parts"), "{text}");
    assert!(!to.join("TASKDATA").exists());
    let counts = ["part-1", "part-2"].map(|part| read(&to.join(part)).0.tasks.len());
    assert_eq!(counts, [2, 1]);
    let page = fs::read_to_string(to.join("README.txt")).expect("a page");
    assert!(
        page.contains("Square 3: plan") && page.contains(", part 2\r\n"),
        "{page}"
    );
    let output = twinsow(&[
        "stick",
        path(&plans),
        "--to",
        path(&to),
        "--form",
        "task-data-5",
    ]);
    assert!(
        said(&output).contains("no form is called so"),
        "{}",
        said(&output)
    );
}

#[test]
fn names_that_the_screen_cuts_are_told() {
    let folder = TempDir::new().expect("a folder");
    // 33 characters before the number: the screen shows none of it.
    let long = "name = \"Square behind the old brick works\"";
    let plans = planned(folder.path(), "plans", |job| {
        job.replace("name = \"Square\"", long)
    });
    let text = stick(&[&plans], &folder.path().join("stick"), &[]);
    let cut = "'Square behind the old brick works 1' is too long for task data, which take 32 characters; the screen shows 'Square behind the old brick work'.";
    assert!(text.contains(cut), "{text}");
    assert!(
        text.contains("note: 3 fields look alike on the screen"),
        "{text}"
    );
}

/// The page is English, and so are its cautions, each once, whatever languages the jobs have.
#[test]
fn cautions_of_jobs_in_two_languages_stand_once_in_english() {
    let folder = TempDir::new().expect("a folder");
    let [here, there] = ["english", "german"].map(|name| folder.path().join(name));
    for own in [&here, &there] {
        fs::create_dir(own).expect("a folder");
    }
    let german = |text: String| {
        let text = text.replace("name = \"Square\"", "name = \"Acker\"");
        text + "\n[report]\nlanguage = \"de\"\n"
    };
    let plans = [
        planned(&here, "plans", same),
        planned(&there, "plans", german),
    ];
    let to = folder.path().join("stick");
    for order in [[&plans[0], &plans[1]], [&plans[1], &plans[0]]] {
        stick(&order.map(PathBuf::as_path), &to, &[]);
        let page = fs::read_to_string(to.join("README.txt")).expect("a page");
        let cautions = page.split("Cautions").nth(1).expect("cautions");
        assert!(cautions.contains("Figures are planning aids."), "{page}");
        assert!(cautions.contains("At the drill: calibrate"), "{page}");
        // What comes first, one of plain seed for both products of both jobs, and what comes last.
        assert_eq!(cautions.trim().lines().count(), 3, "{page}");
        fs::remove_dir_all(&to).expect("a folder");
    }
}

#[test]
fn the_page_says_nothing_that_does_not_fit() {
    let folder = TempDir::new().expect("a folder");
    let job = farm(folder.path(), &[8.0], None);
    let text = fs::read_to_string(&job).expect("a job");
    fs::write(&job, text + "\n[report]\nunits = \"us_customary\"\n").expect("a job");
    let out = folder.path().join("plans");
    let output = twinsow(&[
        "plan",
        path(&job),
        "--out",
        path(&out),
        "--only",
        "task-data,fallback",
    ]);
    assert!(output.status.code() < Some(2), "{}", said(&output));
    let to = folder.path().join("stick");
    stick(&[&out], &to, &[]);
    let page = fs::read_to_string(to.join("README.txt")).expect("a page");
    for word in [
        "several",
        "all maps",
        "per product",
        "part-1",
        "swapped",
        "one map",
    ] {
        assert!(!page.contains(word), "{word}: {page}");
    }
    // 120 kg/ha by NIST Handbook 44, Appendix C: 1 lb/ac is 1.1209 kg/ha.
    assert!(page.contains("107.1 lb/ac (120.00 kg/ha)"), "{page}");
    assert!(
        page.contains("1 field, made 2026-01-01T00:00:00Z"),
        "{page}"
    );
}

/// A farm with jobs in kilograms and in pounds: each number has its unit, and the page says which field the screen shows in which.
#[test]
fn fields_in_two_units_are_told_apart() {
    let folder = TempDir::new().expect("a folder");
    let metric = planned(folder.path(), "metric", same);
    let us = planned(folder.path(), "us", |job| {
        job.replace("name = \"Square\"", "name = \"Acre\"")
            + "\n[report]\nunits = \"us_customary\"\n"
    });
    let to = folder.path().join("stick");
    let text = stick(&[&metric, &us], &to, &[]);
    let page = fs::read_to_string(to.join("README.txt")).expect("a page");
    // Lowest and highest, mean, area and mass: no number of the table is without its unit.
    let rows: Vec<&str> = text.lines().filter(|line| line.contains("Rye")).collect();
    let [us, metric] = [" lb/ac ", " kg/ha "].map(|unit| {
        let own = rows.iter().filter(|row| row.matches(unit).count() == 2);
        own.count()
    });
    assert!(us == 3 && metric == 3, "{text}");
    assert!(text.contains("for their unit differs: PDT"), "{text}");
    for said in [&text, &page] {
        let of = |unit: &str| said.lines().find(|line| line.trim().starts_with(unit));
        let [kg, lb] = ["kg/ha and kg: ", "lb/ac and lb: "].map(|unit| of(unit).expect("a line"));
        assert!(kg.contains("Square") && !kg.contains("Acre"), "{kg}");
        assert!(lb.contains("Acre") && !lb.contains("Square"), "{lb}");
    }
    // In one unit nothing is said of two.
    let text = stick(&[folder.path().join("us").as_path()], &to, &[]);
    let page = fs::read_to_string(to.join("README.txt")).expect("a page");
    assert!(
        !text.contains("two units") && !page.contains("TWO UNITS"),
        "{page}"
    );
}

/// What `contents --json` says, and its exit code.
fn contents(of: &Path, plans: &[&Path]) -> (serde_json::Value, Option<i32>) {
    let mut arguments = vec!["contents", path(of), "--json"];
    if !plans.is_empty() {
        arguments.push("--plans");
        arguments.extend(plans.iter().map(|own| path(own)));
    }
    let output = twinsow(&arguments);
    let text = String::from_utf8(output.stdout.clone()).expect("text");
    let value = serde_json::from_str(&text).unwrap_or_else(|_| panic!("{}", said(&output)));
    (value, output.status.code())
}

#[test]
fn what_is_on_it_is_told_and_which_plans_are_newer() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    let to = folder.path().join("stick");
    stick(&[&plans], &to, &[]);
    let (all, exit) = contents(&to, &[&plans]);
    assert_eq!(exit, Some(0), "{all}");
    assert_eq!(all["sets"].as_array().expect("sets").len(), 7);
    let (one, exit) = contents(&to.join("TASKDATA"), &[]);
    assert_eq!(exit, Some(0));
    let set = &one["sets"][0];
    assert_eq!(
        (&set["version"], &set["form"]),
        (&"4.3".into(), &"grids of rates".into())
    );
    let task = &set["tasks"][2];
    assert_eq!(
        (&task["field"], &task["customer"]),
        (&"Square 3".into(), &"Spring".into())
    );
    let seed = &task["products"][1];
    // The job's own rates: 120 kg/ha on sand, 150 on loam, 0.0009 of 0.002 degrees wide sand and the rest loam, a headland of 12 m
    // changes nothing, and cells of one class stand for both where they meet.
    assert_eq!(
        (&seed["lowest"], &seed["highest"], &seed["unit"]),
        (&120.0.into(), &150.0.into(), &"kg/ha".into())
    );
    let mean = seed["mean"].as_f64().expect("a mean");
    assert!((mean - (0.45 * 120.0 + 0.55 * 150.0)).abs() < 1.0, "{mean}");
    let kg = seed["kg"].as_f64().expect("kg");
    let m2 = task["area_m2"].as_f64().expect("an area");
    assert!((kg - mean * m2 / 10_000.0).abs() < 0.5, "{kg}");
    // Field 2 planned again, an hour later.
    let other = folder.path().join("other");
    let job = folder.path().join("farm.toml");
    fs::write(
        &job,
        two_products().replace("\"sand\" = 120.0", "\"sand\" = 125.0"),
    )
    .expect("the job");
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args([
            "plan",
            path(&job),
            "--out",
            path(&other),
            "--only",
            "task-data,fallback",
        ])
        .env("SOURCE_DATE_EPOCH", "1767229200")
        .output()
        .expect("the program starts");
    assert!(output.status.code() < Some(2), "{}", said(&output));
    let (held, exit) = contents(&to, &[&plans.join("1"), &other.join("2")]);
    assert_eq!(exit, Some(1), "{held}");
    let here: Vec<&str> = held["sets"][0]["tasks"]
        .as_array()
        .expect("tasks")
        .iter()
        .map(|task| task["here"]["is"].as_str().expect("a word"))
        .collect();
    assert_eq!(here, ["same", "newer", "unknown"]);
    // Without the record nobody knows when.
    let bare = folder.path().join("bare/TASKDATA");
    fs::create_dir_all(&bare).expect("a folder");
    for entry in fs::read_dir(to.join("TASKDATA")).expect("files") {
        let entry = entry.expect("a file");
        fs::copy(entry.path(), bare.join(entry.file_name())).expect("a copy");
    }
    let (held, _) = contents(&bare, &[&other.join("2")]);
    assert_eq!(held["sets"][0]["tasks"][1]["here"]["is"], "other");
    let text = said(&twinsow(&[
        "contents",
        path(&to),
        "--plans",
        path(&other.join("2")),
    ]));
    assert!(
        text.contains("of 2026-01-01T01:00:00Z") && text.contains("make the stick again"),
        "{text}"
    );
}

#[test]
fn a_damaged_set_is_told_and_the_others_are_shown() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", same);
    let to = folder.path().join("stick");
    stick(&[&plans], &to, &[]);
    let grid = to.join("TASKDATA/GRD00002.bin");
    let bytes = fs::read(&grid).expect("a grid");
    fs::write(&grid, &bytes[..bytes.len() / 2]).expect("half a grid");
    let xml = to.join("fallback/task-data-3.3/TASKDATA/TASKDATA.XML");
    let text = fs::read(&xml).expect("a set");
    fs::write(&xml, &text[..text.len() / 2]).expect("half a set");
    let (all, exit) = contents(&to, &[]);
    assert_eq!(exit, Some(1));
    let damaged: Vec<bool> = all["sets"]
        .as_array()
        .expect("sets")
        .iter()
        .map(|set| !set["damage"].as_array().expect("damage").is_empty())
        .collect();
    assert_eq!(damaged.iter().filter(|own| **own).count(), 2, "{all}");
    let text = said(&twinsow(&["contents", path(&to)]));
    assert!(
        text.contains("DAMAGED: ") && text.contains("do not sow by it"),
        "{text}"
    );
    for other in [
        plans.join("1/plan.json"),
        folder.path().join("nowhere"),
        plans.join("1/gis"),
    ] {
        let output = twinsow(&["contents", path(&other)]);
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    }
}
