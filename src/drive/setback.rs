//! Setbacks by the swath: what the driven bouts lay inside the strips to keep, though every rate there
//! is zero. Method: docs/methods/drive.md.

use super::as_driven::AsDriven;
use super::spread::Spread;
use crate::findings::{Decision, Finding, Place};
use crate::geometry::{Overlay, Shape};
use crate::job::Job;
use crate::land::Land;
use crate::units::M2_PER_HA;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Less is rounding of the plane, m2.
const LEAST_M2: f64 = 0.01;

/// One product in one setback.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct InSetback {
    /// Name of the setback.
    pub setback: String,
    /// Id of the product.
    pub product: String,
    /// The strip to keep on the land (distance_m, not widened), m2.
    pub strip_m2: f64,
    /// Of it, what the bouts sow with the product, m2.
    pub sown_m2: f64,
    /// What lies there of it, kg.
    pub kg: f64,
}

/// Every product that a setback names: those of the air stream by its drive, others by that of their own unit.
pub fn audit(land: &Land, stream: &AsDriven, spread: &[Spread], job: &Job) -> Vec<InSetback> {
    let place = |row: &InSetback| {
        let mut setbacks = job.setbacks.iter();
        setbacks.position(|setback| setback.name == row.setback)
    };
    let drives = std::iter::once(stream).chain(spread.iter().map(|of| &of.as_driven));
    let mut rows: Vec<InSetback> = drives
        .flat_map(|driven| of_drive(land, driven, job))
        .collect();
    rows.sort_by_key(place);
    rows
}

/// The products of one drive.
fn of_drive(land: &Land, driven: &AsDriven, job: &Job) -> Vec<InSetback> {
    let mut rows = Vec::new();
    for (setback, strip) in job.setbacks.iter().zip(&land.to_keep) {
        let named = setback.products.iter().filter_map(|id| {
            driven.products.iter().find(|of| of.id == *id)?;
            let nth = job.products.iter().position(|product| product.id == *id)?;
            Some((id, nth))
        });
        let named: Vec<(&String, usize)> = named.collect();
        if named.is_empty() {
            continue;
        }
        let mut overlay = Overlay::default();
        for shape in strip {
            overlay.add(shape.clone());
        }
        let strips = strip.len();
        let mut patches = Vec::new();
        for patch in &driven.patches {
            for shape in patch.shapes.iter().filter(|shape| near(shape, strip)) {
                overlay.add(shape.clone());
                patches.push(patch);
            }
        }
        let arrangement = overlay.arrange();
        let mut sums: Vec<(usize, InSetback)> = named
            .into_iter()
            .map(|(id, nth)| {
                let row = InSetback {
                    setback: setback.name.clone(),
                    product: id.clone(),
                    strip_m2: 0.0,
                    sown_m2: 0.0,
                    kg: 0.0,
                };
                (nth, row)
            })
            .collect();
        for face in 1..arrangement.faces() as u32 {
            let covering = overlay.covering(&arrangement, face);
            let patch = covering
                .iter()
                .find_map(|&at| patches.get((at as usize).checked_sub(strips)?));
            let in_strip = covering.iter().any(|&at| (at as usize) < strips);
            let (true, Some(patch)) = (in_strip, patch) else {
                continue;
            };
            let area_m2 = arrangement.area_m2(face);
            for (nth, row) in &mut sums {
                if patch.on_land {
                    row.strip_m2 += area_m2;
                }
                let rate = patch.sown.get(*nth).copied().unwrap_or(0.0);
                if rate > 0.0 {
                    row.sown_m2 += area_m2;
                    row.kg += rate * area_m2 / M2_PER_HA;
                }
            }
        }
        rows.extend(sums.into_iter().map(|(_, row)| row));
    }
    rows
}

/// Product in a strip is for the user to decide about.
pub fn findings(rows: &[InSetback], job: &Job) -> Vec<Finding> {
    let units = job.report.units;
    let in_strip = rows.iter().filter(|row| row.sown_m2 > LEAST_M2);
    in_strip
        .map(|row| {
            let mut setbacks = job.setbacks.iter();
            let setback = setbacks.find(|setback| setback.name == row.setback);
            let from = setback.and_then(|setback| Some((setback.distance_m, setback.measured_from?)));
            let from = match from {
                Some((metres, from)) => {
                    format!(" ({} from {})", units.given_length(metres), from.words())
                }
                None => String::new(),
            };
            let message = format!(
                "setback '{}'{from}: the bouts lay {} of '{}' on {} inside the strip to keep. Raise run_on_m or distance_m, correct the delays, or drive the bout beside it with the product off",
                row.setback,
                units.mass(row.kg, 2),
                row.product,
                units.small_area(row.sown_m2, 1)
            );
            let place = Place::file(&job.file);
            Finding::decision(Decision::ProductInSetback, place, message)
                .of_products([row.product.as_str()])
                .area(row.sown_m2)
        })
        .collect()
}

/// Whether the boxes of a shape and of any of the others meet.
fn near(shape: &Shape, others: &[Shape]) -> bool {
    let bounds = |shape: &Shape| {
        let points = shape.exterior.iter().map(|point| point.metres());
        points.fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, [x, y]| {
            [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)]
        })
    };
    let a = bounds(shape);
    others
        .iter()
        .map(bounds)
        .any(|b| a[0] <= b[2] && b[0] <= a[2] && a[1] <= b[3] && b[1] <= a[3])
}
