//! The time logs of a task: a header and records, each in a file of its own.

use super::{Reader, is_stem, text};
use crate::codec::room::PER_PIECE;
use crate::codec::taskdata::{Element, Log, LogColumn, LogRecord, MOST_RECORDS, decode_log, parse};
use crate::findings::Outcome;

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
