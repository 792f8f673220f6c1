//! .ods: a zip file with all sheets in one file of XML, rows and cells repeated by a number (OpenDocument 1.3, part 3, 9).

use super::{Bad, Book, Cell, Cells, MOST_SHEETS, Sheet, dates, too_many_sheets};
use crate::codec::xml::{Step, Walk, local};
use crate::findings::Outcome;
use quick_xml::events::BytesStart;
use std::collections::HashSet;
use std::rc::Rc;

/// The file with the sheets.
pub(super) const CONTENT: &str = "content.xml";
/// What the first file says; a template has more behind it.
pub(super) const MIMETYPE: &[u8] = b"application/vnd.oasis.opendocument.spreadsheet";
/// A sheet repeats its last row and column up to the end of what the program can show; what is empty takes nothing.
const MOST_REPEATED: usize = 100_000_000;
/// Hours that no time of day and no wait has: from here on (22 years) it is a date that is shown as a time.
const MOST_HOURS: f64 = 200_000.0;

pub(super) fn sheets(book: &mut Book) -> Outcome<Vec<Sheet>> {
    let text = book.needed(CONTENT)?;
    let read = read(&text, book);
    read.map_err(|bad| book.no_sheet(CONTENT, bad))
}

/// A cell while it is read.
#[derive(Default)]
struct Open {
    repeated: usize,
    /// Rows and columns that it spans.
    spans: [usize; 2],
    /// Its value, where it is no text; the kind of value that the file names.
    value: Option<String>,
    kind: String,
    is_error: bool,
    is_formula: bool,
    /// Whether it lies hidden under merged cells.
    is_covered: bool,
    text: String,
    /// Paragraphs so far.
    paragraphs: usize,
}

fn read(text: &str, book: &mut Book) -> Result<Vec<Sheet>, Bad> {
    let mut walk = Walk::over(text);
    let mut sheets = Vec::new();
    let mut sheet: Option<Cells> = None;
    let room = &mut book.room;
    let mut room = Some(room);
    // The last row that was read, how often the open one stands, and its cells.
    let (mut last, mut rows, mut row) = (0_usize, 1, Vec::new());
    let mut column = 0;
    let mut cell: Option<Open> = None;
    // The style that is open, and those that hide a sheet.
    let (mut style, mut hiding) = (String::new(), HashSet::new());
    while let Some(step) = walk.step()? {
        let open = walk.open();
        let Some(element) = open.last().map(String::as_str) else {
            continue;
        };
        // What is drawn over cells, or noted at them, is none of their content.
        let in_cell = cell.is_some() && !is_beside(open);
        match step {
            Step::Opens(start) => {
                match (&mut cell, in_cell) {
                    // Text before a piece that is formatted otherwise.
                    (Some(cell), true) if is_text(&open[..open.len() - 1]) => {
                        cell.text.push_str(walk.before())
                    }
                    _ => {}
                }
                match element {
                    "table" if sheet.is_none() && !is_beside(open) => {
                        let name = walk.attribute(&start, "name")?.unwrap_or_default();
                        if sheets.len() == MOST_SHEETS {
                            return Err(Bad::at(&walk, too_many_sheets()));
                        }
                        let style = walk.attribute(&start, "style-name")?;
                        let hidden = style.is_some_and(|style| hiding.contains(&style));
                        sheet = room.take().map(|room| Cells::of(name, hidden, room));
                        last = 0;
                    }
                    "style" if sheet.is_none() => {
                        style = walk.attribute(&start, "name")?.unwrap_or_default();
                    }
                    "table-properties" if sheet.is_none() => {
                        if walk.attribute(&start, "display")?.as_deref() == Some("false")
                            && let Some(room) = room.as_deref_mut()
                        {
                            super::takes(room, &walk, &style)?;
                            hiding.insert(style.clone());
                        }
                    }
                    "table-row" if cell.is_none() => {
                        rows = repeated(&walk, &start, "number-rows-repeated")?;
                        row = Vec::new();
                        column = 0;
                    }
                    "table-cell" | "covered-table-cell" if cell.is_none() => {
                        let begun = begun(&walk, &start)?;
                        let is_covered = element == "covered-table-cell";
                        cell = Some(Open {
                            is_covered,
                            ..begun
                        });
                    }
                    "p" if in_cell => {
                        if let Some(cell) = &mut cell {
                            // Paragraphs of a cell are lines of its text.
                            if cell.paragraphs > 0 {
                                cell.text.push(' ');
                            }
                            cell.paragraphs += 1;
                        }
                    }
                    "s" if in_cell => {
                        let blanks = walk.attribute(&start, "c")?;
                        let blanks = blanks.and_then(|blanks| blanks.parse().ok()).unwrap_or(1);
                        if let Some(cell) = &mut cell {
                            // No column is told by more blanks than that.
                            cell.text.push_str(&" ".repeat(blanks.min(100)));
                        }
                    }
                    "tab" | "line-break" if in_cell => {
                        if let Some(cell) = &mut cell {
                            cell.text.push(' ');
                        }
                    }
                    _ => {}
                }
            }
            Step::Closes(heard) => match element {
                "table-cell" | "covered-table-cell" if !is_beside(open) => {
                    let Some(closed) = cell.take() else { continue };
                    let (times, spans) = (closed.repeated, closed.spans);
                    if let (Some(sheet), [down, right]) = (&mut sheet, spans)
                        && (down > 1 || right > 1)
                    {
                        super::takes(sheet.room, &walk, "")?;
                        let first = (last + 1, column);
                        let end = (last + down, column + right - 1);
                        sheet.sheet.merged.push([first, end]);
                    }
                    if let Some(content) = content(closed).map_err(|what| Bad::at(&walk, what))? {
                        for _ in 0..times {
                            if let Some(sheet) = &mut sheet {
                                super::takes(sheet.room, &walk, "")?;
                            }
                            row.push((column, content.clone()));
                            column += 1;
                        }
                    } else {
                        column += times;
                    }
                }
                "table-row" if cell.is_none() => {
                    let full = std::mem::take(&mut row);
                    if let (Some(sheet), false) = (&mut sheet, full.is_empty()) {
                        for nth in 1..=rows {
                            sheet.row(&walk, last + nth, full.clone())?;
                        }
                    }
                    last += rows;
                }
                "table" if cell.is_none() && !is_beside(open) => {
                    if let Some(Cells { room: own, sheet }) = sheet.take() {
                        room = Some(own);
                        sheets.push(sheet);
                    }
                }
                _ if in_cell && is_text(open) => {
                    if let Some(cell) = &mut cell {
                        cell.text.push_str(&heard);
                    }
                }
                _ => {}
            },
        }
    }
    Ok(sheets)
}

/// Whether the innermost element lies in a note at a cell, in what is drawn, or in what was changed.
fn is_beside(open: &[String]) -> bool {
    let beside = [
        "annotation",
        "shapes",
        "frame",
        "tracked-changes",
        "dde-links",
        "custom-shape",
        "rect",
        "g",
        "line",
        "polyline",
        "polygon",
        "regular-polygon",
        "circle",
        "ellipse",
        "path",
        "connector",
        "measure",
        "caption",
        "control",
    ];
    open.iter().any(|name| beside.contains(&name.as_str()))
}

/// Whether it lies in a paragraph, or is one.
fn is_text(open: &[String]) -> bool {
    open.iter().any(|name| name == "p")
}

fn begun(walk: &Walk, start: &BytesStart) -> Result<Open, Bad> {
    let of = |key: &str| walk.attribute(start, key);
    let mut open = Open {
        repeated: repeated(walk, start, "number-columns-repeated")?,
        spans: [
            repeated(walk, start, "number-rows-spanned")?,
            repeated(walk, start, "number-columns-spanned")?,
        ],
        is_formula: of("formula")?.is_some(),
        ..Open::default()
    };
    for found in start.attributes() {
        let found = found.map_err(|error| Bad::at(walk, error.to_string()))?;
        // The program's own word for an error has another prefix than that of the standard, and stands behind it.
        if local(found.key.as_ref()) == "value-type" {
            match &*found.value {
                "error" => open.is_error = true,
                kind if open.kind.is_empty() => open.kind = kind.to_owned(),
                _ => {}
            }
        }
    }
    open.value = match open.kind.as_str() {
        "float" | "percentage" | "currency" => of("value")?,
        "date" => of("date-value")?,
        "time" => of("time-value")?,
        "boolean" => of("boolean-value")?,
        "string" => of("string-value")?,
        _ => None,
    };
    Ok(open)
}

/// How often something stands there; once where it does not say.
fn repeated(walk: &Walk, start: &BytesStart, key: &str) -> Result<usize, Bad> {
    let Some(text) = walk.attribute(start, key)? else {
        return Ok(1);
    };
    let number = text.parse().ok();
    let number = number.filter(|number| (1..=MOST_REPEATED).contains(number));
    number.ok_or_else(|| {
        let what = format!(
            "'{key}' is '{}', and a number from 1 is wanted",
            text.escape_debug()
        );
        Bad::at(walk, what)
    })
}

/// What a cell holds; `None` where it is empty.
fn content(cell: Open) -> Result<Option<Cell>, String> {
    let text =
        |text: &str| Some(Cell::Text(Rc::from(text.trim()))).filter(|_| !text.trim().is_empty());
    if cell.is_covered {
        return Ok(None);
    }
    if cell.is_error || cell.is_formula && is_error(&cell.text) {
        return Ok(Some(Cell::Error(Rc::from(cell.text.trim()))));
    }
    let value = || {
        let kind = cell.kind.escape_debug();
        let missing = || format!("a cell with a {kind} says no value");
        cell.value.as_deref().ok_or_else(missing)
    };
    match cell.kind.as_str() {
        kind @ ("float" | "percentage" | "currency") => {
            let value = value()?;
            let is_number = value.parse::<f64>().is_ok_and(f64::is_finite);
            match is_number {
                true if kind == "percentage" => Ok(Some(Cell::Percent(Rc::from(value)))),
                true => Ok(text(value)),
                // What a formula divides by 0 comes to, in some programs.
                false if cell.is_formula => Ok(Some(Cell::Error(Rc::from(value)))),
                false => Err(format!("a cell has the number '{}'", value.escape_debug())),
            }
        }
        "date" => {
            let value = value()?;
            // A date of midnight is a day.
            Ok(text(value.strip_suffix("T00:00:00").unwrap_or(value)))
        }
        "time" => Ok(text(&clock(value()?)?)),
        "boolean" => Ok(text(value()?)),
        "string" | "" | "void" => {
            let own = text(cell.value.as_deref().unwrap_or(&cell.text));
            let no_result = cell.is_formula && cell.kind.is_empty() && own.is_none();
            Ok(own.or(no_result.then_some(Cell::NoResult)))
        }
        other => Err(format!("a cell is of the kind '{}'", other.escape_debug())),
    }
}

/// Whether the text of a formula is an error. Older files call it a text without a value, or the number 0. Not `###`, which
/// stands where a number was too wide to be shown.
fn is_error(text: &str) -> bool {
    let text = text.trim();
    let named = text.strip_prefix('#');
    text.starts_with("Err:") || named.is_some_and(|name| name.starts_with(char::is_uppercase))
}

/// `PT06H30M00S` as `06:30:00`, with thousandths of a second where there are any; anything else as it is.
fn clock(duration: &str) -> Result<String, String> {
    let parts = || -> Option<[f64; 3]> {
        let rest = duration.strip_prefix("PT")?;
        let (hours, rest) = rest.split_once('H')?;
        let (minutes, rest) = rest.split_once('M')?;
        let seconds = rest.strip_suffix('S')?;
        // XML Schema has a point; some programs write the comma of their language.
        let number = |text: &str| text.replace(',', ".").parse::<f64>().ok();
        let number = |text: &str| number(text).filter(|number| (0.0..1e9).contains(number));
        Some([number(hours)?, number(minutes)?, number(seconds)?])
    };
    let Some([hours, minutes, seconds]) = parts() else {
        return Ok(duration.to_owned());
    };
    if hours >= MOST_HOURS {
        return Err(format!(
            "a cell has a time of {hours} hours, which is a date that is shown as a time: give its column a format with date and time"
        ));
    }
    let seconds = (hours * 60.0 + minutes) * 60.0 + seconds;
    Ok(dates::clock((seconds * 1000.0).round() as i64))
}
