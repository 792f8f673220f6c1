//! A job with its pages in US units has no metric unit in anything that a person reads: screens, report, reasons, findings, steps to the order,
//! the audit, the pages beside files for terminals and on the stick. docs/methods/units.md says what stays metric and why.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What follows a number in a metric text.
const METRIC: [&str; 22] = [
    "kg/ha",
    "kg",
    "ha",
    "m",
    "m2",
    "m²",
    "mm",
    "cm",
    "km",
    "km/h",
    "l",
    "g",
    "kg/min",
    "kg/l",
    "t/ha",
    "kg/t",
    "plants/m2",
    "seeds/m2",
    "m/s",
    "°C",
    "ha/h",
    "l/min",
];

/// Units that no text of a US job has anywhere, with a number or without.
const NOWHERE: [&str; 8] = [
    "kg/ha",
    "/m2",
    "per m2",
    "km/h",
    "kg/min",
    "per thousand",
    "t/ha",
    "kg/l",
];

/// Lines that say a metric unit on purpose: part of the line, and why.
const ALLOWED: [(&str, &str); 2] = [
    (
        "1 lb/ac is 1.121 kg/ha",
        "warns of reading a Shapefile in the wrong unit",
    ),
    ("Drill of 7.2 m (invented)", "a name in the demo's job"),
];

fn twinsow(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program starts");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let told = text(&output.stdout) + &text(&output.stderr);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{arguments:?}: {told}"
    );
    told
}

/// Metric units in a text, each with its line; numbers are told from their units by what people see.
fn metric_in(text: &str) -> Vec<String> {
    let marks: &[char] = &['(', ')', ',', '.', ':', ';', '\'', '"', '%', '='];
    let mut found = Vec::new();
    for line in text.lines() {
        if ALLOWED.iter().any(|(part, _)| line.contains(part)) {
            continue;
        }
        // Pages beside files for a terminal have both, for a terminal may show either: 142.7 lb/ac (160.00 kg/ha).
        let mut line = line.to_owned();
        while let Some(from) = line.find(" lb/ac (") {
            let from = from + " lb/ac".len();
            let to = line[from..]
                .find(')')
                .map_or(line.len(), |to| from + to + 1);
            line.replace_range(from..to, "");
        }
        let words: Vec<&str> = line
            .split_whitespace()
            .map(|word| word.trim_matches(marks))
            .collect();
        let is_number = |word: &str| {
            word.ends_with(|last: char| last.is_ascii_digit())
                && word.starts_with(|first: char| first.is_ascii_digit() || "+-−".contains(first))
        };
        let pair = words
            .windows(2)
            .any(|pair| is_number(pair[0]) && METRIC.contains(&pair[1]));
        if pair || NOWHERE.iter().any(|unit| line.contains(unit)) {
            found.push(line.trim().to_owned());
        }
    }
    found
}

/// What a browser shows of a page, a line for each piece of text.
fn shown(page: &str) -> String {
    let mut page = page.to_owned();
    for tag in ["script", "style"] {
        while let Some(from) = page.find(&format!("<{tag}")) {
            let end = format!("</{tag}>");
            let to = page[from..].find(&end).expect("its end") + from + end.len();
            page.replace_range(from..to, " ");
        }
    }
    let mut text = String::new();
    for piece in page.split('<') {
        let (tag, words) = piece.split_once('>').unwrap_or(("", piece));
        // Words in bold stand in their sentence.
        let inline = ["b", "/b", "strong", "/strong", "span", "/span", "a", "/a"];
        let name = tag.split_whitespace().next().unwrap_or_default();
        text.push_str(if inline.contains(&name) { "" } else { "\n" });
        text.push_str(words);
    }
    text.replace("&nbsp;", " ").replace("&#x27;", "'")
}

fn texts_below(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let ending = path
            .extension()
            .unwrap_or_default()
            .to_string_lossy()
            .to_lowercase();
        if path.is_dir() {
            texts_below(&path, found);
        } else if ending == "txt" {
            found.push(path);
        }
    }
}

/// Every text below these keys, wherever they stand.
fn said(value: &Value, keys: &[&str], found: &mut Vec<String>) {
    match value {
        Value::Array(all) => all.iter().for_each(|one| said(one, keys, found)),
        Value::Object(all) => {
            for (key, one) in all {
                match one {
                    Value::String(text) if keys.contains(&key.as_str()) => found.push(text.clone()),
                    _ => said(one, keys, found),
                }
            }
        }
        _ => {}
    }
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).expect("a file")).expect("JSON")
}

#[test]
fn nothing_that_a_person_reads_of_a_us_job_is_metric() {
    let temp = tempfile::tempdir().expect("a folder");
    let folder = temp.path();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo");
    for entry in fs::read_dir(demo).expect("the demo") {
        let path = entry.expect("an entry").path();
        fs::copy(&path, folder.join(path.file_name().expect("a name"))).expect("a copy");
    }
    let job = fs::read_to_string(folder.join("job.toml")).expect("the job");
    assert!(!job.contains("[report]"));
    fs::write(
        folder.join("job.toml"),
        job + "\n[report]\nunits = \"us_customary\"\n",
    )
    .expect("the job");

    let mut texts: Vec<(String, String)> = Vec::new();
    for arguments in [
        &["plan", "job.toml", "--out", "plan"][..],
        &["plan", "job.toml", "--out", "plan", "--details"],
        &["explain", "job.toml", "--unit", "1"],
        &["explain", "job.toml", "--unit", "12"],
        &["audit", "plan", "--plan", "plan/plan.json"],
        &["audit", "plan/gis", "--job", "job.toml"],
        &["calibrate", "job.toml"],
        &["stick", "plan", "--to", "stick"],
        &["contents", "stick/TASKDATA"],
    ] {
        texts.push((arguments.join(" "), twinsow(folder, arguments)));
    }
    let mut pages = Vec::new();
    texts_below(&folder.join("plan"), &mut pages);
    texts_below(&folder.join("stick"), &mut pages);
    assert!(pages.len() >= 2, "{pages:?}");
    for page in pages {
        let text = fs::read_to_string(&page).expect("a page");
        texts.push((page.display().to_string(), text));
    }
    let report = fs::read_to_string(folder.join("plan/report.html")).expect("the report");
    texts.push(("report.html".to_owned(), shown(&report)));
    let mut in_files = Vec::new();
    said(
        &json(&folder.join("plan/plan.json")),
        &["text", "message", "cell"],
        &mut in_files,
    );
    said(
        &json(&folder.join("plan/audit.json")),
        &["text"],
        &mut in_files,
    );
    assert!(in_files.len() > 100, "{}", in_files.len());
    in_files.sort();
    in_files.dedup();
    texts.push(("plan.json and audit.json".to_owned(), in_files.join("\n")));

    let mut faults = Vec::new();
    for (name, text) in &texts {
        faults.extend(metric_in(text).iter().map(|line| format!("{name}: {line}")));
    }
    assert!(
        faults.is_empty(),
        "{} lines:\n{}",
        faults.len(),
        faults.join("\n")
    );
    // The texts say their quantities, so that the test has not looked at nothing: 160 kg/ha are 142.7 lb/ac
    // (1 kg/ha is 0.892179 lb/ac: NIST Handbook 44, Appendix C).
    let all: String = texts.iter().map(|(_, text)| text.as_str()).collect();
    for unit in ["lb/ac", "plants/ft2", "seeds/lb", " ac ", " ft "] {
        assert!(all.contains(unit), "{unit}");
    }
}

/// The check itself: what it must find, and what it must not.
#[test]
fn the_check_finds_a_metric_unit_and_lets_a_name_be() {
    for metric in [
        "rate 160 kg/ha.",
        "on 1.25 ha, twice",
        "rows up to 0.15 m:",
        "45 g per thousand",
        "(12 km/h)",
        "plants per m2",
    ] {
        assert_eq!(metric_in(metric).len(), 1, "{metric}");
    }
    for fine in [
        "142.7 lb/ac on 3 ac",
        "soil 'm'",
        "m 12",
        "95.0 lb/ac (106.5 kg/ha) sown",
    ] {
        assert!(metric_in(fine).is_empty(), "{fine}");
    }
}
