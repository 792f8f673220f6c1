//! One boundary file with many fields and one zone layer for all: every field as by a job of its own.

mod farm_support;

use farm_support::{JOB, collection, farm, feature, ring};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, SharedInputs};
use twinsow::write;

const TIMESTAMP: &str = "2026-01-01T00:00:00Z";

/// All files below a folder.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(here) = waiting.pop() {
        for entry in fs::read_dir(&here).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                waiting.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("below").to_path_buf();
                found.insert(name, fs::read(&path).expect("a file"));
            }
        }
    }
    found
}

fn twinsow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .env("SOURCE_DATE_EPOCH", "1767225600")
        .output()
        .expect("the program starts")
}

/// The field's own job, as the shared inputs hand it out, reads the files by itself and does not
/// know them: the same files have to come out, byte for byte.
#[test]
fn every_field_comes_out_as_by_a_job_of_its_own() {
    as_by_jobs_of_their_own(&[8.0, 8.003, 8.1]);
    // On either side of the antimeridian, 80 m apart.
    as_by_jobs_of_their_own(&[179.9975, -179.9994]);
}

fn as_by_jobs_of_their_own(longitudes: &[f64]) {
    let temp = tempfile::tempdir().expect("a folder");
    let job = Job::load(&farm(temp.path(), longitudes, None)).expect("a job");
    let shared = SharedInputs::of(&job, "number").expect("inputs");
    assert_eq!(shared.fields().len(), longitudes.len());
    for nth in 0..longitudes.len() {
        let own = plan::plan(&shared.job(nth), &Disk, &Options::default()).expect("a plan");
        let of_many =
            plan::plan(&shared.job(nth), &shared.field(nth), &Options::default()).expect("a plan");
        assert_eq!(of_many.job.field.name, format!("Square {}", nth + 1));
        assert_eq!(of_many.land.boundary.len(), if nth == 1 { 2 } else { 1 });
        let [own, of_many] = [own, of_many].map(|plan| {
            let folder = tempfile::tempdir().expect("a folder");
            write::content(&plan, folder.path(), TIMESTAMP, &write::Forms::all()).expect("written");
            files(folder.path())
        });
        let names = || {
            own.keys()
                .filter(|name| own.get(*name) != of_many.get(*name))
        };
        assert!(
            own == of_many,
            "field {}: {:?}",
            nth + 1,
            names().collect::<Vec<_>>()
        );
    }
}

#[test]
fn a_bad_field_stops_no_other_and_threads_change_no_byte() {
    let temp = tempfile::tempdir().expect("a folder");
    let job = farm(temp.path(), &[8.0, 8.003, 8.1, 8.2], Some(2));
    let job = job.to_str().expect("unicode");
    let mut made = Vec::new();
    for threads in ["1", "2", "5"] {
        let out = temp.path().join(format!("out{threads}"));
        let out = out.to_str().expect("unicode");
        let output = twinsow(&["plan", job, "--out", out, "--threads", threads]);
        let text = String::from_utf8_lossy(&output.stdout).replace(out, "OUT");
        let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{text}{complaint}");
        assert!(complaint.contains("field 3: "), "{complaint}");
        assert!(
            complaint.contains("zones.") || complaint.contains("soil"),
            "{complaint}"
        );
        assert!(text.contains("3 of 4 jobs planned"), "{text}");
        let order: Vec<_> = ["Square 1:", "Square 2:", "Square 4:"]
            .map(|name| text.find(name))
            .into();
        assert!(order.is_sorted() && order[0].is_some(), "{text}");
        let files = files(Path::new(out));
        assert!(files.contains_key(Path::new("4/gis/rates.tif")));
        assert!(!files.keys().any(|name| name.starts_with("3")));
        made.push((text, complaint, files));
    }
    assert!(made[0] == made[1] && made[0] == made[2]);
}

#[test]
fn json_names_the_field_that_failed() {
    let temp = tempfile::tempdir().expect("a folder");
    let job = farm(temp.path(), &[8.0, 8.1], Some(1));
    let out = temp.path().join("out");
    let output = twinsow(&[
        "plan",
        job.to_str().expect("unicode"),
        "--json",
        "--out",
        out.to_str().expect("unicode"),
    ]);
    let lines: Vec<serde_json::Value> = String::from_utf8_lossy(&output.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!(lines.len(), 2);
    assert_eq!(lines[0]["field"], "Square 1");
    assert_eq!(lines[1]["field"], "2");
    assert_eq!(lines[1]["exit"], 2);
}

#[test]
fn an_attribute_that_is_not_there_or_empty_is_one_clear_fault() {
    let temp = tempfile::tempdir().expect("a folder");
    let path = farm(temp.path(), &[8.0], None);
    let refused = |text: &str| {
        fs::write(&path, text).expect("written");
        let job = Job::load(&path).expect("a job");
        let attribute = job.field.split_by.clone().expect("split_by");
        SharedInputs::of(&job, &attribute).err().expect("a fault")
    };
    let fault = refused(&JOB.replace("\"number\"", "\"numbr\""));
    assert_eq!(fault.code, "plan.split_by");
    assert!(fault.to_string().contains("number"), "{fault}");
    let field = feature(
        r#""number":null"#,
        "Polygon",
        &format!("[{}]", ring([8.0, 50.0], [0.1, 0.1])),
    );
    fs::write(temp.path().join("fields.geojson"), collection(&[field])).expect("written");
    let fault = refused(JOB);
    assert_eq!(fault.code, "plan.split_by");
    assert!(fault.to_string().contains("feature 1"), "{fault}");
}

/// Other commands take a job for one field; they must not plan a whole farm as one.
#[test]
fn a_job_for_many_fields_is_no_job_for_one() {
    let temp = tempfile::tempdir().expect("a folder");
    let job = Job::load(&farm(temp.path(), &[8.0, 8.1], None)).expect("a job");
    let fault = plan::plan(&job, &Disk, &Options::default())
        .err()
        .expect("a fault");
    assert_eq!(fault.code, "plan.many_fields");
}

/// A raster, points and a line give every field its own classes, as by a job of its own. All have been read before.
#[test]
fn rasters_and_points_come_out_as_by_jobs_of_their_own() {
    let temp = tempfile::tempdir().expect("a folder");
    let path = farm(temp.path(), &[8.0, 8.003], None);
    // 40 x 20 values of 0.00025 degrees from 7.998, 49.998: rising to the east.
    let rows: String = (0..20)
        .map(|row| {
            (0..40)
                .map(|column| format!("{} ", column + row % 3))
                .collect::<String>()
                + "\n"
        })
        .collect();
    let head = "ncols 40\nnrows 20\nxllcorner 7.998\nyllcorner 49.998\ncellsize 0.00025\n";
    fs::write(temp.path().join("relief.asc"), format!("{head}{rows}")).expect("written");
    let samples: Vec<String> = (0..30)
        .map(|n| {
            let (lon, lat) = (
                7.9995 + 0.0002 * f64::from(n),
                50.0 + 0.0004 * f64::from(n % 4),
            );
            feature(
                &format!(r#""p":{}"#, 5 + n % 7),
                "Point",
                &format!("[{lon},{lat}]"),
            )
        })
        .collect();
    fs::write(temp.path().join("samples.geojson"), collection(&samples)).expect("written");
    let line = feature("", "LineString", "[[7.99,50.0005],[8.02,50.0005]]");
    fs::write(temp.path().join("line.geojson"), collection(&[line])).expect("written");
    let more = r#"
[[layer]]
name = "halves"
source = { file = "line.geojson" }
divides = true

[[layer]]
name = "relief"
source = { file = "relief.asc", crs = "EPSG:4326" }
values = { method = "edges", edges = [14.0] }

[[layer]]
name = "p"
source = { file = "samples.geojson" }
values = { method = "edges", edges = [8.0], surface = "inverse_distance", column = "p" }
"#;
    fs::write(&path, format!("{JOB}{more}")).expect("written");
    let job = Job::load(&path).unwrap_or_else(|fault| panic!("{fault}"));
    let shared = SharedInputs::of(&job, "number").unwrap_or_else(|fault| panic!("{fault}"));
    let own = |nth| {
        plan::plan(&shared.job(nth), &Disk, &Options::default()).unwrap_or_else(|f| panic!("{f}"))
    };
    let own = [own(0), own(1)];
    fs::remove_file(temp.path().join("line.geojson")).expect("removed");
    for (nth, own) in own.iter().enumerate() {
        let of_many =
            plan::plan(&shared.job(nth), &shared.field(nth), &Options::default()).expect("a plan");
        assert!(own.rates.rows.len() > 8, "classes of four layers");
        assert_eq!(own.rates.rows, of_many.rates.rows);
        assert_eq!(own.findings, of_many.findings);
        assert_eq!(own.id, of_many.id);
    }
}

/// One map and one table for all fields hold what the fields' own files hold; a field that failed is in neither.
#[test]
fn all_fields_together_are_the_sum_of_the_fields() {
    let temp = tempfile::tempdir().expect("a folder");
    let job = farm(temp.path(), &[8.0, 8.003, 8.1, 8.2], Some(2));
    let out = temp.path().join("out");
    let run = || {
        let arguments = [
            "plan",
            job.to_str().expect("unicode"),
            "--together",
            "--out",
        ];
        let out = out.to_str().expect("unicode");
        let output = twinsow(&[&arguments[..], &[out]].concat());
        assert_eq!(output.status.code(), Some(2));
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(
            said.contains("all-fields.csv: totals of all fields"),
            "{said}"
        );
    };
    run();
    let json = |path: &Path| -> serde_json::Value {
        serde_json::from_slice(&fs::read(path).expect("a file")).expect("JSON")
    };
    let map = json(&out.join("all-fields.geojson"));
    let together = map["features"].as_array().expect("features");
    let mut own = Vec::new();
    for field in ["1", "2", "4"] {
        let map = json(&out.join(field).join("gis/rates.geojson"));
        own.extend(map["features"].as_array().expect("features").clone());
    }
    assert_eq!(together.len(), own.len());
    let mut ids: Vec<&str> = Vec::new();
    for (one, of_field) in together.iter().zip(&own) {
        assert_eq!(one["geometry"], of_field["geometry"]);
        assert_eq!(one["properties"]["plan"], of_field["properties"]["plan"]);
        ids.extend(one["id"].as_str());
    }
    assert_eq!(together[0]["properties"]["field"], "1");
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), own.len(), "ids are distinct");
    let table = fs::read_to_string(out.join("all-fields.csv")).expect("a file");
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 4);
    assert!(
        lines[0].starts_with("field,plan,mapped_ha,seed_map_kg,"),
        "{table}"
    );
    assert!(lines[3].starts_with("4,"), "{table}");
    // The same once more, over its own files; but not over somebody else's.
    let before = files(&out);
    run();
    assert!(before.keys().eq(files(&out).keys()));
    assert_eq!(before[Path::new("all-fields.csv")], table.as_bytes());
    fs::write(out.join("all-fields.csv"), "mine\n").expect("written");
    let output = twinsow(&[
        "plan",
        job.to_str().expect("unicode"),
        "--together",
        "--out",
        out.to_str().expect("unicode"),
    ]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("all-fields.csv: a file of this name"),
        "{said}"
    );
    assert_eq!(
        fs::read_to_string(out.join("all-fields.csv")).expect("a file"),
        "mine\n"
    );
}

/// Commands that show one field are told which; the order is over all of them.
#[test]
fn other_commands_take_the_job_of_a_farm() {
    let temp = tempfile::tempdir().expect("a folder");
    let job = farm(temp.path(), &[8.0, 8.003, 8.1], None);
    let job = job.to_str().expect("unicode");
    let out = |output: &Output| String::from_utf8_lossy(&output.stdout).into_owned();
    for command in ["explain", "calibrate", "zones"] {
        let output = twinsow(&[command, job]);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(
            said.contains("3 fields") && said.contains("one of: 1, 2, 3"),
            "{said}"
        );
        let output = twinsow(&[command, job, "--field", "4"]);
        assert!(String::from_utf8_lossy(&output.stderr).contains("number = '4'"));
        let output = twinsow(&[command, job, "--field", "2"]);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
    }
    assert!(temp.path().join("farm-2-zones/zones.gpkg").is_file());
    let order = twinsow(&["order", job, "--json"]);
    let order: serde_json::Value = serde_json::from_str(&out(&order)).expect("JSON");
    assert_eq!(order["plans"].as_array().map(Vec::len), Some(3));
    assert_eq!(order["plans"][1]["field"], "Square 2");
    // The list over the plans that `plan` delivers says the same.
    let plans = temp.path().join("plans");
    twinsow(&["plan", job, "--out", plans.to_str().expect("unicode")]);
    let folders: Vec<String> = ["1", "2", "3"]
        .map(|field| plans.join(field).display().to_string())
        .into();
    let mut arguments: Vec<&str> = folders.iter().map(String::as_str).collect();
    arguments.insert(0, "order");
    arguments.push("--json");
    let of_plans: serde_json::Value =
        serde_json::from_str(&out(&twinsow(&arguments))).expect("JSON");
    assert_eq!(order["order"], of_plans["order"]);
}
