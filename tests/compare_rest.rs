//! The job for the land that is left, after a drill has stopped in the middle of a bout.

mod log_support;

use log_support::*;
use std::fs;

#[test]
fn the_rest_begins_before_the_place_where_the_drill_stopped_and_asks_again() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    plan(folder);
    let bouts: Vec<usize> = (0..25).collect();
    let mut moments = drive(&bouts, 0.0, &mut Noise(3), 0.0);
    // The last bout ends in the middle of the field.
    moments.truncate(25 * 81 - 40);
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    let logs = [log(&common(), &moments)];
    write(folder, Vec::new(), task("as driven", children), &logs);
    let job = fs::read_to_string(folder.join("job.toml")).unwrap();
    let date = "name = \"log\"\nsowing_date = \"2026-03-20\" # spring";
    let dated = job.replacen("name = \"log\"", date, 1);
    fs::write(folder.join("job.toml"), dated).unwrap();

    let left = |more: &[&str]| {
        let all = [
            "compare",
            "plan",
            "TASKDATA",
            "--rest",
            "job.toml",
            "--loaded",
            "barley=900",
        ];
        let compared = run(folder, &[&all[..], more].concat());
        assert_eq!(
            compared.status.code(),
            Some(0),
            "{}",
            text(&compared.stdout)
        );
        let rest = fs::read_to_string(folder.join("job-rest.toml")).unwrap();
        let answered = rest.replace("\"?\"", "\"2026-03-21\"");
        fs::write(folder.join("again.toml"), answered).unwrap();
        let planned = run(folder, &["plan", "again.toml", "--out", "again"]);
        assert!(planned.status.code().is_some_and(|code| code < 2));
        let plan = fs::read_to_string(folder.join("again/plan.json")).unwrap();
        let plan: serde_json::Value = serde_json::from_str(&plan).unwrap();
        (plan["tally"]["mapped_m2"].as_f64().unwrap(), rest)
    };
    let (there_m2, rest) = left(&[]);
    let (before_m2, _) = left(&["--behind", "5"]);
    let more_m2 = before_m2 - there_m2;
    assert!((more_m2 - 5.0 * DRILL_M).abs() < 2.0, "{more_m2}");
    assert!(rest.contains("sowing_date = \"?\" # Was: sowing_date = \"2026-03-20\" # spring"));
    assert!(rest.contains("# Left of 'barley' by the log: "), "{rest}");
    let open = run(folder, &["plan", "job-rest.toml"]);
    assert_eq!(open.status.code(), Some(2));
    let far = run(folder, &["compare", "plan", "TASKDATA", "--behind", "500"]);
    assert_eq!(far.status.code(), Some(2));
}
