//! The `.dbf` file: a table of fixed-width text.

use super::super::Value;
use crate::codec::bytes::{Bytes, Order};
use crate::codec::code_page::CodePage;
use crate::codec::room::{PER_PIECE, most};
use crate::findings::{Fault, Finding, Outcome, Place};

/// Names of the attributes, and one row per record; `None` for a record marked as deleted.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) names: Vec<String>,
    pub(super) rows: Vec<Option<Vec<Value>>>,
}

/// Length of the fixed part of the header, and of the description of one field.
const BLOCK: usize = 32;

/// Reads a table. `cpg` is the content of the `.cpg` file.
pub(super) fn read(
    dbf: &[u8],
    cpg: Option<&[u8]>,
    place: &Place,
    findings: &mut Vec<Finding>,
) -> Outcome<Table> {
    let header =
        Header::read(dbf).ok_or_else(|| damaged(place, "The .dbf ends inside its header"))?;
    let all = fields(dbf, &header, place)?;
    let body = dbf.get(header.length..).unwrap_or_default();
    let length = header.record;
    let whole = body.len().checked_div(length).unwrap_or(0);
    if whole < header.records {
        let record = whole + 1;
        return Err(Fault::input(
            "read.truncated",
            place.clone().feature(record),
            format!("The .dbf ends inside row {record} of {}", header.records),
            "a whole .dbf file",
            "Copy or export it again; it was cut off.",
        ));
    }
    let rows: Vec<&[u8]> = body
        .chunks_exact(length.max(1))
        .take(header.records)
        .collect();
    let (fields, skipped): (Vec<Field>, Vec<Field>) = all.into_iter().partition(Field::is_read);
    let (without_width, skipped): (Vec<Field>, Vec<Field>) =
        skipped.into_iter().partition(|field| field.length == 0);
    for field in skipped {
        let name = String::from_utf8_lossy(&field.name).into_owned();
        findings.push(Finding::warning(
            "read.attribute_type",
            place.clone(),
            format!(
                "The attribute '{name}' has the type {} and was left out.",
                field.kind as char
            ),
        ));
    }
    // One finding: a damaged header may have two thousand of them.
    if let Some(first) = without_width.first() {
        findings.push(Finding::warning(
            "read.attribute_type",
            place.clone(),
            format!(
                "{} attributes have no width in the .dbf and were left out, first '{}'.",
                without_width.len(),
                String::from_utf8_lossy(&first.name)
            ),
        ));
    }
    fits(dbf.len(), &fields, rows.len(), place)?;
    let page = code_page(header.language, cpg, &fields, &rows, place, findings);
    let mut cells = Cells {
        page,
        broken: 0,
        odd: 0,
        first_odd: None,
    };
    let names = fields.iter().map(|field| cells.text(&field.name)).collect();
    let rows = rows
        .iter()
        .enumerate()
        .map(|(at, row)| match row.first() {
            Some(b'*') => None,
            _ => Some(
                fields
                    .iter()
                    .map(|field| cells.value(field, row, at + 1))
                    .collect(),
            ),
        })
        .collect();
    findings.extend(cells.findings(place));
    Ok(Table { names, rows })
}

/// What the fixed part of the header says.
struct Header {
    records: usize,
    /// Length of the whole header, where the rows start.
    length: usize,
    /// Length of a row with its mark of deletion.
    record: usize,
    language: u8,
}

impl Header {
    fn read(dbf: &[u8]) -> Option<Self> {
        let mut bytes = Bytes::new(dbf.get(..BLOCK)?);
        bytes.take(4).ok()?;
        let records = bytes.u32(Order::Little).ok()? as usize;
        let &[low, high, narrow, wide] = bytes.take(4).ok()? else {
            return None;
        };
        bytes.take(17).ok()?;
        Some(Self {
            records,
            length: usize::from(u16::from_le_bytes([low, high])),
            record: usize::from(u16::from_le_bytes([narrow, wide])),
            language: bytes.byte().ok()?,
        })
    }
}

/// A field: a slice of every row.
struct Field {
    name: Vec<u8>,
    kind: u8,
    start: usize,
    length: usize,
}

impl Field {
    /// Text, numbers, flags and dates are read; memos and binary numbers are not, nor is what has no width: it takes no
    /// byte of a row, so that a small file could state any number of values.
    fn is_read(&self) -> bool {
        self.length > 0 && matches!(self.kind, b'C' | b'N' | b'F' | b'L' | b'D')
    }

    /// Bytes that a value of it takes.
    fn held(&self) -> usize {
        let text = match self.kind {
            b'C' | b'D' => self.length + PER_PIECE,
            _ => 0,
        };
        size_of::<Value>() + text
    }

    fn of<'a>(&self, row: &'a [u8]) -> &'a [u8] {
        row.get(self.start..self.start + self.length)
            .unwrap_or_default()
    }
}

/// Whether so many rows may be held. A byte of a file can be a value, and a value takes many bytes.
fn fits(bytes: usize, fields: &[Field], rows: usize, place: &Place) -> Outcome<()> {
    let of_row = size_of::<Vec<Value>>() + PER_PIECE;
    let row = of_row + fields.iter().map(Field::held).sum::<usize>();
    let room = most(bytes);
    match row.saturating_mul(rows) > room {
        false => Ok(()),
        true => Err(Fault::input(
            "read.wide_table",
            place.clone(),
            format!(
                "The .dbf has {rows} rows of {} narrow attributes, which take {} MB",
                fields.len(),
                row.saturating_mul(rows) / 1_000_000
            ),
            format!("up to {} MB from a .dbf of {bytes} bytes", room / 1_000_000),
            "Cut the layer to the land around the field in a GIS, or export it with the attributes that are needed.",
        )),
    }
}

fn fields(dbf: &[u8], header: &Header, place: &Place) -> Outcome<Vec<Field>> {
    let blocks = dbf
        .get(BLOCK..header.length)
        .ok_or_else(|| damaged(place, "The .dbf ends inside its header"))?;
    let mut fields = Vec::new();
    let mut start = 1;
    for block in blocks
        .chunks_exact(BLOCK)
        .take_while(|block| block.first() != Some(&0x0D))
    {
        let mut bytes = Bytes::new(block);
        let (Ok(name), Ok(kind), Ok(_), Ok(low), Ok(high)) = (
            bytes.take(11),
            bytes.byte(),
            bytes.take(4),
            bytes.byte(),
            bytes.byte(),
        ) else {
            return Err(damaged(
                place,
                "The .dbf has a damaged description of a field",
            ));
        };
        // The second byte is the number of decimals, but for text it extends the length.
        let length = usize::from(low)
            + if kind == b'C' {
                usize::from(high) * 256
            } else {
                0
            };
        let name: Vec<u8> = name.iter().copied().take_while(|&byte| byte != 0).collect();
        fields.push(Field {
            name: name.trim_ascii().to_vec(),
            kind,
            start,
            length,
        });
        start += length;
    }
    match start == header.record {
        true => Ok(fields),
        false => Err(damaged(
            place,
            &format!(
                "The .dbf states rows of {} bytes, but its fields take {start}",
                header.record
            ),
        )),
    }
}

/// The code page: the `.cpg` file, else the language byte, else what the texts themselves allow.
fn code_page(
    language: u8,
    cpg: Option<&[u8]>,
    fields: &[Field],
    rows: &[&[u8]],
    place: &Place,
    findings: &mut Vec<Finding>,
) -> CodePage {
    let label = cpg.map(String::from_utf8_lossy).unwrap_or_default();
    let label = label.trim_matches(['\0', ' ', '\t', '\r', '\n']);
    if let Some(page) = CodePage::from_label(label) {
        return page;
    }
    let declared = CodePage::from_language_byte(language);
    if !label.is_empty() {
        findings.push(Finding::warning(
            "read.code_page",
            place.clone(),
            format!(
                "The .cpg names the code page '{label}', which is not known here; it was not used."
            ),
        ));
    }
    if let Some(page) = declared {
        return page;
    }
    let texts = || {
        let cells = rows.iter().flat_map(|row| {
            fields
                .iter()
                .filter(|field| field.kind == b'C')
                .map(|field| field.of(row))
        });
        cells.chain(fields.iter().map(|field| field.name.as_slice()))
    };
    if texts().all(<[u8]>::is_ascii) {
        return CodePage::UTF_8;
    }
    let found =
        |name: &str| format!("Nothing says which code page the .dbf uses; it was read as {name}.");
    if texts().all(|text| std::str::from_utf8(text.trim_ascii()).is_ok()) {
        // Text of another code page is hardly ever valid UTF-8 by chance.
        let message = found("UTF-8, which all its texts are");
        findings.push(Finding::note("read.code_page", place.clone(), message));
        return CodePage::UTF_8;
    }
    let message = found("Windows-1252 (Western European)");
    findings.push(Finding::warning("read.code_page", place.clone(), message));
    CodePage::WESTERN
}

/// Turns cells into values and counts what could not be understood.
struct Cells {
    page: CodePage,
    /// Texts with bytes that mean nothing.
    broken: usize,
    /// Cells that are no value of their field's type.
    odd: usize,
    first_odd: Option<(usize, String)>,
}

impl Cells {
    fn text(&mut self, bytes: &[u8]) -> String {
        let (text, broken) = self.page.decode(bytes);
        self.broken += usize::from(broken);
        text
    }

    fn value(&mut self, field: &Field, row: &[u8], number: usize) -> Value {
        let raw = field.of(row);
        // A zero byte ends a text early; blanks and zero bytes fill the rest of a field.
        let end = raw.iter().position(|&byte| byte == 0).unwrap_or(raw.len());
        let raw = raw.get(..end).unwrap_or_default();
        let trimmed = raw.trim_ascii();
        let understood = match (field.kind, trimmed) {
            (_, b"") => Some(Value::Missing),
            (b'C', _) => Some(Value::Text(self.text(raw.trim_ascii_end()))),
            // Stars mean that a number did not fit; the format has no other way to say "none".
            (b'N' | b'F', text) if text.iter().all(|&byte| byte == b'*') => Some(Value::Missing),
            (b'N' | b'F', text) => std::str::from_utf8(text).ok().and_then(number_of),
            (b'D', text) => date(text),
            (_, b"?") => Some(Value::Missing),
            (_, b"T" | b"t" | b"Y" | b"y") => Some(Value::Flag(true)),
            (_, b"F" | b"f" | b"N" | b"n") => Some(Value::Flag(false)),
            _ => None,
        };
        understood.unwrap_or_else(|| {
            let text = self.text(trimmed);
            self.odd += 1;
            self.first_odd.get_or_insert_with(|| {
                let name = String::from_utf8_lossy(&field.name);
                (
                    number,
                    format!(
                        "'{text}' in the field '{name}' of type {}",
                        field.kind as char
                    ),
                )
            });
            Value::Text(text)
        })
    }

    fn findings(self, place: &Place) -> Vec<Finding> {
        let mut findings = Vec::new();
        if self.broken > 0 {
            findings.push(Finding::warning(
                "read.text",
                place.clone(),
                format!(
                    "{} texts of the .dbf hold bytes that mean nothing in its code page; they show as \u{fffd}.",
                    self.broken
                ),
            ));
        }
        if let Some((row, what)) = self.first_odd {
            findings.push(Finding::warning(
                "read.odd_value",
                place.clone().feature(row),
                format!("{} cells of the .dbf do not fit their type and were kept as text, first {what}.", self.odd),
            ));
        }
        findings
    }
}

fn number_of(text: &str) -> Option<Value> {
    if let Ok(number) = text.parse() {
        return Some(Value::Integer(number));
    }
    // Some programs write the decimal comma of their country.
    let number: f64 = text.replace(',', ".").parse().ok()?;
    number.is_finite().then_some(Value::Number(number))
}

/// A date as `2026-03-15`.
fn date(raw: &[u8]) -> Option<Value> {
    let digits = raw.iter().all(u8::is_ascii_digit);
    match std::str::from_utf8(raw).ok()?.split_at_checked(4)? {
        ("0000", "0000") => Some(Value::Missing),
        (year, day) if digits && day.len() == 4 => {
            let (month, day) = day.split_at_checked(2)?;
            Some(Value::Text(format!("{year}-{month}-{day}")))
        }
        _ => None,
    }
}

fn damaged(place: &Place, problem: &str) -> Box<Fault> {
    Fault::input(
        "read.damaged",
        place.clone(),
        problem,
        "the .dbf file of a shapefile (dBase table)",
        "Copy or export the shapefile again.",
    )
}

#[cfg(test)]
mod tests;
