//! The drill: what its metering units and its air stream make of the rates.
//!
//! Nobody changes rotors in mid-field. So the range that a rotor has to cover runs over every rate
//! of the map, from the slowest speed with the smallest section alone to the fastest speed at full
//! width. Method: docs/methods/metering.md.

pub mod calibrate;
mod findings;
pub mod flow;
mod rotor;
mod speed;
#[cfg(test)]
mod tests;

pub use findings::{findings, of_rotors};
pub use rotor::{Help, RotorFit};
pub use speed::{Bound, Window};

use crate::job::{ClosedFlow, Job, LandPart};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A row of the rate table, as the drill sees it.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    pub part: LandPart,
    pub area_m2: f64,
    /// Per product, in job order.
    pub kg_per_ha: &'a [f64],
}

/// From lowest to highest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Range {
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

/// What the drill makes of a rate map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "DrillReport")]
pub struct Report {
    /// One entry per product whose hopper has rotors and that is sown at all, in job order.
    pub metering: Vec<Metering>,
    /// Speeds over the whole field; `None` where neither rotors nor `max_flow_kg_per_min` are given.
    pub field_speed: Option<Window>,
    /// Speeds per row of the rate table (from 1), for rows where something is sown.
    pub row_speed: Vec<(usize, Window)>,
    /// Highest flow of the air stream, all its products together, at the fastest speed, kg/min, and the
    /// row (from 1) that has it. `None` if nothing is sown.
    pub air_stream: Option<(f64, usize)>,
}

/// One metering unit over the whole map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Metering {
    /// Id of the product.
    pub product: String,
    /// Name of the hopper.
    pub hopper: String,
    /// Rates above zero, kg/ha.
    pub rates_kg_per_ha: Range,
    /// Flow from the lowest rate at the slowest speed with the smallest section alone to the highest
    /// rate at the fastest speed at full width, kg/min.
    pub flow_kg_per_min: Range,
    /// Full width that it serves, m.
    pub width_m: f64,
    /// Every rotor of the hopper, in job order.
    pub rotors: Vec<RotorFit>,
    /// Index into `rotors`: the one with most margin.
    pub best: usize,
    /// What would help where the best one does not cover the range.
    pub help: Option<Help>,
}

impl Metering {
    /// The rotor with most margin.
    pub fn best(&self) -> Option<&RotorFit> {
        self.rotors.get(self.best)
    }
}

/// Speeds and widths that count.
#[derive(Debug, Clone, Copy)]
struct Limits {
    slow_km_per_h: f64,
    fast_km_per_h: f64,
    width_m: f64,
    smallest_section_m: f64,
}

impl Limits {
    fn of(job: &Job) -> Self {
        let drill = &job.drill;
        let speed = drill.speed_km_per_h;
        let width_m = drill.working_width_m;
        // A meter that does not slow turns for the full width whatever is shut.
        let smallest_section_m = match drill.shut_flow {
            ClosedFlow::MeterSlows => drill.sections_m.iter().copied().fold(width_m, f64::min),
            ClosedFlow::Returned | ClosedFlow::Redistributed => width_m,
        };
        Self {
            slow_km_per_h: drill.headland_speed_km_per_h.unwrap_or(speed),
            fast_km_per_h: drill.fastest_speed_km_per_h.unwrap_or(speed),
            width_m,
            smallest_section_m,
        }
    }
}

/// What the drill makes of these rates.
pub fn report(job: &Job, rows: &[Row]) -> Report {
    let limits = Limits::of(job);
    let metering: Vec<Metering> = (0..job.products.len())
        .filter_map(|product| rotor::metering(job, product, rows, &limits))
        .collect();
    let row_speed = speed::rows(job, rows, &metering, &limits);
    Report {
        field_speed: speed::field(&row_speed),
        row_speed,
        air_stream: speed::air_stream(job, rows, &limits),
        metering,
    }
}
