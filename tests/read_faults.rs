//! What bad input gets: one clear fault, never a crash.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::findings::{Blame, Fault};
use twinsow::job::Source;
use twinsow::read::{open, read, tables};

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("testdata/read")
        .join(name)
}

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    }

    fn copy(&self, from: &str, to: &str) -> PathBuf {
        self.write(to, fs::read(testdata(from)).unwrap())
    }

    fn files(&self) -> usize {
        fs::read_dir(self.0.path()).unwrap().count()
    }
}

fn fault(path: &Path) -> Fault {
    *read(path, None).unwrap_err()
}

#[test]
fn files_that_are_none() {
    let folder = Folder::new();
    assert_eq!(fault(folder.0.path()).code, "read.folder");
    for name in ["a.shp", "a.gpkg", "a.geojson", "a.zip", "a.txt"] {
        let fault = fault(&folder.write(name, ""));
        assert_eq!(
            (fault.code, fault.blame),
            ("read.zero_bytes", Blame::Input),
            "{name}"
        );
    }
    let fault = fault(&folder.0.path().join("a.gpgk"));
    assert_eq!(fault.code, "read.missing");
    assert!(fault.next.contains("a.gpkg"), "{fault}");
}

#[test]
fn unknown_and_wrong_formats() {
    let folder = Folder::new();
    let text = "neither this nor that";
    for (name, code) in [
        ("a.txt", "read.unknown_format"),
        ("a.shp", "read.truncated"),
        ("a.gpkg", "read.not_geopackage"),
        ("a.geojson", "read.geojson"),
        ("a.zip", "read.zip"),
        ("a.dbf", "read.part_of_shapefile"),
    ] {
        assert_eq!(fault(&folder.write(name, text)).code, code, "{name}");
    }
    for name in ["a.xls", "locked.xlsx", "a.csv"] {
        let old = folder.write(name, b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1\0\0");
        let fault = fault(&old);
        assert_eq!(fault.code, "read.old_workbook", "{name}");
        assert!(fault.next.contains(".xlsx"), "{fault}");
    }
    let fault = fault(&folder.write("b.shp", "x".repeat(200)));
    assert_eq!(fault.code, "read.not_shapefile");
    // Content counts more than the name, and that is said.
    let layer = read(&folder.copy("rfc7946.geojson", "c.gpkg"), None).unwrap();
    assert_eq!(layer.format, "GeoJSON");
    assert_eq!(layer.findings[0].code, "read.other_extension");
}

#[test]
fn a_side_file_of_a_shapefile_names_the_shp() {
    let fault = fault(&testdata("polygons.dbf"));
    assert_eq!(fault.code, "read.part_of_shapefile");
    assert!(fault.next.contains("polygons.shp"), "{fault}");
    assert_eq!(
        self::fault(&testdata("polygons.shx")).code,
        "read.part_of_shapefile"
    );
}

#[test]
fn side_files_may_be_missing_or_wrong() {
    let folder = Folder::new();
    let shp = folder.copy("polygons.shp", "Field.SHP");
    let codes = || -> Vec<_> {
        read(&shp, None)
            .unwrap()
            .findings
            .into_iter()
            .map(|finding| finding.code)
            .collect()
    };
    assert_eq!(codes(), ["read.no_crs", "read.no_attributes"]);
    folder.copy("polygons.dbf", "Field.Dbf");
    folder.copy("polygons.prj", "Field.PRJ");
    // Nothing says the code page now; the texts are valid UTF-8.
    assert_eq!(codes(), ["read.code_page"]);
    folder.write("Field.cpg", "UTF-8\r\n");
    assert!(codes().is_empty());
    folder.copy("points.shx", "Field.shx");
    assert_eq!(codes(), ["read.bad_index"]);
    folder.copy("points.dbf", "Field.Dbf");
    assert_eq!(fault(&shp).code, "read.count_mismatch");
}

#[test]
fn truncated_parts_name_the_record() {
    let folder = Folder::new();
    let whole = fs::read(testdata("polygons.shp")).unwrap();
    let shp = folder.write("a.shp", &whole[..600]);
    let fault = fault(&shp);
    assert_eq!(
        (fault.code, fault.place.feature.as_deref()),
        ("read.truncated", Some("2"))
    );
    folder.write("a.shp", &whole);
    let rows = fs::read(testdata("polygons.dbf")).unwrap();
    folder.write("a.dbf", &rows[..rows.len() - 10]);
    let fault = self::fault(&shp);
    assert_eq!(
        (fault.code, fault.place.feature.as_deref()),
        ("read.truncated", Some("3"))
    );
}

#[test]
fn databases_that_are_no_geopackage() {
    let folder = Folder::new();
    let path = folder.0.path().join("other.gpkg");
    let db = rusqlite::Connection::open(&path).unwrap();
    db.execute_batch("CREATE TABLE stock (item TEXT)").unwrap();
    drop(db);
    let fault = fault(&path);
    assert_eq!(fault.code, "read.not_geopackage");
    assert!(fault.found.contains("gpkg_contents"), "{fault}");
    let whole = fs::read(testdata("layers.gpkg")).unwrap();
    let cut = folder.write("cut.gpkg", &whole[..whole.len() / 3]);
    assert!(read(&cut, Some("soil")).is_err());
}

#[test]
fn geopackage_tables_have_to_be_named_where_there_are_several() {
    let fault = fault(&testdata("layers.gpkg"));
    assert_eq!(fault.code, "read.several_tables");
    assert!(fault.allowed.contains("'soil'"), "{fault}");
    let fault = read(&testdata("layers.gpkg"), Some("soils")).unwrap_err();
    assert_eq!(fault.code, "read.no_such_table");
    assert!(fault.next.contains("'soil'"), "{fault}");
    assert!(read(&testdata("layers.gpkg"), Some("SOIL")).is_ok());
    assert_eq!(
        read(&testdata("polygons.shp"), Some("a")).unwrap_err().code,
        "read.no_tables"
    );
}

#[test]
fn nothing_is_made_beside_a_geopackage_of_any_name() {
    let folder = Folder::new();
    let path = folder.copy("layers.gpkg", "north field #1 100% å & b.gpkg");
    // In write-ahead mode an ordinary reader would make two files beside it.
    let db = rusqlite::Connection::open(&path).unwrap();
    db.query_row("PRAGMA journal_mode = WAL", [], |_| Ok(()))
        .unwrap();
    drop(db);
    assert_eq!(folder.files(), 1);
    let before = fs::read(&path).unwrap();
    assert_eq!(read(&path, Some("soil")).unwrap().features.len(), 3);
    assert_eq!(tables(&path).unwrap().len(), 6);
    assert_eq!(folder.files(), 1);
    assert_eq!(fs::read(&path).unwrap(), before);
    folder.write("north field #1 100% å & b.gpkg-wal", "x");
    assert_eq!(fault(&path).code, "read.pending_changes");
}

#[test]
fn a_geometry_of_an_odd_kind_names_type_and_feature() {
    let folder = Folder::new();
    let path = folder.copy("layers.gpkg", "a.gpkg");
    let change = |blob: &str| {
        let db = rusqlite::Connection::open(&path).unwrap();
        // The triggers of other programs call functions that plain SQLite does not have.
        let query = format!("UPDATE points SET geom = x'{blob}' WHERE fid = 2");
        assert_eq!(db.execute(&query, []).unwrap(), 1);
        drop(db);
        *read(&path, Some("points")).unwrap_err()
    };
    // A POLYHEDRALSURFACE without parts, and a CIRCULARSTRING with one arc, in EPSG:25832.
    let fault = change("47500001E8640000010F00000000000000");
    assert_eq!(
        (fault.code, fault.place.feature.as_deref()),
        ("read.geometry_type", Some("2"))
    );
    assert!(fault.found.contains("PolyhedralSurface"), "{fault}");
    let fault = change(
        "47500001E864000001080000000300000000000000000000000000000000000000000000000000F03F000000000000F03F00000000000000400000000000000000",
    );
    assert_eq!(
        (fault.code, fault.place.feature.as_deref()),
        ("read.arc", Some("2"))
    );
    // A point in EPSG:4326 in a table of EPSG:25832.
    let fault = change("47500001E61000000101000000000000000000F03F0000000000000040");
    assert!(fault.found.contains("4326"), "{fault}");
    // POINT (inf 2).
    let fault = change("47500001E86400000101000000000000000000F07F0000000000000040");
    assert_eq!(
        (fault.code, fault.place.feature.as_deref()),
        ("read.not_finite", Some("2"))
    );
    let fault = change("00");
    assert!(fault.found.contains("header"), "{fault}");
}

fn source(file: &str, only: &[(&str, &str)]) -> Source {
    let pair = |(name, value): &(&str, &str)| (name.to_string(), value.to_string());
    let only: BTreeMap<String, String> = only.iter().map(pair).collect();
    Source {
        file: file.into(),
        only,
        ..Source::default()
    }
}

#[test]
fn only_keeps_what_has_the_value() {
    let folder = testdata("");
    let kept = |only: &[(&str, &str)]| open(&source("polygons.shp", only), &folder);
    let layer = kept(&[("area_no", "-7")]).unwrap();
    assert_eq!(layer.features.len(), 1);
    assert_eq!(layer.features[0].name, "2");
    assert_eq!(
        kept(&[("area_no", "12"), ("name", "Grøde")])
            .unwrap()
            .features
            .len(),
        1
    );
    assert_eq!(kept(&[]).unwrap().features.len(), 3);
    let fault = kept(&[("area_num", "12")]).unwrap_err();
    assert_eq!(fault.code, "read.unknown_attribute");
    assert!(fault.allowed.contains("'name', 'area_no', 'ph'"), "{fault}");
    assert!(fault.next.contains("'area_no'"), "{fault}");
    assert_eq!(
        kept(&[("area_no", "2")]).unwrap_err().code,
        "read.nothing_left"
    );
    let fault = kept(&[("name", "Grode")]).unwrap_err();
    assert_eq!(fault.code, "read.nothing_left");
    assert!(fault.allowed.contains("'Grøde', 'Mühle'"), "{fault}");
    let mut gpkg = source("layers.gpkg", &[("fid", "3")]);
    gpkg.table = Some("soil".into());
    assert_eq!(open(&gpkg, &folder).unwrap().features[0].name, "3");
}

#[test]
fn projected_coordinates_without_a_crs_are_refused_unless_the_job_names_one() {
    let folder = Folder::new();
    folder.write(
        "a.geojson",
        r#"{"type": "Feature", "id": "n1", "properties": {}, "geometry":
            {"type": "Point", "coordinates": [500000, 6100000]}}"#,
    );
    let mut source = source("a.geojson", &[]);
    let fault = open(&source, folder.0.path()).unwrap_err();
    assert_eq!(
        (fault.code, fault.place.feature.as_deref()),
        ("read.not_degrees", Some("n1"))
    );
    assert!(fault.next.contains("crs = \"EPSG:"), "{fault}");
    source.crs = Some("EPSG:25832".into());
    assert!(open(&source, folder.0.path()).is_ok());
}
