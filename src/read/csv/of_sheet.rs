//! From a sheet of a workbook to a table with names.

use super::fault;
use super::table::Table;
use crate::codec::room;
use crate::findings::{Finding, Outcome, Place};
use crate::read::Value;
use crate::read::sheet::{Cell, Row, Sheet, cell_name, column_name, range_name};
use std::path::Path;

/// The rows of a sheet below the names of its columns. These stand in the first row with more than one cell: what stands
/// alone above them is a title.
///
/// # Errors
/// No such row; a column with values and no name; a formula without its result; more columns than the file has room for.
pub(super) fn table<'a>(
    path: &'a Path,
    sheet: &Sheet,
    findings: &mut Vec<Finding>,
) -> Outcome<Table<'a>> {
    let place = || Place::file(path).layer(sheet.name.clone());
    let several = |row: &Row| row.cells.len() > 1;
    let at = sheet.rows.iter().position(several).unwrap_or(0);
    let (above, below) = sheet.rows.split_at(at);
    let Some((head, rows)) = below.split_first() else {
        return Err(fault(
            path,
            1,
            "The sheet is empty",
            "the names of the columns, and rows below them",
            "Check that it is the right sheet.",
        ));
    };
    let columns: Vec<usize> = head.cells.iter().map(|(column, _)| *column).collect();
    let mut names = Vec::with_capacity(columns.len());
    for (column, cell) in &head.cells {
        let (Cell::Text(name) | Cell::Percent(name)) = cell else {
            return Err(fault(
                path,
                head.number,
                &format!(
                    "The cell {} has no name for its column, but an error or a formula without its result",
                    cell_name((head.number, *column))
                ),
                "a name for each column",
                "Write the names of the columns in this row, and save the workbook again.",
            ));
        };
        names.push(name.trim().to_owned());
    }
    if let Some(merged) = sheet.merged_below(head.number, &columns) {
        return Err(fault(
            path,
            merged[0].0,
            &format!(
                "The cells {} are merged, and only the first of them has a value",
                range_name(*merged)
            ),
            "cells of their own below the names of the columns",
            "Take the merge apart in the spreadsheet program, and write the value into each row that it holds for.",
        ));
    }
    if sheet.hidden {
        findings.push(Finding::note(
            "read.hidden_sheet",
            place(),
            "The spreadsheet program does not show this sheet (it is hidden).",
        ));
    }
    if !above.is_empty() {
        findings.push(Finding::note(
            "read.sheet_title",
            place().line(above[0].number),
            format!(
                "The names of the columns are taken from row {}, the first with more than one cell; what stands above them is left out.",
                head.number
            ),
        ));
    }
    let values = rows.len().saturating_mul(names.len());
    let most = room::ALWAYS / size_of::<Value>()
        + rows.iter().map(|row| row.cells.len()).sum::<usize>() * room::TIMES;
    if values > most {
        return Err(fault(
            path,
            head.number,
            &format!(
                "The sheet has {} columns in {} rows, most of them empty",
                names.len(),
                rows.len()
            ),
            &format!("up to {most} values in a sheet that is filled like this one"),
            "Save the sheet again with the columns that are needed.",
        ));
    }
    let (mut errors, mut first_error) = (0, None);
    let mut percents = vec![None; columns.len()];
    let mut records = Vec::with_capacity(rows.len());
    for row in rows {
        let mut record = csv::StringRecord::new();
        let mut cells = row.cells.iter().peekable();
        for (nth, column) in columns.iter().enumerate() {
            // Both are in order.
            if let Some((stray, _)) = cells.next_if(|(own, _)| own < column) {
                return Err(no_name(path, sheet, head.number, row.number, *stray));
            }
            match cells.next_if(|(own, _)| own == column) {
                None => record.push_field(""),
                Some((_, Cell::Text(text))) => record.push_field(text.trim()),
                Some((_, Cell::Percent(number))) => {
                    percents[nth].get_or_insert((row.number, number.clone()));
                    record.push_field(number);
                }
                Some((_, Cell::Error(error))) => {
                    errors += 1;
                    first_error.get_or_insert((row.number, *column, error.clone()));
                    record.push_field("");
                }
                Some((_, Cell::NoResult)) => {
                    return Err(fault(
                        path,
                        row.number,
                        &format!(
                            "The cell {} has a formula, and the file does not have its result",
                            cell_name((row.number, *column))
                        ),
                        "formulas with the results that the spreadsheet program keeps beside them",
                        "Open the workbook in the spreadsheet program, let it calculate, and save it; or write the values themselves.",
                    ));
                }
            }
        }
        if let Some((stray, _)) = cells.next() {
            return Err(no_name(path, sheet, head.number, row.number, *stray));
        }
        records.push((row.number, record));
    }
    if let Some((row, column, error)) = first_error {
        findings.push(Finding::warning(
            "read.sheet_error",
            place().line(row),
            format!(
                "{errors} cells hold an error of the spreadsheet program, {} first ({}); they count as empty.",
                cell_name((row, column)),
                error.escape_debug()
            ),
        ));
    }
    for ((name, column), first) in names.iter().zip(&columns).zip(percents) {
        let Some((row, number)) = first else { continue };
        findings.push(Finding::warning(
            "read.sheet_percent",
            place().line(row),
            format!(
                "The column '{}' has numbers that are shown as percentages, a hundred times as large; {} is read as {}.",
                name.escape_debug(),
                cell_name((row, *column)),
                number.escape_debug()
            ),
        ));
    }
    Ok(Table::of_sheet(path, names, columns, records))
}

/// The fault for a value in a column without a name.
fn no_name(
    path: &Path,
    sheet: &Sheet,
    head: usize,
    row: usize,
    column: usize,
) -> Box<crate::findings::Fault> {
    let merged = match sheet.merged_with((head, column)) {
        Some(cells) => format!("; it is merged with others ({cells})"),
        None => String::new(),
    };
    fault(
        path,
        row,
        &format!(
            "The cell {} has a value, and its column has no name in row {head}{merged}",
            cell_name((row, column))
        ),
        "a name of its own for each column with values, all in one row",
        &format!(
            "Write a name into the cell {}{head}, or delete what stands in the column.",
            column_name(column)
        ),
    )
}
