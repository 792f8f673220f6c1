//! Products whatever they are called: every file says which is which, and the program's own check agrees.

mod plan_support;

use plan_support::{Made, plain};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeSet;
use twinsow::audit::{self, PlanFacts};
use twinsow::job::Job;
use twinsow::plan;
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
    Job::load(&made.write("job.toml", job)).expect("a job")
}

/// The complaints of the program's own check.
fn complaints(made: &Made, job: &Job) -> Vec<String> {
    let plan = plan::run(job).expect("a plan");
    let out = made.path().join("out");
    write::deliver(&plan, &out, TIME).expect("files");
    let facts = PlanFacts::read(&out.join("plan.json")).expect("a plan");
    let audit = audit::audit(&[out.clone()], Some(&facts), None, &out).expect("files");
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
