//! The drive as it travels to the page: bouts as lines, where the hoppers are filled.

use super::picture::steps;
use super::{PER_M, mass, placed, placed_lon_lat};
use crate::coordinates::LonLat;
use crate::job::LandPart;
use crate::plan::Plan;
use crate::report::number::Numbers;
use serde_json::{Value, json};

/// The drive of a plan; `nth` is its number.
pub fn of(plan: &Plan, nth: u64) -> Value {
    let numbers = Numbers::of_pages(plan.job.report);
    let lines = plan.drive.bouts.iter().map(|bout| {
        json!({
            "nth": bout.number,
            "headland": bout.part == LandPart::Headland,
            "tramline": !bout.closed.is_empty(),
            "line": steps(bout.path.points().into_iter().map(placed)),
        })
    });
    let length_m: f64 = plan
        .drive
        .bouts
        .iter()
        .map(|bout| bout.path.length_m())
        .sum();
    json!({
        "drive": nth,
        "per_m": PER_M,
        "bouts": plan.drive.bouts.len(),
        "length_text": format!("{}\u{a0}{}", numbers.way_text(length_m), numbers.way_unit()),
        "hours_text": plan.drive.report.as_ref().and_then(|report| report.hours).map(|hours| format!("{}\u{a0}{}", numbers.grouped(hours, 1), numbers.language().unit("h"))),
        "heading_text": plan.drive.report.as_ref().map(|report| format!("{}\u{b0}", numbers.grouped(report.heading_deg, 1))),
        "guide": guide(plan),
        "lines": lines.collect::<Vec<_>>(),
        "refills": refills(plan, &numbers),
    })
}

/// The line that the bouts of the interior run along.
fn guide(plan: &Plan) -> Vec<Vec<i64>> {
    let frame = &plan.land.frame;
    let lines = plan.land.guide.iter();
    let line = |line: &Vec<LonLat>| steps(line.iter().map(|at| placed_lon_lat(*at, frame)));
    lines.map(line).collect()
}

fn refills(plan: &Plan, numbers: &Numbers) -> Vec<Value> {
    let Some(refills) = &plan.drive.refills else {
        return Vec::new();
    };
    let stops = refills.stops.iter().map(|stop| {
        let fills = stop.fills.iter().zip(&refills.halves);
        let fills = fills.map(|(fill, half)| {
            json!({
                "product": half.product,
                "hopper": half.hopper,
                "fill_text": mass(numbers, fill.fill_kg),
                "is_filled": fill.fill_kg > 0.0,
                "left_text": mass(numbers, fill.left_kg),
                "packs": fill.packs,
            })
        });
        json!({
            "nth": stop.number,
            "after_bout": stop.after_bout,
            "at": placed_lon_lat(stop.lon_lat, &plan.land.frame),
            "away": stop.away,
            "governs": stop.governs,
            "fills": fills.collect::<Vec<_>>(),
        })
    });
    stops.collect()
}
