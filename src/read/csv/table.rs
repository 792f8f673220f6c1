//! The lines of a CSV file, one at a time, or the rows of a sheet.

use super::fault;
use crate::codec::room;
use crate::findings::{Fault, Outcome};
use crate::read::Value;
use crate::read::sheet;
use std::path::Path;

/// Bytes that a value takes.
const BYTES_PER_VALUE: usize = size_of::<Value>();

/// The lines of a file.
pub(super) struct Table<'a> {
    pub(super) path: &'a Path,
    lines: Lines<'a>,
    pub(super) names: Vec<String>,
}

enum Lines<'a> {
    /// Cut into cells each time they are gone through: held, cells take many times their text.
    Text(&'a str, u8),
    /// Number and cells of the rows of a sheet, and where in it the columns lie, from 0.
    Rows(Vec<(usize, csv::StringRecord)>, Vec<usize>),
}

impl<'a> Table<'a> {
    pub(super) fn of(path: &'a Path, text: &'a str, separator: u8) -> Outcome<Self> {
        let mut table = Self {
            path,
            lines: Lines::Text(text, separator),
            names: Vec::new(),
        };
        let mut reader = reader(text, separator);
        let names = reader
            .headers()
            .map_err(|error| table.broken(&error))?
            .clone();
        table.names = names.iter().map(str::to_owned).collect();
        // A separator after the last name too is how some programs end every line.
        if table.names.len() > 1 && table.names.last().is_some_and(String::is_empty) {
            table.names.pop();
        }
        let lines = text.bytes().filter(|byte| *byte == b'\n').count() + 1;
        let values = lines.saturating_mul(table.names.len());
        let room = room::most(text.len());
        match values > room / BYTES_PER_VALUE {
            false => Ok(table),
            true => Err(fault(
                path,
                1,
                &format!(
                    "The table has {} columns in {lines} lines, most of them empty",
                    table.names.len()
                ),
                &format!(
                    "up to {} values in a file of this size",
                    room / BYTES_PER_VALUE
                ),
                "Save the sheet again with the columns that are needed.",
            )),
        }
    }

    /// Rows of a sheet, each with as many cells as there are names; each name has its column of the sheet, from 0.
    pub(super) fn of_sheet(
        path: &'a Path,
        names: Vec<String>,
        columns: Vec<usize>,
        rows: Vec<(usize, csv::StringRecord)>,
    ) -> Self {
        Self {
            path,
            lines: Lines::Rows(rows, columns),
            names,
        }
    }

    pub(super) fn is_sheet(&self) -> bool {
        matches!(self.lines, Lines::Rows(..))
    }

    /// What people call a line of it.
    pub(super) fn line_word(&self) -> &'static str {
        match self.is_sheet() {
            true => "row",
            false => "line",
        }
    }

    /// A cell of a sheet as people call it, such as `C7`; none of a text.
    pub(super) fn cell_name(&self, row: usize, column: usize) -> Option<String> {
        match &self.lines {
            Lines::Rows(_, columns) => Some(sheet::cell_name((row, *columns.get(column)?))),
            Lines::Text(..) => None,
        }
    }

    fn broken(&self, error: &csv::Error) -> Box<Fault> {
        let line = error.position().map_or(1, |at| at.line() as usize);
        fault(
            self.path,
            line,
            &format!("The line cannot be read ({error})"),
            "lines of a CSV file",
            "Save the sheet again.",
        )
    }

    /// Goes through all lines that are not blank.
    pub(super) fn rows(
        &self,
        mut each: impl FnMut(usize, &csv::StringRecord) -> Outcome<()>,
    ) -> Outcome<()> {
        let (text, separator) = match &self.lines {
            Lines::Text(text, separator) => (*text, *separator),
            Lines::Rows(rows, _) => {
                let filled = rows
                    .iter()
                    .filter(|(_, row)| !row.iter().all(str::is_empty));
                for (number, row) in filled {
                    each(*number, row)?;
                }
                return Ok(());
            }
        };
        let mut reader = reader(text, separator);
        let mut record = csv::StringRecord::new();
        while reader
            .read_record(&mut record)
            .map_err(|error| self.broken(&error))?
        {
            let line = record.position().map_or(0, |at| at.line() as usize);
            if record.iter().all(str::is_empty) {
                continue;
            }
            let spare = record.len() == self.names.len() + 1
                && record.iter().next_back().is_some_and(str::is_empty);
            if record.len() != self.names.len() && !spare {
                return Err(fault(
                    self.path,
                    line,
                    &format!(
                        "The line has {} columns, the first line names {}",
                        record.len(),
                        self.names.len()
                    ),
                    "as many columns in every line as the first line names",
                    "Correct the line; a decimal comma in a file separated by commas does this.",
                ));
            }
            each(line, &record)?;
        }
        Ok(())
    }
}

fn reader(text: &str, separator: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .delimiter(separator)
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes())
}
