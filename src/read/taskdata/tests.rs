use super::*;
use crate::codec::taskdata::{LogColumn, LogRecord, encode_log};
use std::fs;
use std::io::Write;

const XML: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<ISO11783_TaskData VersionMajor="3" VersionMinor="3" foo="bar" DataTransferOrigin="1">
  <XFR A="PDT00001" B="1"/>
  <XFR A="../x" B="1"/>
  <PFD A="PFD1" C="North" D="20000">
    <PLN A="1">
      <LSG A="1"><PNT A="2" C="50" D="8"/><PNT A="2" C="50" D="8.006"/><PNT A="2" C="50.002" D="8.006"/><PNT A="2" C="50.002" D="8"/></LSG>
      <LSG A="2"><PNT A="2" C="50.0005" D="8.001"/><PNT A="2" C="50.0005" D="8.002"/><PNT A="2" C="50.001" D="8.001"/></LSG>
      <LSG A="1"><PNT A="2" C="51" D="8"/><PNT A="2" C="51" D="8.006"/><PNT A="2" C="51.002" D="8.006"/><PNT A="" C="" D=""/></LSG>
    </PLN>
    <LSG A="5" B="main"><PNT A="2" C="50" D="8"/><PNT A="2" C="50" D="8.006"/></LSG>
  </PFD>
  <TSK A="TSK1" B="two" E="PFD1" G="1" H="2" J="9">
    <TZN A="1"><PDV A="0006" B="0" C="PDT1"/><PDV A="000b" B="0" C="PDT2"/></TZN>
    <TZN A="2"><PDV A="0006" B="9000" C="PDT1"/><PDV A="000B" B="300000" C="PDT2"/></TZN>
    <GRD A="50" B="8" C="1E-3" D="0.002" E="3" F="2" G="GRD00001" H="48" I="2" J="1"/>
  </TSK>
</ISO11783_TaskData>"#;

fn cells() -> Vec<u8> {
    [
        1101, 1102, 1201, 1202, 1301, 1302, 2101, 2102, 2201, 2202, 2301, 2302,
    ]
    .iter()
    .flat_map(|value: &i32| value.to_le_bytes())
    .collect()
}

fn folder(xml: &str, grid: Option<&[u8]>) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("taskdata");
    fs::create_dir(&inner).unwrap();
    fs::write(inner.join("TaskData.xml"), xml).unwrap();
    fs::write(
        inner.join("pdt00001.xml"),
        "<XFC><PDT A='PDT1' B='Oats'/></XFC>",
    )
    .unwrap();
    if let Some(grid) = grid {
        fs::write(inner.join("grd00001.Bin"), grid).unwrap();
    }
    folder
}

#[test]
fn a_version_3_set_in_any_case_is_read() {
    let folder = folder(XML, Some(&cells()));
    let set = read(folder.path()).unwrap();
    assert_eq!(set.version, "3.3");
    assert_eq!(set.products, [("PDT1".to_string(), "Oats".to_string())]);
    let field = &set.partfields[0];
    assert_eq!(field.boundary.len(), 2, "two exteriors in one element");
    assert_eq!(field.boundary[0].holes.len(), 1);
    assert_eq!(field.guidance[0].name, "main");
    let grid = set.tasks[0].grid.as_ref().unwrap();
    // Order as independent libraries read it: south-west first, products inside each cell.
    assert_eq!(grid.raw[0][..2], [Some(1101), Some(1201)]);
    assert_eq!(grid.raw[1][3], Some(2102));
    let said: Vec<&str> = set.findings.iter().map(|f| f.message.as_str()).collect();
    for part in [
        "many terminals look",
        "no proper name",
        "zone 9",
        "1 points",
    ] {
        assert!(
            said.iter().any(|line| line.contains(part)),
            "{part}: {said:?}"
        );
    }
}

#[test]
fn a_binary_that_does_not_fit_is_said() {
    for (grid, part) in [
        (None, "not there"),
        (
            Some(&cells()[..40]),
            "cut off: 3 x 2 cells need 48 bytes, it has 40 (5 whole cells)",
        ),
    ] {
        let folder = folder(XML, grid);
        let set = read(folder.path()).unwrap();
        let grid = set.tasks[0].grid.as_ref().unwrap();
        assert!(grid.broken.as_ref().unwrap().contains(part), "{grid:?}");
        assert!(grid.raw.is_empty());
    }
    let huge = XML.replace("E=\"3\" F=\"2\"", "E=\"4294967295\" F=\"4294967295\"");
    let folder = folder(&huge, Some(&cells()));
    let set = read(folder.path()).unwrap();
    assert!(set.tasks[0].grid.as_ref().unwrap().broken.is_some());
}

#[test]
fn codes_stand_for_the_values_of_their_zones() {
    let xml = XML.replace("H=\"48\" I=\"2\" J=\"1\"", "H=\"6\" I=\"1\"");
    let folder = folder(&xml, Some(&[1, 2, 2, 1, 7, 2]));
    let set = read(folder.path()).unwrap();
    let grid = set.tasks[0].grid.as_ref().unwrap();
    let wanted = [0, 9000, 9000, 0, -1, 9000].map(|v| (v >= 0).then_some(v));
    assert_eq!(grid.raw[0], wanted, "a code without a zone has no value");
}

#[test]
fn a_zip_file_is_read_and_no_damaged_one_breaks_it() {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    for (name, bytes) in [
        ("x/TASKDATA/._TASKDATA.XML", b"junk".to_vec()),
        ("x/TASKDATA/TASKDATA.XML", XML.as_bytes().to_vec()),
        ("x/TASKDATA/GRD00001.BIN", cells()),
    ] {
        zip.start_file(name, options).unwrap();
        zip.write_all(&bytes).unwrap();
    }
    let bytes = zip.finish().unwrap().into_inner();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("set.zip");
    fs::write(&path, &bytes).unwrap();
    let set = read(&path).unwrap();
    assert_eq!(set.tasks[0].grid.as_ref().unwrap().raw[1].len(), 6);
    for cut in (0..bytes.len()).step_by(7) {
        fs::write(&path, &bytes[..cut]).unwrap();
        let _ = read(&path);
        let mut damaged = bytes.clone();
        damaged[cut] ^= 0x55;
        fs::write(&path, &damaged).unwrap();
        let _ = read(&path);
    }
}

#[test]
fn what_is_no_task_data_is_one_clear_error() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(read(folder.path()).unwrap_err().code, "read.no_task_data");
    let main = folder.path().join("TASKDATA.XML");
    fs::write(&main, "<A/>").unwrap();
    assert_eq!(read(&main).unwrap_err().code, "read.no_task_data");
    fs::write(&main, "<A>").unwrap();
    assert_eq!(read(&main).unwrap_err().code, "read.task_data_xml");
}

#[test]
fn a_set_is_read_as_layers() {
    let folder = folder(XML, Some(&cells()));
    let open = |table: &str| crate::read::read(folder.path(), Some(table)).unwrap();
    let tables = crate::read::tables(folder.path()).unwrap();
    let names: Vec<&str> = tables.iter().filter_map(|t| t.name.as_deref()).collect();
    assert_eq!(names, ["boundary", "guidance", "grid"]);
    let field = crate::read::read(folder.path(), None).unwrap();
    assert_eq!(field.table.as_deref(), Some("boundary"));
    assert_eq!(field.features[0].values[0].to_string(), "North");
    assert_eq!(open("guidance").features.len(), 1);
    let grid = open("grid");
    assert_eq!(
        grid.attributes[3..],
        ["Oats_kg_per_ha", "PDT2_seeds_per_m2"]
    );
    assert_eq!(grid.features.len(), 6, "six different cells");
    let first = &grid.features[0];
    assert_eq!(
        first.values[3..],
        [
            crate::read::Value::Number(11.01),
            crate::read::Value::Number(1.102)
        ]
    );
    let fault = crate::read::read(folder.path(), Some("log")).unwrap_err();
    assert_eq!(fault.code, "read.no_table");
    assert!(fault.allowed.contains("'guidance'"), "{fault}");
}

#[test]
fn a_grid_is_read_as_a_raster_south_first() {
    let folder = folder(XML, Some(&cells()));
    let source = crate::job::Source {
        file: folder.path().to_path_buf(),
        table: Some("grid".to_string()),
        ..Default::default()
    };
    assert!(crate::read::Raster::meant(&source, Path::new("")));
    let raster = crate::read::Raster::open(&source, Path::new("")).unwrap();
    assert_eq!((raster.columns, raster.rows, raster.bands), (3, 2, 2));
    let window = crate::read::Window {
        column: 1,
        row: 1,
        columns: 2,
        rows: 1,
    };
    assert_eq!(raster.pixels(1, window).unwrap().values, [22.01, 23.01]);
    assert_eq!(raster.at([0.0, 0.0]), [8.0, 50.0]);
}

#[test]
fn equal_cells_are_one_piece() {
    let same: Vec<u8> = [5, 5, 5, 5, 7, 7]
        .iter()
        .flat_map(|v: &i32| [v.to_le_bytes(), v.to_le_bytes()].concat())
        .collect();
    let folder = folder(XML, Some(&same));
    let grid = crate::read::read(folder.path(), Some("grid")).unwrap();
    // 5 5 5 below, 5 7 7 above: the whole row, one cell, two cells.
    assert_eq!(grid.features.len(), 3);
}

#[test]
fn values_for_columns_that_a_log_does_not_name_are_told() {
    let xml = XML.replace("<GRD ", r#"<TLG A="TLG00001" C="1"/><GRD "#);
    let folder = folder(&xml, Some(&cells()));
    let columns = [LogColumn {
        ddi: Some(1),
        element: None,
        constant: None,
    }];
    let record = LogRecord {
        day: 1,
        millisecond: 0,
        lon_lat: Some(crate::coordinates::LonLat::new(8.0, 50.0)),
        status: Some(1),
        values: vec![(0, 5), (1, 6), (7, 6)],
    };
    let (header, records) = encode_log(&columns, &[record]);
    let inner = folder.path().join("taskdata");
    fs::write(inner.join("TLG00001.XML"), header.document().unwrap()).unwrap();
    fs::write(inner.join("TLG00001.BIN"), records).unwrap();
    let set = read(folder.path()).unwrap();
    let told = "has 2 values for columns that its header does not name";
    let mut findings = set.findings.iter();
    assert!(findings.any(|finding| finding.message.contains(told)));
}
