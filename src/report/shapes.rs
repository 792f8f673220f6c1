//! Outlines that all maps share, drawn once.

use super::canvas::Canvas;
use crate::job::LandPart;
use crate::plan::Plan;
use rayon::prelude::*;
use serde_json::{Value, json};

/// Paths by name, in drawing units.
pub(super) fn of(plan: &Plan, canvas: &Canvas) -> Value {
    let rows = plan.maps.drawing.rows.par_iter().enumerate();
    let rows: Vec<Value> = rows
        .map(|(row, polygons)| json!({ "row": row + 1, "path": canvas.path(polygons.iter()) }))
        .collect();
    let of_part = |part: LandPart| {
        let zones = plan
            .maps
            .drawing
            .parts
            .iter()
            .filter(move |zone| zone.part == part);
        zones.flat_map(|zone| zone.polygons.iter())
    };
    // A field that is all headland has no line to show.
    let headland = match of_part(LandPart::Headland).next() {
        Some(_) => canvas.path(of_part(LandPart::Interior)),
        None => String::new(),
    };
    json!({
        "rows": rows,
        "boundary": canvas.path(&plan.land.boundary),
        "exclusions": canvas.path(&plan.land.exclusions),
        "headland": headland,
    })
}
