//! Points from a spreadsheet saved as text (CSV): separator, decimal comma and encoding are
//! recognised; what can be read in two ways is refused with a question.

use super::file::{self, closest, listed};
use super::{DeclaredCrs, Feature, Geometry, Layer, Value};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::Source;
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};
use std::path::Path;

/// Names of columns that hold x and y, in pairs, lower case. The first two are degrees.
const COORDINATES: [(&[&str], &[&str]); 2] = [
    (&["lon", "long", "longitude", "lng"], &["lat", "latitude"]),
    (
        &["x", "easting", "east", "e", "x_coord", "rechtswert"],
        &["y", "northing", "north", "n", "y_coord", "hochwert"],
    ),
];

/// Whether a file is named like one of these, for its content says nothing.
pub(super) fn is(path: &Path) -> Outcome<bool> {
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

/// Reads the points of a CSV file.
pub(super) fn read(path: &Path, source: &Source) -> Outcome<Layer> {
    if source.table.is_some() {
        return Err(fault(
            path,
            1,
            "A table is asked for, but a CSV file has no tables",
            "no `table` for this file",
            "Remove `table` from the job.",
        ));
    }
    let bytes = file::bytes(path)?;
    let mut findings = Vec::new();
    let text = decoded(&bytes, path, &mut findings);
    let separator = separator(&text).ok_or_else(|| {
        fault(
            path,
            1,
            "The first line has no separator that is known",
            "a line with the names of the columns, separated by ; , or tabs",
            "Save the sheet as CSV, with the names of the columns in the first line.",
        )
    })?;
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let broken = |error: csv::Error| {
        let line = error.position().map_or(1, |at| at.line() as usize);
        fault(
            path,
            line,
            &format!("The line cannot be read ({error})"),
            "lines of a CSV file",
            "Save the sheet again.",
        )
    };
    let names: Vec<String> = reader
        .headers()
        .map_err(broken)?
        .iter()
        .map(str::to_owned)
        .collect();
    let mut rows: Vec<(usize, Vec<String>)> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(broken)?;
        let line = record.position().map_or(0, |at| at.line() as usize);
        if record.iter().all(str::is_empty) {
            continue;
        }
        if record.len() != names.len() {
            return Err(fault(
                path,
                line,
                &format!(
                    "The line has {} columns, the first line names {}",
                    record.len(),
                    names.len()
                ),
                "as many columns in every line as the first line names",
                "Correct the line; a decimal comma in a file separated by commas does this.",
            ));
        }
        rows.push((line, record.iter().map(str::to_owned).collect()));
    }
    if separator != b',' && comma_is_decimal(path, &rows, source)? {
        for cell in rows.iter_mut().flat_map(|(_, cells)| cells) {
            if is_comma_number(cell) {
                *cell = cell.replace(',', ".");
            }
        }
        findings.push(Finding::note(
            "read.decimal_comma",
            Place::file(path),
            "Numbers are written with a decimal comma and were read so.",
        ));
    } else if source.decimal_comma == Some(false) {
        for cell in rows.iter_mut().flat_map(|(_, cells)| cells) {
            if is_comma_number(cell) {
                *cell = cell.replace(',', "");
            }
        }
    }
    let (x, y, degrees) = coordinates(path, &names, source)?;
    let mut features = Vec::new();
    let mut without = 0_usize;
    for (line, cells) in &rows {
        let (Some(east), Some(north)) = (cells.get(x), cells.get(y)) else {
            continue;
        };
        if east.is_empty() || north.is_empty() {
            without += 1;
            continue;
        }
        let number = |cell: &str| {
            cell.parse::<f64>()
                .ok()
                .filter(|v| v.is_finite())
                .ok_or_else(|| {
                    fault(
                        path,
                        *line,
                        &format!("The coordinate '{}' is no number", cell.escape_debug()),
                        "numbers, such as 5.1234 or 467120.5",
                        "Correct the cell, or leave the line out.",
                    )
                })
        };
        features.push(Feature {
            name: format!("line {line}"),
            geometry: Geometry::Points(vec![[number(east)?, number(north)?]]),
            values: cells.iter().map(|cell| value(cell)).collect(),
        });
    }
    if without > 0 {
        findings.push(Finding::warning(
            "read.no_coordinate",
            Place::file(path),
            format!("{without} lines have no coordinates and were left out."),
        ));
    }
    if features.is_empty() {
        return Err(fault(
            path,
            1,
            "There is no line with coordinates",
            "at least one point",
            "Look at the file in a text editor.",
        ));
    }
    findings.push(Finding::note(
        "read.csv_columns",
        Place::file(path),
        format!(
            "x is the column '{}', y the column '{}'{}.",
            names.get(x).map_or("", String::as_str),
            names.get(y).map_or("", String::as_str),
            if degrees {
                ", by their names degrees on WGS 84"
            } else {
                ""
            }
        ),
    ));
    Ok(Layer {
        file: path.to_path_buf(),
        format: "CSV",
        table: None,
        crs: match degrees {
            true => DeclaredCrs::Text("OGC:CRS84".to_owned()),
            false => DeclaredCrs::None,
        },
        attributes: names,
        features,
        findings,
    })
}

fn fault(path: &Path, line: usize, found: &str, allowed: &str, next: &str) -> Box<Fault> {
    Fault::input(
        "read.csv",
        Place::file(path).line(line),
        found,
        allowed,
        next,
    )
}

/// The text: by its byte order mark, else UTF-8, else Windows-1252.
fn decoded(bytes: &[u8], path: &Path, findings: &mut Vec<Finding>) -> String {
    if let Some((encoding, _)) = Encoding::for_bom(bytes) {
        return encoding.decode(bytes).0.into_owned();
    }
    if let (text, _, false) = UTF_8.decode(bytes) {
        return text.into_owned();
    }
    findings.push(Finding::note(
        "read.code_page",
        Place::file(path),
        "The text is not UTF-8 and was read as Windows-1252.",
    ));
    WINDOWS_1252.decode(bytes).0.into_owned()
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

/// Digits, one comma, digits.
fn is_comma_number(cell: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let plain = cell.strip_prefix(['-', '+']).unwrap_or(cell);
    plain
        .split_once(',')
        .is_some_and(|(whole, part)| digits(whole) && digits(part))
}

/// Whether commas in numbers are decimal ones. "1,234" alone can be either, and is asked about.
fn comma_is_decimal(path: &Path, rows: &[(usize, Vec<String>)], source: &Source) -> Outcome<bool> {
    if let Some(said) = source.decimal_comma {
        return Ok(said);
    }
    let mut doubtful = None;
    let mut sure = false;
    for (line, cells) in rows {
        for cell in cells.iter().filter(|cell| is_comma_number(cell)) {
            let (whole, part) = cell.split_once(',').unwrap_or((cell, ""));
            let whole = whole.trim_start_matches(['-', '+']);
            let thousands =
                part.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
            sure |= !thousands;
            if thousands && doubtful.is_none() {
                doubtful = Some((*line, cell));
            }
        }
    }
    match doubtful {
        Some((line, cell)) if !sure => Err(fault(
            path,
            line,
            &format!(
                "'{cell}' can mean {} or {}",
                cell.replace(',', "."),
                cell.replace(',', "")
            ),
            "numbers that can be read in one way only",
            "Say which it is in the job, in `source`: decimal_comma = true, or false if the comma parts thousands.",
        )),
        _ => Ok(sure),
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn table(bytes: &[u8], source: &Source) -> Outcome<Layer> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("samples.csv");
        std::fs::write(&path, bytes).unwrap();
        read(&path, source)
    }

    fn read_plain(text: &str) -> Outcome<Layer> {
        table(text.as_bytes(), &Source::default())
    }

    #[test]
    fn separators_commas_and_encodings_are_recognised() {
        let wanted = vec![
            Value::Number(5.5),
            Value::Number(52.25),
            Value::Number(12.5),
        ];
        for text in [
            "lon,lat,P\n5.5,52.25,12.5\n",
            "Lon;Lat;P\n5,5;52,25;12,5\n",
            "lon\tlat\tP\n5.5\t52.25\t12.5\n\n",
        ] {
            let layer = read_plain(text).unwrap_or_else(|fault| panic!("{fault}"));
            assert_eq!(layer.features[0].values, wanted, "{text}");
            assert_eq!(
                layer.features[0].geometry,
                Geometry::Points(vec![[5.5, 52.25]])
            );
            assert_eq!(layer.crs, DeclaredCrs::Text("OGC:CRS84".into()));
        }
        let latin = table(b"x;y;K\xE4lium\n1;2;3\n", &Source::default()).unwrap();
        assert_eq!(latin.attributes[2], "Kälium");
        assert_eq!(latin.crs, DeclaredCrs::None);
        let utf16: Vec<u8> = "\u{feff}x;y\n1;2\n"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        assert_eq!(table(&utf16, &Source::default()).unwrap().features.len(), 1);
    }

    #[test]
    fn what_can_be_read_in_two_ways_is_asked_about() {
        let text = "x;y;v\n467,120;6071,905;1,234\n";
        let fault = read_plain("x;y;v\n467120;6071905;1,234\n").unwrap_err();
        assert!(fault.found.contains("1.234 or 1234"), "{fault}");
        assert_eq!(fault.place.line, Some(2));
        for (decimal, wanted) in [(true, Value::Number(1.234)), (false, Value::Integer(1234))] {
            let source = Source {
                decimal_comma: Some(decimal),
                ..Source::default()
            };
            let layer = table(text.as_bytes(), &source).unwrap();
            assert_eq!(layer.features[0].values[2], wanted);
        }
        // One number that is no thousands settles it for all.
        let layer = read_plain("x;y;v\n1;2;1,234\n3;4;0,5\n").unwrap();
        assert_eq!(layer.features[0].values[2], Value::Number(1.234));
    }

    #[test]
    fn faults_name_the_line() {
        assert_eq!(read_plain("x;y\n1;2\n3\n").unwrap_err().place.line, Some(3));
        assert_eq!(
            read_plain("x;y\n1;2\nthere;4\n").unwrap_err().place.line,
            Some(3)
        );
        assert!(
            read_plain("a;b\n1;2\n")
                .unwrap_err()
                .next
                .contains("x_column")
        );
        assert!(read_plain("just words\n").is_err());
    }
}
