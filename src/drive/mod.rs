//! The drive: what the drill does on the land, on paper. Method: docs/methods/drive.md.

pub mod as_driven;
mod bands;
mod borders;
mod bout;
mod closed_flow;
mod curve;
mod curved;
pub mod cut_map;
mod delays;
mod flow;
mod frame;
pub mod hoppers;
pub mod joined;
mod lane;
mod look_up;
mod open_width;
mod parallels;
mod path;
#[cfg(test)]
mod test_land;
#[cfg(test)]
mod test_numbers;
mod report;
pub mod response;
mod rims;
mod ring_drives;
mod rings;
mod room;
mod row_borders;
pub mod setback;
pub mod spread;
mod strips;
pub mod tender;
#[cfg(test)]
mod tests;
pub mod too_tight;
pub mod tramline;
mod ways;
pub mod work_rate;

pub use crate::job::SwitchRule;
pub use bout::{Bout, ClosedAlong, ClosedRow, Section, Sections, bouts};
pub use flow::Delays;
pub use path::Path;
pub use report::report;
pub use ways::{Curves, Ways};

use crate::drill::Row;
use crate::job::{ClosedFlow, Job, LandPart};
use crate::units::M2_PER_HA;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A field driven on paper.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "DriveReport")]
pub struct Report {
    /// Heading of the interior bouts in the field's plane, clockwise from north; along a curve, from its first point
    /// to its last.
    pub heading_deg: f64,
    /// Whether they run along a curve.
    pub along_curve: bool,
    /// How many bouts the interior has.
    pub interior_bouts: usize,
    /// Length of the interior bouts, while any part of the drill is in the interior, m.
    pub interior_m: f64,
    /// How many rings the headland has.
    pub headland_rings: usize,
    /// Length of the middle lines of the headland rings, m.
    pub headland_m: f64,
    /// Turns between interior bouts.
    pub turns: usize,
    /// Time in the field, if the job gives a field efficiency.
    pub hours: Option<f64>,
    /// What sections and switch rules drill in the interior.
    pub switching: Vec<Switching>,
}

impl Report {
    /// The same drive with the kilograms beyond the interior and driven again on the headland: per product at the
    /// mean rate of the headland, or of the interior where there is no headland.
    /// What sections save is what one section would lay more; `shut_flow` says whether the drill saves it.
    pub fn with_rates(&self, rows: &[Row], job: &Job) -> Self {
        let shut_flow = job.drill.shut_flow;
        // A surface unit has no sections.
        let has_sections = |product: usize| {
            let product = job.products.get(product);
            product.is_none_or(|product| !product.surface_applied)
        };
        let mean = |part: LandPart, product: usize| {
            let rows = || rows.iter().filter(move |row| row.part == part);
            let m2: f64 = rows().map(|row| row.area_m2).sum();
            let rate = |row: &Row| row.kg_per_ha.get(product).copied().unwrap_or(0.0);
            let sum: f64 = rows().map(|row| row.area_m2 * rate(row)).sum();
            (m2 > 0.0).then(|| sum / m2)
        };
        let products = rows
            .iter()
            .map(|row| row.kg_per_ha.len())
            .max()
            .unwrap_or(0);
        let rates: Vec<f64> = (0..products)
            .map(|product| {
                if !has_sections(product) {
                    return 0.0;
                }
                let headland = mean(LandPart::Headland, product);
                headland
                    .or_else(|| mean(LandPart::Interior, product))
                    .unwrap_or(0.0)
            })
            .collect();
        let mut drive = self.clone();
        for row in &mut drive.switching {
            let kg = rates
                .iter()
                .map(|rate| rate * (row.beyond_m2 + row.rings_again_m2) / M2_PER_HA);
            row.beyond_kg = kg.collect();
        }
        let one: Vec<(SwitchRule, Vec<f64>)> = drive
            .switching
            .iter()
            .filter(|row| row.sections == 1)
            .map(|row| (row.rule, row.beyond_kg.clone()))
            .collect();
        for row in &mut drive.switching {
            let of_one = one.iter().find(|(rule, _)| *rule == row.rule);
            let pairs = of_one.iter().flat_map(|(_, kg)| kg).zip(&row.beyond_kg);
            row.saved_kg = match shut_flow {
                ClosedFlow::MeterSlows | ClosedFlow::Returned => {
                    pairs.map(|(one, own)| one - own).collect()
                }
                ClosedFlow::Redistributed => pairs.map(|_| 0.0).collect(),
            };
        }
        drive
    }
}

/// What a set of sections drills by a rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Switching {
    /// How many sections of equal width.
    pub sections: usize,
    /// When a section goes on and off.
    pub rule: SwitchRule,
    /// Interior that is drilled, m2.
    pub inside_m2: f64,
    /// Drilled beyond the interior, m2: a second time where the headland rings are drilled as well.
    pub beyond_m2: f64,
    /// Interior that is not drilled, m2.
    pub missed_m2: f64,
    /// Driven along the headland rings where it is drilled already, or beyond the headland, m2.
    pub rings_again_m2: f64,
    /// Headland that neither the rings nor bouts driven before drill, m2.
    pub rings_missed_m2: f64,
    /// Per product (job order): kilograms on `beyond_m2` and `rings_again_m2`, at its mean rate on the headland, or
    /// on the interior where there is no headland; 0 for what a unit of its own spreads.
    pub beyond_kg: Vec<f64>,
    /// Per product: kilograms less than with one section and the same rule; 0 where the drill gives the flow of
    /// shut sections to the others.
    pub saved_kg: Vec<f64>,
}
