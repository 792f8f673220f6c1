//! Rotors, the air stream and the speeds of the drill.

use super::number::{Numbers, Rounded, grouped};
use super::table::{Column, Table};
use crate::drill::{Bound, Range, Report, Window};
use crate::job::Job;
use crate::plan::Plan;
use std::fmt::Write as _;

/// What the drill makes of the rates; empty where the job says nothing about metering.
pub(super) fn text(plan: &Plan) -> String {
    let report = plan.drill();
    let mut text = String::new();
    if !report.metering.is_empty() {
        text.push_str(&meters(&report));
    }
    if let (Some((flow, row)), Some(most)) = (report.air_stream, plan.job.drill.max_flow_kg_per_min)
    {
        let _ = writeln!(
            text,
            "\nAir stream: up to {} kg/min (row {row}) of {} kg/min.",
            grouped(flow, 1),
            grouped(most, 1)
        );
    }
    if let Some(window) = &report.field_speed {
        let _ = writeln!(
            text,
            "Speed at full width over all rows: {}.",
            speeds(window, Numbers::of(plan.job.report.units))
        );
        text.push_str(&rows(&report, &plan.job));
    }
    text
}

fn meters(report: &Report) -> String {
    let mut table = Table::new([
        Column::Left("metering"),
        Column::Left("rotor"),
        Column::Right("asked kg/min"),
        Column::Right("delivers kg/min"),
        Column::Right("rev/min"),
        Column::Right("margin"),
        Column::Left(""),
    ]);
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
                span(meter.flow_kg_per_min, 2),
                span(rotor.delivers_kg_per_min, 2),
                span(rotor.rev_per_min, 0),
                // Rounded down: a margin just below 1 must not read 1.00.
                grouped((rotor.margin * 100.0).floor() / 100.0, 2),
                verdict.to_owned(),
            ]);
        }
    }
    format!("\n{}", table.text())
}

/// Rows that do not allow the speeds of the job; all windows are in plan.json.
fn rows(report: &Report, job: &Job) -> String {
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
    let numbers = Numbers::of(job.report.units);
    let mut some = false;
    for (row, window) in report.row_speed.iter().filter(|(_, w)| !allows(w)) {
        some = true;
        table.row([row.to_string(), speeds(window, numbers)]);
    }
    let range = if slow < fast {
        format!("{slow} to {fast} km/h")
    } else {
        format!("{fast} km/h")
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

fn span(range: Range, decimals: usize) -> String {
    format!(
        "{} to {}",
        grouped(range.low, decimals),
        grouped(range.high, decimals)
    )
}
