//! What a file may cost: memory of a child process, measured by the system, against the bytes it read.
#![cfg(target_os = "linux")]

use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use twinsow::codec::room;

/// What any run may take, and how much of it for each byte read.
const ALWAYS: u64 = 100_000_000;
const TIMES: u64 = 10;
/// What the program itself takes, PROJ and SQLite among it.
const PROGRAM: u64 = 50_000_000;

/// Exit code, what was said, and the highest memory that was seen, in bytes. A run that does not end is stopped.
fn described(folder: &Path, name: &str) -> (Option<i32>, String, u64) {
    measured(folder, &["describe", name])
}

/// The same of any command.
fn measured(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, u64) {
    let said = File::create(folder.join("said")).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
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

/// A GeoPackage whose one layer is made by some statements.
fn geopackage(path: &Path, statements: &str) -> usize {
    let database = rusqlite::Connection::open(path).unwrap();
    let frame = "CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT, srs_id INTEGER PRIMARY KEY, organization TEXT, organization_coordsys_id INTEGER, definition TEXT, description TEXT);
        INSERT INTO gpkg_spatial_ref_sys VALUES ('WGS 84', 4326, 'EPSG', 4326, 'x', '');
        CREATE TABLE gpkg_contents (table_name TEXT PRIMARY KEY, data_type TEXT, srs_id INTEGER);
        CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, geometry_type_name TEXT, srs_id INTEGER, z INTEGER, m INTEGER);
        INSERT INTO gpkg_contents VALUES ('t', 'features', 4326);
        INSERT INTO gpkg_geometry_columns VALUES ('t', 'geom', 'POINT', 4326, 0, 0);";
    database.execute_batch(frame).unwrap();
    database.execute_batch(statements).unwrap();
    drop(database);
    fs::metadata(path).unwrap().len() as usize
}

/// What makes much of little: columns that rows do not have, defaults, views without end.
#[test]
fn geopackages_take_memory_by_their_size() {
    let folder = tempfile::tempdir().unwrap();
    let rows = "WITH RECURSIVE n(x) AS (VALUES (1) UNION ALL SELECT x + 1 FROM n WHERE x < 20000) SELECT NULL FROM n;";
    let made =
        format!("CREATE TABLE t (id INTEGER PRIMARY KEY, geom BLOB); INSERT INTO t (geom) {rows}");
    let columns: String = (0..1500)
        .map(|nth| format!("ALTER TABLE t ADD COLUMN c{nth} TEXT;"))
        .collect();
    let long = "x".repeat(100_000);
    let endless = "WITH RECURSIVE n(x) AS (VALUES (1) UNION ALL SELECT x + 1 FROM n)";
    for (name, statements, code) in [
        ("columns", format!("{made}{columns}"), "more memory"),
        (
            "default",
            format!("{made} ALTER TABLE t ADD COLUMN c TEXT DEFAULT '{long}';"),
            "more memory",
        ),
        (
            "endless",
            format!("CREATE VIEW t AS {endless} SELECT x AS id, NULL AS geom FROM n"),
            "sorts, groups, repeats or joins",
        ),
        (
            "sorted",
            format!(
                "{made} ALTER TABLE t RENAME TO u; CREATE VIEW t AS SELECT a.id AS id, a.geom AS geom, printf('%.*c', 900000, 'x') AS z FROM u AS a, u AS b ORDER BY z, b.id"
            ),
            "sorts, groups, repeats or joins",
        ),
        (
            "blob",
            "CREATE VIEW t AS SELECT 1 AS id, NULL AS geom, zeroblob(900000000) AS z".to_owned(),
            "makes larger values",
        ),
    ] {
        let file = format!("{name}.gpkg");
        let bytes = geopackage(&folder.path().join(&file), &statements);
        let (code_of, text, peak) = described(folder.path(), &file);
        assert_eq!(code_of, Some(2), "{name}: {text}");
        assert!(text.contains(code), "{name}: {text}");
        within(&file, bytes, peak);
    }
    // A view that only chooses is a layer like others.
    let made = format!(
        "{made} ALTER TABLE t RENAME TO u; CREATE VIEW t AS SELECT id, geom FROM u WHERE id < 5"
    );
    geopackage(&folder.path().join("view.gpkg"), &made);
    let (code, text, _) = described(folder.path(), "view.gpkg");
    assert_eq!(code, Some(0), "{text}");
}

/// Task data: elements without number, values that many cells share, one grid of many tasks, long names.
#[test]
fn task_data_take_memory_by_their_size() {
    let folder = tempfile::tempdir().unwrap();
    let point = r#"<PNT A="2" C="54.7992123" D="2.4941123"/>"#;
    let ring = format!(r#"<PLN A="6"><LSG A="1">{}</LSG></PLN>"#, point.repeat(3));
    let grid = |nth: usize, values: usize| {
        format!(
            r#"<TSK A="TSK{nth}" G="1"><TZN A="1">{}</TZN><GRD A="54" B="2" C="0.0001" D="0.0001" E="1000" F="200" G="GRD00001" I="1"/></TSK>"#,
            r#"<PDV A="0006" B="1"/>"#.repeat(values)
        )
    };
    let cells = vec![1; 200_000];
    let tim = br#"<?xml version="1.0"?><TIM A="1" D="4"></TIM>"#.to_vec();
    type Files = Vec<(&'static str, Vec<u8>)>;
    let cases: Vec<(&str, String, Files)> = vec![
        ("elements", "<B/>".repeat(1_900_000), vec![]),
        (
            "attributes",
            r#"<B C="" D="" E="" F="" G=""/>"#.repeat(400_000),
            vec![],
        ),
        (
            "fields",
            r#"<PFD A="x" C="f" E="z"/>"#.repeat(400_000),
            vec![],
        ),
        (
            "points",
            format!(
                r#"<PFD A="PFD1" C="f"><PLN A="1"><LSG A="1">{}</LSG></PLN></PFD>"#,
                point.repeat(300_000)
            ),
            vec![],
        ),
        (
            "wide",
            grid(1, 2_000),
            vec![("GRD00001.BIN", cells.clone())],
        ),
        (
            "again",
            (0..400).map(|nth| grid(nth, 3)).collect(),
            vec![("GRD00001.BIN", cells)],
        ),
        (
            "log",
            r#"<TSK A="TSK1" G="4"><TLG A="TLG00001"/></TSK>"#.to_owned(),
            vec![("TLG00001.XML", tim), ("TLG00001.BIN", vec![0; 4_000_000])],
        ),
        (
            "name",
            format!(
                r#"<PFD A="PFD1" C="{}">{}</PFD>"#,
                "n".repeat(1_000_000),
                ring.repeat(20_000)
            ),
            vec![],
        ),
    ];
    for (name, xml, files) in cases {
        let set = folder.path().join(name);
        fs::create_dir(&set).unwrap();
        let xml = format!(
            r#"<?xml version="1.0"?><ISO11783_TaskData VersionMajor="4" VersionMinor="3" DataTransferOrigin="2">{xml}</ISO11783_TaskData>"#
        );
        fs::write(set.join("TASKDATA.XML"), &xml).unwrap();
        let mut bytes = xml.len();
        for (file, content) in files {
            bytes += content.len();
            fs::write(set.join(file), content).unwrap();
        }
        let (code, text, peak) = described(folder.path(), name);
        assert!(matches!(code, Some(0 | 2)), "{name}: {code:?} {text}");
        within(name, bytes, peak);
    }
}

/// A table of dBASE that states two thousand attributes of no width, and one of one-letter texts.
#[test]
fn shapefiles_take_memory_by_their_size() {
    let folder = tempfile::tempdir().unwrap();
    let records = 50_000_u32;
    let mut shp = [&9994_u32.to_be_bytes()[..], &[0; 20]].concat();
    shp.extend((50 + records * 6).to_be_bytes());
    shp.extend([1000_u32.to_le_bytes(), 1_u32.to_le_bytes()].concat());
    shp.resize(100, 0);
    for number in 1..=records {
        // A null shape.
        shp.extend([number.to_be_bytes(), 2_u32.to_be_bytes(), [0; 4]].concat());
    }
    for (name, count, width, said) in [
        ("none", 2_000_u16, 0_u8, "does not say which CRS"),
        ("narrow", 200, 1, "narrow attributes"),
    ] {
        let record = 1 + count * u16::from(width);
        let mut dbf = vec![3, 126, 1, 1];
        dbf.extend(records.to_le_bytes());
        dbf.extend((33 + 32 * count).to_le_bytes());
        dbf.extend(record.to_le_bytes());
        dbf.resize(32, 0);
        for nth in 0..count {
            let start = dbf.len();
            dbf.extend(format!("f{nth}").as_bytes());
            dbf.resize(start + 11, 0);
            dbf.extend([b'C', 0, 0, 0, 0, width]);
            dbf.resize(start + 32, 0);
        }
        dbf.push(0x0D);
        for _ in 0..records {
            dbf.push(b' ');
            dbf.resize(dbf.len() + usize::from(record) - 1, b'a');
        }
        fs::write(folder.path().join(format!("{name}.shp")), &shp).unwrap();
        fs::write(folder.path().join(format!("{name}.dbf")), &dbf).unwrap();
        let (_, text, peak) = described(folder.path(), &format!("{name}.shp"));
        assert!(text.contains(said), "{name}: {text}");
        within(name, shp.len() + dbf.len(), peak);
    }
}

/// Places in degrees of a made field at 53 N.
fn place([x, y]: [f64; 2]) -> String {
    format!("[{:.9},{:.9}]", 2.0 + x / 67_000.0, 53.0 + y / 111_250.0)
}

/// A polygon with so many steps on each side, each point up to `off_m` beside it.
fn feature(corners: &[[f64; 2]], parts: u32, off_m: f64, soil: &str) -> String {
    let mut state = 5_u64;
    let mut off = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        ((state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0) * off_m
    };
    let ends = corners.iter().skip(1).chain(corners.first());
    let mut points = Vec::new();
    for (a, b) in corners.iter().zip(ends) {
        let along = [b[0] - a[0], b[1] - a[1]];
        let length = along[0].hypot(along[1]);
        for part in 0..parts {
            let share = f64::from(part) / f64::from(parts);
            let off = if part == 0 { 0.0 } else { off() } / length;
            points.push(place([
                a[0] + along[0] * share - along[1] * off,
                a[1] + along[1] * share + along[0] * off,
            ]));
        }
    }
    points.push(place(corners[0]));
    format!(
        r#"{{"type":"Feature","properties":{{"soil":"{soil}"}},"geometry":{{"type":"Polygon","coordinates":[[{}]]}}}}"#,
        points.join(",")
    )
}

fn square([x, y]: [f64; 2], side: f64) -> [[f64; 2]; 4] {
    [[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
}

fn collection(features: &[String]) -> String {
    format!(
        r#"{{"type":"FeatureCollection","features":[{}]}}"#,
        features.join(",")
    )
}

/// A square field, and what its job asks for.
struct Shape<'a> {
    name: &'a str,
    side_m: f64,
    /// Points on each side of the boundary, and how far beside it they lie, m.
    border: (u32, f64),
    /// Zones in each direction, and points on each of their sides.
    zones: (u32, u32),
    cell_m: f64,
    width_m: f64,
    /// What stands before `[drill]`, and in it.
    before: &'a str,
    drill: &'a str,
    /// Rings around the headland; sections of the drill and those compared, none without a drive.
    rings: u32,
    sections: u32,
    /// Points of the curve that the bouts run along, a tenth of the side beside a straight line; 0 for straight bouts.
    curve: u32,
}

impl Shape<'_> {
    /// Puts boundary, zones and job into a folder: the bytes of all.
    fn written(&self, folder: &Path) -> usize {
        let (zones, points) = self.zones;
        let zone_m = self.side_m / f64::from(zones);
        let soil: Vec<String> = (0..zones * zones)
            .map(|nth| {
                let [column, row] = [nth % zones, nth / zones];
                let corner = [column, row].map(|at| f64::from(at) * zone_m);
                let class = ["a", "b"][(column + row) as usize % 2];
                feature(&square(corner, zone_m), points, 0.0, class)
            })
            .collect();
        let (parts, off_m) = self.border;
        let boundary = feature(&square([0.0; 2], self.side_m), parts, off_m, "a");
        let job = format!(
            r#"name = "made"
[field]
name = "made"
boundary = {{ file = "boundary.geojson" }}
[[layer]]
name = "soil"
source = {{ file = "soil.geojson" }}
class_attribute = "soil"
[grid]
cell_m = {:.1}
{}
[drill]
working_width_m = {:.1}
{}
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = 150.0, b = 190.0 }} }} }}
"#,
            self.cell_m, self.before, self.width_m, self.drill
        );
        let files = [
            ("boundary.geojson", collection(&[boundary])),
            ("soil.geojson", collection(&soil)),
            ("job.toml", job),
        ];
        let along = (0..self.curve).map(|nth| {
            let share = f64::from(nth) / f64::from(self.curve - 1);
            let off = 0.1 * (share * std::f64::consts::PI).sin();
            place([(0.5 + off) * self.side_m, share * self.side_m])
        });
        let along = format!(
            r#"{{"type":"Feature","properties":{{}},"geometry":{{"type":"LineString","coordinates":[{}]}}}}"#,
            along.collect::<Vec<_>>().join(",")
        );
        fs::write(folder.join("along.geojson"), collection(&[along])).unwrap();
        for (name, text) in &files {
            fs::write(folder.join(name), text).unwrap();
        }
        files.iter().map(|(_, text)| text.len()).sum()
    }

    /// Bytes that the plan may take beyond those for what was read, as `codec/room.rs` has them.
    fn asked(&self) -> f64 {
        let (zones, points) = (f64::from(self.zones.0), f64::from(self.zones.1));
        let corners = 4.0 * f64::from(self.border.0);
        let lines_m = 2.0 * (zones + 1.0) * self.side_m;
        let on_borders = 2.0 * zones * (zones + 1.0) * points + corners;
        let cells = ((self.side_m + 2.0 * self.width_m) / self.cell_m + 2.0).powi(2);
        let sections = f64::from(self.sections);
        let bouts = (self.side_m * 2f64.sqrt() / self.width_m + 1.0) * sections;
        let of_rings = f64::from(self.rings) * corners * sections;
        let crossings = match self.sections {
            0 => 0.0,
            _ => lines_m / self.width_m,
        };
        cells * (room::PER_CELL + room::PER_CELL_AND_PRODUCT) as f64
            + on_borders * room::PER_POINT as f64
            + (bouts + of_rings) * room::PER_PART as f64
            + bouts * f64::from(self.curve.saturating_sub(2)) * room::PER_BEND as f64
            + crossings * room::PER_CROSSING as f64
    }
}

const PLAIN: Shape = Shape {
    name: "",
    side_m: 600.0,
    border: (1, 0.0),
    zones: (2, 1),
    cell_m: 10.0,
    width_m: 6.0,
    before: "",
    drill: "",
    rings: 0,
    sections: 0,
    curve: 0,
};

/// Whole plans, all forms written and read back: each has much of one thing.
#[test]
fn a_whole_plan_takes_memory_by_its_files_and_by_what_it_asks_for() {
    let twelve = format!("sections_m = [{}]", vec!["0.05"; 1_200].join(", "));
    for shape in [
        Shape {
            name: "zones",
            zones: (30, 10),
            cell_m: 5.0,
            ..PLAIN
        },
        Shape {
            name: "cells",
            side_m: 900.0,
            cell_m: 3.0,
            ..PLAIN
        },
        Shape {
            name: "bouts",
            width_m: 0.5,
            before: "[headland]\nbouts = 2\n[drive]\nheading_deg = 0",
            rings: 2,
            sections: 3,
            ..PLAIN
        },
        Shape {
            name: "sections",
            side_m: 150.0,
            width_m: 60.0,
            before: "[drive]\nheading_deg = 0",
            drill: &twelve,
            sections: 1_202,
            ..PLAIN
        },
        Shape {
            name: "zones and bouts",
            side_m: 200.0,
            zones: (10, 1),
            before: "[headland]\nbouts = 1\n[drive]\nheading_deg = 0",
            rings: 1,
            sections: 3,
            ..PLAIN
        },
        Shape {
            name: "curve",
            side_m: 120.0,
            before: "[drive]\nalong = { file = \"along.geojson\" }",
            drill: "sections_m = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5]",
            sections: 13,
            curve: 60,
            ..PLAIN
        },
        Shape {
            name: "noise",
            side_m: 200.0,
            border: (2_000, 0.05),
            before: "[headland]\nbouts = 1",
            ..PLAIN
        },
    ] {
        let folder = tempfile::tempdir().unwrap();
        let bytes = shape.written(folder.path());
        let (code, text, peak) = measured(folder.path(), &["plan", "job.toml", "--out", "plan"]);
        assert!(matches!(code, Some(0 | 1)), "{}: {text}", shape.name);
        let most = (ALWAYS + PROGRAM + TIMES * bytes as u64) as f64 + shape.asked();
        eprintln!(
            "{}: {} MB of {:.0} MB",
            shape.name,
            peak / 1_000_000,
            most / 1e6
        );
        assert!((peak as f64) < most, "{}", shape.name);
    }
}

/// A line of a hundred points that winds, with bends of 28 m: the arcs beside them cross each other thousands of times, and a plan takes
/// what its bouts take. Bouts that no drill follows are told, with a place.
#[test]
fn a_line_that_winds_takes_what_its_bouts_take() {
    let folder = tempfile::tempdir().unwrap();
    let shape = Shape {
        side_m: 200.0,
        before: "[drive]\nalong = { file = \"along.geojson\" }",
        sections: 3,
        curve: 100,
        ..PLAIN
    };
    let bytes = shape.written(folder.path());
    let (radius, turn) = (28.0, std::f64::consts::FRAC_PI_2 + 0.3);
    let step = 2.0 * radius * f64::sin(turn);
    let bends = (0..8).flat_map(|bend| {
        let side = if bend % 2 == 0 { 1.0 } else { -1.0 };
        (0..12).map(move |part| {
            let angle: f64 = turn * (f64::from(part) / 6.0 - 1.0);
            let north = (f64::from(bend) - 1.5) * step + radius * angle.sin();
            place([
                100.0 + side * radius * (angle.cos() - turn.cos()),
                north + 28.0,
            ])
        })
    });
    let along = format!(
        r#"{{"type":"Feature","properties":{{}},"geometry":{{"type":"LineString","coordinates":[{}]}}}}"#,
        bends.collect::<Vec<_>>().join(",")
    );
    fs::write(folder.path().join("along.geojson"), collection(&[along])).unwrap();
    let (code, text, peak) = measured(folder.path(), &["plan", "job.toml", "--out", "plan"]);
    assert!(matches!(code, Some(0 | 1)), "{text}");
    let told = text.matches("bend tighter than half the drill is wide (3.0 m)");
    assert_eq!(told.count(), 1, "{text}");
    let most = (ALWAYS + PROGRAM + TIMES * bytes as u64) as f64 + shape.asked();
    assert!((peak as f64) < most, "{peak} {most}");
}

/// A job of a thousand bytes that asks for sixty million sections of bouts: told before one is made.
#[test]
fn a_plan_that_asks_for_too_much_is_refused_for_little() {
    let folder = tempfile::tempdir().unwrap();
    let shape = Shape {
        side_m: 100_000.0,
        cell_m: 1_000.0,
        width_m: 0.5,
        before: "[drive]\nheading_deg = 0\ncompare_sections = [200]",
        ..PLAIN
    };
    let bytes = shape.written(folder.path());
    let (code, text, peak) = measured(folder.path(), &["plan", "job.toml", "--out", "plan"]);
    assert_eq!(code, Some(2), "{text}");
    for said in [
        "sections of bouts",
        "up to 4 GB",
        "look whether the field is one",
    ] {
        assert!(text.contains(said), "{text}");
    }
    assert_eq!(text.matches("error:").count(), 1, "{text}");
    within("the plan", bytes, peak);
}

/// Peak memory against the bound.
fn within(name: &str, bytes: usize, peak: u64) {
    let most = ALWAYS + TIMES * bytes as u64 + PROGRAM;
    assert!(
        peak < most,
        "{name}: {} MB of {} MB for {bytes} bytes",
        peak / 1_000_000,
        most / 1_000_000
    );
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
