//! Rotors, the air stream and the speeds of the drill.

use super::number::{Numbers, Rounded, grouped, numbers};
use super::table::{Column, Table};
use crate::drill::{Bound, Range, Report, Window};
use crate::job::Job;
use crate::plan::Plan;
use std::fmt::Write as _;

/// What the drill makes of the rates; empty where the job says nothing about metering.
pub(super) fn text(plan: &Plan) -> String {
    let report = plan.drill();
    let numbers = numbers(plan);
    let mut text = String::new();
    if !report.metering.is_empty() {
        text.push_str(&meters(&report, numbers));
    }
    if let (Some((flow, row)), Some(most)) = (report.air_stream, plan.job.drill.max_flow_kg_per_min)
    {
        let _ = writeln!(
            text,
            "\nAir stream: up to {} {unit} (row {row}) of {} {unit}.",
            numbers.flow_text(flow, 1),
            numbers.flow_text(most, 1),
            unit = numbers.flow_unit()
        );
    }
    if let Some(window) = &report.field_speed {
        let _ = writeln!(
            text,
            "Speed at full width over all rows: {}.",
            speeds(window, numbers)
        );
        text.push_str(&rows(&report, &plan.job, numbers));
    }
    text
}

fn meters(report: &Report, numbers: Numbers) -> String {
    let unit = numbers.flow_unit();
    let mut table = Table::new([
        Column::Left("metering".to_owned()),
        Column::Left("rotor".to_owned()),
        Column::Right(format!("asked {unit}")),
        Column::Right(format!("delivers {unit}")),
        Column::Right("rev/min".to_owned()),
        Column::Right("margin".to_owned()),
        Column::Left(String::new()),
    ]);
    let flows = |range: Range| span(range, |flow| numbers.flow_text(flow, 2));
    for meter in &report.metering {
        for (at, rotor) in meter.rotors.iter().enumerate() {
            let verdict = match (at == meter.best, rotor.margin >= 1.0) {
                (true, true) => "take this one",
                (true, false) => "nearest, but does not cover the map",
                (false, true) => "fits",
                (false, false) => "does not fit",
            };
            table.row([
                meter.product.clone(),
                rotor.name.clone(),
                flows(meter.flow_kg_per_min),
                flows(rotor.delivers_kg_per_min),
                span(rotor.rev_per_min, |turns| grouped(turns, 0)),
                // Rounded down: a margin just below 1 must not read 1.00.
                grouped((rotor.margin * 100.0).floor() / 100.0, 2),
                verdict.to_owned(),
            ]);
        }
    }
    format!("\n{}", table.text())
}

/// Rows that do not allow the speeds of the job; all windows are in plan.json.
fn rows(report: &Report, job: &Job, numbers: Numbers) -> String {
    let speed = job.drill.speed_km_per_h;
    let slow = job.drill.headland_speed_km_per_h.unwrap_or(speed);
    let fast = job.drill.fastest_speed_km_per_h.unwrap_or(speed);
    let allows = |window: &Window| {
        let low = window.low.as_ref().is_none_or(|low| low.km_per_h <= slow);
        let high = window
            .high
            .as_ref()
            .is_none_or(|high| high.km_per_h >= fast);
        low && high
    };
    let mut table = Table::new([Column::Right("row"), Column::Left("speed at full width")]);
    let mut some = false;
    for (row, window) in report.row_speed.iter().filter(|(_, w)| !allows(w)) {
        some = true;
        table.row([row.to_string(), speeds(window, numbers)]);
    }
    let speed = |km_per_h: f64| numbers.speed_text(km_per_h, Rounded::Nearest);
    let unit = numbers.speed_unit();
    let range = if slow < fast {
        format!("{} to {} {unit}", speed(slow), speed(fast))
    } else {
        format!("{} {unit}", speed(fast))
    };
    if some {
        format!("These rows do not allow {range}:\n{}", table.text())
    } else {
        format!("Every row allows {range}.\n")
    }
}

pub(super) fn speeds(window: &Window, numbers: Numbers) -> String {
    let bound = |bound: &Bound, word: &str, rounded: Rounded| {
        let by = match &bound.meter_of {
            Some(product) => format!("meter of {product}"),
            None => "air stream".to_owned(),
        };
        let speed = numbers.speed_text(bound.km_per_h, rounded);
        format!("{word} {speed} {} ({by})", numbers.speed_unit())
    };
    let low = window
        .low
        .as_ref()
        .map(|low| bound(low, "from", Rounded::Up));
    let high = window
        .high
        .as_ref()
        .map(|high| bound(high, "up to", Rounded::Down));
    [low, high]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

fn span(range: Range, shown: impl Fn(f64) -> String) -> String {
    format!("{} to {}", shown(range.low), shown(range.high))
}
