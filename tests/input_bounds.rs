//! What a file may cost: memory of a child process, measured by the system, against the bytes it read.
#![cfg(target_os = "linux")]

use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What any run may take, and how much of it for each byte read.
const ALWAYS: u64 = 100_000_000;
const TIMES: u64 = 10;

/// Exit code, what was said, and the highest memory that was seen, in bytes. A run that does not end is stopped.
fn described(folder: &Path, name: &str) -> (Option<i32>, String, u64) {
    let said = File::create(folder.join("said")).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["describe", name])
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(said)
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let begun = Instant::now();
    let mut peak = 0;
    let code = loop {
        // The line is gone with the process; the highest so far is kept by the system until then.
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kilobytes =
            line.and_then(|line| line.trim().trim_end_matches("kB").trim().parse().ok());
        peak = peak.max(kilobytes.unwrap_or(0_u64) * 1024);
        if let Some(status) = child.try_wait().unwrap() {
            break status.code();
        }
        if begun.elapsed() > Duration::from_secs(60) {
            child.kill().unwrap();
            child.wait().unwrap();
            break None;
        }
        std::thread::sleep(Duration::from_millis(1));
    };
    let text = fs::read_to_string(folder.join("said")).unwrap();
    (code, text, peak)
}

#[test]
fn files_that_want_too_much_are_refused_for_little() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    // Sparse: they take no room on most disks.
    for name in [
        "zeros.geojson",
        "zeros.shp",
        "zeros.zip",
        "zeros.csv",
        "zeros.gpkg",
    ] {
        File::create(at(name))
            .unwrap()
            .set_len(10_000_000_000)
            .unwrap();
    }
    let mut zip = zip::ZipWriter::new(File::create(at("bomb.zip")).unwrap());
    zip.start_file("a.shp", zip::write::SimpleFileOptions::default())
        .unwrap();
    let zeros = vec![0; 1_000_000];
    for _ in 0..400 {
        zip.write_all(&zeros).unwrap();
    }
    zip.finish().unwrap();
    let ring = "[[500000,5800000],[4e108,5800000],[500300,5800300],[500000,5800000]]";
    let far = format!(
        r#"{{"type":"Feature","properties":{{}},"crs":{{"type":"name","properties":{{"name":"EPSG:25832"}}}},"geometry":{{"type":"Polygon","coordinates":[{ring}]}}}}"#
    );
    fs::write(at("far.geojson"), far).unwrap();
    for (name, said, unpacked) in [
        ("zeros.geojson", "zeros", 0),
        ("zeros.shp", "zeros", 0),
        ("zeros.zip", "zeros", 0),
        ("zeros.csv", "zeros", 0),
        ("zeros.gpkg", "zeros", 0),
        ("bomb.zip", "20 times its size", 110_000_000),
        ("far.geojson", "point 2 has the coordinates 4e108", 0),
    ] {
        let (code, text, peak) = described(folder.path(), name);
        assert_eq!(code, Some(2), "{name}: {text}");
        assert!(text.contains(said), "{name}: {text}");
        let most = ALWAYS + TIMES * unpacked;
        assert!(peak < most, "{name}: {} MB", peak / 1_000_000);
    }
}

#[test]
fn large_files_take_ten_times_their_bytes_at_most() {
    let folder = tempfile::tempdir().unwrap();
    let mut csv = String::from("x;y;ph;soil\n");
    let mut lines = String::new();
    for n in 0..120_000 {
        let (x, y) = (500_000 + n % 1000, 5_800_000 + n / 1000);
        csv.push_str(&format!("{x},5;{y},25;6,{};loam\n", n % 97));
        lines.push_str(&format!(
            r#"{{"type":"Feature","properties":{{"ph":6.5}},"geometry":{{"type":"Point","coordinates":[{},52.25]}}}}{}"#,
            5.0 + f64::from(n) * 1e-6,
            "\n"
        ));
    }
    for (name, text) in [("samples.csv", csv), ("samples.geojsonl", lines)] {
        fs::write(folder.path().join(name), &text).unwrap();
        let (code, said, peak) = described(folder.path(), name);
        let most = ALWAYS + TIMES * text.len() as u64;
        assert!(
            peak > 10_000_000 && peak < most,
            "{name}: {} MB",
            peak / 1_000_000
        );
        // The CSV names no CRS.
        assert!(matches!(code, Some(0 | 2)), "{name}: {said}");
    }
}

#[test]
fn what_is_no_file_is_one_error_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    for name in [
        "a.geojson",
        "a.shp",
        "a.zip",
        "a.csv",
        "a.gpkg",
        "a.tif",
        "a.asc",
        "TASKDATA.XML",
    ] {
        let made = Command::new("mkfifo").arg(at(name)).status().unwrap();
        assert!(made.success());
        let (code, text, _) = described(folder.path(), name);
        assert_eq!(code, Some(2), "{name}: {text}");
        assert_eq!(text.matches("error:").count(), 1, "{name}: {text}");
    }
    let long = "a".repeat(300) + ".shp";
    let (code, text, _) = described(folder.path(), &long);
    assert_eq!(code, Some(2), "{text}");
    assert!(text.len() < 700, "{text}");
}
