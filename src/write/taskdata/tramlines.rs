//! Tramlines, as lines of the partfield: the middle of the rows that stay closed for each wheel.

use super::outlines::degrees;
use crate::codec::taskdata::Element;
use crate::coordinates::{LonLat, PlaneXy};
use crate::drive::{Bout, ClosedRow};
use crate::findings::Outcome;
use crate::plan::Plan;

/// Kind of line: a tramline.
const TRAMLINE: u8 = 3;
/// Kind of its points: no special one.
const OTHER: u8 = 2;

/// A line for each wheel and bout, in the order of the bouts; none where no rows close or nothing is driven on paper. Its width is
/// that of the closed rows.
pub(super) fn lines(plan: &Plan) -> Outcome<Vec<Element>> {
    let mut lines = Vec::new();
    for bout in &plan.drive.bouts {
        let along = bout.closed_along.within([0.0, bout.path.length_m()]);
        for [right, left] in wheels(bout) {
            let name = format!("Tramline, bout {}", bout.number);
            let width_mm = ((left - right) * 1000.0).round();
            for part in &along {
                let points = bout.path.beside(*part, (left + right) / 2.0);
                let places = points.into_iter().map(PlaneXy::of_pair);
                let places = plan.land.frame.line_in_degrees(places);
                if places.len() > 1 {
                    let line = Element::new("LSG").with("A", TRAMLINE);
                    let line = line.with("B", &name).with("C", width_mm);
                    let points: Outcome<Vec<Element>> = places.iter().map(point).collect();
                    lines.push(line.children(points?));
                }
            }
        }
    }
    Ok(lines)
}

/// Right and left rim of the closed rows of each wheel, metres to the left of the way: rows beside each other are of one.
fn wheels(bout: &Bout) -> Vec<[f64; 2]> {
    let mut wheels: Vec<(u32, [f64; 2])> = Vec::new();
    // From the left: each row lies to the right of the one before.
    for ClosedRow { outlet, left_m } in &bout.closed {
        match wheels.last_mut() {
            Some((last, rims)) if *last + 1 == *outlet => {
                (*last, rims[0]) = (*outlet, left_m[0]);
            }
            _ => wheels.push((*outlet, *left_m)),
        }
    }
    wheels.into_iter().map(|(_, rims)| rims).collect()
}

/// A point to 9 decimals, a tenth of a millimetre: what the schema takes.
fn point(&LonLat { lon, lat }: &LonLat) -> Outcome<Element> {
    let rounded = |value: f64| (value * 1e9).round() / 1e9;
    Ok(Element::new("PNT")
        .with("A", OTHER)
        .with("C", degrees(rounded(lat), 90.0)?)
        .with("D", degrees(rounded(lon), 180.0)?))
}
