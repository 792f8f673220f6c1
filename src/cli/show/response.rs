//! How far a change of rate takes, and what the bouts lay in the strips of the setbacks.

use super::number::{Rounded, numbers};
use crate::drive::response;
use crate::plan::Plan;
use std::fmt::Write as _;

/// A line per product that answers late, and one per product and setback; empty where nothing is driven.
pub(super) fn text(plan: &Plan) -> String {
    let mut text = String::new();
    if plan.drive.as_driven.is_none() {
        return text;
    }
    let numbers = numbers(plan);
    let late = response::transitions(&plan.job).into_iter().filter(|of| {
        [of.start_m, of.stop_m, of.step_up_m, of.step_down_m]
            .iter()
            .any(|metres| *metres > 0.0)
    });
    for of in late {
        let _ = writeln!(
            text,
            "  '{}' at {} {}: on after {}, off after {}, up after {}, down after {}.",
            of.product,
            numbers.speed_text(plan.job.drill.speed_km_per_h, Rounded::Nearest),
            numbers.speed_unit(),
            numbers.length_of(of.start_m),
            numbers.length_of(of.stop_m),
            numbers.length_of(of.step_up_m),
            numbers.length_of(of.step_down_m),
        );
    }
    for row in &plan.drive.in_setbacks {
        let _ = writeln!(
            text,
            "  Setback '{}': the bouts lay '{}' on {} of the {} to keep ({}).",
            row.setback,
            row.product,
            numbers.spot_text(row.sown_m2),
            numbers.spot_of(row.strip_m2),
            numbers.kg(row.kg),
        );
    }
    text
}
