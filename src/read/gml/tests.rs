use super::*;
use crate::read::{Geometry, Polygon, read};
use serde_json::Value as Json;
use std::fs;
use std::path::PathBuf;

fn testdata() -> PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/gml")
}

fn written(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("parcels.gml");
    fs::write(&path, text).unwrap();
    (folder, path)
}

/// All points of a geometry, in the order of the file.
fn points(geometry: &Geometry) -> Vec<[f64; 2]> {
    crate::read::gather::points(geometry).copied().collect()
}

#[test]
fn what_gdal_writes_is_read_as_gdal_reads_it() {
    let expected = fs::read_to_string(testdata().join("expected.json")).unwrap();
    let expected: Json = serde_json::from_str(&expected).unwrap();
    let files = expected.as_object().unwrap();
    assert!(files.len() >= 12);
    for (name, of) in files {
        let layer =
            read(&testdata().join(name), None).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(
            layer.crs,
            DeclaredCrs::Text(format!("EPSG:{}", of["epsg"])),
            "{name}"
        );
        assert_eq!(
            layer.features.len() as u64,
            of["features"].as_u64().unwrap()
        );
        for (feature, wanted) in layer
            .features
            .iter()
            .zip(of["coordinates"].as_array().unwrap())
        {
            let wanted: Vec<[f64; 2]> = serde_json::from_value(wanted.clone()).unwrap();
            // What is written has so many decimals.
            let own = points(&feature.geometry);
            assert_eq!(own.len(), wanted.len(), "{name}");
            for (own, wanted) in own.iter().zip(&wanted) {
                assert_eq!(own, wanted, "{name}");
            }
        }
        let column = layer.attributes.iter().position(|own| own == "name");
        for (nth, wanted) in of["names"].as_array().unwrap().iter().enumerate() {
            let own = &layer.features[nth].values[column.unwrap()];
            match wanted.as_str() {
                Some(wanted) => assert_eq!(*own, Value::Text(wanted.to_owned()), "{name}"),
                None => assert_eq!(*own, Value::Missing, "{name}"),
            }
        }
    }
    let soil = read(&testdata().join("gml32_4326.gml"), Some("soil")).unwrap();
    assert_eq!(soil.attributes, ["gml_id", "name", "area_no", "ph", "code"]);
    assert_eq!(soil.features[0].name, "soil.0");
    assert_eq!(soil.features[0].values[2], Value::Integer(12));
    assert_eq!(soil.features[1].values[3], Value::Number(7.25));
    assert_eq!(soil.features[0].values[4], Value::Text("007".into()));
    let Geometry::Polygons(polygons) = &soil.features[0].geometry else {
        panic!("no polygon");
    };
    assert_eq!(polygons[0].holes.len(), 1);
    assert_eq!(soil.findings[0].code, "read.gml_axes");
    let lines = read(&testdata().join("lines_z.gml"), None).unwrap();
    let codes: Vec<&str> = lines.findings.iter().map(|of| of.code.as_ref()).collect();
    assert_eq!(codes, ["read.heights_dropped"]);
}

/// A file of a survey, as services hand them out: features right inside, patches, curves that make rings, a nil, two kinds.
const SURVEY: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<wfs:FeatureCollection xmlns:wfs="http://www.opengis.net/wfs/2.0" xmlns:gml="http://www.opengis.net/gml/3.2" xmlns:a="urn:a" xmlns:xsi="urn:x">
 <wfs:boundedBy><gml:Envelope srsName="urn:ogc:def:crs:EPSG::4258"><gml:lowerCorner>50 8</gml:lowerCorner><gml:upperCorner>51 9</gml:upperCorner></gml:Envelope></wfs:boundedBy>
 <wfs:member><a:Parcel gml:id="p.1"><gml:boundedBy><gml:Envelope srsName="EPSG:9999"/></gml:boundedBy>
  <a:use><a:Code><a:key>43001</a:key><a:since xsi:nil="true"/></a:Code></a:use>
  <a:shape><gml:MultiSurface srsName="http://www.opengis.net/def/crs/EPSG/0/25832"><gml:surfaceMember><gml:Surface><gml:patches>
    <gml:PolygonPatch><gml:exterior><gml:Ring>
      <gml:curveMember><gml:Curve><gml:segments><gml:LineStringSegment><gml:posList>0 0 10 0</gml:posList></gml:LineStringSegment>
        <gml:LineStringSegment><gml:pos>10 0</gml:pos><gml:pos>10 10</gml:pos></gml:LineStringSegment></gml:segments></gml:Curve></gml:curveMember>
      <gml:curveMember><gml:LineString><gml:posList>10 10 0 10 0 0</gml:posList></gml:LineString></gml:curveMember></gml:Ring></gml:exterior>
      <gml:interior><gml:LinearRing><gml:posList srsDimension="3">2 2 7 4 2 7 4 4 7 2 2 7</gml:posList></gml:LinearRing></gml:interior></gml:PolygonPatch>
    </gml:patches></gml:Surface></gml:surfaceMember>
    <gml:surfaceMember><gml:Polygon><gml:exterior><gml:LinearRing><gml:posList>20 0 30 0 30 9 20 0</gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></gml:surfaceMember></gml:MultiSurface></a:shape>
  <a:at><gml:Point srsName="http://www.opengis.net/def/crs/EPSG/0/25832"><gml:pos>5 5</gml:pos></gml:Point></a:at></a:Parcel></wfs:member>
 <wfs:member><a:Way><a:line><gml:Curve><gml:segments><gml:LineStringSegment><gml:posList>50.5 8.5 50.25 8.25</gml:posList></gml:LineStringSegment>
   <gml:LineStringSegment><gml:posList>50.25 8.25 50 8</gml:posList></gml:LineStringSegment></gml:segments></gml:Curve></a:line></a:Way></wfs:member>
 <wfs:member><a:Way><a:line><gml:LineString srsName="urn:ogc:def:crs:EPSG::4258"><gml:posList>50 8 50 9</gml:posList></gml:LineString></a:line></a:Way></wfs:member>
 <wfs:member><a:Note><a:text>no place</a:text></a:Note></wfs:member>
</wfs:FeatureCollection>"#;

#[test]
fn a_survey_s_own_forms_are_read() {
    let (_folder, path) = written(SURVEY);
    let listed = tables(&path).unwrap();
    let listed: Vec<(&str, &str, u64)> = listed
        .iter()
        .map(|of| {
            (
                of.name.as_deref().unwrap(),
                of.geometry.as_str(),
                of.features,
            )
        })
        .collect();
    assert_eq!(
        listed,
        [("Parcel", "points, polygons", 1), ("Way", "lines", 2)]
    );
    let parcels = read(&path, Some("Parcel")).unwrap();
    assert_eq!(parcels.crs, DeclaredCrs::Text("EPSG:25832".into()));
    let square = vec![
        [0.0, 0.0],
        [10.0, 0.0],
        [10.0, 10.0],
        [0.0, 10.0],
        [0.0, 0.0],
    ];
    let hole = vec![[2.0, 2.0], [4.0, 2.0], [4.0, 4.0], [2.0, 2.0]];
    let other = vec![[20.0, 0.0], [30.0, 0.0], [30.0, 9.0], [20.0, 0.0]];
    let polygons = vec![
        Polygon {
            exterior: square,
            holes: vec![hole],
        },
        Polygon {
            exterior: other,
            holes: vec![],
        },
    ];
    assert_eq!(parcels.features[0].geometry, Geometry::Polygons(polygons));
    assert_eq!(
        parcels.attributes,
        ["gml_id", "use.Code.key", "use.Code.since"]
    );
    assert_eq!(parcels.features[0].values[1], Value::Integer(43001));
    assert_eq!(parcels.features[0].values[2], Value::Missing);
    let codes: Vec<&str> = parcels.findings.iter().map(|of| of.code.as_ref()).collect();
    assert_eq!(codes, ["read.gml_several", "read.heights_dropped"]);
    // The box round all says the CRS, and with it that latitude is first.
    let ways = read(&path, Some("Way")).unwrap();
    assert_eq!(ways.crs, DeclaredCrs::Text("EPSG:4258".into()));
    let curve = vec![[8.5, 50.5], [8.25, 50.25], [8.0, 50.0]];
    assert_eq!(ways.features[0].geometry, Geometry::Lines(vec![curve]));
    assert_eq!(read(&path, None).unwrap_err().code, "read.several_tables");
    let fault = read(&path, Some("Parcels")).unwrap_err();
    assert!(fault.next.contains("'Parcel'"), "{fault}");
}

/// GML 2: marks of its own, `coord`, a hole.
const OLD: &str = r#"<FeatureCollection xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><Field fid="f7">
<name>long furrow</name><gml:polygonProperty><gml:Polygon srsName="http://www.opengis.net/gml/srs/epsg.xml#4258"><gml:outerBoundaryIs><gml:LinearRing>
<gml:coordinates decimal="," cs=" " ts=";">8,5 50;8,75 50;8,75 50,5;8,5 50</gml:coordinates></gml:LinearRing></gml:outerBoundaryIs>
<gml:innerBoundaryIs><gml:LinearRing><gml:coord><gml:X>8.6</gml:X><gml:Y>50.1</gml:Y></gml:coord><gml:coord><gml:X>8.7</gml:X><gml:Y>50.1</gml:Y></gml:coord>
<gml:coord><gml:X>8.7</gml:X><gml:Y>50.2</gml:Y></gml:coord><gml:coord><gml:X>8.6</gml:X><gml:Y>50.1</gml:Y></gml:coord></gml:LinearRing></gml:innerBoundaryIs></gml:Polygon></gml:polygonProperty></Field></gml:featureMember></FeatureCollection>"#;

#[test]
fn old_files_are_read_with_x_first() {
    let (_folder, path) = written(OLD);
    let layer = read(&path, None).unwrap();
    assert_eq!(layer.crs, DeclaredCrs::Text("EPSG:4258".into()));
    assert_eq!(layer.features[0].name, "f7");
    let own = points(&layer.features[0].geometry);
    assert_eq!(own[..3], [[8.5, 50.0], [8.75, 50.0], [8.75, 50.5]]);
    assert_eq!(own[4], [8.6, 50.1]);
    assert!(layer.findings.is_empty(), "{:?}", layer.findings);
    // Without a name of a CRS nothing is known, and nothing is turned.
    let (_folder, path) = written(&OLD.replace(
        " srsName=\"http://www.opengis.net/gml/srs/epsg.xml#4258\"",
        "",
    ));
    assert_eq!(read(&path, None).unwrap().crs, DeclaredCrs::None);
}

#[test]
fn what_is_not_plain_is_refused_with_its_line() {
    for (from, to, line, said) in [
        ("10 10 0 10 0 0", "10 10 0 10 0", 10, "ends with 1 of them"),
        (
            "10 10 0 10 0 0",
            "11 10 0 10 0 0",
            10,
            "does not begin where",
        ),
        (
            "LineStringSegment><gml:posList>0 0 10 0</gml:posList></gml:LineStringSegment",
            "Arc><gml:posList>0 0 10 0</gml:posList></gml:Arc",
            8,
            "'Arc'",
        ),
        ("srsDimension=\"3\"", "srsDimension=\"4\"", 11, "'4'"),
        ("20 0 30 0", "20 x 30 0", 13, "'x'"),
        (
            "<a:at><gml:Point srsName=\"http://www.opengis.net/def/crs/EPSG/0/25832\">",
            "<a:at><gml:Point srsName=\"EPSG:25833\">",
            14,
            "two CRSs",
        ),
        ("</wfs:FeatureCollection>", "", 19, "inside the element"),
    ] {
        assert!(SURVEY.contains(from), "{from}");
        let (_folder, path) = written(&SURVEY.replacen(from, to, 1));
        let fault = read(&path, Some("Parcel")).unwrap_err();
        assert_eq!(fault.code, "read.not_gml", "{fault}");
        assert!(fault.found.contains(said), "{said}: {fault}");
        assert_eq!(fault.place.line, Some(line), "{fault}");
    }
    // Two CRSs in one table.
    let (_folder, path) = written(&SURVEY.replace(
        "urn:ogc:def:crs:EPSG::4258\"><gml:posList>50 8",
        "EPSG:4258\"><gml:posList>50 8",
    ));
    let fault = read(&path, Some("Way")).unwrap_err();
    assert_eq!(fault.code, "read.gml_crs", "{fault}");
    let empty = r#"<x xmlns:gml="http://www.opengis.net/gml"/>"#;
    let (_folder, path) = written(empty);
    assert_eq!(read(&path, None).unwrap_err().code, "read.nothing_inside");
}

/// [`SURVEY`] with the CRS of its parcels named otherwise.
fn named(srs: &str) -> (tempfile::TempDir, PathBuf) {
    written(&SURVEY.replace("http://www.opengis.net/def/crs/EPSG/0/25832", srs))
}

#[test]
fn each_name_of_the_registry_has_latitude_first() {
    for srs in [
        "http://opengis.net/def/crs/EPSG/0/4258",
        "www.opengis.net/def/crs/EPSG/0/4258",
        "urn:opengis:crs:EPSG:0:4258",
    ] {
        let (_folder, path) = written(&SURVEY.replace("urn:ogc:def:crs:EPSG::4258", srs));
        let ways = read(&path, Some("Way")).unwrap();
        assert_eq!(ways.crs, DeclaredCrs::Text("EPSG:4258".into()), "{srs}");
        assert_eq!(points(&ways.features[0].geometry)[0], [8.5, 50.5], "{srs}");
    }
}

#[test]
fn a_name_that_is_not_understood_is_none_and_told() {
    let (_folder, path) = named("urn:x:crs:EPSG:25832");
    let parcels = read(&path, Some("Parcel")).unwrap();
    assert_eq!(parcels.crs, DeclaredCrs::None);
    let told = &parcels.findings;
    let told = told.iter().find(|of| of.code == "read.gml_srs").unwrap();
    assert!(told.message.contains("urn:x:crs:EPSG:25832"), "{told:?}");
}

#[test]
fn lists_in_a_crs_with_heights_have_to_say_how_many_numbers() {
    for srs in [
        "urn:ogc:def:crs:EPSG::4979",
        "urn:ogc:def:crs,crs:EPSG::25832,crs:EPSG::7837",
    ] {
        let (_folder, path) = named(srs);
        let fault = read(&path, Some("Parcel")).unwrap_err();
        assert!(fault.found.contains("srsDimension"), "{fault}");
        assert_eq!(fault.place.line, Some(8), "{fault}");
        let all = SURVEY.replace("<gml:posList>", "<gml:posList srsDimension=\"2\">");
        let (_folder, path) =
            written(&all.replace("http://www.opengis.net/def/crs/EPSG/0/25832", srs));
        assert!(read(&path, Some("Parcel")).is_ok(), "{srs}");
    }
}

/// A service that leaves `srsDimension` out, with heights of 7 in rings of four and of five places.
#[test]
fn a_ring_says_by_its_end_how_many_numbers_a_place_has() {
    for (ring, high, corner) in [
        ("20 0 7 30 0 7 30 9 7 20 0 7", true, [30.0, 9.0]),
        ("20 0 7 30 0 7 30 9 7 20 9 7 20 0 7", true, [30.0, 9.0]),
        ("20 0 30 0 30 9 25 9 20 9 20 0", false, [30.0, 9.0]),
    ] {
        let text = SURVEY.replace(
            " srsDimension=\"3\">2 2 7 4 2 7 4 4 7 2 2 7",
            ">2 2 4 2 4 4 2 2",
        );
        let (_folder, path) = written(&text.replace("20 0 30 0 30 9 20 0", ring));
        let parcels = read(&path, Some("Parcel")).unwrap();
        let Geometry::Polygons(polygons) = &parcels.features[0].geometry else {
            panic!("no polygon");
        };
        let own = &polygons[1].exterior;
        assert_eq!((own[2], own.first()), (corner, own.last()), "{ring}");
        let mut codes = parcels.findings.iter().map(|of| of.code.as_ref());
        assert_eq!(
            codes.any(|own| own == "read.heights_dropped"),
            high,
            "{ring}"
        );
    }
}

#[test]
fn a_part_of_a_geometry_that_lies_elsewhere_is_a_fault() {
    for (from, name) in [
        ("<gml:surfaceMember><gml:Polygon>", "surfaceMember"),
        ("<gml:curveMember><gml:LineString>", "curveMember"),
        ("<gml:exterior><gml:LinearRing><gml:posList>20", "exterior"),
    ] {
        assert!(SURVEY.contains(from), "{from}");
        let to = format!("<gml:{name} xlink:href=\"#s2\"/>{from}");
        let (_folder, path) = written(&SURVEY.replacen(from, &to, 1));
        let fault = read(&path, Some("Parcel")).unwrap_err();
        assert!(fault.found.contains("xlink:href"), "{fault}");
        assert!(fault.found.contains(name), "{fault}");
    }
    // Beside the geometry it is one of the feature's own attributes.
    let to = "<a:owner xlink:href=\"#o\"/><a:use>";
    let (_folder, path) = written(&SURVEY.replacen("<a:use>", to, 1));
    assert!(read(&path, Some("Parcel")).is_ok());
}

#[test]
fn names_do_not_take_more_than_the_file_warrants() {
    let feature = |inside: &str| {
        format!(
            r#"<c xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><F><at><gml:Point><gml:pos>1 2</gml:pos></gml:Point></at>{inside}</F></gml:featureMember></c>"#
        )
    };
    let long = "n".repeat(300);
    let (_folder, path) = written(&feature(&format!("<{long}><{long}>1</{long}></{long}>")));
    let fault = read(&path, None).unwrap_err();
    assert_eq!(fault.code, "read.not_gml", "{fault}");
    assert!(fault.found.contains("601 bytes"), "{fault}");
    // Each leaf of some bytes would keep two names of five hundred.
    let around = "n".repeat(480);
    let leaves: String = (0..120_000).map(|nth| format!("<a{nth}/>")).collect();
    let (_folder, path) = written(&feature(&format!("<{around}>{leaves}</{around}>")));
    let fault = read(&path, None).unwrap_err();
    assert!(fault.found.contains("different names"), "{fault}");
}

#[test]
fn many_attributes_and_kinds_are_read_in_one_pass() {
    let leaves: String = (0..40_000)
        .map(|nth| format!("<a{nth}>{nth}</a{nth}>"))
        .collect();
    let (_folder, path) = written(&format!(
        r#"<c xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><F><at><gml:Point><gml:pos>1 2</gml:pos></gml:Point></at>{leaves}<b>x</b></F></gml:featureMember></c>"#
    ));
    let layer = read(&path, None).unwrap();
    assert_eq!(layer.attributes.len(), 40_001);
    assert_eq!(layer.features[0].values[39_999], Value::Integer(39_999));
    assert_eq!(layer.features[0].values[40_000], Value::Text("x".into()));
}
