//! A job whose seedbed is not known, on the page: either of its two plans is looked at, each with its own rates, decisions and
//! signatures; both are written, and both go to the drill.

#[path = "edit_support/page.rs"]
mod page;

use page::Page;
use serde_json::{Value, json};
use std::fs;

const JOB: &str = r#"
name = "Shoal"
seedbed = "not_known"
[field]
name = "Shoal"
boundary = { file = "b.geojson" }
[headland]
bouts = 0
[drill]
working_width_m = 6
rows = 48
row_spacing_m = 0.125
[[drill.hopper]]
name = "front"
usable_l = 1900
[[drill.hopper]]
name = "rear"
usable_l = 900
[[product]]
id = "seed"
name = "barley"
kind = "seed"
hopper = "front"
crop = "barley"
rate = { kg_per_ha = 150 }
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
form = "monoammonium_phosphate"
grade = { n_percent = 12, p2o5_percent = 52 }
rate = { kg_per_ha = 30 }
[[seed_safe]]
table = "manitoba_phosphate"
crop = "barley"
spread_m = 0.03
texture = "medium"
"#;

/// The page of a job on a small field.
fn begun(job: &str) -> Page {
    let folder = tempfile::tempdir().expect("a folder");
    let border = json!({
        "type": "Feature", "properties": {},
        "geometry": { "type": "Polygon", "coordinates": [[[0.0, 0.0], [0.002, 0.0], [0.002, 0.002], [0.0, 0.002], [0.0, 0.0]]] },
    });
    fs::write(folder.path().join("b.geojson"), border.to_string()).expect("written");
    fs::write(folder.path().join("job.toml"), job).expect("written");
    Page::of(folder, "job.toml")
}

#[test]
fn a_job_for_two_seedbeds_is_shown_dry_first_and_known_by_both_its_folders() {
    let page = begun(JOB);
    let cookie = page.cookie();
    let state = page.worked_out(&cookie);
    assert_eq!(state["fault"], Value::Null, "{state}");
    assert_eq!(state["plan"]["seedbeds"]["seen"], "dry");
    let post = |path: &str, body: Value| {
        page.send(
            page.post(path, &page.own(&cookie), &body.to_string())
                .as_bytes(),
        )
    };
    let stick = post("/stick", json!({ "drive": "/nowhere" }));
    assert_eq!(stick.code(), "edit.held_back", "nothing is written yet");
    let is = || page.look(&cookie, "/jobs").json()["jobs"][0]["state"].clone();
    let before = is();
    assert_ne!(before, "written");
    let handed = post("/handover", json!({})).json();
    let files: Vec<&str> = handed["files"]
        .as_array()
        .expect("files")
        .iter()
        .filter_map(|file| file["path"].as_str())
        .collect();
    let plans = page.folder.path().join("job-plan");
    for of in ["dry", "moist"] {
        let report = format!("{of}/report.html");
        assert!(files.contains(&report.as_str()), "{files:?}");
        let seen = page.look(&cookie, &format!("/handed/{report}"));
        assert_eq!(seen.status, 200, "{of}");
    }
    let stick = post("/stick", json!({ "drive": "/nowhere" }));
    let refused = match handed["ready"].as_bool() {
        Some(true) => "edit.no_drive",
        _ => "edit.held_back",
    };
    assert_eq!(stick.code(), refused);
    // The plan that is looked at is the dry one of the two that were written.
    let marker = fs::read_dir(plans.join("dry"))
        .expect("a folder")
        .flatten()
        .filter_map(|entry| fs::read_to_string(entry.path()).ok())
        .any(|text| {
            text.contains(&format!(
                "plan {}",
                state["plan"]["id"].as_str().unwrap_or("?")
            ))
        });
    assert!(marker, "{}", state["plan"]["id"]);
    let expected = match handed["ready"].as_bool() {
        Some(true) => "written",
        _ => "open",
    };
    assert_eq!(is(), expected, "{handed}");
    fs::remove_dir_all(plans.join("moist")).expect("removed");
    assert_ne!(is(), "written", "one of two is missing");
}

/// 30 kg/ha lie within what is published for a moist seedbed; 300 are cut in both, farther in the dry one.
#[test]
fn either_plan_is_looked_at_and_signed_for_by_itself() {
    let page = begun(&JOB.replace("kg_per_ha = 30", "kg_per_ha = 300"));
    let cookie = page.cookie();
    let dry = page.worked_out(&cookie);
    let post = |path: &str, body: Value| {
        let answer = page.send(
            page.post(path, &page.own(&cookie), &body.to_string())
                .as_bytes(),
        );
        assert_eq!(
            answer.status,
            200,
            "{path}: {}",
            String::from_utf8_lossy(&answer.body)
        );
        answer.json()
    };
    let rate = |state: &Value| {
        state["plan"]["products"][1]["kg_per_ha"][0]
            .as_f64()
            .expect("a rate")
    };
    let open = |state: &Value, seedbed: &str| {
        let both = state["plan"]["seedbeds"]["both"].as_array().expect("both");
        let of = both.iter().find(|of| of["seedbed"] == seedbed).expect("it");
        of["open"].as_u64().expect("a count")
    };
    let own = |state: &Value| {
        let all = state["plan"]["decisions"].as_array().expect("decisions");
        all.iter().filter(|of| of["open"] == true).count() as u64
    };
    post("/seedbed", json!({ "seedbed": "moist" }));
    let moist = page.worked_out(&cookie);
    assert_eq!(moist["plan"]["seedbeds"]["seen"], "moist");
    assert!(rate(&moist) > rate(&dry), "{} {}", rate(&moist), rate(&dry));
    assert_ne!(moist["plan"]["id"], dry["plan"]["id"]);
    // Nothing is worked out again to look at the other one.
    assert_eq!(moist["counts"], dry["counts"]);
    assert_eq!(
        (own(&dry), own(&moist)),
        (open(&dry, "dry"), open(&dry, "moist"))
    );
    let explained = page.look(&cookie, "/explain?row=1").json();
    assert_eq!(
        explained["products"][1]["kg_per_ha"].as_f64(),
        Some(rate(&moist))
    );
    // The same by the command.
    let plans = twinsow::plan::plans(
        &twinsow::job::Job::load(&page.folder.path().join("job.toml")).expect("a job"),
        &twinsow::plan::Disk,
        &twinsow::plan::Options::default(),
    );
    let plans = plans.expect("two plans");
    for (plan, state) in plans.iter().zip([&dry, &moist]) {
        assert_eq!(state["plan"]["id"], plan.id.as_str());
        assert_eq!(rate(state), plan.rates.rows[0].rates[1].kg_per_ha);
        assert_eq!(own(state), plan.open().len() as u64);
        let order = plan.tally.planned.products[1].order_kg;
        assert_eq!(
            state["plan"]["products"][1]["order_kg"].as_f64(),
            Some(order)
        );
    }
    // A signature is for the plan that it names, whichever is looked at.
    let signable = |state: &Value| {
        let all = state["plan"]["decisions"]
            .as_array()
            .expect("decisions")
            .clone();
        all.into_iter()
            .find(|of| of["open"] == true && of["signable"] == true)
    };
    let decision = signable(&dry).expect("the dry plan asks for something");
    let before = (open(&moist, "dry"), open(&moist, "moist"));
    post(
        "/act",
        json!({ "do": "sign", "decision": decision["key"], "why": "seen", "by": "A. Tester", "on": "2031-02-03", "seedbed": "dry" }),
    );
    let signed = page.worked_out(&cookie);
    assert_eq!(
        signed["plan"]["seedbeds"]["seen"], "moist",
        "what is looked at stays"
    );
    assert_eq!(
        (open(&signed, "dry"), open(&signed, "moist")),
        (before.0 - 1, before.1)
    );
}
