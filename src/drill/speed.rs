//! The speeds between which every meter can follow and the one air stream can carry.

use super::{Limits, Metering, Row, flow};
use crate::job::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Speeds that are possible, km/h, at full width.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Window {
    /// Lowest speed and what sets it; `None` if nothing does.
    pub low: Option<Bound>,
    /// Highest speed and what sets it; `None` if nothing does.
    pub high: Option<Bound>,
}

/// A bound of a window.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Bound {
    /// The speed, km/h.
    pub km_per_h: f64,
    /// Id of the product whose meter sets it; `None` for the air stream.
    pub meter_of: Option<String>,
    /// Row of the rate table, from 1.
    pub row: usize,
}

impl Window {
    /// No speed at all is possible.
    pub fn is_empty(&self) -> bool {
        matches!((&self.low, &self.high), (Some(low), Some(high)) if low.km_per_h > high.km_per_h)
    }
}

/// Windows of the rows where something is sown, for the recommended rotors.
pub(super) fn rows(
    job: &Job,
    rows: &[Row],
    metering: &[Metering],
    limits: &Limits,
) -> Vec<(usize, Window)> {
    let windows = rows.iter().enumerate().filter_map(|(at, row)| {
        let row_number = at + 1;
        let (mut low, mut high): (Option<Bound>, Option<Bound>) = (None, None);
        for meter in metering {
            let nth = job.products.iter().position(|p| p.id == meter.product)?;
            let rate = row.kg_per_ha.get(nth).copied().unwrap_or(0.0);
            let (Some(rotor), true) = (meter.best(), rate > 0.0) else {
                continue;
            };
            let bound = |kg_per_min: f64| {
                Some(Bound {
                    km_per_h: flow::km_per_h(kg_per_min, rate, meter.width_m),
                    meter_of: Some(meter.product.clone()),
                    row: row_number,
                })
            };
            low = later(low, bound(rotor.delivers_kg_per_min.low));
            high = sooner(high, bound(rotor.delivers_kg_per_min.high));
        }
        let together = in_air_stream(job, row);
        if let Some(most) = job.drill.max_flow_kg_per_min
            && together > 0.0
        {
            let bound = Bound {
                km_per_h: flow::km_per_h(most, together, limits.width_m),
                meter_of: None,
                row: row_number,
            };
            high = sooner(high, Some(bound));
        }
        (low.is_some() || high.is_some()).then_some((row_number, Window { low, high }))
    });
    windows.collect()
}

/// The window that all rows share; `None` if no row has one.
pub(super) fn field(rows: &[(usize, Window)]) -> Option<Window> {
    let mut windows = rows.iter().map(|(_, window)| window.clone());
    let first = windows.next()?;
    Some(windows.fold(first, |all, row| Window {
        low: later(all.low, row.low),
        high: sooner(all.high, row.high),
    }))
}

/// The highest joint flow at the fastest speed, and its row.
pub(super) fn air_stream(job: &Job, rows: &[Row], limits: &Limits) -> Option<(f64, usize)> {
    let mut most: Option<(f64, usize)> = None;
    for (at, row) in rows.iter().enumerate() {
        let rate = in_air_stream(job, row);
        let flow = flow::kg_per_min(rate, limits.width_m, limits.fast_km_per_h);
        if flow > most.map_or(0.0, |(most, _)| most) {
            most = Some((flow, at + 1));
        }
    }
    most
}

/// Rows whose products together are more than the air stream carries at the fastest speed, whatever the meters do:
/// number, and the speed up to which it carries them, km/h.
pub(super) fn air_stream_full(job: &Job, rows: &[Row], limits: &Limits) -> Vec<(usize, f64)> {
    let Some(most) = job.drill.max_flow_kg_per_min else {
        return Vec::new();
    };
    let sown = (1..)
        .zip(rows)
        .map(|(nth, row)| (nth, in_air_stream(job, row)));
    let sown = sown.filter(|(_, together)| *together > 0.0);
    let carried = sown.map(|(nth, rate)| (nth, flow::km_per_h(most, rate, limits.width_m)));
    carried
        .filter(|(_, speed)| *speed < limits.fast_km_per_h)
        .collect()
}

/// Kilograms per hectare of all products in the air stream.
fn in_air_stream(job: &Job, row: &Row) -> f64 {
    let products = job.products.iter().zip(row.kg_per_ha);
    products
        .filter(|(product, _)| !product.surface_applied)
        .map(|(_, rate)| rate)
        .sum()
}

/// The higher of two lower bounds; of equal ones the first.
fn later(a: Option<Bound>, b: Option<Bound>) -> Option<Bound> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.km_per_h > a.km_per_h { b } else { a }),
        (a, b) => a.or(b),
    }
}

/// The lower of two upper bounds; of equal ones the first.
fn sooner(a: Option<Bound>, b: Option<Bound>) -> Option<Bound> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.km_per_h < a.km_per_h { b } else { a }),
        (a, b) => a.or(b),
    }
}
