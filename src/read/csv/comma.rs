//! What a comma in a number is.

use super::fault;
use super::table::Table;
use crate::findings::Outcome;
use crate::job::Source;
use std::borrow::Cow;

/// Digits, one comma, digits.
fn is_comma_number(cell: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let plain = cell.strip_prefix(['-', '+']).unwrap_or(cell);
    plain
        .split_once(',')
        .is_some_and(|(whole, part)| digits(whole) && digits(part))
}

/// What a comma in a number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Comma {
    /// No part of it.
    Plain,
    Decimal,
    Thousands,
}

impl Comma {
    /// The cell with the comma of a number made a point, or taken out.
    pub(super) fn plain(self, cell: &str) -> Cow<'_, str> {
        match self {
            Self::Decimal if is_comma_number(cell) => cell.replace(',', ".").into(),
            Self::Thousands if is_comma_number(cell) => cell.replace(',', "").into(),
            _ => cell.into(),
        }
    }
}

/// Whether commas in numbers are decimal ones. "1,234" alone can be either, and is asked about.
pub(super) fn comma(table: &Table, source: &Source) -> Outcome<Comma> {
    let known = |decimal: bool| {
        if decimal {
            Comma::Decimal
        } else {
            Comma::Plain
        }
    };
    if let Some(said) = source.decimal_comma {
        return Ok(known(said));
    }
    let mut doubtful = None;
    let mut sure = false;
    table.rows(|line, cells| {
        for cell in cells.iter().filter(|cell| is_comma_number(cell)) {
            let (whole, part) = cell.split_once(',').unwrap_or((cell, ""));
            let whole = whole.trim_start_matches(['-', '+']);
            let thousands =
                part.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
            sure |= !thousands;
            if thousands && doubtful.is_none() {
                doubtful = Some((line, cell.to_owned()));
            }
        }
        Ok(())
    })?;
    match doubtful {
        Some((line, cell)) if !sure => Err(fault(
            table.path,
            line,
            &format!(
                "'{cell}' can mean {} or {}",
                cell.replace(',', "."),
                cell.replace(',', "")
            ),
            "numbers that can be read in one way only",
            "Say which it is in the job, in `source`: decimal_comma = true, or false if the comma parts thousands.",
        )),
        _ => Ok(known(sure)),
    }
}
