//! Layers to readings in the field's plane, in our units.

use super::columns::{Columns, Role};
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::read::{Geometry, Layer, Value};
use std::collections::HashMap;

/// One reading of the harvester. A number that the file does not give is not a number (NaN).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Place in the field's plane, m.
    pub xy: [f64; 2],
    /// Seconds, from any start.
    pub time_s: f64,
    /// Grain as the file counts it (see [`Readings::is_flow`]): kg/s, or kg/ha.
    pub grain: f64,
    /// Moisture, % of the wet weight.
    pub moisture_percent: f64,
    /// Travel since the reading before, m.
    pub distance_m: f64,
    /// Width that was cut, m.
    pub width_m: f64,
    /// Seconds since the reading before.
    pub interval_s: f64,
    /// Speed, m/s.
    pub speed_m_s: f64,
    /// Outside the land of the plan.
    pub outside: bool,
    /// The header is up.
    pub header_up: bool,
    /// Which combine, of [`Readings::machines`].
    pub machine: u16,
    /// Which load or day, of [`Readings::loads`].
    pub load: u16,
    /// Which treatment, of [`Readings::treatments`]; `u16::MAX` for none.
    pub treatment: u16,
    /// Which block, of [`Readings::blocks`]; `u16::MAX` for none.
    pub block: u16,
}

/// All readings of the files, in their order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Readings {
    /// The readings.
    pub of: Vec<Reading>,
    /// Whether grain is a flow as harvested; else a yield.
    pub is_flow: bool,
    /// Names of combines; one empty name where no column tells them.
    pub machines: Vec<String>,
    /// Names of loads or days, likewise.
    pub loads: Vec<String>,
    /// Treatments as the files name them.
    pub treatments: Vec<String>,
    /// Blocks as the files name them.
    pub blocks: Vec<String>,
    /// Lines without a place or without grain.
    pub without: usize,
    /// What reading noticed.
    pub findings: Vec<Finding>,
}

/// Names with their numbers, in the order in which they came.
struct Names<'a> {
    list: &'a mut Vec<String>,
    known: HashMap<String, u16>,
}

impl<'a> Names<'a> {
    fn of(list: &'a mut Vec<String>) -> Self {
        let known = list.iter().zip(0..).map(|(name, at)| (name.clone(), at));
        Self {
            known: known.collect(),
            list,
        }
    }

    /// The number of a name; `None` for the 10 001st.
    fn number(&mut self, name: &str) -> Option<u16> {
        if let Some(&at) = self.known.get(name) {
            return Some(at);
        }
        let at = u16::try_from(self.list.len())
            .ok()
            .filter(|at| *at < 10_000)?;
        self.known.insert(name.to_owned(), at);
        self.list.push(name.to_owned());
        Some(at)
    }
}

/// Adds the points of a layer, which lies in the field's plane already. `width_m` stands in where no column has one.
///
/// # Errors
/// A column that is not there; a cell that is no number; more than 10 000 names; shapes that are no points.
pub fn read(
    readings: &mut Readings,
    layer: &Layer<PlaneXy>,
    columns: &Columns,
    width_m: Option<f64>,
) -> Outcome<()> {
    let mut at: [Option<(usize, f64)>; Role::ALL.len()] = [None; Role::ALL.len()];
    for (place, role) in at.iter_mut().zip(Role::ALL) {
        if let Some((name, factor)) = columns.named(role) {
            let found = layer.attributes.iter().position(|own| own == name);
            *place = Some((found.ok_or_else(|| missing(layer, name))?, factor));
        }
    }
    readings.is_flow = columns.named(Role::Flow).is_some();
    readings.findings.extend(layer.findings.iter().cloned());
    readings.of.reserve(layer.features.len());
    let mut treatments = Names::of(&mut readings.treatments);
    let mut blocks = Names::of(&mut readings.blocks);
    let mut machines = Names::of(&mut readings.machines);
    let mut loads = Names::of(&mut readings.loads);
    // A spreadsheet program keeps midnight as a day alone. Where no cell has a time of day, days say nothing of waits.
    let with_time =
        |value: &Value| matches!(value, Value::Text(text) if text.trim().contains(['T', ' ']));
    let midnights = at[Role::Time as usize].is_some_and(|(at, _)| {
        let mut times = layer.features.iter().filter_map(|own| own.values.get(at));
        times.any(with_time)
    });
    for feature in &layer.features {
        let xy = match &feature.geometry {
            Geometry::Points(points) => points.first().map(|place| place.pair()),
            Geometry::Empty => None,
            _ => {
                return Err(Fault::input(
                    "harvest.no_points",
                    layer.place().feature(&feature.name),
                    "A feature is no point",
                    "points, one per reading of the harvester",
                    "Export the readings as points.",
                ));
            }
        };
        let cell = |role: Role| {
            at[role as usize].and_then(|(at, factor)| Some((feature.values.get(at)?, factor)))
        };
        let number = |role: Role| match cell(role) {
            None => Ok(f64::NAN),
            Some((value, factor)) => match as_number(value) {
                Some(number) => Ok(number * factor),
                None => Err(no_number(layer, &feature.name, columns, role, value)),
            },
        };
        let grain = number(if readings.is_flow {
            Role::Flow
        } else {
            Role::Yield
        })?;
        let Some(xy) = xy.filter(|_| grain.is_finite()) else {
            readings.without += 1;
            continue;
        };
        let name = |role: Role, names: &mut Names, empty: Option<&str>| {
            let Some((value, _)) = cell(role) else {
                return Ok(None);
            };
            let text = value.to_string();
            let Some(text) = Some(text.trim()).filter(|text| !text.is_empty()).or(empty) else {
                return Ok(None);
            };
            let number = names.number(text);
            number
                .map(Some)
                .ok_or_else(|| no_number(layer, &feature.name, columns, role, value))
        };
        let treatment = name(Role::Treatment, &mut treatments, None)?;
        let block = name(Role::Block, &mut blocks, None)?;
        let machine = name(Role::Machine, &mut machines, Some(""))?;
        let load = name(Role::Load, &mut loads, Some(""))?;
        let width = number(Role::Width)?;
        let header = number(Role::Header)?;
        let time_s = match cell(Role::Time) {
            None => f64::NAN,
            Some((value, _)) => seconds(value, midnights)
                .ok_or_else(|| no_number(layer, &feature.name, columns, Role::Time, value))?,
        };
        let reading = Reading {
            xy,
            time_s,
            grain,
            moisture_percent: number(Role::Moisture)?,
            distance_m: number(Role::Distance)?,
            width_m: if width.is_nan() {
                width_m.unwrap_or(f64::NAN)
            } else {
                width
            },
            interval_s: number(Role::Interval)?,
            speed_m_s: number(Role::Speed)?,
            outside: false,
            header_up: header == 0.0,
            machine: machine.unwrap_or(0),
            load: load.unwrap_or(0),
            treatment: treatment.unwrap_or(u16::MAX),
            block: block.unwrap_or(u16::MAX),
        };
        readings.of.push(reading);
    }
    for names in [&mut readings.machines, &mut readings.loads] {
        if names.is_empty() {
            names.push(String::new());
        }
    }
    Ok(())
}

/// A number, also where it is kept as text; not a number where the cell is empty.
fn as_number(value: &Value) -> Option<f64> {
    let number = match value {
        Value::Missing => return Some(f64::NAN),
        Value::Integer(number) => *number as f64,
        Value::Number(number) => *number,
        Value::Flag(flag) => f64::from(u8::from(*flag)),
        Value::Text(text) if text.trim().is_empty() => return Some(f64::NAN),
        Value::Text(text) => text.trim().parse().ok()?,
    };
    number.is_finite().then_some(number)
}

/// Seconds: a number, or a date with time of day (ISO 8601, such as 2026-08-01T14:03:07); a date alone is midnight where it may
/// be.
fn seconds(value: &Value, midnights: bool) -> Option<f64> {
    let Value::Text(text) = value else {
        return as_number(value);
    };
    let text = text.trim();
    if text.is_empty() {
        return Some(f64::NAN);
    }
    if let Ok(number) = text.parse::<f64>() {
        return number.is_finite().then_some(number);
    }
    let parted = text.split_once(['T', ' ']);
    let (date, of_day) = parted.or(midnights.then_some((text, "00:00:00")))?;
    let mut date = date.split('-').map(|part| part.parse::<i32>().ok());
    let (year, month, day) = (date.next()??, date.next()??, date.next()??);
    if date.next().is_some() {
        return None;
    }
    let month = time::Month::try_from(u8::try_from(month).ok()?).ok()?;
    let date = time::Date::from_calendar_date(year, month, u8::try_from(day).ok()?).ok()?;
    // A zone behind the time is the same for all readings of a harvest.
    let of_day = of_day.trim_end_matches('Z');
    let of_day = of_day.split(['+', '-']).next()?;
    let mut parts = of_day
        .split(':')
        .map(|part| part.trim().parse::<f64>().ok());
    let (hours, minutes, seconds) = (parts.next()??, parts.next()??, parts.next()??);
    Some(f64::from(date.to_julian_day()) * 86_400.0 + hours * 3_600.0 + minutes * 60.0 + seconds)
}

fn missing(layer: &Layer<PlaneXy>, name: &str) -> Box<Fault> {
    Fault::input(
        "harvest.no_column",
        layer.place(),
        format!("The column '{name}' is not there"),
        format!("one of: {}", layer.attributes.join(", ")),
        "Correct --column.",
    )
}

fn no_number(
    layer: &Layer<PlaneXy>,
    feature: &str,
    columns: &Columns,
    role: Role,
    value: &Value,
) -> Box<Fault> {
    let name = columns.named(role).map_or("", |(name, _)| name);
    let allowed = match role {
        Role::Time => "seconds, or a date with time such as 2026-08-01T14:03:07, or nothing",
        Role::Machine | Role::Load | Role::Treatment | Role::Block => {
            "up to 10 000 different names"
        }
        _ => "a number, or nothing",
    };
    Fault::input(
        "harvest.value",
        layer.place().feature(feature),
        format!(
            "The column '{name}' holds '{}' as {}",
            value.to_string().escape_debug(),
            role.word()
        ),
        allowed,
        "Correct the cell, or leave the reading out.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_seconds_or_dates() {
        let text = |text: &str| seconds(&Value::Text(text.to_owned()), false);
        assert_eq!(seconds(&Value::Integer(12), false), Some(12.0));
        assert_eq!(text("12.5"), Some(12.5));
        let [a, b] =
            ["2026-07-31T23:59:58Z", "2026-08-01 00:00:01.5+02:00"].map(|t| text(t).unwrap());
        assert!((b - a - 3.5).abs() < 1e-6);
        for wrong in ["noon", "2026-13-01T00:00:00", "2026-08-01", "2026-08-01T12"] {
            assert_eq!(text(wrong), None, "{wrong}");
        }
        let midnight = seconds(&Value::Text("2026-08-01".to_owned()), true);
        assert_eq!(midnight, text("2026-08-01T00:00:00"));
        assert_eq!(seconds(&Value::Text("noon".to_owned()), true), None);
    }
}
