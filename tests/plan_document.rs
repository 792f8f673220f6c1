//! `plan.json` is one type: read back through it and written again, it is the same file to the byte.

mod plan_support;

use plan_support::{plain, said};
use std::fs;
use std::path::Path;
use twinsow::document::{self, PlanDocument};

/// A plan that was written to this folder, read back.
fn same_again(folder: &Path) -> PlanDocument<'static> {
    let text = fs::read_to_string(folder.join("plan.json")).expect("plan.json");
    let plan: PlanDocument = document::read(folder).unwrap_or_else(|fault| panic!("{fault}"));
    let again = plan.text().expect("a text");
    for (line, (found, wanted)) in (1..).zip(again.lines().zip(text.lines())) {
        assert_eq!(found, wanted, "{}, line {line}", folder.display());
    }
    assert_eq!(again, text, "{}", folder.display());
    plan
}

/// An example of the repository, planned into a folder of its own.
fn example(job: &str, more: &[&str]) -> PlanDocument<'static> {
    let out = tempfile::tempdir().expect("a folder");
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let plan = out.path().join("plan").display().to_string();
    let output = plan_support::twinsow(here, &[&["plan", job, "--out", &plan][..], more].concat());
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        said(&output)
    );
    same_again(Path::new(&plan))
}

/// A made field with a job, planned.
fn made(job: &str) -> PlanDocument<'static> {
    let made = plain("");
    made.write("job.toml", job);
    let output = made.run(&["plan", "job.toml"]);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        said(&output)
    );
    same_again(&made.path().join("job-plan"))
}

#[test]
fn a_plan_read_back_and_written_again_is_the_same_bytes() {
    let demo = example("examples/demo/job.toml", &[]);
    assert!(demo.drive.is_some() && demo.refills.is_some() && demo.tramlines.is_some());
    assert!(demo.only.is_none() && demo.terminal.products.len() == 2);
    let three = example("examples/three-inputs/job.toml", &["--only", "geojson"]);
    assert_eq!(three.only.expect("forms"), ["geojson"]);

    let job = plan_support::job("");
    let (one, _) = job.rsplit_once("[[product]]").expect("two products");
    let one = made(one);
    assert!(one.drive.is_none() && one.terminal.products.len() == 1);
    let driven = made(&plan_support::job("[drive]\nheading = \"longest_edge\""));
    assert!(driven.as_driven.is_some() && driven.tramlines.is_none());
}

#[test]
fn commands_say_which_key_of_a_plan_is_wrong() {
    let made = plain("");
    let output = made.run(&["plan", "job.toml"]);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        said(&output)
    );
    let text = fs::read_to_string(made.path().join("job-plan/plan.json")).expect("plan.json");
    let audit = [
        "audit",
        "job-plan/gis/rates.geojson",
        "--plan",
        "other.json",
    ];
    let order = ["order", "other.json"];
    let compare = ["compare", "other.json", "job-plan/terminal/TASKDATA"];
    for (command, from, to, words) in [
        (
            &audit[..],
            "\"covered_m2\"",
            "\"covered\"",
            "in 'grids.metric', missing field `covered_m2`",
        ),
        (
            &compare,
            "\"working_width_m\": 6.0",
            "\"working_width_m\": \"6\"",
            "in 'job.drill.working_width_m', invalid type: string",
        ),
        (
            &order,
            "\"position_error_m\"",
            "\"position_error\"",
            "in 'job.drill.position_error', unknown field",
        ),
        (
            &order,
            "\"severity\": \"note\"",
            "\"severity\": \"none\"",
            "in 'findings[0].severity', unknown variant `none`",
        ),
        (
            &audit,
            "\"version\": 1",
            "\"version\": 3",
            "layout version 3, newer than",
        ),
        (
            &compare,
            "twinsow-plan",
            "another",
            "its format is 'another'",
        ),
    ] {
        assert!(text.contains(from), "{from} is not there");
        made.write("other.json", text.replacen(from, to, 1));
        let output = made.run(command);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(2), "{command:?} {to}\n{said}");
        for part in ["other.json", words, "Allowed: ", "Next: "] {
            assert!(said.contains(part), "{command:?} {to}: no '{part}'\n{said}");
        }
    }
}
