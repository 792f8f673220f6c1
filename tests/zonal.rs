//! Numbers from a raster under polygons. Worked by hand here; tests/interop/zonal.py holds them against a
//! general-purpose library.

use std::fs;
use std::path::Path;
use twinsow::findings::Outcome;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};

/// A field of 40 x 20 m in UTM zone 31, in two polygons: the western one 15 m wide, the other 25 m.
const FIELD: &str = r#"{"type":"Polygon","coordinates":[[[467000,6072000],[467040,6072000],[467040,6072020],[467000,6072020],[467000,6072000]]]}"#;
const ZONES: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"soil":"sand"},"geometry":{"type":"Polygon","coordinates":[[[466980,6071990],[467015,6071990],[467015,6072030],[466980,6072030],[466980,6071990]]]}},
{"type":"Feature","properties":{"soil":"clay"},"geometry":{"type":"Polygon","coordinates":[[[467015,6071990],[467060,6071990],[467060,6072030],[467015,6072030],[467015,6071990]]]}}]}"#;
/// Pixels of 10 m; the raster ends at x = 467 030, and one of its pixels has no value.
const RASTER: [&str; 2] = ["90 1 2 4", "90 1 7 -9"];

fn run(folder: &Path, rows: [&str; 2], zonal: &str, more: &str) -> Outcome<Plan> {
    fs::write(folder.join("field.geojson"), FIELD).unwrap();
    fs::write(folder.join("zones.geojson"), ZONES).unwrap();
    let columns = rows[0].split(' ').count();
    let raster = format!(
        "ncols {columns}\nnrows 2\nxllcorner 466990\nyllcorner 6072000\ncellsize 10\nNODATA_value -9\n{}\n{}\n",
        rows[0], rows[1]
    );
    fs::write(folder.join("values.asc"), raster).unwrap();
    let text = format!(
        r#"
name = "zonal"
field = {{ name = "Small Piece", boundary = {{ file = "field.geojson", crs = "EPSG:32631" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
zones = {{ sliver_area_m2 = 0 }}
[[layer]]
name = "yield"
source = {{ file = "zones.geojson", crs = "EPSG:32631" }}
zonal = {{ source = {{ file = "values.asc", crs = "EPSG:32631" }}, {zonal} }}
{more}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
[product.rate]
kg_per_ha = {{ layer = "yield", curve = [{{ at = 0, value = 100 }}, {{ at = 100, value = 200 }}] }}
"#
    );
    plan::plan(
        &Job::parse(&text, &folder.join("job.toml"))?,
        &Disk,
        &Options::default(),
    )
}

/// Class and area of each row of the rate table.
fn classes(plan: &Plan) -> Vec<(String, f64)> {
    let rows = plan.rates.rows.iter();
    rows.map(|row| (row.facts.classes[0].clone(), row.area_m2))
        .collect()
}

#[test]
fn each_number_is_what_the_covered_parts_give() {
    let folder = tempfile::tempdir().unwrap();
    // Under the western polygon, as far as it is on the field: a whole column of 1 and 1, half of one of 2
    // and 7. The pixels of 90 lie outside of the field. East: half of 2 and 7, a whole 4, no value below.
    let cases = [
        ("value = \"mean\"", ["2.17", "4.25"]),
        ("value = \"median\"", ["1", "4"]),
        ("value = \"lowest\"", ["1", "2"]),
        (
            "value = \"share_percent\", between = [2, 4]",
            ["16.67", "75"],
        ),
        ("value = \"mean\", decimals = 0", ["2", "4"]),
        ("value = \"highest\", no_value = 7", ["2", "4"]),
    ];
    for (zonal, wanted) in cases {
        let plan = run(folder.path(), RASTER, zonal, "").unwrap_or_else(|fault| panic!("{fault}"));
        let found = classes(&plan);
        for (class, m2) in wanted.iter().zip([300.0, 500.0]) {
            let own = found.iter().find(|(own, _)| own == class);
            let (_, area) = own.unwrap_or_else(|| panic!("{zonal}: {found:?}"));
            // UTM draws it smaller than it is by 0.07 %.
            assert!((area - m2).abs() < 0.002 * m2, "{zonal}: {found:?}");
        }
        for row in &plan.rates.rows {
            let own: f64 = row.facts.classes[0].parse().unwrap();
            let rate = row.rates[0].kg_per_ha;
            assert!((rate - 100.0 - own).abs() < 1e-9, "{own}: {rate}");
        }
    }
}

#[test]
fn land_without_values_is_said_and_a_polygon_without_any_is_a_gap() {
    let folder = tempfile::tempdir().unwrap();
    let run = |rows, more| run(folder.path(), rows, "value = \"mean\"", more).unwrap();
    let is_bare = |plan: &Plan| {
        let mut findings = plan.findings.iter();
        findings.any(|finding| finding.code == "surface.zonal_bare")
    };
    assert!(is_bare(&run(RASTER, "")));
    assert!(!is_bare(&run(["90 1 2 4 5", "90 1 7 9 5"], "")));
    let none = run(["90 1 -9 -9", "90 1 -9 -9"], "class_of_gaps = \"50\"");
    let found = classes(&none);
    let gap = found.iter().find(|(class, _)| class == "50");
    assert!(gap.is_some_and(|(_, area)| *area > 499.0), "{found:?}");
}

#[test]
fn what_contradicts_itself_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let cases = [
        ("value = \"share_percent\"", "", "no 'between'"),
        (
            "value = \"mean\", between = [1, 2]",
            "",
            "'between' is given",
        ),
        ("value = \"share_percent\", between = [2, 1]", "", "down to"),
        (
            "value = \"mean\"",
            "class_attribute = \"soil\"",
            "both 'zonal'",
        ),
        ("value = \"mean\", band = 2", "", "Band 2"),
    ];
    for (zonal, more, said) in cases {
        let fault = run(folder.path(), RASTER, zonal, more).err().unwrap();
        assert!(fault.found.contains(said), "{zonal}: {fault}");
    }
}
