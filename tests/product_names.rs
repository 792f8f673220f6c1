//! Products whatever they are called: every file says which is which, and the program's own check agrees.

mod plan_support;

use plan_support::{Made, plain};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeSet;
use twinsow::audit::{self, PlanFacts};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options};
use twinsow::write::{self, product_names};

const TIME: &str = "2026-01-05T10:00:00Z";

/// Ids that begin each other, that are alike in their first four or ten characters, and that look like what
/// columns are called by.
const IDS: [&str; 24] = [
    "barley",
    "barley2",
    "winter_wheat",
    "winter_rye",
    "oats",
    "oatsb",
    "oat2",
    "a",
    "a2",
    "a_wanted",
    "a_sown",
    "a_balance",
    "plan",
    "rate",
    "rates",
    "zone",
    "all-products",
    "kg_ha",
    "oats-b",
    "oats_b",
    "winter_wheat_early",
    "winter_wheat_late",
    "con",
    "x_kg_ha",
];

/// Names in several scripts, with characters that XML, CSV and SQL set apart, equal ones and long ones.
const NAMES: [&str; 16] = [
    "Barley",
    "barley",
    "Barley ",
    "Ячмень яровой",
    "Κριθάρι",
    "شعير",
    "大麦",
    "Gerste \\\"Früh\\\", gebeizt",
    "a < b & c > 'd'",
    "=1+1",
    "x",
    "Spring barley with a name of just sixty-four characters in all..",
    "Spring barley with a name of just sixty-four characters in all.,",
    "rate_kg_ha",
    "starter_kg_ha",
    "ячмень яровой",
];

fn job(made: &Made, ids: [&str; 2], names: [&str; 2]) -> Job {
    Job::load(&made.write("job.toml", with_names(ids, names))).expect("a job")
}

fn with_names(ids: [&str; 2], names: [&str; 2]) -> String {
    let text = plan_support::job("");
    let mut parts = text.split("[[product]]");
    let mut job = parts.next().expect("the head").to_owned();
    for ((part, id), name) in parts.zip(ids).zip(names) {
        let mut lines: Vec<String> = part.lines().map(str::to_owned).collect();
        for line in &mut lines {
            if line.starts_with("id = ") {
                *line = format!("id = \"{id}\"");
            } else if line.starts_with("name = ") {
                *line = format!("name = \"{name}\"");
            }
        }
        job.push_str("[[product]]");
        job.push_str(&lines.join("\n"));
        job.push('\n');
    }
    // The signed limit of the second product stands behind it.
    job.replace(
        "product = \"starter\"",
        &format!("product = \"{}\"", ids[1]),
    )
}

/// The complaints of the program's own check.
fn complaints(made: &Made, job: &Job) -> Vec<String> {
    let mut plan = plan::plan(job, &Disk, &Options::default()).expect("a plan");
    // Names that a screen shows alike keep files from the terminal; here the files are looked at all the same.
    plan.findings.clear();
    let out = made.path().join("out");
    write::deliver(&plan, &out, TIME).expect("files");
    let facts = PlanFacts::read(&out.join("plan.json")).expect("a plan");
    let audit = audit::audit(std::slice::from_ref(&out), Some(&facts), None, &out).expect("files");
    assert!(audit.files.len() > 5);
    audit.complaints()
}

#[test]
fn ids_that_begin_each_other_are_told_apart() {
    let made = plain("");
    for ids in [
        ["barley", "barley2"],
        ["winter_wheat", "winter_rye"],
        ["oatsb", "oats"],
        ["oatsb", "oat2"],
    ] {
        let job = job(&made, ids, ["Barley", "barley"]);
        assert_eq!(complaints(&made, &job), [""; 0], "{ids:?}");
    }
}

#[test]
fn whatever_products_are_called_every_file_says_which_is_which() {
    let made = plain("");
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[29; 32]);
    let config = Config {
        cases: 24,
        failure_persistence: None,
        ..Config::default()
    };
    let ids = prop::sample::subsequence(IDS.to_vec(), 2).prop_shuffle();
    let names = [
        prop::sample::select(NAMES.to_vec()),
        prop::sample::select(NAMES.to_vec()),
    ];
    TestRunner::new_with_rng(config, rng)
        .run(&(ids, names), |(ids, names)| {
            let job = job(&made, [ids[0], ids[1]], names);
            let found = complaints(&made, &job);
            prop_assert!(found.is_empty(), "{ids:?} {names:?}: {found:?}");
            Ok(())
        })
        .unwrap();
}

/// What is left to broadcast, and what is sown as driven, are columns too, and a zone layer may be called as a column is.
#[test]
fn ids_and_layers_called_like_columns_are_no_others() {
    let made = plain("");
    for (ids, layer) in [
        (["starter_balance", "starter"], "soil"),
        (["starter_wanted", "starter"], "soil"),
        (["starter", "starter_sown"], "soil"),
        (["seed", "starter"], "yield_kg_ha"),
        (["seed", "starter"], "xx_kg_ha"),
        (["class_yield", "c_yield"], "yield_kg_ha"),
        (["wint", "winter_wheat"], "kg_ha"),
    ] {
        let text = with_names(ids, ["Barley", "barley"]);
        let text = text
            .replace("name = \"soil\"", &format!("name = \"{layer}\""))
            .replace("layer = \"soil\"", &format!("layer = \"{layer}\""))
            .replace("b = 0.0 } }", "b = 0.0 } }, placed_percent = 60.0")
            .replace("[drill]\n", "[drive]\nheading_deg = 90\n[drill]\n");
        let job = Job::load(&made.write("job.toml", text)).expect("a job");
        assert_eq!(complaints(&made, &job), [""; 0], "{ids:?} {layer}");
        let files = [
            "gis/balance.geojson",
            "gis/balance.tif",
            "gis/difference.geojson",
        ];
        for file in files {
            assert!(made.path().join("out").join(file).exists(), "{file}");
        }
    }
}

/// Another program may save a Shapefile's short names in another format; there the short name of one product may be the
/// whole one of another.
#[test]
fn a_file_with_short_names_is_read_by_short_names() {
    let made = plain("");
    let job = job(&made, ["winter_wheat", "wint"], ["Wheat", "Starter"]);
    assert_eq!(complaints(&made, &job), [""; 0]);
    let [wheat, starter] = <[_; 2]>::try_from(product_names(&job)).expect("two products");
    assert_eq!(wheat.short_column, starter.column);
    let out = made.path().join("out");
    let text = std::fs::read_to_string(out.join("gis/rates.geojson")).expect("a map");
    let quoted = |name: &str| format!("\"{name}\"");
    let text = text
        .replace(&quoted(&starter.column), &quoted(&starter.short_column))
        .replace(&quoted(&wheat.column), &quoted(&wheat.short_column));
    let file = made.write("saved.geojson", text);
    let facts = PlanFacts::read(&out.join("plan.json")).expect("a plan");
    let audit = audit::audit(&[file], Some(&facts), None, &out).expect("files");
    assert_eq!(audit.complaints(), [""; 0]);
}

/// A terminal lists tasks by name: with a task for each product, equal products are two entries.
#[test]
fn tasks_of_one_product_each_have_names_of_their_own() {
    let made = plain("");
    let long = "Spring barley with a name of just sixty-four characters in all..";
    for name in ["Barley", "Ячмень", long] {
        let job = job(&made, ["a", "b"], [name, name]);
        assert_eq!(complaints(&made, &job), [""; 0], "{name}");
        let mut sets = 0;
        let folders =
            std::fs::read_dir(made.path().join("out/terminal/fallback")).expect("a folder");
        for folder in folders {
            let file = folder
                .expect("an entry")
                .path()
                .join("TASKDATA/TASKDATA.XML");
            if !file.exists() {
                continue;
            }
            let text = std::fs::read_to_string(file).expect("text");
            let tasks = text.split("<TSK ").skip(1);
            let names: Vec<&str> = tasks
                .filter_map(|task| task.split(" B=\"").nth(1)?.split('"').next())
                .collect();
            let each: BTreeSet<&&str> = names.iter().collect();
            assert_eq!(each.len(), names.len(), "{names:?}");
            assert!(
                names.iter().all(|name| name.chars().count() <= 32),
                "{names:?}"
            );
            sets += usize::from(names.len() == 2);
        }
        assert!(sets > 0);
    }
}

/// Without planning: no two products of a job share a name in any kind of file.
#[test]
fn no_two_products_share_a_name() {
    let made = plain("");
    for (nth, first) in IDS.iter().enumerate() {
        for (other, second) in IDS.iter().enumerate().filter(|(other, _)| *other != nth) {
            let name = NAMES[(nth + other) % NAMES.len()];
            let job = job(&made, [first, second], [name, name]);
            let names = product_names(&job);
            let kinds: [fn(&write::ProductNames) -> &String; 7] = [
                |own| &own.column,
                |own| &own.short_column,
                |own| &own.file,
                |own| &own.task_data,
                |own| &own.wanted,
                |own| &own.sown,
                |own| &own.balance,
            ];
            for kind in kinds {
                let each: BTreeSet<String> =
                    names.iter().map(|own| kind(own).to_lowercase()).collect();
                assert_eq!(each.len(), 2, "{first} {second} {name}: {names:?}");
            }
            assert!(names.iter().all(|own| own.short_column.len() <= 10));
            assert!(names.iter().all(|own| own.task_data.chars().count() <= 32));
        }
    }
}

/// `gis/rates-turned.tif` is the grid along the bouts, whatever a product is called.
#[test]
fn no_product_takes_the_name_of_the_turned_grid() {
    let made = plain("");
    let names = product_names(&job(&made, ["turned", "starter"], ["wheat", "starter"]));
    let files: Vec<&str> = names.iter().map(|own| own.file.as_str()).collect();
    assert_eq!(files, ["turned-2", "starter"]);
}
