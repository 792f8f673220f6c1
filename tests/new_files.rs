//! `twinsow new` from what people have: a file of many fields, samples as a table of points, rasters.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;
use tempfile::TempDir;
use twinsow::job::{ClassMethod, Job, SurfaceMethod};

struct Made {
    folder: TempDir,
}

impl Made {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder"),
        }
    }

    fn put(&self, name: &str, text: &str) -> PathBuf {
        let path = self.folder.path().join(name);
        fs::write(&path, text).expect("written");
        path
    }

    fn run(&self, args: &[&str]) -> Output {
        std::process::Command::new(env!("CARGO_BIN_EXE_twinsow"))
            .current_dir(self.folder.path())
            .args(args)
            .output()
            .expect("it runs")
    }

    /// Runs `new job --boundary B.geojson` with more; gives the text of the job.
    fn job(&self, more: &[&str]) -> String {
        let output = self.run(&[&["new", "job", "--boundary", "fields.geojson"], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        fs::read_to_string(self.folder.path().join("job/job.toml")).expect("the job")
    }

    fn refused(&self, more: &[&str]) -> String {
        let output = self.run(&[&["new", "job"], more].concat());
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(
            !self.folder.path().join("job").exists(),
            "nothing is written"
        );
        said(&output)
    }
}

fn said(output: &Output) -> String {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    text(&output.stdout) + &text(&output.stderr)
}

/// Three squares of 0.01 degrees by 0.01 degrees on the equator, side by side.
fn fields() -> String {
    let square = |nth: usize, name: &str| {
        let west = nth as f64 / 100.0;
        let east = west + 0.01;
        format!(
            r#"{{"type":"Feature","properties":{{"fid":{nth},"name":"{name}","owner":"one"}},"geometry":{{"type":"Polygon","coordinates":[[[{west},0],[{east},0],[{east},0.01],[{west},0.01],[{west},0]]]}}}}"#
        )
    };
    format!(
        r#"{{"type":"FeatureCollection","features":[{},{},{}]}}"#,
        square(0, "Long Acre"),
        square(1, "Mill Piece"),
        square(2, "Far End")
    )
}

/// Nine samples on the first square.
fn samples(header: &str, more: &str) -> String {
    let mut text = format!("{header}\n");
    for nth in 0..9 {
        let (x, y) = (nth % 3, nth / 3);
        text += &format!(
            "{},0.00{}5,0.00{}5,{}{more}\n",
            nth + 1,
            3 * x + 1,
            3 * y + 1,
            8 + 3 * nth
        );
    }
    text
}

/// A job with every open setting filled in.
fn filled(text: &str) -> String {
    let text = text.replace("crop = \"?\"", "crop = \"wheat\"");
    let text = text.replace("in_parts = \"?\"", "in_parts = true");
    let text = text.replace("column = \"?\"", "column = \"P\"");
    let text = text.replace("working_width_m = \"?\"", "working_width_m = 6");
    text.replace("usable_l = \"?\"", "usable_l = 1900")
        .replace("= \"?\"", "= 160")
}

fn parsed(text: &str) -> Job {
    Job::parse(&filled(text), Path::new("job.toml"))
        .map_err(|fault| fault.to_string())
        .expect("a job")
}

#[test]
fn one_of_many_fields_is_taken_by_its_name() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    let job = parsed(&made.job(&["--field", "Mill Piece"]));
    assert_eq!(job.field.name, "Mill Piece");
    let only = job.field.boundary.only.get("name").map(String::as_str);
    assert_eq!(only, Some("Mill Piece"));
    assert!(!job.field.in_parts);
}

#[test]
fn without_a_name_the_fields_are_listed_with_their_land_and_nothing_is_decided() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    let output = made.run(&["new", "job", "--boundary", "fields.geojson"]);
    let told = said(&output);
    // WGS 84: on the equator 0.01 degrees are 1113.2 m east and 1105.7 m north: 123.09 ha.
    assert!(told.contains("'Long Acre' (123.09"), "{told}");
    assert!(
        told.contains("--field") && told.contains("--split-by name"),
        "{told}"
    );
    let text = fs::read_to_string(made.folder.path().join("job/job.toml")).expect("the job");
    assert!(text.contains("\nin_parts = \"?\""), "{text}");
}

#[test]
fn each_field_of_a_file_or_all_as_parts_of_one() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    let job = parsed(&made.job(&["--split-by", "name"]));
    assert_eq!(job.field.split_by.as_deref(), Some("name"));
    assert!(!job.field.in_parts);
    fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
    assert!(parsed(&made.job(&["--in-parts"])).field.in_parts);
}

#[test]
fn a_field_or_an_attribute_that_is_not_there_is_refused_with_what_is() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    let told = made.refused(&["--boundary", "fields.geojson", "--field", "Mill Peace"]);
    assert!(
        told.contains("'Mill Piece'") && told.contains("'Far End'"),
        "{told}"
    );
    let told = made.refused(&["--boundary", "fields.geojson", "--split-by", "block"]);
    assert!(
        told.contains("'name'") && told.contains("--split-by"),
        "{told}"
    );
}

#[test]
fn samples_become_a_layer_whose_classes_come_from_their_values() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    made.put("samples.csv", &samples("sample,lon,lat,P", ""));
    let text = made.job(&["--field", "Long Acre", "--layer", "samples.csv"]);
    let job = parsed(&text);
    let values = job.layers[0].values.as_ref().expect("values");
    assert_eq!(
        values.column.as_deref(),
        Some("P"),
        "the only column that is no number, place or count"
    );
    assert_eq!(values.method, ClassMethod::NaturalBreaks);
    assert_eq!(values.surface, Some(SurfaceMethod::InverseDistance));
    assert!(
        text.contains("\"low\" = \"?\"") && text.contains("\"high\" = \"?\""),
        "{text}"
    );
    // And it plans.
    made.put("job/job.toml", &filled(&text));
    let output = made.run(&["plan", "job/job.toml"]);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        said(&output)
    );
}

#[test]
fn of_several_columns_the_one_is_asked_for_or_named() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    made.put("samples.csv", &samples("sample,lon,lat,P,K", ",120"));
    let more = ["--field", "Long Acre", "--layer", "samples.csv"];
    let text = made.job(&more);
    assert!(
        text.contains("\ncolumn = \"?\"") && text.contains("one of \"sample\", \"P\", \"K\""),
        "{text}"
    );
    fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
    let named = [&more[..], &["--value-column", "K"]].concat();
    let job = parsed(&made.job(&named));
    let values = job.layers[0].values.as_ref().expect("values");
    assert_eq!(values.column.as_deref(), Some("K"));
    fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
    let told = made.refused(&[
        "--boundary",
        "fields.geojson",
        "--layer",
        "samples.csv",
        "--value-column",
        "Q",
    ]);
    assert!(told.contains("'Q'") && told.contains("'P', 'K'"), "{told}");
}

#[test]
fn columns_of_coordinates_and_their_crs_can_be_said() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    // Web Mercator: x = R lambda; on the equator y is near R phi (EPSG Guidance Note 7-2, method 1024).
    let mut text = String::from("point;right;up;P\n");
    for nth in 0..6 {
        text += &format!(
            "a{nth};{};{};{}\n",
            200 + 150 * (nth % 3),
            200 + 300 * (nth / 3),
            5 * nth
        );
    }
    made.put("samples.csv", &text);
    let told = made.refused(&["--boundary", "fields.geojson", "--layer", "samples.csv"]);
    assert!(told.contains("right"), "{told}");
    let said = [
        "--field",
        "Long Acre",
        "--layer",
        "samples.csv",
        "--x-column",
        "right",
        "--y-column",
        "up",
        "--crs",
        "EPSG:3857",
    ];
    let job = parsed(&made.job(&said));
    let source = &job.layers[0].source;
    assert_eq!(source.x_column.as_deref(), Some("right"));
    assert_eq!(source.crs.as_deref(), Some("EPSG:3857"));
    assert_eq!(job.field.boundary.crs, None, "GeoJSON says its own");
    let values = job.layers[0].values.as_ref().expect("values");
    assert_eq!(values.column.as_deref(), Some("P"));
}

#[test]
fn a_raster_becomes_a_layer_and_whole_numbers_are_classes_already() {
    let made = Made::new();
    made.put("fields.geojson", &fields());
    let grid = |cells: &str| {
        format!(
            "ncols 4\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 0.0025\nNODATA_value -9999\n{cells}"
        )
    };
    made.put("ec.asc", &grid("10.5 12 14 18\n11 13.5 16 22\n"));
    made.put("zones.asc", &grid("1 1 2 2\n1 1 2 2\n"));
    let wgs84 = r#"GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#;
    made.put("ec.prj", wgs84);
    made.put("zones.prj", wgs84);
    let text = made.job(&[
        "--field",
        "Long Acre",
        "--layer",
        "ec.asc",
        "--layer",
        "zones.asc",
    ]);
    let job = parsed(&text);
    let values = |nth: usize| job.layers[nth].values.as_ref().expect("values");
    assert_eq!(values(0).method, ClassMethod::NaturalBreaks);
    assert_eq!(values(0).class_names, ["low", "middle", "high"]);
    assert_eq!(values(1).method, ClassMethod::AsTheyAre);
    assert!(
        text.contains("\"1\" = \"?\"") && text.contains("\"2\" = \"?\""),
        "{text}"
    );
    let told = {
        fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
        made.refused(&["--boundary", "ec.asc"])
    };
    assert!(told.contains("--layer"), "a raster is no border: {told}");
}

#[test]
fn points_are_no_border_and_the_message_says_what_they_are_for() {
    let made = Made::new();
    made.put("samples.csv", &samples("sample,lon,lat,P", ""));
    let told = made.refused(&["--boundary", "samples.csv"]);
    assert!(told.contains("--layer"), "{told}");
}

#[test]
fn real_parcels_go_by_the_attribute_that_names_them() {
    // Danish parcels as their agency publishes them, in a zipped Shapefile (testdata/README.md). Their crops tell them apart as
    // well, and are no names.
    let made = Made::new();
    let real = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields/dk_epsg25832.shp.zip");
    let real = real.to_str().expect("a path");
    let output = made.run(&["new", "job", "--boundary", real, "--field", "dk-4"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let text = fs::read_to_string(made.folder.path().join("job/job.toml")).expect("the job");
    let job = parsed(&text);
    let only = job.field.boundary.only.get("field_id").map(String::as_str);
    assert_eq!((only, job.field.name.as_str()), (Some("dk-4"), "dk-4"));
}

#[test]
fn fields_of_different_growers_with_one_name_are_not_taken_together() {
    let made = Made::new();
    let square = |west: f64, name: &str, grower: &str| {
        let east = west + 0.002;
        format!(
            r#"{{"type":"Feature","properties":{{"name":"{name}","grower":"{grower}"}},"geometry":{{"type":"Polygon","coordinates":[[[{west},0],[{east},0],[{east},0.002],[{west},0.002],[{west},0]]]}}}}"#
        )
    };
    let told = |features: [String; 3]| {
        let all = features.join(",");
        made.put(
            "fields.geojson",
            &format!(r#"{{"type":"FeatureCollection","features":[{all}]}}"#),
        );
        let output = made.run(&["new", "job", "--boundary", "fields.geojson"]);
        fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
        said(&output)
    };
    // Two fields "1-0" lie 111 km apart: their growers tell them apart.
    let apart = told([
        square(0.0, "1-0", "A"),
        square(0.004, "2-0", "A"),
        square(1.0, "1-0", "B"),
    ]);
    assert!(
        apart.contains("'1-0, A' (4.92") && apart.contains("'1-0, B' (4.92"),
        "{apart}"
    );
    // Beside each other they are parts of one field, 9.85 ha, whatever else differs.
    let near = told([
        square(0.0, "1-0", "A"),
        square(0.004, "2-0", "A"),
        square(0.008, "1-0", "B"),
    ]);
    assert!(near.contains("'1-0' (9.85"), "{near}");
}

/// Squares by mark and farm: two farms far apart have a field 1-0 each, and one more of them lies beside the first.
fn marks(more: &str) -> String {
    let square = |nth: usize, west: f64, mark: &str, farm: &str| {
        let east = west + 0.01;
        let more = more.replace("NTH", &nth.to_string());
        format!(
            r#"{{"type":"Feature","properties":{{"Marknr":"{mark}","Journalnr":"{farm}"{more}}},"geometry":{{"type":"Polygon","coordinates":[[[{west},0],[{east},0],[{east},0.01],[{west},0.01],[{west},0]]]}}}}"#
        )
    };
    format!(
        r#"{{"type":"FeatureCollection","features":[{},{},{}]}}"#,
        square(0, 0.0, "1-0", "A"),
        square(1, 0.02, "2-0", "A"),
        square(2, 0.5, "1-0", "B")
    )
}

#[test]
fn an_attribute_that_names_two_fields_alike_is_not_offered_and_warned_of() {
    let made = Made::new();
    made.put("fields.geojson", &marks(""));
    let told = said(&made.run(&["new", "job", "--boundary", "fields.geojson"]));
    assert!(told.contains("together tell which is which"), "{told}");
    assert!(!told.contains("--split-by Marknr"), "{told}");
    assert!(told.contains("first give the file one attribute"), "{told}");
    fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
    // Followed all the same, the job is made, and says what it joins.
    let split = [
        "new",
        "job",
        "--boundary",
        "fields.geojson",
        "--split-by",
        "Marknr",
    ];
    let told = said(&made.run(&split));
    assert!(
        told.contains("WARNING: 1 of the 2 values of Marknr")
            && told.contains("'1-0' (2 features)"),
        "{told}"
    );
    fs::remove_dir_all(made.folder.path().join("job")).expect("removed");
    // Where one attribute differs from field to field, it is the one.
    made.put("fields.geojson", &marks(r#","OBJECTID":NTH"#));
    let told = said(&made.run(&["new", "job", "--boundary", "fields.geojson"]));
    assert!(told.contains("--split-by OBJECTID"), "{told}");
}
