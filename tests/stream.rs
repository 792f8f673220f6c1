//! `twinsow stream`: the same plans as by `twinsow plan`, one line in, one line out, whatever the lines hold.

mod farm_support;

use farm_support::{JOB, collection, farm, feature, ring};
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

const LONGITUDES: [f64; 4] = [8.0, 8.003, 8.1, 8.2];

fn start(arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .arg("stream")
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

fn stream(arguments: &[&str], input: &[u8]) -> Output {
    let mut child = start(arguments);
    let mut stdin = child.stdin.take().expect("a pipe");
    let input = input.to_vec();
    let writer = std::thread::spawn(move || stdin.write_all(&input));
    let output = child.wait_with_output().expect("an end");
    writer.join().expect("no panic").expect("written");
    output
}

fn answers(arguments: &[&str], input: &str) -> Vec<Value> {
    let output = stream(arguments, input.as_bytes());
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout)
        .expect("UTF-8")
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect()
}

/// A job for one field of the farm, beside the files of the farm.
fn one_field_job(folder: &Path) -> String {
    let path = folder.join("one.toml");
    fs::write(&path, JOB.replace("split_by = \"number\"\n", "")).expect("written");
    path.to_str().expect("unicode").to_owned()
}

/// The boundary of the field at a longitude, as [`farm`] makes it.
fn boundary(nth: usize) -> Value {
    let lon = LONGITUDES[nth];
    let part = |west_south, size| feature("", "Polygon", &format!("[{}]", ring(west_south, size)));
    let mut parts = vec![part([lon, 50.0], [0.002, 0.001])];
    if nth == 1 {
        parts.push(part([lon, 50.0015], [0.001, 0.001]));
    }
    serde_json::from_str(&collection(&parts)).expect("JSON")
}

fn request(nth: usize) -> String {
    format!(
        "{}\n",
        json!({ "id": nth, "files": { "fields.geojson": boundary(nth) }, "with": ["rates", "tally"] })
    )
}

/// The same rates, kilograms and steps as by a job with `split_by`, which the program plans at once.
#[test]
fn answers_are_the_plans_of_the_whole_farm() {
    let temp = tempfile::tempdir().expect("a folder");
    let all = farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let input: String = (0..4).map(request).collect();
    let told = answers(&["--job", &job, "--threads", "2"], &input);
    let out = temp.path().join("out");
    let planned = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["plan", "--json", "--out"])
        .args([&out, &all])
        .output()
        .expect("the program starts");
    let planned: Vec<Value> = String::from_utf8_lossy(&planned.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!((told.len(), planned.len()), (4, 4));
    for (n, (of_stream, of_farm)) in told.iter().zip(&planned).enumerate() {
        assert_eq!(of_stream["id"], n);
        for key in ["mapped_ha", "rates", "tally"] {
            assert_eq!(of_stream[key], of_farm[key], "field {n}, {key}");
        }
        assert!(of_stream["products"][0]["map_kg"].as_f64() > Some(100.0));
    }
}

/// An answer depends on its own line and on nothing else: in any order, beside any others, on any number of threads.
#[test]
fn the_same_line_always_has_the_same_answer() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let lines: Vec<String> = (0..4).map(request).collect();
    let forth = answers(&["--job", &job, "--threads", "1"], &lines.concat());
    let mut mixed: Vec<&str> = lines.iter().rev().map(String::as_str).collect();
    mixed.insert(2, "nonsense\n");
    let mut back = answers(&["--job", &job, "--threads", "3"], &mixed.concat());
    assert_eq!(back.remove(2)["exit"], 2);
    back.reverse();
    assert_eq!(forth, back);
}

/// Without `--job` a line holds its whole job; the map comes along on the same line.
#[test]
fn a_line_may_hold_everything() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let mut job: Value = {
        let table: toml::Table = JOB
            .replace("split_by = \"number\"\n", "")
            .parse()
            .expect("TOML");
        serde_json::to_value(table).expect("JSON")
    };
    job.as_object_mut().expect("an object").remove("exclusion");
    let soil: Value = serde_json::from_str(
        &fs::read_to_string(temp.path().join("soil.geojson")).expect("a file"),
    )
    .expect("JSON");
    let files = json!({ "fields.geojson": boundary(0), "soil.geojson": soil });
    let line = json!({ "job": job, "files": files, "with": ["map"] }).to_string();
    let told = answers(&[], &line);
    assert_eq!(told[0]["exit"], 0, "{}", told[0]);
    assert_eq!(told[0]["id"], Value::Null);
    let zones = told[0]["map"]["features"].as_array().expect("features");
    assert_eq!(zones.len(), 4, "sand and loam, headland and interior");
    let kg = |zone: &Value| zone["properties"]["seed_kg"].as_f64();
    let of_map: Option<f64> = zones.iter().map(kg).sum();
    let total = told[0]["products"][0]["map_kg"].as_f64();
    if let (Some(of_map), Some(total)) = (of_map, total) {
        assert!((of_map - total).abs() < 0.1 * 4.0, "{of_map} {total}");
    }
    // The file that is not brought is named, and nothing is read from disk in its place.
    let line = json!({ "id": "x", "job": job, "files": { "fields.geojson": boundary(0) } });
    let told = answers(&[], &line.to_string());
    assert_eq!(told[0]["fault"]["code"], "stream.no_file");
    assert!(
        told[0]["text"]
            .as_str()
            .is_some_and(|text| text.contains("soil.geojson"))
    );
}

/// A line that divides the field comes with the request like all else; one that lies on the disk is not read.
#[test]
fn a_line_that_divides_the_field_comes_with_the_request() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let line = feature("", "LineString", "[[7.99,50.0005],[8.02,50.0005]]");
    let line = collection(&[line]);
    fs::write(temp.path().join("line.geojson"), &line).expect("written");
    let mut request: Value = serde_json::from_str(&request(0)).expect("JSON");
    request["job"] = json!({ "layer": [
        { "name": "soil", "source": { "file": "soil.geojson" }, "class_attribute": "soil" },
        { "name": "halves", "source": { "file": "line.geojson" }, "divides": true },
    ] });
    let told = answers(&["--job", &job], &request.to_string());
    assert_eq!(told[0]["fault"]["code"], "stream.no_file", "{}", told[0]);
    request["files"]["line.geojson"] = serde_json::from_str(&line).expect("JSON");
    let told = answers(&["--job", &job], &request.to_string());
    assert_eq!(told[0]["exit"], 0, "{}", told[0]);
    let rows = told[0]["rates"].as_array().expect("rows");
    assert_eq!(
        rows.len(),
        8,
        "headland and interior, sand and loam, two sides"
    );
}

/// Settings of a line count instead of the job's, and change nothing for the next line.
#[test]
fn settings_of_a_line_are_its_own() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let plain = request(0);
    let mut wider: Value = serde_json::from_str(&plain).expect("JSON");
    wider["job"] = json!({ "headland": { "width_m": 24.0 } });
    let mut wrong = wider.clone();
    wrong["job"] = json!({ "headland": { "wdth_m": 24.0 } });
    let told = answers(
        &["--job", &job],
        &format!("{plain}{wider}\n{wrong}\n{plain}"),
    );
    assert_eq!(told[0], told[3]);
    let headland = |answer: &Value| -> f64 {
        let rows = answer["rates"].as_array().expect("rows").iter();
        let of_headland = rows.filter(|row| row["land_part"] == "headland");
        of_headland.filter_map(|row| row["ha"].as_f64()).sum()
    };
    assert!(headland(&told[1]) > 1.7 * headland(&told[0]));
    assert_eq!(told[2]["exit"], 2);
    let text = told[2]["text"].as_str().expect("a text");
    assert!(
        text.contains("wdth_m") && text.contains("width_m"),
        "{text}"
    );
}

#[test]
fn bad_lines_have_their_error_in_their_place_and_the_end_is_a_good_one() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let good = request(2);
    let huge = format!(
        "{{\"id\":\"huge\",\"files\":{{\"x\":\"{}\"}}}}\n",
        "x".repeat(1_000_001)
    );
    let bow = json!({ "id": "far", "files": { "fields.geojson": {
        "type": "Polygon", "coordinates": [[[9.0, 9.0], [9.1, 9.0], [9.1, 9.1], [9.0, 9.0]]] } } });
    let slip = json!({ "id": "slip", "files": { "felds.geojson": boundary(0) } });
    let input = format!("\n{{\"id\":5,\n{huge}{bow}\n{slip}\n\u{e9}\n{good}");
    let mut bytes = input.into_bytes();
    bytes.extend(b"\xff\xff\n");
    bytes.extend(good.as_bytes());
    let output = stream(&["--job", &job, "--most-mb", "1"], &bytes);
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stderr.is_empty());
    let told: Vec<Value> = String::from_utf8_lossy(&output.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    let codes: Vec<&str> = told
        .iter()
        .map(|answer| answer["fault"]["code"].as_str().unwrap_or("-"))
        .collect();
    let wanted = [
        "stream.request",
        "stream.request",
        "stream.long_line",
        codes[3],
        "stream.unnamed_file",
        "stream.request",
        "-",
        "stream.not_utf8",
        "-",
    ];
    assert_eq!(codes, wanted);
    assert_eq!(
        (&told[3]["id"], &told[3]["exit"]),
        (&json!("far"), &json!(2))
    );
    assert_eq!(told[4]["id"], "slip");
    assert_eq!(told[6], told[8]);
}

/// An engine may wait for each answer before it asks again.
#[test]
fn an_answer_comes_without_a_further_line() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let mut child = start(&["--job", &job]);
    let mut stdin = child.stdin.take().expect("a pipe");
    let mut stdout = BufReader::new(child.stdout.take().expect("a pipe"));
    for nth in [3, 1] {
        stdin.write_all(request(nth).as_bytes()).expect("written");
        let mut line = String::new();
        stdout.read_line(&mut line).expect("an answer");
        let answer: Value = serde_json::from_str(&line).expect("JSON");
        assert_eq!(answer["id"], nth);
    }
    drop(stdin);
    let mut rest = String::new();
    stdout.read_to_string(&mut rest).expect("an end");
    assert_eq!(
        (rest.as_str(), child.wait().expect("an end").code()),
        ("", Some(0))
    );
}

#[test]
fn a_reader_that_goes_away_ends_the_stream_without_a_word() {
    let temp = tempfile::tempdir().expect("a folder");
    farm(temp.path(), &LONGITUDES, None);
    let job = one_field_job(temp.path());
    let mut child = start(&["--job", &job]);
    let mut stdin = child.stdin.take().expect("a pipe");
    let writer = std::thread::spawn(move || {
        // Endless, until nobody takes it any more.
        while stdin.write_all(request(0).as_bytes()).is_ok() {}
    });
    let mut stdout = BufReader::new(child.stdout.take().expect("a pipe"));
    let mut line = String::new();
    stdout.read_line(&mut line).expect("an answer");
    drop(stdout);
    let output = child.wait_with_output().expect("an end");
    writer.join().expect("no panic");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

#[test]
fn a_job_that_does_not_load_is_told_before_the_first_line() {
    let output = stream(&["--job", "nowhere.toml"], b"");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("nowhere.toml"));
}
