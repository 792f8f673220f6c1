use super::*;
use crate::read::{Geometry, Polygon};
use std::fs::{self, File};
use std::io::Write;
use std::path::PathBuf;
use zip::write::SimpleFileOptions;

const FILE: &str = r##"<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="urn:x"><Document><name>Farm</name>
  <Schema id="s"><SimpleField name="ph" type="double"/><SimpleField name="wet" type="bool"/></Schema>
  <Folder><name>Soil</name>
    <Placemark><name>Clay &amp; loam</name><ExtendedData><SchemaData schemaUrl="#s"><SimpleData name="ph">6.5</SimpleData>
      <SimpleData name="wet">1</SimpleData></SchemaData></ExtendedData>
      <MultiGeometry><Point><coordinates>2.505,54.805,0</coordinates></Point><Polygon>
        <outerBoundaryIs><LinearRing><coordinates>2.5,54.8 2.51,54.8
          2.51,54.81 2.5,54.8</coordinates></LinearRing></outerBoundaryIs>
        <innerBoundaryIs><LinearRing><coordinates>2.505,54.801 2.506,54.801 2.506,54.802 2.505,54.801</coordinates></LinearRing></innerBoundaryIs>
      </Polygon></MultiGeometry></Placemark>
    <Folder><Placemark><name>Clay</name><ExtendedData><Data name="ph"><value>low</value></Data></ExtendedData>
      <Polygon><outerBoundaryIs><LinearRing><coordinates>3,54,7 3.1,54,7 3.1,54.1,7 3,54,7</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Folder>
  </Folder>
  <Placemark><name>Gate</name><Point><coordinates>2.5,54.8</coordinates></Point></Placemark>
  <Placemark><name>Gate</name><description><![CDATA[<b>north</b>]]></description><Point><coordinates>2.6,54.9</coordinates></Point></Placemark>
  <Placemark><gx:Track><when>2026</when><gx:coord>2.5 54.8 3</gx:coord><gx:coord>2.6 54.8 3</gx:coord></gx:Track></Placemark>
  <Placemark><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark>
  <Placemark><name>nowhere</name><Camera><longitude>1</longitude></Camera></Placemark>
  <NetworkLink><Link><href>more.kml</href></Link></NetworkLink><GroundOverlay/>
</Document></kml>"##;

fn written(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("farm.kml");
    fs::write(&path, text).unwrap();
    (folder, path)
}

fn packed(files: &[(&str, &str)]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("farm.kmz");
    let mut zip = zip::ZipWriter::new(File::create(&path).unwrap());
    for (name, text) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap();
    (folder, path)
}

fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

#[test]
fn placemarks_lie_in_tables_by_what_they_are() {
    let (_folder, path) = written(FILE);
    let listed = tables(&path).unwrap();
    let listed = listed
        .iter()
        .map(|of| (of.name.as_deref().unwrap(), of.features));
    assert_eq!(
        listed.collect::<Vec<_>>(),
        [("points", 3), ("lines", 2), ("polygons", 2)]
    );

    let soil = read(&path, Some("polygons")).unwrap();
    assert_eq!(soil.attributes, ["name", "folder", "ph", "wet"]);
    let [clay_loam, clay] = soil.features.as_slice() else {
        panic!()
    };
    assert_eq!(
        clay_loam.values,
        [
            text("Clay & loam"),
            text("Soil"),
            Value::Number(6.5),
            Value::Flag(true)
        ]
    );
    // A value that is none of the declared type stays what it is; a folder without a name is in the one around it.
    assert_eq!(
        clay.values,
        [text("Clay"), text("Soil"), text("low"), Value::Missing]
    );
    let Geometry::Polygons(polygons) = &clay_loam.geometry else {
        panic!()
    };
    let [Polygon { exterior, holes }] = polygons.as_slice() else {
        panic!()
    };
    assert_eq!(exterior[2], [2.51, 54.81]);
    assert_eq!(holes[0][1], [2.506, 54.801]);
    let codes: Vec<&str> = soil.findings.iter().map(|finding| &*finding.code).collect();
    assert_eq!(
        codes,
        [
            "read.kml_links",
            "read.kml_pictures",
            "read.kml_no_geometry",
            "read.heights_dropped"
        ]
    );

    let points = read(&path, Some("points")).unwrap();
    assert_eq!(
        points.attributes,
        ["name", "folder", "description", "ph", "wet"]
    );
    let names: Vec<&str> = points
        .features
        .iter()
        .map(|one| one.name.as_str())
        .collect();
    assert_eq!(names, ["Clay & loam", "Gate (2)", "Gate (3)"]);
    assert_eq!(points.features[2].values[2], text("<b>north</b>"));
    let lines = read(&path, Some("lines")).unwrap();
    let track = vec![[2.5, 54.8], [2.6, 54.8]];
    assert_eq!(lines.features[0].geometry, Geometry::Lines(vec![track]));
    assert_eq!(lines.attributes, [""; 0]);
}

#[test]
fn all_files_of_an_archive_are_read() {
    let main = "<kml><NetworkLink><Link><href>./parts/a.kml</href></Link></NetworkLink>\
        <NetworkLink><Link><href>https://example.org/b.kml</href></Link></NetworkLink></kml>";
    let part = "<kml><Placemark><Point><coordinates>1,2</coordinates></Point></Placemark></kml>";
    let (_folder, path) = packed(&[
        ("doc.kml", main),
        ("parts/a.kml", part),
        ("files/icon.png", ""),
    ]);
    let layer = crate::read::read(&path, None).unwrap();
    assert_eq!(layer.features.len(), 1);
    let [link] = layer.findings.as_slice() else {
        panic!("{:?}", layer.findings)
    };
    assert!(link.message.starts_with("1 links"), "{}", link.message);
    let (_folder, path) = packed(&[("doc.kml", main), ("parts/a.kml", "<kml>")]);
    let fault = crate::read::read(&path, None).unwrap_err();
    assert_eq!(fault.place.layer.as_deref(), Some("parts/a.kml"));
    // With a Shapefile beside it, it is the Shapefile that is meant.
    let (_folder, path) = packed(&[("doc.kml", main), ("a.shp", "")]);
    assert!(!is_packed(&path).unwrap());
}

#[test]
fn what_is_not_plain_is_asked_or_refused_with_its_line() {
    let (_folder, path) = written(FILE);
    assert_eq!(read(&path, None).unwrap_err().code, "read.several_tables");
    let fault = read(&path, Some("polygon")).unwrap_err();
    assert!(fault.next.contains("'polygons'"), "{fault}");
    for (from, to, line, said) in [
        ("2.51,54.81 2.5,54.8", "2.51, 54.81", 9, "'2.51,'"),
        ("3,54,7 ", "3,94,7 ", 13, "'3,94,7'"),
        ("2.6 54.8 3", "2.6", 17, "'2.6'"),
        ("innerBoundaryIs", "outerBoundaryIs", 10, "two outer rings"),
        ("<name>Gate", "<name>&nbsp;", 15, "nbsp"),
        ("</Document></kml>", "", 21, "inside the element 'Document'"),
        ("kml", "gpx", 2, "'gpx'"),
    ] {
        let (_folder, path) = written(&FILE.replace(from, to));
        let fault = read(&path, Some("polygons")).unwrap_err();
        assert_eq!(fault.place.line, Some(line), "{fault}");
        assert!(fault.found.contains(said), "{said}: {fault}");
    }
    let (_folder, path) = written("<kml><Placemark/></kml>");
    assert_eq!(read(&path, None).unwrap_err().code, "read.nothing_inside");
}

#[test]
fn a_table_of_empty_cells_does_not_fill_the_memory() {
    let placemark = |nth: usize| {
        format!(
            "<Placemark><ExtendedData><Data name='{nth}'><value>1</value></Data></ExtendedData><Point><coordinates>1,2</coordinates></Point></Placemark>"
        )
    };
    let all: String = (0..4000).map(placemark).collect();
    let (_folder, path) = written(&format!("<kml>{all}</kml>"));
    assert_eq!(read(&path, None).unwrap_err().code, "read.kml_wide");
}
