//! Values at places: read from a layer of points, without those that the job's rules leave out.

use super::track;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::job::Values;
use crate::read::{Geometry, Layer, Value};
use std::collections::BTreeMap;

/// Values at places in the field's plane.
pub(super) struct Samples {
    pub points: Vec<[f64; 2]>,
    pub values: Vec<f64>,
}

/// One record of a layer of points.
pub(super) struct Record {
    /// The feature's name: its number in the file.
    pub name: String,
    pub place: [f64; 2],
    pub value: f64,
    /// Speed, where the job names a column for it.
    pub speed: Option<f64>,
}

/// Reads the values, leaves out what the job's rules say and averages values at one place.
///
/// # Errors
/// No such column, values that are no numbers, fewer than three places with a value.
pub(super) fn samples(
    layer: &Layer<PlaneXy>,
    job: &Values,
    what: &str,
    findings: &mut Vec<Finding>,
) -> Outcome<Samples> {
    let column = job.column.as_deref().unwrap_or("");
    let (mut all, missing) = records(layer, job, column, what)?;
    let read = all.len();
    let mut left_out = Vec::new();
    if let Some(track) = &job.track {
        left_out.extend(track::clean(&mut all, track));
    }
    let (low, high) = (
        job.lowest.unwrap_or(f64::NEG_INFINITY),
        job.highest.unwrap_or(f64::INFINITY),
    );
    let before = all.len();
    all.retain(|record| (low..=high).contains(&record.value));
    left_out.push((before - all.len(), "outside of lowest and highest"));
    if let Some(most) = job.most_deviations {
        let middle = median(all.iter().map(|record| record.value));
        // 1.4826 makes the median deviation of a normal distribution its standard deviation.
        let deviation = 1.4826 * median(all.iter().map(|record| (record.value - middle).abs()));
        let before = all.len();
        if deviation > 0.0 {
            all.retain(|record| (record.value - middle).abs() <= most * deviation);
        }
        left_out.push((before - all.len(), "too far from the median"));
    }
    // One place, to a centimetre, one value.
    let mut places: BTreeMap<[i64; 2], ([f64; 2], f64, f64)> = BTreeMap::new();
    for Record { place, value, .. } in &all {
        let key = place.map(|metres| (metres * 100.0).round() as i64);
        let entry = places.entry(key).or_insert((*place, 0.0, 0.0));
        entry.1 += value;
        entry.2 += 1.0;
    }
    if places.len() < 3 {
        return Err(Fault::input(
            "surface.few_points",
            layer.place(),
            format!(
                "{what} has {} places with a value on or near the field",
                places.len()
            ),
            "at least 3 places within 50 m of the field",
            "check the CRS and what leaves points out (`lowest`, `highest`, `track`), or use one rate for the field",
        ));
    }
    let left_out: Vec<String> = left_out
        .iter()
        .map(|(count, why)| format!("{count} {why}"))
        .collect();
    findings.push(Finding::note(
        "surface.points",
        layer.place(),
        format!(
            "{what}: {read} values of '{column}' on or near the field; left out: {}; {missing} without a value; {} shared a place with another and were averaged; {} places remain",
            left_out.join(", "),
            all.len() - places.len(),
            places.len()
        ),
    ));
    Ok(Samples {
        points: places.values().map(|(point, ..)| *point).collect(),
        values: places.values().map(|(_, sum, count)| sum / count).collect(),
    })
}

/// The points that have a value, in the order of the file, and how many have none.
fn records(
    layer: &Layer<PlaneXy>,
    job: &Values,
    column: &str,
    what: &str,
) -> Outcome<(Vec<Record>, usize)> {
    let value_at = column_at(layer, column, what, "column")?;
    let speed_column = job.track.as_ref().and_then(|t| t.speed_column.as_deref());
    let speed_at = speed_column
        .map(|column| column_at(layer, column, what, "speed_column"))
        .transpose()?;
    let mut all = Vec::new();
    let mut missing = 0;
    for feature in &layer.features {
        let number = |at: usize, column: &str| match feature.values.get(at) {
            Some(Value::Integer(whole)) => Ok(Some(*whole as f64)),
            Some(Value::Number(number)) if number.is_finite() => Ok(Some(*number)),
            Some(Value::Missing | Value::Number(_)) | None => Ok(None),
            Some(other) => Err(Fault::input(
                "surface.no_number",
                layer.place().feature(&feature.name),
                format!("the value '{other}' in '{column}' is no number"),
                "numbers, or nothing where there is no value",
                "correct it; write what is below a laboratory's limit as a number you agree with",
            )),
        };
        let Some(value) = number(value_at, column)? else {
            missing += 1;
            continue;
        };
        let speed = match speed_at {
            Some(at) => number(at, speed_column.unwrap_or(""))?,
            None => None,
        };
        if let Geometry::Points(points) = &feature.geometry {
            all.extend(points.iter().map(|place| Record {
                name: feature.name.clone(),
                place: place.pair(),
                value,
                speed,
            }));
        }
    }
    Ok((all, missing))
}

fn column_at(layer: &Layer<PlaneXy>, column: &str, what: &str, key: &str) -> Outcome<usize> {
    let at = layer.attributes.iter().position(|name| name == column);
    at.ok_or_else(|| {
        Fault::input(
            "surface.no_column",
            layer.place(),
            format!("{what} has no column '{column}'"),
            format!("one of: {}", layer.attributes.join(", ")),
            format!("set `{key}` in `values` to one of them"),
        )
    })
}

/// The middle value, or the mean of the two in the middle.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_unstable_by(f64::total_cmp);
    let half = all.len() / 2;
    match (all.len() % 2, all.get(half), all.get(half.wrapping_sub(1))) {
        (0, Some(above), Some(below)) => (above + below) / 2.0,
        (_, Some(middle), _) => *middle,
        _ => 0.0,
    }
}
