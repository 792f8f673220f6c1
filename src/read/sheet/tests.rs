use super::*;
use crate::job::Source;
use crate::read::{DeclaredCrs, Geometry, Layer, Value, open, read, tables};
use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
use zip::write::SimpleFileOptions;

thread_local! {
    /// How often a workbook was gone through.
    pub(super) static UNPACKED: std::cell::Cell<usize> = const { std::cell::Cell::new(0) };
}

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("testdata/sheet")
        .join(name)
}

fn packed(name: &str, files: &[(&str, &str)]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    let mut zip = zip::ZipWriter::new(File::create(&path).unwrap());
    for (name, text) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap();
    (folder, path)
}

/// A workbook of one sheet with these rows.
fn xlsx(rows: &str) -> (tempfile::TempDir, PathBuf) {
    let linked = |kind: &str, target: &str, id: &str| {
        format!("<Relationship Id=\"{id}\" Type=\"x/{kind}\" Target=\"{target}\"/>")
    };
    packed(
        "a.xlsx",
        &[
            ("[Content_Types].xml", "<Types/>"),
            (
                "_rels/.rels",
                &format!(
                    "<R>{}</R>",
                    linked("officeDocument", "xl/workbook.xml", "r")
                ),
            ),
            (
                "xl/workbook.xml",
                "<workbook xmlns:r='r'><sheets><sheet name='One' sheetId='7' r:id='r1'/></sheets></workbook>",
            ),
            (
                "xl/_rels/workbook.xml.rels",
                &format!("<R>{}</R>", linked("worksheet", "worksheets/s.xml", "r1")),
            ),
            (
                "xl/worksheets/s.xml",
                &format!("<worksheet>\n<sheetData>{rows}</sheetData></worksheet>"),
            ),
        ],
    )
}

/// The same in OpenDocument.
fn ods(rows: &str) -> (tempfile::TempDir, PathBuf) {
    packed(
        "a.ods",
        &[
            ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
            (
                "content.xml",
                &format!(
                    "<document-content><body>\n<table:table xmlns:table='t' table:name='One'>{rows}</table:table></body></document-content>"
                ),
            ),
        ],
    )
}

fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn codes(layer: &Layer) -> Vec<&str> {
    layer.findings.iter().map(|of| of.code.as_ref()).collect()
}

#[test]
fn samples_of_two_makers_are_the_same() {
    for (name, sheet) in [("samples.xlsx", "Samples"), ("samples.ods", "Proben")] {
        let path = testdata(name);
        let layer = read(&path, None).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(layer.table.as_deref(), Some(sheet));
        assert_eq!(layer.crs, DeclaredCrs::Text("OGC:CRS84".into()));
        assert_eq!(
            layer.attributes,
            ["lon", "lat", "P", "K", "day", "sampled", "remark"]
        );
        assert_eq!(layer.features[0].name, "line 4");
        assert_eq!(
            layer.features[0].geometry,
            Geometry::Points(vec![[10.465, 52.341]])
        );
        let day = || text("2026-03-20");
        let wanted = [
            Value::Number(5.6),
            Value::Number(12.5),
            day(),
            text("2026-03-20T06:30:00"),
            text("north & <headland>"),
        ];
        assert_eq!(layer.features[0].values[2..], wanted, "{name}");
        let wanted = [
            Value::Number(6.25),
            Value::Missing,
            day(),
            text("2026-03-20T06:30:00"),
            Value::Missing,
        ];
        assert_eq!(layer.features[1].values[2..], wanted, "{name}");
        let wanted = [
            Value::Missing,
            Value::Missing,
            day(),
            Value::Missing,
            text("Grøde"),
        ];
        assert_eq!(layer.features[2].values[2..], wanted, "{name}");
        let told = [
            "read.sheet_title",
            "read.sheet_error",
            "read.decimal_comma",
            "read.no_coordinate",
            "read.csv_columns",
        ];
        assert_eq!(codes(&layer), told, "{name}");
        let error = &layer.findings[1];
        assert!(
            error.message.contains("D6 first (#N/A)"),
            "{}",
            error.message
        );
    }
    let layer = read(&testdata("samples.ods"), None).unwrap();
    assert_eq!(layer.features.len(), 5, "two rows are repeated");
    assert_eq!(layer.features[3].values, layer.features[4].values);
    let wanted = [
        Value::Number(8.5),
        Value::Number(8.5),
        Value::Missing,
        Value::Missing,
        text("two pieces of text"),
    ];
    assert_eq!(layer.features[3].values[2..], wanted);
}

#[test]
fn sheets_are_listed_and_named() {
    let two = testdata("two.xlsx");
    let listed = tables(&two).unwrap();
    let names: Vec<&str> = listed.iter().filter_map(|of| of.name.as_deref()).collect();
    assert_eq!(names, ["Samples", "Yield"], "remarks are no table");
    let fault = read(&two, None).unwrap_err();
    assert_eq!(fault.code, "read.several_tables");
    assert!(fault.allowed.contains("'Samples', 'Yield'"), "{fault}");
    let fault = read(&two, Some("Yeld")).unwrap_err();
    assert!(fault.next.contains("'Yield'"), "{fault}");
    let layer = read(&two, Some("Yield")).unwrap();
    assert_eq!(layer.features[0].values[2], Value::Number(7.25));
    assert_eq!(layer.features[1].values[2], text("true"));
    assert_eq!(layer.crs, DeclaredCrs::None);
    let columns = crate::read::csv_columns(&two, Some("Yield")).unwrap();
    assert_eq!(columns, ["x", "y", "t_per_ha"]);
}

#[test]
fn a_workbook_is_gone_through_once_for_all_its_sheets() {
    let two = testdata("two.xlsx");
    let gone_through = |list: &dyn Fn()| {
        let before = UNPACKED.get();
        list();
        UNPACKED.get() - before
    };
    assert!(tables(&two).unwrap().len() > 1);
    assert_eq!(gone_through(&|| drop(tables(&two))), 1);
    let polygons = || drop(crate::read::polygon_layers(&two));
    assert_eq!(gone_through(&polygons), 1);
}

#[test]
fn a_cell_that_is_no_coordinate_is_named_as_the_spreadsheet_names_it() {
    let cell = |name: &str, text: &str| format!("<c r='{name}' t='str'><v>{text}</v></c>");
    let row = |number: usize, cells: [&str; 2]| {
        let [x, y] = cells;
        let cells = cell(&format!("B{number}"), x) + &cell(&format!("D{number}"), y);
        format!("<row r='{number}'>{cells}</row>")
    };
    let (_folder, path) =
        xlsx(&(row(1, ["x", "y"]) + &row(2, ["1", "2"]) + &row(5, ["3", "four"])));
    let fault = read(&path, None).unwrap_err();
    assert!(fault.found.contains("'four' in the cell D5"), "{fault}");
    assert!(fault.next.contains("spreadsheet program"), "{fault}");
    let place = (fault.place.layer.as_deref(), fault.place.line);
    assert_eq!(place, (Some("One"), Some(5)), "{fault}");
    let (_folder, path) = xlsx(&(row(1, ["x", "y"]) + &row(2, ["1", ""])));
    let fault = read(&path, None).unwrap_err();
    assert!(fault.found.contains("no row with coordinates"), "{fault}");
    assert!(fault.next.contains("spreadsheet program"), "{fault}");
}

#[test]
fn formulas_give_what_was_worked_out() {
    let layer = read(&testdata("formulas.xlsx"), None).unwrap();
    let wanted = [Value::Integer(150), text("sandy loam"), text("2026-03-20")];
    assert_eq!(layer.features[0].values[2..], wanted);
    assert_eq!(
        layer.features[1].geometry,
        Geometry::Points(vec![[600_010.5, 5_800_010.25]])
    );
    assert_eq!(layer.features[1].values[2], Value::Missing);
    assert!(codes(&layer).contains(&"read.sheet_error"));
    let fault = read(&testdata("not_worked_out.xlsx"), None).unwrap_err();
    assert!(
        fault.found.contains("C2") && fault.next.contains("calculate"),
        "{fault}"
    );
    assert_eq!(fault.place.line, Some(2));
    for name in ["gdal.xlsx", "gdal.ods"] {
        let layer = read(&testdata(name), None).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(
            layer.features[0].geometry,
            Geometry::Points(vec![[600_000.5, 5_800_000.25]])
        );
        assert_eq!(layer.features[1].values[3], text("loam"));
    }
}

#[test]
fn columns_without_a_name_and_commas_are_asked_about() {
    let cell =
        |at: &str, text: &str| format!("<c r='{at}' t='inlineStr'><is><t>{text}</t></is></c>");
    let head = format!("<row r='1'>{}{}</row>", cell("A1", "x"), cell("B1", "y"));
    let row =
        |more: &str| format!("<row r='2'><c r='A2'><v>1</v></c><c r='B2'><v>2</v></c>{more}</row>");
    let (_folder, path) = xlsx(&format!("{head}{}", row("<c r='C2'><v>3</v></c>")));
    let fault = read(&path, None).unwrap_err();
    assert!(
        fault.found.contains("C2") && fault.next.contains("C1"),
        "{fault}"
    );
    let merged = format!(
        "{head}{}</sheetData><mergeCells><mergeCell ref='B1:C1'/></mergeCells><sheetData>",
        row("<c r='C2'><v>3</v></c>")
    );
    let (_folder, path) = xlsx(&merged);
    assert!(read(&path, None).unwrap_err().found.contains("B1:C1"));
    // What is meant by this comma is asked, as in CSV, and answered in the job.
    let head = head.replace("</row>", &format!("{}</row>", cell("C1", "P")));
    let (_folder, path) = xlsx(&format!("{head}{}", row(&cell("C2", "1,234"))));
    assert!(
        read(&path, None)
            .unwrap_err()
            .next
            .contains("decimal_comma")
    );
    let source = Source {
        file: path,
        decimal_comma: Some(true),
        ..Source::default()
    };
    assert_eq!(
        open(&source, Path::new("")).unwrap().features[0].values[2],
        Value::Number(1.234)
    );
}

#[test]
fn what_is_damaged_or_asks_for_too_much_is_refused() {
    for (rows, said) in [
        ("<row r='2'/><row r='1'/>", "no number"),
        (
            "<row r='1'><c r='B1'><v>1</v></c><c r='A1'><v>1</v></c></row>",
            "'A1'",
        ),
        ("<row r='1'><c r='A2'><v>1</v></c></row>", "'A2'"),
        ("<row r='1'><c t='s'><v>0</v></c></row>", "number '0'"),
        ("<row r='1'><c><v>nan</v></c></row>", "'nan'"),
        ("<row r='1'><c t='q'><v>1</v></c></row>", "'q'"),
        ("<row r='1'>", "row"),
    ] {
        let (_folder, path) = xlsx(rows);
        let fault = read(&path, None).unwrap_err();
        assert_eq!(fault.code, "read.not_sheet", "{fault}");
        assert!(
            fault.place.line.is_some() && fault.place.layer.is_some(),
            "{fault}"
        );
        assert!(fault.found.contains(said), "{said}: {fault}");
    }
    let filled = "<table:table-row table:number-rows-repeated='100000000'><table:table-cell table:number-columns-repeated='16384' office:value-type='float' office:value='1' xmlns:office='o'/></table:table-row>";
    let (_folder, path) = ods(filled);
    assert_eq!(read(&path, None).unwrap_err().code, "read.sheet_size");
    let (_folder, path) = ods(&filled.replace("'100000000'", "'0'"));
    assert_eq!(read(&path, None).unwrap_err().code, "read.not_sheet");
    // The last cell that there can be takes no more than any other.
    let wide = "<row r='1'><c r='A1' t='str'><v>x</v></c><c r='B1' t='str'><v>y</v></c></row><row r='1048576'><c r='XFD1048576'><v>1</v></c></row>";
    let (_folder, path) = xlsx(wide);
    assert!(read(&path, None).unwrap_err().found.contains("XFD1048576"));
    let (_folder, path) = xlsx("");
    assert_eq!(read(&path, None).unwrap_err().code, "read.nothing_inside");
    // A file that is cut, or of which bytes changed, is refused or read, and nothing else.
    let whole = std::fs::read(testdata("samples.xlsx")).unwrap();
    let (folder, _) = xlsx("");
    let path = folder.path().join("cut.xlsx");
    for length in (0..whole.len()).step_by(97) {
        std::fs::write(&path, &whole[..length]).unwrap();
        assert!(read(&path, None).is_err(), "{length}");
    }
}

/// A cell of .ods with these attributes and this text.
fn ods_cell(about: &str, text: &str) -> String {
    let text = match text {
        "" => String::new(),
        text => format!("<text:p>{text}</text:p>"),
    };
    format!("<table:table-cell {about}>{text}</table:table-cell>")
}

const ODS_HEAD: &str = "<table:table-row><table:table-cell><text:p>x</text:p></table:table-cell><table:table-cell><text:p>y</text:p></table:table-cell><table:table-cell><text:p>P</text:p></table:table-cell></table:table-row>";

/// A row of .ods at a place, and with this third cell.
fn ods_row(third: &str) -> String {
    let number = ods_cell("office:value-type='float' office:value='600000'", "600000");
    format!("<table:table-row>{number}{number}{third}</table:table-row>")
}

const XLSX_HEAD: &str = "<row r='1'><c r='A1' t='str'><v>x</v></c><c r='B1' t='str'><v>y</v></c><c r='C1' t='str'><v>P</v></c></row>";

fn xlsx_row(number: usize, third: &str) -> String {
    format!(
        "<row r='{number}'><c r='A{number}'><v>600000</v></c><c r='B{number}'><v>5</v></c>{third}</row>"
    )
}

#[test]
fn values_merged_over_several_rows_are_refused() {
    let merged = |range: &str| {
        format!(
            "{XLSX_HEAD}{}{}</sheetData><mergeCells><mergeCell ref='{range}'/></mergeCells><sheetData>",
            xlsx_row(2, "<c r='C2'><v>7</v></c>"),
            xlsx_row(3, "")
        )
    };
    for range in ["C2:C3", "B2:C2"] {
        let (_folder, path) = xlsx(&merged(range));
        let fault = read(&path, None).unwrap_err();
        assert!(fault.found.contains(range), "{fault}");
        assert_eq!(fault.place.layer.as_deref(), Some("One"), "{fault}");
    }
    // Beside the named columns, or over nothing, it harms none.
    for range in ["C2:D2", "C3:C4"] {
        let (_folder, path) = xlsx(&merged(range));
        assert_eq!(read(&path, None).unwrap().features.len(), 2, "{range}");
    }
    // What lies hidden under merged cells is no value: it would have no name here.
    let rows = merged("C2:D2").replace("<v>7</v></c>", "<v>7</v></c><c r='D2'><v>9</v></c>");
    let (_folder, path) = xlsx(&rows);
    assert_eq!(
        read(&path, None).unwrap().features[0].values[2],
        Value::Integer(7)
    );
    let hidden = "<table:covered-table-cell office:value-type='float' office:value='9'><text:p>9</text:p></table:covered-table-cell>";
    let (_folder, path) = ods(&format!("{ODS_HEAD}{}", ods_row(hidden)));
    assert_eq!(
        read(&path, None).unwrap().features[0].values[2],
        Value::Missing
    );
    let tall = ods_cell(
        "table:number-rows-spanned='2' office:value-type='float' office:value='9'",
        "9",
    );
    let (_folder, path) = ods(&format!("{ODS_HEAD}{}{}", ods_row(&tall), ods_row(hidden)));
    assert!(read(&path, None).unwrap_err().found.contains("C2:C3"));
}

#[test]
fn percentages_errors_and_times_of_ods_are_told() {
    let of = |about: &str, text: &str| {
        let (_folder, path) = ods(&format!("{ODS_HEAD}{}", ods_row(&ods_cell(about, text))));
        read(&path, None)
    };
    let layer = of(
        "office:value-type='percentage' office:value='0.025'",
        "2.5%",
    )
    .unwrap();
    assert_eq!(layer.features[0].values[2], Value::Number(0.025));
    assert!(codes(&layer).contains(&"read.sheet_percent"));
    for (about, error) in [
        ("office:value-type='float' office:value='0'", "#DIV/0!"),
        ("office:value-type='string' office:string-value=''", "#N/A"),
        (
            "office:value-type='string' office:string-value=''",
            "Err:502",
        ),
    ] {
        let layer = of(&format!("table:formula='of:=1' {about}"), error).unwrap();
        assert_eq!(layer.features[0].values[2], Value::Missing, "{error}");
        assert!(codes(&layer).contains(&"read.sheet_error"), "{error}");
    }
    // A number that was too wide to be shown is one all the same.
    let wide = of(
        "table:formula='of:=1' office:value-type='float' office:value='5'",
        "###",
    );
    assert_eq!(wide.unwrap().features[0].values[2], Value::Integer(5));
    for (time, wanted) in [
        ("PT06H30M00S", "06:30:00"),
        ("PT06H30M00,2000000S", "06:30:00.200"),
        ("PT36H00M00S", "36:00:00"),
    ] {
        let layer = of(
            &format!("office:value-type='time' office:time-value='{time}'"),
            "",
        );
        assert_eq!(layer.unwrap().features[0].values[2], text(wanted));
    }
    let date = of(
        "office:value-type='time' office:time-value='PT1109364H34M57S'",
        "",
    );
    assert!(date.unwrap_err().found.contains("shown as a time"));
}

#[test]
fn hidden_sheets_are_read_only_where_they_are_named() {
    let sheet = |name: &str, style: &str| {
        format!(
            "<table:table table:name='{name}' table:style-name='{style}'>{ODS_HEAD}{}</table:table>",
            ods_row("")
        )
    };
    let content = format!(
        "<document-content xmlns:table='t'><automatic-styles><style:style style:name='h' style:family='table'><style:table-properties table:display='false'/></style:style></automatic-styles><body>{}{}</body></document-content>",
        sheet("Old", "h"),
        sheet("New", "s")
    );
    let mimetype = ("mimetype", "application/vnd.oasis.opendocument.spreadsheet");
    let (_folder, path) = packed("a.ods", &[mimetype, ("content.xml", &content)]);
    let layer = read(&path, None).unwrap();
    assert_eq!(layer.table.as_deref(), Some("New"));
    assert!(!codes(&layer).contains(&"read.hidden_sheet"));
    let layer = read(&path, Some("Old")).unwrap();
    assert!(codes(&layer).contains(&"read.hidden_sheet"));
    // Locked by a newer program.
    let (_folder, path) = packed("a.ods", &[mimetype, ("encrypted-package", "x")]);
    let fault = read(&path, None).unwrap_err();
    assert!(fault.found.contains("password"), "{fault}");
}

#[test]
fn columns_have_letters() {
    for (column, name) in [
        (0, "A"),
        (25, "Z"),
        (26, "AA"),
        (701, "ZZ"),
        (702, "AAA"),
        (16_383, "XFD"),
    ] {
        assert_eq!(column_name(column), name);
    }
}
