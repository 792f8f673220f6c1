//! The time logs of a task: a header and records, each in a file of its own.

use super::{Reader, is_stem, number, text};
use crate::codec::room::PER_PIECE;
use crate::codec::taskdata::{
    Element, Log, LogColumn, LogRecord, MOST_RECORDS, decode_log, parse, parse_ddi,
};
use crate::findings::Outcome;

/// A value that stands in the task itself, at a time of effective work (`TIM` with `DLV`). Totals go on from one time to
/// the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Noted {
    /// Data dictionary number.
    pub ddi: u16,
    /// Id of the device element.
    pub element: Option<String>,
    /// Raw value.
    pub value: i32,
}

/// Bytes that a log takes.
fn held(log: &Log) -> usize {
    let of_record = |record: &LogRecord| {
        let values = record.values.capacity() * size_of::<(u8, i32)>();
        size_of::<LogRecord>() + values + if values > 0 { PER_PIECE } else { 0 }
    };
    let records: usize = log.records.iter().map(of_record).sum();
    records + log.columns.len() * (size_of::<LogColumn>() + 2 * PER_PIECE)
}

/// Reads a log; `None`, with a finding, where a file of it is missing or no log.
pub(super) fn read(
    element: &Element,
    task: &str,
    reader: &mut Reader,
) -> Outcome<Option<(String, Log)>> {
    let name = text(element, "A");
    if !is_stem(&name) {
        reader.warn(
            task,
            format!("The time log '{name}' has no proper file name and was left out."),
        );
        return Ok(None);
    }
    // Named again, in this task or another, it would count again.
    let key = name.to_ascii_uppercase();
    if !reader.logs.insert(key) {
        reader.warn(
            task,
            format!("The time log {name} is named more than once; it was read once."),
        );
        return Ok(None);
    }
    let header = reader.container.get(&format!("{name}.XML"))?;
    let records = reader.container.get(&format!("{name}.BIN"))?;
    let (Some((_, header)), Some((_, records))) = (header, records) else {
        reader.warn(
            task,
            format!("A file of the time log {name} is not there, so it was left out."),
        );
        return Ok(None);
    };
    reader.room.read(records.len() + header.len());
    let header = match parse(&header) {
        Ok(header) => header,
        Err(bad) => {
            let message = format!("The header of the time log {name} is no XML: {}.", bad.what);
            reader.warn(task, message);
            return Ok(None);
        }
    };
    let log = decode_log(&header, &records);
    if !reader.room.take(held(&log)) {
        let message = format!(
            "The time log {name} takes more memory than files of this size may, so it was left out."
        );
        reader.warn(task, message);
        return Ok(None);
    }
    if log.records.len() == MOST_RECORDS {
        let message = format!("The time log {name} was read up to its record {MOST_RECORDS}.");
        reader.warn(task, message);
    } else if log.left_bytes > 0 {
        let message = format!(
            "The time log {name} ends in {} bytes that make no record.",
            log.left_bytes
        );
        reader.warn(task, message);
    }
    let values = log.records.iter().flat_map(|record| &record.values);
    let unnamed = values.filter(|(column, _)| usize::from(*column) >= log.columns.len());
    let unnamed = unnamed.count();
    if unnamed > 0 {
        let message = format!(
            "The time log {name} has {unnamed} values for columns that its header does not name; they were left out."
        );
        reader.warn(task, message);
    }
    Ok(Some((name, log)))
}

/// Type of a time in which the work was done.
const EFFECTIVE: u8 = 4;

/// What stands at the times of effective work of a task, in order of their starts.
pub(super) fn noted(task: &Element) -> Vec<Noted> {
    let times = task.children.iter().filter(|child| child.tag == "TIM");
    let mut times: Vec<&Element> = times
        .filter(|time| number::<u8>(time, "D") == Some(EFFECTIVE))
        .collect();
    // Times of one task are written alike, so that their texts sort as they do.
    times.sort_by_key(|time| time.get("A").unwrap_or_default());
    let values = times.into_iter().flat_map(|time| &time.children);
    let values = values.filter(|child| child.tag == "DLV");
    values
        .filter_map(|value| {
            Some(Noted {
                ddi: parse_ddi(value.get("A")?)?,
                element: value.get("C").map(str::to_string),
                value: number(value, "B")?,
            })
        })
        .collect()
}
