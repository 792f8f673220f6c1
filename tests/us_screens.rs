//! Stick, contents and compare speak the units of the job: pounds, acres and feet where the job's pages have them.
//! 1 lb/ac is 0.45359237 kg on 4046.8564224 m2 (NIST Handbook 44, Appendix C): 1.120851 kg/ha.

mod log_support;

use log_support::*;
use std::fs;
use std::path::Path;

fn shown(folder: &Path, arguments: &[&str], codes: std::ops::Range<i32>) -> String {
    let output = run(folder, arguments);
    let told = text(&output.stdout) + &text(&output.stderr);
    let code = output.status.code().expect("an exit code");
    assert!(codes.contains(&code), "{code}: {told}");
    told
}

/// The field of the simulator, planned in US units; what comes of each command.
fn in_us_units(folder: &Path) -> [String; 3] {
    plan(folder);
    let job = fs::read_to_string(folder.join("job.toml")).expect("the job");
    fs::write(
        folder.join("job.toml"),
        job + "[report]\nunits = \"us_customary\"\n",
    )
    .expect("it");
    shown(folder, &["plan", "job.toml", "--out", "plan"], 0..2);
    // A rotor that is missing asks for nothing here; the stick takes a plan with nothing open.
    let stick = shown(folder, &["stick", "plan", "--to", "stick"], 0..1);
    let contents = shown(folder, &["contents", "stick/TASKDATA"], 0..1);
    let bouts: Vec<usize> = (0..BOUTS).filter(|bout| *bout != 20).collect();
    let moments = drive(&bouts, 0.0, &mut Noise(7), 0.0);
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    let logs = [log(&common(), &moments)];
    write(folder, Vec::new(), task("as driven", children), &logs);
    let compared = shown(
        folder,
        &["compare", "plan", "TASKDATA", "--loaded", "barley=900"],
        0..2,
    );
    [stick, contents, compared]
}

/// Words of a text; brackets and marks of a sentence taken off.
fn words(text: &str) -> Vec<&str> {
    let marks: &[char] = &['(', ')', ',', '.', ':', ';'];
    text.split_whitespace()
        .map(|word| word.trim_matches(marks))
        .collect()
}

#[test]
fn three_screens_hold_no_metric_unit_and_the_right_numbers() {
    let folder = tempfile::tempdir().expect("a folder");
    let [stick, contents, compared] = in_us_units(folder.path());
    for (name, text) in [
        ("stick", &stick),
        ("contents", &contents),
        ("compare", &compared),
    ] {
        for metric in ["kg", "kg/ha", "ha", "m", "m2"] {
            assert!(
                !words(text).contains(&metric),
                "{name} says {metric}: {text}"
            );
        }
        for us in ["ac", "lb"] {
            assert!(words(text).contains(&us), "{name} lacks {us}: {text}");
        }
    }
    // 150, 170 and 190 kg/ha are 133.8, 151.7 and 169.5 lb/ac; the field of 240 m by 200 m is 11.86 ac.
    assert!(
        stick.contains("133.8 to 169.5") && stick.contains("lb/ac"),
        "{stick}"
    );
    assert!(stick.contains("11.8"), "{stick}");
    for rate in ["133.8", "169.5", "lb/ac", "11.8"] {
        assert!(contents.contains(rate), "{rate}: {contents}");
    }
    // A bout of 6 m by 200 m was left out: 0.3 ac. 8 160 kg/48 000 m2 of barley at 170 kg/ha in the mean are 1 799 lb.
    assert!(
        compared.contains("0.30 ac inside the field were left out"),
        "{compared}"
    );
    assert!(
        compared.contains("planned lb") && compared.contains("798.9"),
        "{compared}"
    );
}

#[test]
fn metric_jobs_read_as_before() {
    let folder = tempfile::tempdir().expect("a folder");
    plan(folder.path());
    let stick = shown(folder.path(), &["stick", "plan", "--to", "stick"], 0..1);
    assert!(
        stick.contains("kg/ha") && stick.contains("150.0 to 190.0"),
        "{stick}"
    );
    let contents = shown(folder.path(), &["contents", "stick/TASKDATA"], 0..1);
    assert!(
        contents.contains("kg/ha") && contents.contains("150.00"),
        "{contents}"
    );
}
