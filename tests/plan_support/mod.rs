//! Small made fields in a folder of their own, and the program run on them.

// Each test file uses its share of this.
#![allow(dead_code)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use twinsow::findings::Outcome;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan, Prepared};

/// Where the made fields lie: 53 N, 2 E, in the open North Sea.
pub const PLACE: [f64; 2] = [2.0, 53.0];

/// Rings of a polygon in metres east and north of a place; not closed.
pub type Rings = Vec<Vec<[f64; 2]>>;

/// A folder with files and a job.
pub struct Made {
    pub folder: tempfile::TempDir,
}

impl Made {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder"),
        }
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path().join(name);
        fs::write(&path, content).expect("written");
        path
    }

    /// The program, started in the folder.
    pub fn run(&self, args: &[&str]) -> Output {
        twinsow(self.path(), args)
    }

    /// Names in the folder, sorted.
    pub fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.path())
            .expect("the folder")
            .map(|entry| {
                let entry = entry.expect("an entry");
                entry.file_name().to_string_lossy().into_owned()
            })
            .collect();
        names.sort();
        names
    }
}

pub fn twinsow(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the program starts")
}

pub fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Metres east and north of `place` as degrees, near enough for a made field.
pub fn degrees(place: [f64; 2], [x, y]: [f64; 2]) -> [f64; 2] {
    let lon = place[0] + x / (111_320.0 * place[1].to_radians().cos());
    [
        if lon > 180.0 { lon - 360.0 } else { lon },
        place[1] + y / 111_200.0,
    ]
}

/// A polygon feature at `place` with its properties (JSON members, without braces).
pub fn feature(place: [f64; 2], properties: &str, rings: &Rings) -> String {
    let ring = |ring: &Vec<[f64; 2]>| {
        let closed = ring.iter().chain(ring.first());
        let points: Vec<String> = closed
            .map(|&xy| {
                let [lon, lat] = degrees(place, xy);
                format!("[{lon},{lat}]")
            })
            .collect();
        format!("[{}]", points.join(","))
    };
    let rings: Vec<String> = rings.iter().map(ring).collect();
    format!(
        r#"{{"type":"Feature","properties":{{{properties}}},"geometry":{{"type":"Polygon","coordinates":[{}]}}}}"#,
        rings.join(",")
    )
}

/// A line feature at `place`.
pub fn line(place: [f64; 2], points: &[[f64; 2]]) -> String {
    let points: Vec<String> = points
        .iter()
        .map(|&xy| {
            let [lon, lat] = degrees(place, xy);
            format!("[{lon},{lat}]")
        })
        .collect();
    format!(
        r#"{{"type":"Feature","properties":{{}},"geometry":{{"type":"LineString","coordinates":[{}]}}}}"#,
        points.join(",")
    )
}

pub fn collection(features: &[String]) -> String {
    format!(
        r#"{{"type":"FeatureCollection","features":[{}]}}"#,
        features.join(",\n")
    )
}

/// A rectangle from its south-west to its north-east corner, counter-clockwise.
pub fn rectangle([west, south]: [f64; 2], [east, north]: [f64; 2]) -> Rings {
    vec![vec![
        [west, south],
        [east, south],
        [east, north],
        [west, north],
    ]]
}

/// A job on `boundary.geojson` and `soil.geojson` (classes a and b of `soil`): seed by class, a
/// fertiliser with one rate. `middle` is put after the field, before the layers.
pub fn job(middle: &str) -> String {
    format!(
        r#"name = "made"
[field]
name = "made"
boundary = {{ file = "boundary.geojson" }}
{middle}
[[layer]]
name = "soil"
source = {{ file = "soil.geojson" }}
class_attribute = "soil"
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper]]
name = "rear"
usable_l = 1300.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = 150.0, b = 190.0 }} }} }}
limits = {{ min_kg_per_ha = 120.0, max_kg_per_ha = 185.0, step_kg_per_ha = 2.5 }}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = 100.0, b = 0.0 }} }} }}
limits = {{ min_kg_per_ha = 40.0, max_kg_per_ha = 120.0 }}
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "wheat"
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#
    )
}

/// A field of 200 m by 150 m in two zones.
pub fn plain(middle: &str) -> Made {
    let made = Made::new();
    made.write("job.toml", job(middle));
    made.write(
        "boundary.geojson",
        collection(&[feature(
            PLACE,
            r#""name":"made""#,
            &rectangle([0.0, 0.0], [200.0, 150.0]),
        )]),
    );
    made.write("soil.geojson", two_zones(PLACE));
    made
}

/// Zones a and b that meet at 80 m and reach 10 m over the plain field.
pub fn two_zones(place: [f64; 2]) -> String {
    collection(&[
        feature(
            place,
            r#""soil":"a""#,
            &rectangle([-10.0, -10.0], [80.0, 160.0]),
        ),
        feature(
            place,
            r#""soil":"b""#,
            &rectangle([80.0, -10.0], [210.0, 160.0]),
        ),
    ])
}

pub fn prepared(job: &Job) -> Outcome<Prepared> {
    plan::prepare(job, &Disk, &Options::default())
}

pub fn planned(folder: &Path) -> Outcome<Plan> {
    plan::plan(
        &Job::load(&folder.join("job.toml"))?,
        &Disk,
        &Options::default(),
    )
}
