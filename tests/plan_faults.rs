//! Bad input through the whole program: the exit code, one clear message, nothing written.

mod plan_support;

use plan_support::{
    Made, PLACE, collection, feature, job, line, plain, rectangle, said, two_zones,
};
use std::fs;

/// Plans `job.toml`; it must be refused with this exit code, every piece in one message, and leave no file.
fn refused(made: &Made, code: i32, pieces: &[&str]) {
    let before = made.names();
    let output = made.run(&["plan", "job.toml"]);
    let said = said(&output);
    assert_eq!(output.status.code(), Some(code), "{said}");
    for piece in pieces {
        assert!(said.contains(piece), "'{piece}' is not in:\n{said}");
    }
    assert_eq!(said.matches("error").count(), 1, "one message:\n{said}");
    assert!(!said.contains("defect"), "{said}");
    assert_eq!(made.names(), before, "nothing is written");
}

/// Plans `job.toml`; it must be done with this exit code, and `plan.json` must hold every finding.
fn planned(made: &Made, code: i32, findings: &[&str]) -> serde_json::Value {
    let output = made.run(&["plan", "job.toml"]);
    assert_eq!(output.status.code(), Some(code), "{}", said(&output));
    let text = fs::read_to_string(made.path().join("job-plan/plan.json")).expect("a plan");
    for finding in findings {
        assert!(
            text.contains(&format!("\"{finding}\"")),
            "no {finding} in the plan"
        );
    }
    serde_json::from_str(&text).expect("JSON")
}

fn boundary(made: &Made, features: &[String]) {
    made.write("boundary.geojson", collection(features));
}

#[test]
fn a_boundary_that_is_no_polygon() {
    let made = plain("");
    boundary(&made, &[line(PLACE, &[[0.0, 0.0], [100.0, 0.0]])]);
    refused(&made, 2, &["boundary.geojson", "polygon"]);
    boundary(&made, &[]);
    refused(&made, 2, &["boundary.geojson"]);
    boundary(
        &made,
        &[feature(
            PLACE,
            "",
            &vec![vec![[0.0, 0.0], [9.0, 0.0], [18.0, 0.0]]],
        )],
    );
    refused(&made, 2, &["boundary.geojson", "no area"]);
}

#[test]
fn coordinates_that_are_none_of_their_crs() {
    let made = plain("");
    let text = fs::read_to_string(made.path().join("job.toml")).expect("the job");
    let with = |crs: &str| {
        text.replace(
            "{ file = \"boundary.geojson\" }",
            &format!("{{ file = \"boundary.geojson\", crs = \"{crs}\" }}"),
        )
    };
    made.write("job.toml", with("EPSG:28992"));
    refused(&made, 2, &["boundary.geojson", "28992", "area of use"]);
    made.write("job.toml", with("EPSG:99999999"));
    refused(&made, 2, &["99999999"]);
}

#[test]
fn a_layer_that_misses_the_field_says_how_far_and_in_which_crs() {
    let made = plain("");
    made.write("soil.geojson", two_zones([PLACE[0], PLACE[1] + 0.5]));
    refused(&made, 2, &["soil.geojson", "55 km", "WGS 84"]);
}

#[test]
fn a_class_without_a_rate_lists_what_is_found_and_what_is_known() {
    let made = plain("");
    let text = job("").replace("b = 190.0", "peat = 190.0");
    made.write("job.toml", text);
    refused(&made, 2, &["'b'", "ha", "peat"]);
}

#[test]
fn rates_that_cannot_be_meant() {
    for (rate, piece) in [("-150.0", "150"), ("nan", "nan"), ("150000.0", "150000")] {
        let made = plain("");
        made.write(
            "job.toml",
            job("").replace("a = 150.0", &format!("a = {rate}")),
        );
        refused(&made, 2, &["job.toml:", piece]);
    }
}

#[test]
fn files_that_are_damaged_or_something_else() {
    let made = plain("");
    let text = job("");
    let with = |made: &Made, file: &str| {
        made.write("job.toml", text.replace("boundary.geojson", file));
    };
    made.write("empty.geojson", "");
    with(&made, "empty.geojson");
    refused(&made, 2, &["empty.geojson", "empty"]);
    fs::create_dir(made.path().join("folder.geojson")).expect("made");
    with(&made, "folder.geojson");
    refused(&made, 2, &["folder.geojson", "folder"]);
    with(&made, "missing.geojson");
    refused(&made, 2, &["missing.geojson"]);
    let database = rusqlite::Connection::open(made.path().join("other.gpkg")).expect("opened");
    database
        .execute_batch("create table t(a); insert into t values (1);")
        .expect("done");
    drop(database);
    with(&made, "other.gpkg");
    refused(&made, 2, &["other.gpkg", "GeoPackage"]);
    let whole = fs::read(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields/nl_epsg28992.gpkg"),
    )
    .expect("there");
    made.write("cut.gpkg", &whole[..whole.len() / 2]);
    with(&made, "cut.gpkg");
    refused(&made, 2, &["cut.gpkg"]);
    let text = fs::read_to_string(made.path().join("boundary.geojson")).expect("there");
    made.write("cut.geojson", &text[..text.len() / 2]);
    with(&made, "cut.geojson");
    refused(&made, 2, &["cut.geojson"]);
}

#[test]
fn shapefiles_cut_short() {
    let made = plain("");
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("testdata/fields/dk_epsg25832.shp.zip");
    let mut archive = zip::ZipArchive::new(fs::File::open(file).expect("there")).expect("a zip");
    for nth in 0..archive.len() {
        let mut member = archive.by_index(nth).expect("a member");
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut member, &mut bytes).expect("read");
        let ending = member
            .name()
            .expect("a name")
            .rsplit('.')
            .next()
            .expect("an ending")
            .to_owned();
        made.write(&format!("field.{ending}"), bytes);
    }
    made.write("job.toml", job("").replace("boundary.geojson", "field.shp"));
    for ending in ["shp", "dbf"] {
        let name = format!("field.{ending}");
        let whole = fs::read(made.path().join(&name)).expect("there");
        made.write(&name, &whole[..whole.len() * 2 / 3]);
        refused(&made, 2, &["field.", &format!(".{ending}")]);
        made.write(&name, whole);
    }
}

#[test]
fn folders_that_cannot_be_written() {
    let made = plain("");
    // A path below a file cannot be made, whoever asks.
    made.write("file", "mine");
    let output = made.run(&["plan", "job.toml", "--out", "file/below"]);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
    let output = made.run(&["plan", "job.toml", "--out", "file"]);
    assert!(
        matches!(output.status.code(), Some(2 | 3)),
        "{}",
        said(&output)
    );
    assert_eq!(
        fs::read_to_string(made.path().join("file")).expect("there"),
        "mine"
    );
    // A folder of somebody else's.
    fs::create_dir(made.path().join("theirs")).expect("made");
    made.write("theirs/letter.txt", "dear");
    let output = made.run(&["plan", "job.toml", "--out", "theirs"]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("theirs"));
    assert_eq!(
        made.names(),
        [
            "boundary.geojson",
            "file",
            "job.toml",
            "soil.geojson",
            "theirs"
        ]
    );
    assert_eq!(
        fs::read_dir(made.path().join("theirs"))
            .expect("there")
            .count(),
        1
    );
}

#[test]
fn shapes_that_can_be_mended_are_mended_and_told() {
    // A boundary that crosses itself, and zones with a bow tie, an overlap, a gap along the border
    // and a missing class.
    let made = plain("");
    boundary(
        &made,
        &[feature(
            PLACE,
            "",
            &vec![vec![
                [0.0, 0.0],
                [200.0, 0.0],
                [200.0, 150.0],
                [190.0, 160.0],
                [200.0, 160.0],
                [190.0, 150.0],
                [0.0, 150.0],
            ]],
        )],
    );
    made.write(
        "soil.geojson",
        collection(&[
            feature(
                PLACE,
                r#""soil":"a""#,
                &rectangle([3.0, 3.0], [82.0, 147.0]),
            ),
            feature(
                PLACE,
                r#""soil":"b""#,
                &rectangle([80.0, 3.0], [210.0, 170.0]),
            ),
            feature(
                PLACE,
                r#""soil":"a""#,
                &vec![vec![
                    [100.0, 100.0],
                    [140.0, 140.0],
                    [140.0, 100.0],
                    [100.0, 140.0],
                ]],
            ),
            feature(
                PLACE,
                r#""soil":null"#,
                &rectangle([10.0, 10.0], [20.0, 20.0]),
            ),
        ]),
    );
    planned(
        &made,
        1,
        &[
            "land.self_crossing",
            "zones.self_crossing",
            "zones.overlap",
            "zones.gap_filled",
            "zones.gaps_large",
            "zones.class_missing",
        ],
    );
}

#[test]
fn exclusions_that_leave_nothing() {
    let made = plain("[[exclusion]]\nname = \"sea\"\nsource = { file = \"sea.geojson\" }");
    made.write(
        "sea.geojson",
        collection(&[feature(
            PLACE,
            "",
            &rectangle([-50.0, -50.0], [300.0, 300.0]),
        )]),
    );
    refused(&made, 2, &["boundary.geojson", "no land is left"]);
}

#[test]
fn headlands_and_helpers_that_change_nothing_are_told() {
    let made = plain(
        "[headland]\nwidth_m = 90.0\n[[setback]]\nname = \"far\"\nsource = { file = \"far.geojson\" }\ndistance_m = 5\nproducts = [\"starter\"]\n[[special_area]]\nname = \"off\"\nsource = { file = \"off.geojson\" }\npercent = { seed = 120 }",
    );
    let far = collection(&[line(PLACE, &[[900.0, 0.0], [900.0, 100.0]])]);
    made.write("far.geojson", far);
    let off = feature(PLACE, "", &rectangle([900.0, 0.0], [950.0, 50.0]));
    made.write("off.geojson", collection(&[off]));
    planned(
        &made,
        1,
        &[
            "land.headland_everywhere",
            "land.setback_outside",
            "zones.special_area_outside",
        ],
    );
}

#[test]
fn fields_in_parts_and_holes_at_the_border() {
    let made = plain("[headland]\nwidth_m = 10.0");
    let mut holed = rectangle([0.0, 0.0], [90.0, 150.0]);
    holed.extend(rectangle([0.0, 50.0], [20.0, 70.0]));
    let second = feature(PLACE, "", &rectangle([110.0, 0.0], [200.0, 150.0]));
    boundary(&made, &[feature(PLACE, "", &holed), second]);
    let plan = planned(&made, 0, &[]);
    let mapped = plan["tally"]["mapped_m2"].as_f64().expect("an area");
    let wanted = 2.0 * 90.0 * 150.0 - 400.0;
    assert!((mapped / wanted - 1.0).abs() < 0.01, "{mapped}");
}

#[test]
fn a_grid_that_would_be_huge() {
    let made = plain("[grid]\ncell_m = 0.5\nmost_cells = 5000");
    refused(&made, 2, &["job.toml", "5000", "cell_m"]);
}

#[test]
fn a_layer_over_a_whole_region_counts_only_where_the_field_is() {
    let made = plain("");
    let plan = planned(&made, 0, &[]);
    let mut features: Vec<String> = (0..200)
        .map(|nth| {
            let place = [PLACE[0] - 20.0 + f64::from(nth) * 0.09, PLACE[1] - 30.0];
            feature(
                place,
                r#""soil":"far""#,
                &rectangle([0.0, 0.0], [5000.0, 5000.0]),
            )
        })
        .collect();
    features.push(feature(
        PLACE,
        r#""soil":"a""#,
        &rectangle([-10.0, -10.0], [80.0, 160.0]),
    ));
    features.push(feature(
        PLACE,
        r#""soil":"b""#,
        &rectangle([80.0, -10.0], [210.0, 160.0]),
    ));
    made.write("soil.geojson", collection(&features));
    let with_far = planned(&made, 0, &[]);
    assert_eq!(plan["tally"], with_far["tally"]);
}

#[test]
fn two_features_with_one_id_keep_their_classes() {
    let made = plain("");
    let plan = planned(&made, 0, &[]);
    let same_id = fs::read_to_string(made.path().join("soil.geojson")).expect("there");
    let same_id = same_id.replace(r#""type":"Feature","#, r#""type":"Feature","id":7,"#);
    made.write("soil.geojson", same_id);
    assert_eq!(plan["tally"], planned(&made, 0, &[])["tally"]);
}

#[test]
fn a_field_on_the_antimeridian() {
    let made = Made::new();
    let place = [179.999, -17.0];
    made.write("job.toml", job(""));
    let field = feature(place, "", &rectangle([0.0, 0.0], [200.0, 150.0]));
    made.write("boundary.geojson", collection(&[field]));
    made.write("soil.geojson", two_zones(place));
    // It waits for somebody who signs.
    let plan = planned(&made, 1, &["plan.across_180"]);
    let mapped = plan["tally"]["mapped_m2"].as_f64().expect("an area");
    assert!((mapped / 30_000.0 - 1.0).abs() < 0.01, "{mapped}");
    // Longitudes count on beyond 180, as those of the Shapefile do: no ring jumps from 180 to -180.
    let map = made.path().join("job-plan/gis/rates.geojson");
    let map = fs::read_to_string(map).expect("a map");
    let map: serde_json::Value = serde_json::from_str(&map).expect("JSON");
    let features = map["features"].as_array().expect("features");
    let polygons = features
        .iter()
        .flat_map(|of| of["geometry"]["coordinates"].as_array().expect("polygons"));
    let rings = polygons.flat_map(|of| of.as_array().expect("rings"));
    let points = rings.flat_map(|ring| ring.as_array().expect("points"));
    let longitudes: Vec<f64> = points.filter_map(|at| at[0].as_f64()).collect();
    let near = |lon: &f64| (179.0..181.0).contains(lon);
    assert!(longitudes.iter().all(near), "{longitudes:?}");
    assert!(longitudes.iter().any(|lon| *lon < 180.0) && longitudes.iter().any(|lon| *lon > 180.0));
}

#[test]
fn one_bad_job_does_not_stop_the_others() {
    let made = plain("");
    made.write("good.toml", job(""));
    made.write(
        "bad.toml",
        job("").replace("soil.geojson", "missing.geojson"),
    );
    made.write("last.toml", job(""));
    let output = made.run(&["plan", "good.toml", "bad.toml", "last.toml"]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    let summary = String::from_utf8_lossy(&output.stdout).into_owned();
    for name in ["good.toml", "bad.toml", "last.toml", "input at fault"] {
        assert!(summary.contains(name), "{name}: {summary}");
    }
    assert!(made.path().join("good-plan/plan.json").is_file());
    assert!(made.path().join("last-plan/plan.json").is_file());
    assert!(!made.path().join("bad-plan").exists());
}

#[test]
fn a_job_begun_from_a_users_own_files_plans_once_what_is_open_is_filled_in() {
    let data = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields");
    let made = Made::new();
    let soil = "dk-4_soil.geojson";
    fs::copy(data.join(soil), made.path().join(soil)).expect("copied");
    // The outline of the soil map stands for the boundary.
    let output = made.run(&[
        "new",
        "start",
        "--boundary",
        "dk-4_soil.geojson",
        "--layer",
        "dk-4_soil.geojson",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let file = made.path().join("start/job.toml");
    let text = fs::read_to_string(&file).expect("the job");
    let text = text
        .replace("crop = \"?\"", "crop = \"barley\"")
        .replace("in_parts = \"?\"", "in_parts = true")
        .replace("working_width_m = \"?\"", "working_width_m = 6")
        .replace("usable_l = \"?\"", "usable_l = 1900")
        .replace("= \"?\"", "= 160");
    fs::write(&file, text).expect("written");
    let output = made.run(&["plan", "start/job.toml"]);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        said(&output)
    );
    assert!(made.path().join("start/job-plan/plan.json").is_file());
}
