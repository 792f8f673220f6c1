//! Time logs as points: where a value is not in a record, the last one holds.

use super::super::TaskSet;
use super::{feature, feature_bytes, said, task_values};
use crate::codec::room;
use crate::codec::taskdata::{LogColumn, LogRecord, known};
use crate::findings::Finding;
use crate::read::{Geometry, Layer, Value};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// Most values of the table; more records than fit are thinned, and so are those that take more memory than files of
/// their size may.
const MOST_VALUES: usize = 10_000_000;
/// Letters of a time, and about as many of a feature's name.
const LETTERS: usize = 2 * 24;

pub(super) fn fill(set: &TaskSet, layer: &mut Layer) {
    layer.attributes = [
        "task",
        "task_name",
        "field",
        "log",
        "time",
        "position_status",
    ]
    .map(str::to_string)
    .to_vec();
    let fixed = layer.attributes.len();
    let logs = || {
        set.tasks
            .iter()
            .flat_map(|task| task.logs.iter().map(move |(name, log)| (task, name, log)))
    };
    let mut places: BTreeMap<String, usize> = BTreeMap::new();
    for (_, _, log) in logs() {
        for column in &log.columns {
            let name = column_name(column);
            if let Entry::Vacant(free) = places.entry(name.clone()) {
                free.insert(layer.attributes.len());
                layer.attributes.push(name);
            }
        }
    }
    let records: usize = logs().map(|(_, _, log)| log.records.len()).sum();
    let of_task = |task| {
        let own = task_values(set, task).into_iter();
        let own: Vec<Value> = own.map(|(_, value)| value).collect();
        feature_bytes(&own, layer.attributes.len() - own.len()) + LETTERS
    };
    let each = logs().map(|(task, ..)| of_task(task)).max().unwrap_or(0);
    let every = (records.saturating_mul(layer.attributes.len()))
        .div_ceil(MOST_VALUES)
        .max(records.saturating_mul(each).div_ceil(room::most(set.bytes)))
        .max(1);
    let mut without = 0_usize;
    for (task, name, log) in logs() {
        let at: Vec<Option<usize>> = log
            .columns
            .iter()
            .map(|column| places.get(&column_name(column)).copied())
            .collect();
        let mut values: Vec<Value> = task_values(set, task)
            .into_iter()
            .map(|(_, value)| value)
            .collect();
        values.push(said(name));
        values.resize(layer.attributes.len(), Value::Missing);
        let put = |values: &mut Vec<Value>, nth: usize, raw: i32| {
            let column = log.columns.get(nth);
            let place = at.get(nth).copied().flatten();
            if let (Some(column), Some(value)) = (column, place.and_then(|at| values.get_mut(at))) {
                *value = scaled(column, raw);
            }
        };
        for (nth, column) in log.columns.iter().enumerate() {
            if let Some(raw) = column.constant {
                put(&mut values, nth, raw);
            }
        }
        for (number, record) in log.records.iter().enumerate() {
            for (column, raw) in &record.values {
                put(&mut values, usize::from(*column), *raw);
            }
            if number % every != 0 {
                continue;
            }
            let Some(place) = record.lon_lat else {
                without += 1;
                continue;
            };
            values[fixed - 2] = Value::Text(time(record));
            values[fixed - 1] = record
                .status
                .map_or(Value::Missing, |status| Value::Integer(i64::from(status)));
            let name = format!("{name}, record {}", number + 1);
            layer
                .features
                .push(feature(name, Geometry::Points(vec![place]), values.clone()));
        }
    }
    let place = layer.place();
    if without > 0 {
        let message = format!("{without} records without a position were left out.");
        layer
            .findings
            .push(Finding::note("read.log_position", place.clone(), message));
    }
    if every > 1 {
        let message =
            format!("Of {records} records one in {every} was taken: so many make no better map.");
        layer
            .findings
            .push(Finding::note("read.log_thinned", place, message));
    }
}

/// Such as `actual_kg_per_ha_DET2`.
fn column_name(column: &LogColumn) -> String {
    let what = match (column.ddi, column.ddi.and_then(known)) {
        (_, Some(known)) => known.name.to_string(),
        (Some(ddi), None) => format!("ddi_{ddi:04X}"),
        (None, None) => "value".to_string(),
    };
    match &column.element {
        Some(element) if !element.is_empty() => format!("{what}_{element}"),
        _ => what,
    }
}

fn scaled(column: &LogColumn, raw: i32) -> Value {
    match column.ddi.and_then(known) {
        Some(known) if known.factor != 1.0 => {
            Value::Number((f64::from(raw) * known.factor * 1e6).round() / 1e6)
        }
        _ => Value::Integer(i64::from(raw)),
    }
}

/// `2025-12-31T12:00:00.000` in the terminal's own time.
fn time(record: &LogRecord) -> String {
    let start = time::Date::from_calendar_date(1980, time::Month::January, 1);
    let day = start
        .ok()
        .and_then(|start| start.checked_add(time::Duration::days(i64::from(record.day))));
    let day = day.map_or(format!("day {}", record.day), |day| {
        format!(
            "{:04}-{:02}-{:02}",
            day.year(),
            u8::from(day.month()),
            day.day()
        )
    });
    let ms = record.millisecond;
    format!(
        "{day}T{:02}:{:02}:{:02}.{:03}",
        ms / 3_600_000,
        ms / 60_000 % 60,
        ms / 1_000 % 60,
        ms % 1_000
    )
}
