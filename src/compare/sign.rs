//! What a time log is known by: names of tasks and files are the same on every copy of a stick.

use super::result::DAY_0;
use crate::codec::taskdata::{Log, LogRecord};
use crate::job::date_of;
use crate::read::taskdata::{Task, TaskSet};

/// The sign of each log with records, without spaces: the moment of its first record by the terminal's clock, and the machine that
/// wrote it; where the set does not describe one, the first place in the log.
pub(super) fn signs(set: &TaskSet, tasks: &[&Task]) -> Vec<String> {
    let logs = tasks.iter().flat_map(|task| &task.logs);
    let mut signs: Vec<String> = logs.filter_map(|(_, log)| sign(set, log)).collect();
    signs.sort();
    signs.dedup();
    signs
}

fn sign(set: &TaskSet, log: &Log) -> Option<String> {
    let moment = |record: &LogRecord| (record.day, record.millisecond);
    let (day, ms) = log.records.iter().map(moment).min()?;
    let date = date_of(i64::from(day) + DAY_0);
    let [h, min, s] = [ms / 3_600_000, ms / 60_000 % 60, ms / 1_000 % 60];
    let by = machine(set, log).or_else(|| {
        let place = log.records.iter().find_map(|record| record.lon_lat)?;
        Some(format!("{:.7}_{:.7}", place.lon, place.lat))
    });
    let by = by.unwrap_or_default();
    Some(format!(
        "{date}T{h:02}:{min:02}:{s:02}.{:03}/{by}",
        ms % 1_000
    ))
}

/// Serial number, name on the bus or name of the machine whose elements the log speaks of, whichever is given first.
fn machine(set: &TaskSet, log: &Log) -> Option<String> {
    let mut elements = log.columns.iter().filter_map(|own| own.element.as_ref());
    let element = elements.find_map(|id| set.elements.iter().find(|own| own.id == *id))?;
    let device = set.devices.iter().find(|own| own.id == element.device)?;
    let given = ["E", "D", "B"].map(|key| device.description.get(key).unwrap_or_default().trim());
    let name = given.into_iter().find(|text| !text.is_empty())?;
    let plain = |own: char| if own.is_alphanumeric() { own } else { '-' };
    Some(name.chars().map(plain).collect())
}
