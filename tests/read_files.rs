//! The readers against another program: GDAL 3.12.4 says what is in each file of `testdata/read`.

use serde_json::Value as Json;
use std::path::{Path, PathBuf};
use twinsow::read::{DeclaredCrs, Geometry, Layer, Value, input_files, read, tables};

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("testdata/read")
        .join(name)
}

fn codes(layer: &Layer) -> Vec<&str> {
    layer
        .findings
        .iter()
        .map(|finding| finding.code.as_ref())
        .collect()
}

/// Points, lines or polygons as nested arrays; each polygon as the sorted points of each ring, for
/// programs list rings from different points.
fn parts(geometry: &Geometry) -> Json {
    let json = match geometry {
        Geometry::Empty => serde_json::json!([]),
        Geometry::Points(points) => serde_json::to_value(points).unwrap(),
        Geometry::Lines(lines) => serde_json::to_value(lines).unwrap(),
        Geometry::Polygons(polygons) => polygons
            .iter()
            .map(|one| {
                let mut rings = vec![one.exterior.clone()];
                rings.extend(one.holes.iter().cloned());
                serde_json::to_value(rings).unwrap()
            })
            .collect(),
    };
    sorted(json)
}

fn sorted(json: Json) -> Json {
    match json {
        Json::Array(items) if items.iter().any(Json::is_array) => {
            let mut items: Vec<Json> = items.into_iter().map(sorted).collect();
            items.sort_by_key(ToString::to_string);
            Json::Array(items)
        }
        other => other,
    }
}

fn same_value(own: &Value, theirs: &Json) -> bool {
    match own {
        Value::Missing => theirs.is_null(),
        Value::Text(text) => theirs.as_str() == Some(text),
        Value::Integer(number) => theirs.as_i64() == Some(*number),
        Value::Number(number) => theirs.as_f64() == Some(*number),
        Value::Flag(flag) => theirs.as_bool() == Some(*flag),
    }
}

/// The value of an attribute; the id stands for an attribute that only the other program makes of it.
fn value(layer: &Layer, feature: usize, attribute: &str) -> Value {
    match layer.attributes.iter().position(|name| name == attribute) {
        Some(column) => layer.features[feature].values[column].clone(),
        None => Value::Integer(layer.features[feature].name.parse().unwrap()),
    }
}

#[test]
fn every_file_holds_what_gdal_reads_in_it() {
    let text = std::fs::read_to_string(testdata("expected.json")).unwrap();
    let expected: Vec<Json> = serde_json::from_str(&text).unwrap();
    assert_eq!(expected.len(), 21);
    for file in expected {
        let name = file["file"].as_str().unwrap();
        let table = file["table"].as_str();
        if name == "wound_wrong.shp" {
            continue; // Read otherwise on purpose: see the test below.
        }
        let layer = read(&testdata(name), table).unwrap_or_else(|fault| panic!("{fault}"));
        let place = format!("{name} {table:?}");
        assert_eq!(
            layer.features.len(),
            file["rows"].as_array().unwrap().len(),
            "{place}"
        );
        for (at, feature) in layer.features.iter().enumerate() {
            assert_eq!(
                parts(&feature.geometry),
                sorted(file["parts"][at].clone()),
                "{place}"
            );
            assert_eq!(feature.values.len(), layer.attributes.len(), "{place}");
            for (column, attribute) in file["attributes"].as_array().unwrap().iter().enumerate() {
                let own = value(&layer, at, attribute.as_str().unwrap());
                let theirs = &file["rows"][at][column];
                assert!(
                    same_value(&own, theirs),
                    "{place} {attribute}: {own:?} {theirs}"
                );
            }
        }
        match (&layer.crs, file["crs"].as_str()) {
            (DeclaredCrs::None, None) => {}
            (DeclaredCrs::Wgs84ByStandard, Some("EPSG:4326")) => {}
            // A .prj holds no code, only WKT.
            (DeclaredCrs::Text(wkt), Some("EPSG:25832")) if name.ends_with(".shp") => {
                assert!(
                    wkt.starts_with("PROJCS[\"ETRS_1989_UTM_Zone_32N\""),
                    "{wkt}"
                );
            }
            (DeclaredCrs::Text(text), Some(code)) => assert_eq!(text, code, "{place}"),
            (DeclaredCrs::Text(wkt), None) if table == Some("own_plane") => {
                assert!(wkt.starts_with("PROJCS[\"own plane\""), "{wkt}");
            }
            (own, theirs) => panic!("{place}: {own:?} {theirs:?}"),
        }
    }
}

#[test]
fn a_hole_wound_like_its_exterior_is_a_hole_and_said() {
    let layer = read(&testdata("wound_wrong.shp"), None).unwrap();
    let Geometry::Polygons(polygons) = &layer.features[0].geometry else {
        panic!()
    };
    assert_eq!(
        polygons
            .iter()
            .map(|one| one.holes.len())
            .collect::<Vec<_>>(),
        [1, 0]
    );
    assert_eq!(layer.features[1].geometry, Geometry::Empty);
    let date = Value::Text("2026-03-15".into());
    assert_eq!(
        layer.features[0].values,
        [Value::Integer(1), date, Value::Flag(true)]
    );
    assert_eq!(
        layer.features[1].values,
        [Value::Integer(2), Value::Missing, Value::Missing]
    );
    assert_eq!(
        codes(&layer),
        ["read.no_crs", "read.empty_geometry", "read.winding"]
    );
}

#[test]
fn heights_measures_and_a_missing_crs_are_said() {
    let layer = read(&testdata("polygons_z.shp"), None).unwrap();
    assert_eq!(codes(&layer), ["read.no_crs", "read.heights_dropped"]);
    let layer = read(&testdata("polygons_m.shp"), None).unwrap();
    assert_eq!(codes(&layer), ["read.no_crs", "read.measures_dropped"]);
    let layer = read(&testdata("layers.gpkg"), Some("odd \"name\"")).unwrap();
    assert_eq!(codes(&layer), ["read.heights_dropped"]);
    assert!(
        read(&testdata("polygons.shp"), None)
            .unwrap()
            .findings
            .is_empty()
    );
}

#[test]
fn zipped_shapefiles_are_the_loose_ones() {
    let loose = read(&testdata("polygons.shp"), None).unwrap();
    for (zip, table) in [
        ("one.zip", None),
        ("one.zip", Some("polygons")),
        ("two.zip", Some("polygons")),
    ] {
        let zipped = read(&testdata(zip), table).unwrap();
        assert_eq!(zipped.table.as_deref(), Some("polygons"));
        assert_eq!(zipped.features, loose.features);
        assert_eq!(zipped.attributes, loose.attributes);
        assert_eq!(zipped.crs, loose.crs);
        assert!(zipped.findings.is_empty());
    }
    let fault = read(&testdata("two.zip"), None).unwrap_err();
    assert_eq!(fault.code, "read.several_tables");
    assert_eq!(fault.allowed, "one of 'lines', 'polygons'");
    assert_eq!(
        read(&testdata("two.zip"), Some("x")).unwrap_err().code,
        "read.no_such_table"
    );
}

#[test]
fn tables_are_listed_with_kind_and_count() {
    let listed = |name: &str| -> Vec<(Option<String>, String, u64)> {
        let all = tables(&testdata(name)).unwrap().into_iter();
        all.map(|table| (table.name, table.geometry, table.features))
            .collect()
    };
    let row = |name: &str, kind: &str, count| (Some(name.to_string()), kind.to_string(), count);
    assert_eq!(
        listed("two.zip"),
        [row("lines", "lines", 2), row("polygons", "polygons", 3)]
    );
    assert_eq!(
        listed("layers.gpkg"),
        [
            row("lines_z", "MULTILINESTRING", 1),
            row("odd \"name\"", "POLYGON", 1),
            row("own_plane", "POLYGON", 1),
            row("points", "POINT", 2),
            row("soil", "MULTIPOLYGON", 3),
            row("undefined", "POINT", 1),
        ]
    );
    assert_eq!(
        listed("rfc7946.geojson"),
        [(None, "polygons".to_string(), 3)]
    );
    assert_eq!(listed("points.shp"), [(None, "points".to_string(), 2)]);
}

#[test]
fn input_files_are_all_that_exist() {
    let names = |name: &str| -> Vec<String> {
        let files = input_files(&testdata(name)).into_iter();
        files
            .map(|path| path.file_name().unwrap().to_string_lossy().into_owned())
            .collect()
    };
    assert_eq!(
        names("polygons.shp"),
        [
            "polygons.shp",
            "polygons.dbf",
            "polygons.prj",
            "polygons.cpg",
            "polygons.shx"
        ]
    );
    assert_eq!(names("lines.shp"), ["lines.shp", "lines.dbf", "lines.shx"]);
    assert_eq!(names("layers.gpkg"), ["layers.gpkg"]);
    assert!(names("none.shp").is_empty());
}
