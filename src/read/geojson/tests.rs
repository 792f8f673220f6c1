use super::*;
use crate::read::Geometry;

fn read(text: &str) -> Outcome<Layer> {
    parse(text.as_bytes(), Path::new("field.geojson"))
}

fn fault(text: &str) -> Fault {
    *read(text).unwrap_err()
}

fn only_geometry(text: &str) -> Geometry {
    let mut layer = read(text).unwrap();
    assert_eq!(layer.features.len(), 1);
    layer.features.remove(0).geometry
}

const TRIANGLE: &str = "[[[0,0],[1,0],[1,1],[0,0]]]";

/// The examples of RFC 7946, appendix A, and the geometries that they show.
#[test]
fn the_geometries_of_the_rfc() {
    let geometry = only_geometry(r#"{"type": "Point", "coordinates": [100.0, 0.0]}"#);
    assert_eq!(geometry, Geometry::Points(vec![[100.0, 0.0]]));
    let geometry =
        only_geometry(r#"{"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}"#);
    assert_eq!(
        geometry,
        Geometry::Lines(vec![vec![[100.0, 0.0], [101.0, 1.0]]])
    );
    let geometry = only_geometry(
        r#"{"type": "Polygon", "coordinates": [
            [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
            [[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]]]}"#,
    );
    let Geometry::Polygons(polygons) = geometry else {
        panic!()
    };
    assert_eq!(polygons.len(), 1);
    assert_eq!(polygons[0].exterior[1], [101.0, 0.0]);
    assert_eq!(polygons[0].holes.len(), 1);
    assert_eq!(polygons[0].holes[0][2], [100.2, 0.2]);
    let geometry =
        only_geometry(r#"{"type": "MultiPoint", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}"#);
    assert_eq!(geometry, Geometry::Points(vec![[100.0, 0.0], [101.0, 1.0]]));
    let geometry = only_geometry(
        r#"{"type": "MultiLineString", "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]]}"#,
    );
    assert!(matches!(geometry, Geometry::Lines(lines) if lines.len() == 2));
    let geometry = only_geometry(
        r#"{"type": "MultiPolygon", "coordinates": [
            [[[102.0, 2.0], [103.0, 2.0], [103.0, 3.0], [102.0, 3.0], [102.0, 2.0]]],
            [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
             [[100.2, 0.2], [100.2, 0.8], [100.8, 0.8], [100.8, 0.2], [100.2, 0.2]]]]}"#,
    );
    let Geometry::Polygons(polygons) = geometry else {
        panic!()
    };
    assert_eq!(
        polygons
            .iter()
            .map(|one| one.holes.len())
            .collect::<Vec<_>>(),
        [0, 1]
    );
}

#[test]
fn members_may_stand_in_any_order() {
    let layer = read(
        r#"{"features": [{"properties": {"a": 1}, "geometry": {"coordinates": [[[0,0],[1,0],[1,1],[0,0]]],
            "type": "Polygon"}, "type": "Feature", "bbox": [0,0,1,1]}], "type": "FeatureCollection"}"#,
    )
    .unwrap();
    assert!(matches!(layer.features[0].geometry, Geometry::Polygons(_)));
    assert_eq!(layer.crs, DeclaredCrs::Wgs84ByStandard);
}

#[test]
fn attributes_of_all_features_get_a_column_each() {
    let text = r#"{"type": "FeatureCollection", "features": [
        {"type": "Feature", "id": "north", "properties": {"soil": "clay", "ph": 6.5}, "geometry": null},
        {"type": "Feature", "id": 7, "properties": null, "geometry": null},
        {"type": "Feature", "properties": {"n": 18446744073709551615, "soil": null, "wet": true,
          "more": {"b": [1, 2.5], "a": "x"}, "list": [1, null], "count": -3}, "geometry": null}]}"#;
    let layer = read(text).unwrap();
    assert_eq!(
        layer.attributes,
        ["soil", "ph", "n", "wet", "more", "list", "count"]
    );
    let names: Vec<&str> = layer
        .features
        .iter()
        .map(|feature| feature.name.as_str())
        .collect();
    assert_eq!(names, ["north", "7", "3"]);
    let text = |text: &str| Value::Text(text.to_string());
    let mut first = vec![Value::Missing; 7];
    first[0] = text("clay");
    first[1] = Value::Number(6.5);
    assert_eq!(layer.features[0].values, first);
    assert_eq!(layer.features[1].values, vec![Value::Missing; 7]);
    assert_eq!(
        layer.features[2].values,
        [
            Value::Missing,
            Value::Missing,
            text("18446744073709551615"),
            Value::Flag(true),
            text(r#"{"b":[1,2.5],"a":"x"}"#),
            text("[1,null]"),
            Value::Integer(-3),
        ]
    );
    let finding = &layer.findings[0];
    assert_eq!(
        (finding.code.as_ref(), layer.findings.len()),
        ("read.empty_geometry", 1)
    );
    assert!(
        finding.message.contains("3 features"),
        "{}",
        finding.message
    );
}

#[test]
fn collections_flatten_or_are_refused() {
    let geometry = only_geometry(&format!(
        r#"{{"type": "GeometryCollection", "geometries": [
            {{"type": "Polygon", "coordinates": {TRIANGLE}}},
            {{"type": "GeometryCollection", "geometries": []}},
            {{"type": "MultiPolygon", "coordinates": [{TRIANGLE}, {TRIANGLE}]}}]}}"#
    ));
    assert!(matches!(geometry, Geometry::Polygons(polygons) if polygons.len() == 3));
    let fault = fault(&format!(
        "{{\"type\": \"GeometryCollection\", \"geometries\": [\n\
            {{\"type\": \"Polygon\", \"coordinates\": {TRIANGLE}}}, {{\"type\": \"Point\", \"coordinates\": [1, 1]}}]}}"
    ));
    assert!(
        fault
            .found
            .contains("more than one of points, lines and polygons"),
        "{fault}"
    );
}

#[test]
fn heights_are_dropped_and_said() {
    let layer = read(r#"{"type": "LineString", "coordinates": [[1, 2, 30], [3, 4]]}"#).unwrap();
    assert_eq!(
        layer.features[0].geometry,
        Geometry::Lines(vec![vec![[1.0, 2.0], [3.0, 4.0]]])
    );
    assert_eq!(layer.findings[0].code, "read.heights_dropped");
    let flat = read(r#"{"type": "LineString", "coordinates": [[1, 2], [3, 4]]}"#).unwrap();
    assert_eq!(flat.findings, []);
}

#[test]
fn every_digit_counts() {
    let text = r#"{"type": "Point", "coordinates": [5.123456789012345, 52.00000000000001]}"#;
    assert_eq!(
        only_geometry(text),
        Geometry::Points(vec![[5.123456789012345, 52.00000000000001]])
    );
    let layer = read("\u{feff}{\"type\": \"Point\", \"coordinates\": [1e1, -0.5E-1]}").unwrap();
    assert_eq!(
        layer.features[0].geometry,
        Geometry::Points(vec![[10.0, -0.05]])
    );
}

#[test]
fn empty_parts_are_left_out_and_said() {
    for empty in ["[]", "[[]]", "[[[]]]", "null"] {
        let text = format!(r#"{{"type": "MultiPolygon", "coordinates": {empty}}}"#);
        assert_eq!(only_geometry(&text), Geometry::Empty, "{empty}");
    }
    let text = format!(r#"{{"type": "MultiPolygon", "coordinates": [[], {TRIANGLE}, [[], []]]}}"#);
    let layer = read(&text).unwrap();
    assert!(matches!(&layer.features[0].geometry, Geometry::Polygons(all) if all.len() == 1));
    assert_eq!(layer.findings[0].code, "read.empty_part");
    let headless = r#"{"type": "Polygon", "coordinates": [[], [[0,0],[1,0],[1,1],[0,0]]]}"#;
    assert_eq!(fault(headless).code, "read.no_exterior");
}

#[test]
fn faults_name_line_and_feature() {
    let text = "{\"type\": \"FeatureCollection\", \"features\": [\n\
        {\"type\": \"Feature\", \"properties\": {}, \"geometry\": null},\n\
        {\"type\": \"Feature\", \"properties\": {}, \"geometry\": {\"type\": \"Point\",\n\
        \"coordinates\": [1, null]}}]}";
    let fault = fault(text);
    assert_eq!(fault.place.line, Some(4));
    assert_eq!(fault.place.feature.as_deref(), Some("2"));
    assert_eq!(fault.code, "read.geojson");
}

#[test]
fn what_is_wrong_is_said() {
    let cases = [
        (r#"{"type": "FeatureCollection"}"#, "no `features`"),
        (r#"{"type": "Topology", "objects": {}}"#, "TopoJSON"),
        (r#"{"a": 1}"#, "no member `type`"),
        (r#"{"type": "Circle", "coordinates": [1, 2]}"#, "'Circle'"),
        (
            r#"{"type": "Polygon", "coordinates": [[1, 2], [3, 4]]}"#,
            "integer `1`, expected a sequence",
        ),
        (
            r#"{"type": "Point", "coordinates": [1]}"#,
            "only one number",
        ),
        (
            r#"{"type": "LineString", "coordinates": [[1, 2], 3]}"#,
            "integer `3`, expected a sequence",
        ),
        (
            r#"{"type": "LineString", "coordinates": [[1, 2], ["3", 4]]}"#,
            "string",
        ),
        (
            r#"{"type": "Point", "coordinates": [[[[[1, 2]]]]]}"#,
            "sequence, expected f64",
        ),
        (
            r#"{"type": "Point", "coordinates": [1e999, 2]}"#,
            "out of range",
        ),
        (
            r#"{"type": "Point", "coordinates": [NaN, 2]}"#,
            "expected value",
        ),
        (
            r#"{"type": "Point", "type": "Point", "coordinates": [1, 2]}"#,
            "stands twice",
        ),
        (
            r#"{"type": "Feature", "properties": {"a": 1, "a": 2}, "geometry": null}"#,
            "stands twice",
        ),
        (
            r#"{"type": "Feature", "properties": {}}"#,
            "no member `geometry`",
        ),
        (
            r#"{"type": "Point", "coordinates": [1, 2]} {"type": "Point"}"#,
            "trailing",
        ),
        (
            r#"{"type": "FeatureCollection", "features": [], "crs": 7}"#,
            "`crs`",
        ),
    ];
    for (text, said) in cases {
        let fault = fault(text);
        assert!(fault.found.contains(said), "{text}: {fault}");
    }
    assert_eq!(
        fault(r#"{"type": "Point", "coordinates": [1, 2"#).code,
        "read.truncated"
    );
    assert_eq!(
        parse(b"\xFF\xFE{\0", Path::new("a")).unwrap_err().code,
        "read.not_utf8"
    );
}

#[test]
fn deep_nesting_is_a_fault_and_not_a_crash() {
    let deep = 200_000;
    for (open, close) in [
        (
            r#"{"type":"Point","coordinates":"#.to_string() + &"[".repeat(deep),
            "]".repeat(deep) + "}",
        ),
        (
            r#"{"type":"GeometryCollection","geometries":["#.repeat(deep),
            "]}".repeat(deep),
        ),
        (
            r#"{"type":"Feature","geometry":null,"properties":{"a":"#.to_string()
                + &"[".repeat(deep),
            "]".repeat(deep) + "}}",
        ),
    ] {
        assert_eq!(fault(&(open + &close)).code, "read.geojson");
    }
    // A member that nobody asks for is skipped, however deep.
    let skipped = format!(
        r#"{{"type":"Point","coordinates":[1,2],"x":{}{}}}"#,
        "[".repeat(deep),
        "]".repeat(deep)
    );
    assert!(read(&skipped).is_ok());
}

#[test]
fn a_crs_member_of_the_old_specification() {
    let text = r#"{"type": "FeatureCollection", "features": [],
        "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::28992"}}}"#;
    assert_eq!(
        read(text).unwrap().crs,
        DeclaredCrs::Text("EPSG:28992".into())
    );
}

/// Coordinates before the type are read once the type is known; the line is that of the geometry.
#[test]
fn coordinates_before_their_type() {
    let layer = read(
        r#"{"coordinates": [[], [[[0,0,7],[1,0,7],[1,1,7],[0,0,7]]]], "x": [[[]]], "type": "MultiPolygon"}"#,
    )
    .unwrap();
    assert!(matches!(&layer.features[0].geometry, Geometry::Polygons(all) if all.len() == 1));
    let codes: Vec<&str> = layer.findings.iter().map(|own| own.code.as_ref()).collect();
    assert_eq!(codes, ["read.heights_dropped", "read.empty_part"]);
    let twice = r#"{"coordinates": [1, 2], "type": "Point", "coordinates": [1, 2]}"#;
    assert!(fault(twice).found.contains("stands twice"));
    let wrong = fault("{\"coordinates\": [1, \"2\"],\n\"type\": \"Point\"}");
    assert!(
        wrong.found.contains("string \"2\", expected f64"),
        "{wrong}"
    );
}

/// A feature of a sequence that is none for what it holds is told with its own line.
#[test]
fn a_line_that_is_no_feature_is_named() {
    let good = r#"{"type":"Feature","properties":{"a":1},"geometry":null}"#;
    for bad in [
        r#"{"type":"Feature","properties":{"a":1}}"#,
        r#"{"type":"Feature","properties":{"a":1,"a":2},"geometry":null}"#,
    ] {
        let fault = fault(&format!("{good}\n\n{bad}\n{good}"));
        assert_eq!(fault.place.line, Some(3), "{fault}");
        assert_eq!(fault.place.feature.as_deref(), Some("2"), "{fault}");
    }
}

/// The forms of RFC 8142 and of newline-delimited JSON.
#[test]
fn features_one_after_the_other_are_a_layer() {
    let feature = |id: u32, more: &str| {
        format!(
            r#"{{"type":"Feature","id":{id},"properties":{{"soil":"loam"{more}}},"geometry":{{"type":"Polygon","coordinates":{TRIANGLE}}}}}"#
        )
    };
    let [one, two] = [feature(7, ""), feature(8, r#","ph":6.5"#)];
    for text in [
        format!("{one}\n{two}\n"),
        format!("{one}\r\n\r\n{two}"),
        format!("\u{1e}{one}\n\u{1e}{two}\n"),
        format!("{one}{two}"),
    ] {
        let layer = read(&text).unwrap_or_else(|fault| panic!("{fault}"));
        assert_eq!(layer.attributes, ["soil", "ph"]);
        let names: Vec<&str> = layer.features.iter().map(|own| own.name.as_str()).collect();
        assert_eq!(names, ["7", "8"]);
        assert_eq!(layer.features[0].values[1], Value::Missing);
        assert_eq!(layer.features[1].values[1], Value::Number(6.5));
    }
    let broken = fault(&format!("{one}\n{two}\n{{\"type\":\"Feature\",\n"));
    assert_eq!(broken.code, "read.truncated");
    assert_eq!(broken.place.feature.as_deref(), Some("3"));
    let collection = r#"{"type":"FeatureCollection","features":[]}"#;
    assert!(
        fault(&format!("{collection}\n{collection}"))
            .found
            .contains("trailing")
    );
    assert!(
        fault(&format!("{one}\n{collection}"))
            .found
            .contains("'FeatureCollection' instead of 'Feature'")
    );
}
