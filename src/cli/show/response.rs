//! How far a change of rate takes, and what the bouts lay in the strips of the setbacks.

use super::number::{grouped, kilograms};
use crate::drive::response;
use crate::plan::Plan;
use std::fmt::Write as _;

/// A line per product that answers late, and one per product and setback; empty where nothing is driven.
pub(super) fn text(plan: &Plan) -> String {
    let mut text = String::new();
    if plan.drive.as_driven.is_none() {
        return text;
    }
    let late = response::transitions(&plan.job).into_iter().filter(|of| {
        [of.start_m, of.stop_m, of.step_up_m, of.step_down_m]
            .iter()
            .any(|metres| *metres > 0.0)
    });
    for of in late {
        let _ = writeln!(
            text,
            "  '{}' at {} km/h: on after {} m, off after {} m, up after {} m, down after {} m.",
            of.product,
            grouped(plan.job.drill.speed_km_per_h, 1),
            grouped(of.start_m, 1),
            grouped(of.stop_m, 1),
            grouped(of.step_up_m, 1),
            grouped(of.step_down_m, 1),
        );
    }
    for row in &plan.drive.in_setbacks {
        let _ = writeln!(
            text,
            "  Setback '{}': the bouts lay '{}' on {} of the {} m2 to keep ({} kg).",
            row.setback,
            row.product,
            grouped(row.sown_m2, 1),
            grouped(row.strip_m2, 0),
            kilograms(row.kg),
        );
    }
    text
}
