//! ESRI ASCII grid (.asc): a few header lines, then rows from north to south. The CRS is in a .prj.

use super::super::DeclaredCrs;
use super::super::file::{opened, unreadable};
use super::{Pixels, Raster, Window, prj_text};
use crate::findings::{Fault, Finding, Outcome, Place};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

pub(super) const FORMAT: &str = "ESRI ASCII grid";

/// A word longer than this is no number.
const LONGEST_WORD: usize = 400;

/// Words of a text file with their lines.
struct Words<'a> {
    path: &'a Path,
    from: BufReader<File>,
    line: usize,
}

impl<'a> Words<'a> {
    fn of(path: &'a Path) -> Outcome<Self> {
        let from = opened(path)?;
        Ok(Self {
            path,
            from: BufReader::with_capacity(1 << 16, from),
            line: 1,
        })
    }

    fn fault(&self, found: String, allowed: &str, next: &str) -> Box<Fault> {
        Fault::input(
            "read.ascii_grid",
            Place::file(self.path).line(self.line),
            found,
            allowed,
            next,
        )
    }

    /// The next word into `word`; false at the end of the file.
    fn next(&mut self, word: &mut String) -> Outcome<bool> {
        word.clear();
        loop {
            let buffer = self
                .from
                .fill_buf()
                .map_err(|error| unreadable(self.path, &error))?;
            if buffer.is_empty() {
                return Ok(!word.is_empty());
            }
            let mut used = 0;
            let mut done = false;
            for &byte in buffer {
                if byte.is_ascii_whitespace() {
                    if !word.is_empty() {
                        // The blank is left, so that the line is still that of the word.
                        done = true;
                        break;
                    }
                    self.line += usize::from(byte == b'\n');
                } else {
                    word.push(char::from(byte));
                }
                used += 1;
                if word.len() > LONGEST_WORD {
                    done = true;
                    break;
                }
            }
            self.from.consume(used);
            if word.len() > LONGEST_WORD {
                return Err(self.fault(
                    "A word of more than 400 characters stands here".to_owned(),
                    "numbers between blanks",
                    "Export the grid again.",
                ));
            }
            if done {
                return Ok(true);
            }
        }
    }

    fn number(&self, word: &str) -> Outcome<f64> {
        word.parse().map_err(|_| {
            let next = match word.contains(',') {
                true => "Write decimals with a point: export the grid again, or replace , by . in the file.",
                false => "Export the grid again.",
            };
            self.fault(format!("'{}' is no number", word.escape_debug()), "a number with a decimal point", next)
        })
    }
}

/// Reads the header.
pub(super) fn open(path: &Path) -> Outcome<Raster> {
    let mut words = Words::of(path)?;
    let header = header(&mut words)?;
    let get = |key: &str| header.get(key).copied();
    let missing = |key: &str| {
        Fault::input(
            "read.ascii_grid",
            Place::file(path),
            format!("The header has no {key}"),
            "ncols, nrows, xllcorner or xllcenter, yllcorner or yllcenter, cellsize",
            "Export the grid again.",
        )
    };
    let count = |key: &str| -> Outcome<u32> {
        let number = get(key).ok_or_else(|| missing(key))?;
        if number.fract() == 0.0 && (1.0..=1e6).contains(&number) {
            Ok(number as u32)
        } else {
            Err(Fault::input(
                "read.ascii_grid",
                Place::file(path),
                format!("{key} is {number}"),
                "a whole number from 1 to 1000000",
                "Export the grid again.",
            ))
        }
    };
    let (columns, rows) = (count("ncols")?, count("nrows")?);
    let size = |own: &str| {
        get("cellsize")
            .or(get(own))
            .filter(|size| size.is_finite() && *size > 0.0)
            .ok_or_else(|| missing("cellsize above 0"))
    };
    let (dx, dy) = (size("dx")?, size("dy")?);
    let low = |corner: &str, center: &str, size: f64| match (get(corner), get(center)) {
        (Some(at), _) => Ok(at),
        (None, Some(at)) => Ok(at - size / 2.0),
        (None, None) => Err(missing(corner)),
    };
    let left = low("xllcorner", "xllcenter", dx)?;
    let bottom = low("yllcorner", "yllcenter", dy)?;
    let mut findings = Vec::new();
    let crs = match prj_text(path)? {
        Some(text) => DeclaredCrs::Text(text),
        None => {
            findings.push(Finding::note(
                "read.no_crs",
                Place::file(path),
                "There is no .prj beside it, so the grid does not say which CRS its coordinates are in.",
            ));
            DeclaredCrs::None
        }
    };
    Ok(Raster {
        file: path.to_path_buf(),
        format: FORMAT,
        crs,
        columns,
        rows,
        bands: 1,
        corner: [left, bottom + f64::from(rows) * dy],
        step: [dx, -dy],
        nodata: get("nodata_value"),
        blocks: None,
        scales: Vec::new(),
        findings,
        held: None,
    })
}

/// The keys of the header; leaves the first number of the grid unread if it can.
fn header(words: &mut Words) -> Outcome<BTreeMap<String, f64>> {
    let mut header = BTreeMap::new();
    let (mut key, mut value) = (String::new(), String::new());
    // The header ends where a line starts with a number, so look before taking.
    while starts_with_letter(words)? && words.next(&mut key)? {
        if !words.next(&mut value)? {
            break;
        }
        header.insert(key.to_lowercase(), words.number(&value)?);
        if header.len() > 20 {
            return Err(words.fault(
                "The header goes on and on".to_owned(),
                "six or seven lines of key and number",
                "Export the grid again.",
            ));
        }
    }
    Ok(header)
}

/// Whether the next word starts with a letter that no number starts with.
fn starts_with_letter(words: &mut Words) -> Outcome<bool> {
    loop {
        let buffer = words
            .from
            .fill_buf()
            .map_err(|error| unreadable(words.path, &error))?;
        let Some(&byte) = buffer.first() else {
            return Ok(false);
        };
        if !byte.is_ascii_whitespace() {
            let next = buffer.get(1).copied().unwrap_or(b' ');
            // "nan" is a value; "ncols", "nrows" and "nodata_value" are keys.
            let nan = byte.eq_ignore_ascii_case(&b'n') && next.eq_ignore_ascii_case(&b'a');
            return Ok(byte.is_ascii_alphabetic() && !nan);
        }
        words.line += usize::from(byte == b'\n');
        words.from.consume(1);
    }
}

/// Reads the rows of the window, skipping what lies before it.
pub(super) fn pixels(raster: &Raster, window: Window) -> Outcome<Pixels> {
    let mut words = Words::of(&raster.file)?;
    header(&mut words)?;
    let mut values = Vec::new();
    let mut word = String::new();
    let last = window.row + window.rows;
    for row in 0..last {
        for column in 0..raster.columns {
            if !words.next(&mut word)? {
                return Err(words.fault(
                    format!("The grid ends in row {} of {}", row + 1, raster.rows),
                    "as many numbers as ncols times nrows",
                    "The copy is cut off: export or copy it again.",
                ));
            }
            let wanted = row >= window.row
                && (window.column..window.column + window.columns).contains(&column);
            if wanted {
                let value = words.number(&word)?;
                let none = raster.nodata == Some(value) || !value.is_finite();
                values.push(if none { f64::NAN } else { value });
            }
        }
    }
    if last == raster.rows {
        let mut rest = Vec::new();
        let end = words.from.by_ref().take(64).read_to_end(&mut rest);
        end.map_err(|error| unreadable(&raster.file, &error))?;
        if rest
            .iter()
            .any(|byte| !byte.is_ascii_whitespace() && *byte != 0)
        {
            return Err(words.fault(
                "There are more numbers than ncols times nrows".to_owned(),
                "as many numbers as ncols times nrows",
                "Export the grid again.",
            ));
        }
    }
    Ok(Pixels { window, values })
}
