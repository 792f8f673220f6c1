//! Time logs of a harvester, in the task data of the open standard, as readings. Numbers and units of the entries: the public export
//! of the ISO 11783-11 data dictionary (see docs/methods/harvest.md).

use super::columns::{Columns, Role};
use super::readings::{Reading, Readings};
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Frame;
use crate::read::taskdata::{Task, TaskSet};
use std::collections::BTreeSet;

/// Mass per area, mg/m2, not corrected to a moisture.
const YIELD: u16 = 84;
/// Mass per time, mg/s.
const FLOW: u16 = 87;
/// Moisture, parts per million.
const MOISTURE: u16 = 99;
/// Working width, mm.
const WIDTH: u16 = 67;
/// Work state; 0 is off.
const WORK_STATE: u16 = 141;
/// Other entries of a yield, for the message where none of the two is there.
const OTHERS: [(u16, &str); 5] = [
    (83, "volume per area"),
    (85, "count per area"),
    (86, "volume per time"),
    (181, "dry mass per area"),
    (182, "dry mass per time"),
];

/// Adds the records of all logs of a set that have a place and a yield; gives what they hold, as columns would. The flow counts where a
/// log has one, else the yield. `width_m` stands in where no entry has one. Each task is a load of its own.
///
/// # Errors
/// No log with a yield by mass; one entry of two device elements; logs with a flow beside logs without.
pub fn from_log(
    readings: &mut Readings,
    set: &TaskSet,
    frame: &Frame,
    width_m: Option<f64>,
) -> Outcome<Columns> {
    let all = || set.tasks.iter().flat_map(|task| &task.logs);
    let has =
        |ddi: u16| all().any(|(_, log)| log.columns.iter().any(|column| column.ddi == Some(ddi)));
    let is_flow = has(FLOW);
    if !is_flow && !has(YIELD) {
        let others: Vec<&str> = OTHERS
            .iter()
            .filter(|(ddi, _)| has(*ddi))
            .map(|(_, words)| *words)
            .collect();
        let found = match others.is_empty() {
            true => "The time logs hold no yield".to_owned(),
            false => format!(
                "The time logs hold the yield as {} alone",
                others.join(", ")
            ),
        };
        return Err(bad(
            set,
            found,
            "mass per area (entry 84) or mass per time (87), as harvested",
            "Name the folder TASKDATA of the harvester; or export its readings as points.",
        ));
    }
    readings.is_flow = is_flow;
    readings.findings.extend(set.findings.iter().cloned());
    if readings.machines.is_empty() {
        readings.machines.push(String::new());
    }
    for task in &set.tasks {
        let load = match readings.loads.iter().position(|own| *own == task.id) {
            Some(at) => at,
            None => {
                readings.loads.push(task.id.clone());
                readings.loads.len() - 1
            }
        };
        let load = u16::try_from(load).map_err(|_| {
            bad(
                set,
                "The set has more than 65 535 tasks".to_owned(),
                "fewer tasks",
                "Copy only the tasks you need from the terminal.",
            )
        })?;
        of_task(readings, set, task, frame, load, width_m)?;
    }
    Ok(Columns::of_log(is_flow, has(MOISTURE)))
}

fn of_task(
    readings: &mut Readings,
    set: &TaskSet,
    task: &Task,
    frame: &Frame,
    load: u16,
    width_m: Option<f64>,
) -> Outcome<()> {
    for (name, log) in &task.logs {
        // The entries in the order of `at` below, each of one element.
        let entries = [
            if readings.is_flow { FLOW } else { YIELD },
            MOISTURE,
            WIDTH,
            WORK_STATE,
        ];
        let mut at = [None; 4];
        for (slot, ddi) in at.iter_mut().zip(entries) {
            let columns = log.columns.iter().enumerate();
            let own: Vec<usize> = columns
                .filter(|(_, column)| column.ddi == Some(ddi))
                .map(|(nth, _)| nth)
                .collect();
            let elements: BTreeSet<&Option<String>> =
                own.iter().map(|nth| &log.columns[*nth].element).collect();
            if elements.len() > 1 && ddi != WORK_STATE && ddi != WIDTH {
                return Err(bad(
                    set,
                    format!(
                        "Log {name} has entry {ddi} of {} device elements",
                        elements.len()
                    ),
                    "one element with yield and moisture",
                    "Export the readings of this harvester as points, and name their columns.",
                ));
            }
            *slot = own.first().copied();
        }
        let [Some(grain_at), ..] = at else {
            // A log of something else, such as the way on the road.
            continue;
        };
        // What an entry says holds until it says something else.
        let mut now: Vec<Option<i32>> = log.columns.iter().map(|own| own.constant).collect();
        for record in &log.records {
            for (column, value) in &record.values {
                if let Some(own) = now.get_mut(usize::from(*column)) {
                    *own = Some(*value);
                }
            }
            let value = |slot: usize| {
                let own = at[slot].and_then(|nth| now.get(nth).copied().flatten());
                own.map(f64::from)
            };
            let grain = now.get(grain_at).copied().flatten();
            let (Some(lon_lat), Some(grain)) = (record.lon_lat, grain) else {
                readings.without += 1;
                continue;
            };
            let factor = if readings.is_flow { 1e-6 } else { 0.01 };
            let place = frame.to_plane(lon_lat);
            readings.of.push(Reading {
                xy: place.pair(),
                time_s: f64::from(record.day) * 86_400.0 + f64::from(record.millisecond) / 1_000.0,
                grain: f64::from(grain) * factor,
                moisture_percent: value(1).map_or(f64::NAN, |ppm| ppm / 10_000.0),
                distance_m: f64::NAN,
                width_m: value(2)
                    .map(|mm| mm / 1_000.0)
                    .or(width_m)
                    .unwrap_or(f64::NAN),
                interval_s: f64::NAN,
                speed_m_s: f64::NAN,
                outside: false,
                header_up: value(3) == Some(0.0),
                machine: 0,
                load,
                treatment: u16::MAX,
                block: u16::MAX,
            });
        }
    }
    Ok(())
}

impl Columns {
    /// What the logs of a harvester hold, named by their entries.
    fn of_log(is_flow: bool, has_moisture: bool) -> Self {
        let grain = match is_flow {
            true => (Role::Flow, FLOW),
            false => (Role::Yield, YIELD),
        };
        let moisture = has_moisture.then_some((Role::Moisture, MOISTURE));
        Self::of([Some(grain), moisture].into_iter().flatten())
    }
}

fn bad(set: &TaskSet, found: String, allowed: &str, next: &str) -> Box<Fault> {
    Fault::input("harvest.log", Place::file(&set.file), found, allowed, next)
}
