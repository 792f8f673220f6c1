//! Workbooks of spreadsheet programs: .xlsx (ISO/IEC 29500) and .ods (OpenDocument 1.3). Sheets become rows of text as a CSV
//! file would have them, so that what CSV makes of numbers, commas and columns holds for them too.
//!
//! Numbers stay as the file writes them, dates become `2026-03-20` or `2026-03-20T06:30:00`, formulas give the result that the
//! program kept. Nothing is worked out, and nothing that a cell claims takes more memory than the size of the file allows.

mod dates;
mod ods;
#[cfg(test)]
mod tests;
mod xlsx;

use super::asked_table::{self, Words};
use super::file::{self, MOST_BYTES};
use super::zipped::Zipped;
use crate::codec::room::{PER_PIECE, Room};
use crate::codec::xml::{BadXml, Walk, decoded};
use crate::findings::{Fault, Outcome, Place};
use std::path::Path;
use std::rc::Rc;

/// A kind of workbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Xlsx,
    Ods,
}

impl Kind {
    /// Format in words.
    pub(super) fn format(self) -> &'static str {
        match self {
            Self::Xlsx => "XLSX",
            Self::Ods => "ODS",
        }
    }

    /// The extensions that it usually has.
    pub(super) fn has_extension(self, path: &Path) -> bool {
        let known: &[&str] = match self {
            Self::Xlsx => &["xlsx", "xlsm"],
            Self::Ods => &["ods"],
        };
        let end = path.extension();
        end.is_some_and(|end| known.iter().any(|own| end.eq_ignore_ascii_case(own)))
    }
}

/// A sheet with something in it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Sheet {
    pub(super) name: String,
    /// In order; rows without a cell are left out.
    pub(super) rows: Vec<Row>,
    /// Whether the spreadsheet program does not show it.
    pub(super) hidden: bool,
    /// Cells that are merged: the first row and column, the last ones.
    merged: Vec<[At; 2]>,
}

/// A row, by its number from 1, and its cells that are not empty, by column from 0, in order.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Row {
    pub(super) number: usize,
    pub(super) cells: Vec<(usize, Cell)>,
}

/// What is in a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    Text(Rc<str>),
    /// A number that is shown as a percentage, a hundred times as large: `0.025` for 2.5 %.
    Percent(Rc<str>),
    /// An error of the spreadsheet program, such as `#N/A`.
    Error(Rc<str>),
    /// A formula whose result the file does not have.
    NoResult,
}

/// Most sheets of a workbook.
const MOST_SHEETS: usize = 1000;

fn too_many_sheets() -> String {
    format!("it has more than {MOST_SHEETS} sheets")
}

/// Row from 1 and column from 0.
type At = (usize, usize);

/// A cell as people call it: `C7`.
pub(super) fn cell_name((row, column): At) -> String {
    format!("{}{row}", column_name(column))
}

/// A column as people call it: `A`, `AB`.
pub(super) fn column_name(column: usize) -> String {
    let mut letters = Vec::new();
    let mut left = column + 1;
    while left > 0 {
        left -= 1;
        letters.push(char::from(b'A' + (left % 26) as u8));
        left /= 26;
    }
    letters.iter().rev().collect()
}

/// Cells as people call them: `B2:B6`.
pub(super) fn range_name([first, last]: [At; 2]) -> String {
    format!("{}:{}", cell_name(first), cell_name(last))
}

impl Sheet {
    /// The merged cells that a cell belongs to, as `A1:C1`.
    pub(super) fn merged_with(&self, (row, column): At) -> Option<String> {
        let holds = |[first, last]: &&[At; 2]| {
            (first.0..=last.0).contains(&row) && (first.1..=last.1).contains(&column)
        };
        let found = self.merged.iter().find(holds)?;
        Some(range_name(*found))
    }

    /// The first merged cells with something in them that lie below a row and stand for more than one row, or for more than one
    /// of these columns (in order).
    pub(super) fn merged_below(&self, row: usize, columns: &[usize]) -> Option<&[At; 2]> {
        self.merged.iter().find(|[first, last]| {
            let own = columns.partition_point(|column| *column <= last.1)
                - columns.partition_point(|column| *column < first.1);
            let several = own > 1 || own == 1 && last.0 > first.0;
            first.0 > row && several && self.is_filled(*first)
        })
    }

    fn is_filled(&self, (row, column): At) -> bool {
        let row = self.rows.binary_search_by_key(&row, |own| own.number);
        row.is_ok_and(|row| {
            let cells = &self.rows[row].cells;
            cells.binary_search_by_key(&column, |own| own.0).is_ok()
        })
    }
}

/// Which kind of workbook a file is, by what is in it; none for any other file.
pub(super) fn kind(path: &Path) -> Outcome<Option<Kind>> {
    if !file::head(path, 4)?.starts_with(b"PK") {
        return Ok(None);
    }
    // What cannot be opened is for the reader of zip files to speak about.
    let Ok(mut zipped) = Zipped::open(path) else {
        return Ok(None);
    };
    let at = |name: &str| zipped.names.iter().position(|own| own == name);
    if at(xlsx::TYPES).is_some() && at(xlsx::BINARY).is_none() {
        let is_book = zipped.names.iter().any(|name| name.starts_with("xl/"));
        return Ok(is_book.then_some(Kind::Xlsx));
    }
    let (Some(kind), Some(_)) = (at("mimetype"), at(ods::CONTENT)) else {
        return Ok(None);
    };
    let named = zipped.unpack(kind, 200);
    Ok(named
        .is_ok_and(|named| named.starts_with(ods::MIMETYPE))
        .then_some(Kind::Ods))
}

/// The sheets of a workbook that have a table in them, in its order; without any those that have anything in them. Hidden ones
/// only where no other has a table, or where they are named.
///
/// # Errors
/// A file that is damaged, locked with a password, or larger unpacked than it may be.
pub(super) fn sheets(path: &Path, kind: Kind, wanted: Option<&str>) -> Outcome<Vec<Sheet>> {
    #[cfg(test)]
    tests::UNPACKED.with(|count| count.set(count.get() + 1));
    let mut book = Book {
        path,
        kind,
        zipped: Zipped::open(path)?,
        room: Room::of(0),
    };
    let mut sheets = match kind {
        Kind::Xlsx => xlsx::sheets(&mut book)?,
        Kind::Ods => ods::sheets(&mut book)?,
    };
    // Remarks and charts beside a table are none.
    let is_table = |sheet: &Sheet| sheet.rows.iter().any(|row| row.cells.len() > 1);
    let any = sheets.iter().any(is_table);
    sheets.retain(|sheet| !sheet.rows.is_empty() && (is_table(sheet) || !any));
    let shown = sheets.iter().any(|sheet| !sheet.hidden);
    sheets.retain(|sheet| !sheet.hidden || !shown || wanted == Some(sheet.name.as_str()));
    Ok(sheets)
}

/// The sheet with this name, or the only one.
///
/// # Errors
/// As [`sheets`]; no such sheet; several, and none is named; all are empty.
pub(super) fn asked_for(path: &Path, kind: Kind, wanted: Option<&str>) -> Outcome<Sheet> {
    let mut sheets = sheets(path, kind, wanted)?;
    let words = Words {
        format: kind.format(),
        tables: "the name of a sheet",
        kinds: "sheets",
        hint: "",
        nothing: [
            "nothing in any sheet",
            "a sheet with the names of the columns in one row, and rows below it",
            "Check that it is the right file, and that it was saved.",
        ],
    };
    let names: Vec<&str> = sheets.iter().map(|sheet| sheet.name.as_str()).collect();
    let found = asked_table::place_of(path, wanted, &names, &words)?;
    Ok(sheets.swap_remove(found))
}

/// A workbook that is being read.
struct Book<'a> {
    path: &'a Path,
    kind: Kind,
    zipped: Zipped,
    room: Room,
}

impl Book<'_> {
    fn at(&self, name: &str) -> Option<usize> {
        let name = name.trim_start_matches('/');
        self.zipped.names.iter().position(|own| own == name)
    }

    /// The text of a file inside; the room grows with it.
    fn text(&mut self, name: &str) -> Outcome<Option<String>> {
        let Some(at) = self.at(name) else {
            return Ok(None);
        };
        let bytes = self.zipped.unpack(at, MOST_BYTES)?;
        self.room.read(bytes.len());
        let text = decoded(&bytes).map_err(|bad| self.no_sheet(name, bad.into()))?;
        Ok(Some(text.into_owned()))
    }

    /// The same for a file that has to be there.
    fn needed(&mut self, name: &str) -> Outcome<String> {
        let missing = BadXml {
            line: 1,
            what: "it is not there".to_owned(),
        };
        match self.text(name)? {
            Some(text) => Ok(text),
            None => Err(self.no_sheet(name, missing.into())),
        }
    }

    /// The fault for a part of the workbook that is not as it should be.
    fn no_sheet(&self, name: &str, bad: Bad) -> Box<Fault> {
        let place = |line: usize| Place::file(self.path).layer(name).line(line);
        let bad = match bad {
            Bad::Xml(bad) => bad,
            Bad::TooMuch(line) => {
                return Fault::input(
                    "read.sheet_size",
                    place(line),
                    "Its cells take more memory than a file of this size may ask for",
                    "a workbook whose cells are written out, or repeated a few times",
                    "Save the sheet that is needed as CSV, or again without the rows and columns that only repeat others.",
                );
            }
        };
        Fault::input(
            "read.not_sheet",
            place(bad.line),
            format!(
                "This is no {} workbook that can be read: {}",
                self.kind.format(),
                bad.what
            ),
            "a whole workbook without a password, .xlsx or .ods",
            "Open it in the spreadsheet program and save it again, or save the sheet as CSV; a copy that was cut short ends like this.",
        )
    }
}

/// What is wrong with a part of a workbook.
enum Bad {
    Xml(BadXml),
    /// What this line asks for does not fit into the memory that a file of its size may take.
    TooMuch(usize),
}

impl From<BadXml> for Bad {
    fn from(bad: BadXml) -> Self {
        Self::Xml(bad)
    }
}

impl Bad {
    /// What is wrong where a walk is now.
    fn at(walk: &Walk, what: String) -> Self {
        Self::Xml(walk.bad(what))
    }
}

/// Rows while they are read, within their room.
struct Cells<'a> {
    room: &'a mut Room,
    sheet: Sheet,
}

impl<'a> Cells<'a> {
    fn of(name: String, hidden: bool, room: &'a mut Room) -> Self {
        Self {
            room,
            sheet: Sheet {
                name,
                hidden,
                ..Sheet::default()
            },
        }
    }

    /// Adds a row; one without cells is passed over. What becomes of a text later is not shared, so each is counted whole.
    fn row(&mut self, walk: &Walk, number: usize, cells: Vec<(usize, Cell)>) -> Result<(), Bad> {
        if cells.is_empty() {
            return Ok(());
        }
        for (_, cell) in &cells {
            let (Cell::Text(text) | Cell::Percent(text) | Cell::Error(text)) = cell else {
                continue;
            };
            takes(self.room, walk, text)?;
        }
        takes(self.room, walk, "")?;
        self.sheet.rows.push(Row { number, cells });
        Ok(())
    }
}

impl Cells<'_> {
    /// Takes away what lies hidden under merged cells: only the first of them is shown. Each row of each of them costs room, for
    /// it costs time.
    fn uncover(&mut self, walk: &Walk) -> Result<(), Bad> {
        for [first, last] in &self.sheet.merged {
            let rows = &mut self.sheet.rows;
            let from = rows.partition_point(|row| row.number < first.0);
            for row in rows[from..].iter_mut() {
                if row.number > last.0 {
                    break;
                }
                if !self.room.take(PER_PIECE) {
                    return Err(Bad::TooMuch(walk.bad(String::new()).line));
                }
                let cells = &mut row.cells;
                let own = first.1 + usize::from(row.number == first.0);
                let begin = cells.partition_point(|(column, _)| *column < own);
                let end = cells.partition_point(|(column, _)| *column <= last.1);
                if begin < end {
                    cells.drain(begin..end);
                }
            }
        }
        self.sheet.rows.retain(|row| !row.cells.is_empty());
        Ok(())
    }
}

/// Takes room for a text that is kept, with what holds it.
fn takes(room: &mut Room, walk: &Walk, text: &str) -> Result<(), Bad> {
    let bytes = text.len() + PER_PIECE + size_of::<Row>().max(size_of::<(usize, Cell)>());
    match room.take(bytes) {
        true => Ok(()),
        false => Err(Bad::TooMuch(walk.bad(String::new()).line)),
    }
}
