//! Where the records of a `.shp` lie: by the `.shx` if it is sound, else one after the other.

use crate::codec::bytes::{Bytes, Order, Short};

/// Length of the header of both files, in bytes.
pub(super) const HEADER: usize = 100;
/// Length of the header of one record: its number and its length.
pub(super) const RECORD_HEADER: usize = 8;

/// Where the content of a record starts and how long it is, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) start: usize,
    pub(super) length: usize,
}

/// Why the records cannot be followed; the number of the record, from 1.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Broken {
    /// The file ends inside this record.
    Truncated { record: usize },
    /// This record states a length that none can have.
    Length { record: usize },
}

/// The records that follow one another up to `end`.
pub(super) fn in_sequence(shp: &[u8], end: usize) -> Result<Vec<Span>, Broken> {
    let mut spans = Vec::new();
    let mut at = HEADER;
    while at < end {
        let record = spans.len() + 1;
        let span = span(shp, at).map_err(|_| Broken::Truncated { record })?;
        // The smallest record is a null shape: its type in four bytes.
        let span = span
            .filter(|span| span.length >= 4)
            .ok_or(Broken::Length { record })?;
        at = span.start + span.length;
        if at > shp.len() {
            return Err(Broken::Truncated { record });
        }
        spans.push(span);
    }
    Ok(spans)
}

/// The records as a `.shx` lists them; `None` if it does not agree with the `.shp`.
pub(super) fn by_index(shx: &[u8], shp: &[u8]) -> Option<Vec<Span>> {
    let entries = shx.get(HEADER..)?;
    let stated = words(Bytes::new(shx.get(24..28)?).u32(Order::Big).ok()?)?;
    // A shorter index that still fits would lose records.
    if stated != shx.len() || !entries.len().is_multiple_of(8) {
        return None;
    }
    let mut bytes = Bytes::new(entries);
    let mut spans = Vec::new();
    let mut used = 0;
    while bytes.left() > 0 {
        let at = words(bytes.u32(Order::Big).ok()?)?;
        let length = words(bytes.u32(Order::Big).ok()?)?;
        let span = span(shp, at).ok()??;
        if span.length != length
            || length < 4
            || span.start + span.length > shp.len()
            || at < HEADER
        {
            return None;
        }
        spans.push(span);
        used += length + RECORD_HEADER;
    }
    // Entries that share bytes would let a small file unfold into a huge layer.
    (used <= shp.len()).then_some(spans)
}

/// The record whose header is at this byte. `Ok(None)`: its length makes no sense.
fn span(shp: &[u8], at: usize) -> Result<Option<Span>, Short> {
    let mut bytes = Bytes::new(shp.get(at..).unwrap_or_default());
    // The record's number is not used: some programs count from 0, some leave it out.
    bytes.u32(Order::Big)?;
    let length = words(bytes.u32(Order::Big)?);
    Ok(length.map(|length| Span {
        start: at + RECORD_HEADER,
        length,
    }))
}

/// Lengths and offsets are stored in words of two bytes, in a signed number.
pub(super) fn words(stored: u32) -> Option<usize> {
    i32::try_from(stored).ok().map(|words| words as usize * 2)
}
