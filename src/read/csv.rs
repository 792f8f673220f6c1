//! Points from a sheet of a workbook, or from one saved as text (CSV), or shapes written in words: separator, decimal comma and
//! encoding are recognised; what can be read in two ways is refused with a question.

mod comma;
mod of_sheet;
mod table;
#[cfg(test)]
mod tests;

use super::file::{self, closest, listed};
use super::gather::Gather;
use super::{DeclaredCrs, Feature, Geometry, Layer, Value, sheet};
use crate::codec::wkt;
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::Source;
use comma::{Comma, comma};
use encoding_rs::{Encoding, WINDOWS_1252};
use std::path::Path;
use table::Table;

/// Names of columns that hold x and y, in pairs, lower case. The first two are degrees.
const COORDINATES: [(&[&str], &[&str]); 2] = [
    (&["lon", "long", "longitude", "lng"], &["lat", "latitude"]),
    (
        &["x", "easting", "east", "e", "x_coord", "rechtswert"],
        &["y", "northing", "north", "n", "y_coord", "hochwert"],
    ),
];

/// Whether a file is a table: a workbook by what is in it, text by its name, for its content says nothing.
pub(super) fn is(path: &Path) -> Outcome<bool> {
    if !path.is_file() {
        return Ok(false);
    }
    if sheet::kind(path)?.is_some() {
        return Ok(true);
    }
    let named = path.extension().is_some_and(|end| {
        ["csv", "tsv"]
            .iter()
            .any(|own| end.eq_ignore_ascii_case(own))
    });
    if named {
        file::check(path)?;
        // A wrong ending of another format: that is told apart by its content.
        let head = file::head(path, 64)?;
        let binary = head.contains(&0) && Encoding::for_bom(&head).is_none();
        let first = head.iter().find(|byte| !byte.is_ascii_whitespace());
        return Ok(!binary && first != Some(&b'{') && !head.starts_with(b"PK"));
    }
    Ok(false)
}

/// Makes something of each sheet of a workbook that has something in it, by its name, or of a CSV file. The file is gone through once.
///
/// # Errors
/// A workbook that cannot be read; those of `make`.
pub(super) fn each<T>(
    source: &Source,
    mut make: impl FnMut(Option<&str>, Outcome<Layer>) -> Outcome<T>,
) -> Outcome<Vec<T>> {
    let path = &source.file;
    let Some(kind) = sheet::kind(path)? else {
        return Ok(vec![make(None, read(path, source))?]);
    };
    let sheets = sheet::sheets(path, kind, None)?;
    let own = sheets.iter();
    own.map(|sheet| {
        make(
            Some(sheet.name.as_str()),
            of_workbook(path, source, kind, sheet),
        )
    })
    .collect()
}

/// Reads the points of a table, or its polygons and lines where a column holds them as well-known text.
pub(super) fn read(path: &Path, source: &Source) -> Outcome<Layer> {
    if let Some(kind) = sheet::kind(path)? {
        let sheet = sheet::asked_for(path, kind, source.table.as_deref())?;
        return of_workbook(path, source, kind, &sheet);
    }
    if source.table.is_some() {
        return Err(fault(
            path,
            1,
            "A table is asked for, but a CSV file has no tables",
            "no `table` for this file",
            "Remove `table` from the job.",
        ));
    }
    let mut findings = Vec::new();
    let text = decoded(file::bytes(path)?, path, &mut findings);
    let separator = separator(&text).ok_or_else(|| {
        fault(
            path,
            1,
            "The first line has no separator that is known",
            "a line with the names of the columns, separated by ; , or tabs",
            "Save the sheet as CSV, with the names of the columns in the first line.",
        )
    })?;
    let table = Table::of(path, &text, separator)?;
    layer(path, source, "CSV", None, &table, Some(separator), findings)
}

/// The layer of a sheet. Its faults name it.
fn of_workbook(
    path: &Path,
    source: &Source,
    kind: sheet::Kind,
    sheet: &sheet::Sheet,
) -> Outcome<Layer> {
    let mut findings = Vec::new();
    let named = |mut fault: Box<Fault>| {
        fault.place.layer.get_or_insert_with(|| sheet.name.clone());
        fault
    };
    let table = of_sheet::table(path, sheet, &mut findings).map_err(named)?;
    if !kind.has_extension(path) {
        let format = kind.format();
        findings.push(Finding::note(
            "read.other_extension",
            Place::file(path),
            format!("By its content this is a {format}, and it was read as one."),
        ));
    }
    let name = Some(sheet.name.clone());
    layer(path, source, kind.format(), name, &table, None, findings).map_err(named)
}

/// The layer of a table; `separator` is what parts its columns, where that is a character.
fn layer(
    path: &Path,
    source: &Source,
    format: &'static str,
    name: Option<String>,
    table: &Table,
    separator: Option<u8>,
    mut findings: Vec<Finding>,
) -> Outcome<Layer> {
    let comma = match separator {
        // Between columns it is none in numbers.
        Some(b',') => Comma::Plain,
        _ => comma(table, source)?,
    };
    let comma = match source.decimal_comma {
        Some(false) => Comma::Thousands,
        _ => comma,
    };
    if comma == Comma::Decimal {
        findings.push(Finding::note(
            "read.decimal_comma",
            Place::file(path),
            "Numbers are written with a decimal comma and were read so.",
        ));
    }
    let drawn = match drawn_column(table, source)? {
        Some(column) => Drawn::Text(column),
        None => {
            let (x, y, degrees) = coordinates(path, &table.names, source)?;
            Drawn::Point { x, y, degrees }
        }
    };
    let place = || match &name {
        Some(name) => Place::file(path).layer(name.clone()),
        None => Place::file(path),
    };
    let mut gather = Gather::new(place());
    let mut features = Vec::new();
    let mut without = 0_usize;
    let mut srid = None;
    table.rows(|line, cells| {
        let cell = |at: usize| comma.plain(cells.get(at).unwrap_or_default());
        let name = format!("line {line}");
        let geometry = match drawn {
            Drawn::Point { x, y, .. } => {
                let [east, north] = [cell(x), cell(y)];
                if east.is_empty() || north.is_empty() {
                    without += 1;
                    return Ok(());
                }
                Geometry::Points(vec![[
                    coordinate(table, line, x, &east)?,
                    coordinate(table, line, y, &north)?,
                ]])
            }
            Drawn::Text(column) => {
                let written = cells.get(column).unwrap_or_default();
                if written.is_empty() {
                    without += 1;
                    return Ok(());
                }
                let read = geometry(path, line, written, &mut srid)?;
                gather.dropped(&name, read.more_than_two, false);
                gather.geometry(&name, read.shape)?
            }
        };
        let own = (0..table.names.len()).filter(|at| !drawn.is_text(*at));
        features.push(Feature {
            name,
            geometry,
            values: own.map(|at| value(&cell(at))).collect(),
        });
        Ok(())
    })?;
    if without > 0 {
        findings.push(Finding::warning(
            "read.no_coordinate",
            Place::file(path),
            format!(
                "{without} {}s have no coordinates and were left out.",
                table.line_word()
            ),
        ));
    }
    if features.is_empty() {
        return Err(fault(
            path,
            1,
            &format!("There is no {} with coordinates", table.line_word()),
            "at least one point",
            match table.is_sheet() {
                true => "Look at the sheet in the spreadsheet program.",
                false => "Look at the file in a text editor.",
            },
        ));
    }
    let column = |at: usize| table.names.get(at).map_or("", String::as_str);
    findings.extend(gather.findings());
    findings.push(Finding::note(
        "read.csv_columns",
        Place::file(path),
        match drawn {
            Drawn::Text(at) => format!("The geometry is in the column '{}'.", column(at)),
            Drawn::Point { x, y, degrees } => format!(
                "x is the column '{}', y the column '{}'{}.",
                column(x),
                column(y),
                if degrees {
                    ", by their names degrees on WGS 84"
                } else {
                    ""
                }
            ),
        },
    ));
    let names = table.names.iter().enumerate();
    let own = names.filter(|(at, _)| !drawn.is_text(*at));
    Ok(Layer {
        file: path.to_path_buf(),
        format,
        table: name,
        crs: match (&drawn, srid.flatten()) {
            (Drawn::Point { degrees: true, .. }, _) => DeclaredCrs::Text("OGC:CRS84".to_owned()),
            (_, Some(srid)) => DeclaredCrs::Text(format!("EPSG:{srid}")),
            _ => DeclaredCrs::None,
        },
        attributes: own.map(|(_, name)| name.clone()).collect(),
        features,
        findings,
    })
}

/// Code of a fault about a table that cannot be read as it is: what its columns are may not have been said.
pub const FAULT: &str = "read.csv";

/// Names of the columns of a CSV file, or of a sheet (the only one, where none is named), for whoever has to be asked which of
/// them say where its points lie.
///
/// # Errors
/// A file that is no table; a workbook with several sheets, and none is named.
pub fn columns(path: &Path, sheet: Option<&str>) -> Outcome<Vec<String>> {
    if let Some(kind) = sheet::kind(path)? {
        let sheet = sheet::asked_for(path, kind, sheet)?;
        return Ok(of_sheet::table(path, &sheet, &mut Vec::new())?.names);
    }
    let text = decoded(file::bytes(path)?, path, &mut Vec::new());
    match separator(&text) {
        Some(separator) => Ok(Table::of(path, &text, separator)?.names),
        None => Ok(Vec::new()),
    }
}

/// Which columns say where a line of the table lies.
#[derive(Debug, Clone, Copy)]
enum Drawn {
    Point {
        x: usize,
        y: usize,
        degrees: bool,
    },
    /// Well-known text.
    Text(usize),
}

impl Drawn {
    /// Whether a column is a geometry in words, which is no attribute.
    fn is_text(&self, column: usize) -> bool {
        matches!(self, Self::Text(own) if *own == column)
    }
}

/// Names of columns that hold a geometry as text, lower case.
const DRAWN: [&str; 6] = ["wkt", "geometry", "geom", "the_geom", "wkt_geom", "shape"];

/// The column that holds geometries as text: by its first cell that is not empty; one named so goes before others.
fn drawn_column(table: &Table, source: &Source) -> Outcome<Option<usize>> {
    if source.x_column.is_some() {
        return Ok(None);
    }
    let mut first: Vec<Option<bool>> = vec![None; table.names.len()];
    table.rows(|_, cells| {
        for (known, cell) in first.iter_mut().zip(cells) {
            if known.is_none() && !cell.is_empty() {
                *known = Some(wkt::is(cell));
            }
        }
        Ok(())
    })?;
    let mut found: Vec<usize> = (0..first.len())
        .filter(|at| first.get(*at) == Some(&Some(true)))
        .collect();
    let named = |at: &usize| {
        let name = table.names.get(*at).map(|name| name.to_lowercase());
        name.is_some_and(|name| DRAWN.contains(&name.as_str()))
    };
    found.sort_by_key(|at| !named(at));
    Ok(found.first().copied())
}

/// The geometry in a cell. All lines have to name one CRS, or none.
fn geometry(
    path: &Path,
    line: usize,
    written: &str,
    srid: &mut Option<Option<u32>>,
) -> Outcome<wkt::Decoded> {
    let allowed = "a point, line or polygon in well-known text, such as POLYGON ((5.1 52.2, 5.2 52.2, 5.2 52.3, 5.1 52.2))";
    let read = wkt::read(written).map_err(|problem| {
        let next = "Correct the cell, or export the layer as GeoPackage.";
        fault(
            path,
            line,
            &format!("The geometry cannot be read: {problem}"),
            allowed,
            next,
        )
    })?;
    match srid.get_or_insert(read.srid) {
        same if *same == read.srid => Ok(read),
        _ => Err(fault(
            path,
            line,
            "The geometry is in another CRS than those before it",
            "one CRS (SRID) for all lines",
            "Export the layer again in one CRS.",
        )),
    }
}

fn coordinate(table: &Table, line: usize, column: usize, cell: &str) -> Outcome<f64> {
    let number = cell.parse::<f64>().ok().filter(|v| v.is_finite());
    number.ok_or_else(|| {
        let cell = cell.escape_debug();
        let (found, next) = match table.cell_name(line, column) {
            Some(name) => (
                format!("The coordinate '{cell}' in the cell {name} is no number"),
                "Correct the cell in the spreadsheet program, or delete the row, and save the workbook.",
            ),
            None => (
                format!("The coordinate '{cell}' is no number"),
                "Correct the cell, or leave the line out.",
            ),
        };
        let allowed = "numbers, such as 5.1234 or 467120.5";
        fault(table.path, line, &found, allowed, next)
    })
}

fn fault(path: &Path, line: usize, found: &str, allowed: &str, next: &str) -> Box<Fault> {
    Fault::input(FAULT, Place::file(path).line(line), found, allowed, next)
}

/// The text: by its byte order mark, else UTF-8, else Windows-1252.
fn decoded(bytes: Vec<u8>, path: &Path, findings: &mut Vec<Finding>) -> String {
    if let Some((encoding, _)) = Encoding::for_bom(&bytes) {
        return encoding.decode(&bytes).0.into_owned();
    }
    let bytes = match String::from_utf8(bytes) {
        Ok(text) => return text,
        Err(error) => error.into_bytes(),
    };
    findings.push(Finding::note(
        "read.code_page",
        Place::file(path),
        "The text is not UTF-8 and was read as Windows-1252.",
    ));
    WINDOWS_1252.decode(&bytes).0.into_owned()
}

/// The separator that cuts the first line into most columns; of equals the less ambiguous one.
fn separator(text: &str) -> Option<u8> {
    let first = text.lines().next().unwrap_or("");
    let mut best: Option<(usize, u8)> = None;
    for candidate in [b';', b'\t', b','] {
        let count = first.bytes().filter(|byte| *byte == candidate).count();
        if count > 0 && best.is_none_or(|(most, _)| count > most) {
            best = Some((count, candidate));
        }
    }
    best.map(|(_, separator)| separator)
}

/// The columns of x and y, and whether they are degrees by their names.
fn coordinates(path: &Path, names: &[String], source: &Source) -> Outcome<(usize, usize, bool)> {
    let named = |wanted: &str| {
        names.iter().position(|name| name == wanted).ok_or_else(|| {
            fault(
                path,
                1,
                &format!("There is no column '{wanted}'"),
                &format!("one of {}", listed(names.iter().map(String::as_str))),
                &match closest(wanted, names.iter().map(String::as_str)) {
                    Some(near) => {
                        format!("Correct x_column or y_column in the job; did you mean '{near}'?")
                    }
                    None => "Correct x_column or y_column in the job.".to_owned(),
                },
            )
        })
    };
    let find = |known: &[&str]| {
        names
            .iter()
            .position(|name| known.contains(&name.to_lowercase().as_str()))
    };
    let is_degrees = |x: usize, y: usize| {
        let is = |at: usize, known: &[&str]| {
            names
                .get(at)
                .is_some_and(|name| known.contains(&name.to_lowercase().as_str()))
        };
        source.crs.is_none() && is(x, COORDINATES[0].0) && is(y, COORDINATES[0].1)
    };
    if let (Some(x), Some(y)) = (&source.x_column, &source.y_column) {
        let (x, y) = (named(x)?, named(y)?);
        return Ok((x, y, is_degrees(x, y)));
    }
    for (x, y) in COORDINATES {
        if let (Some(x), Some(y)) = (find(x), find(y)) {
            return Ok((x, y, is_degrees(x, y)));
        }
    }
    Err(fault(
        path,
        1,
        "No columns are named like coordinates",
        &format!(
            "columns of this file: {}",
            listed(names.iter().map(String::as_str))
        ),
        "Name them in the job, in `source`: x_column = \"...\", y_column = \"...\", and the crs they are in.",
    ))
}

fn value(cell: &str) -> Value {
    if cell.is_empty() {
        return Value::Missing;
    }
    if let Ok(whole) = cell.parse::<i64>() {
        return Value::Integer(whole);
    }
    let plain = cell.bytes().all(|byte| b"+-.0123456789eE".contains(&byte));
    match cell.parse::<f64>() {
        Ok(number) if plain && number.is_finite() => Value::Number(number),
        _ => Value::Text(cell.to_owned()),
    }
}
