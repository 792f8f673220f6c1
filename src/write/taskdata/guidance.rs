//! The guide line of the job, as the terminal's own: a straight A-B line, or a curve.

use super::ids::Ids;
use super::outlines::degrees;
use crate::codec::taskdata::Element;
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::job::TaskDataVersion;
use crate::plan::Plan;

/// Name of the line on the screen.
const NAME: &str = "A-B";
/// Kinds of points: the ends of a guide line in version 4, what lies between them, and what version 3 has for all of
/// them.
const A: u8 = 6;
const B: u8 = 7;
const BETWEEN: u8 = 9;
const OTHER: u8 = 2;

/// The line as a child of the partfield; nothing where the job has none. Version 4 has it in a group, with A and B as
/// such; version 3 knows it as a plain line for guidance.
pub(super) fn line(plan: &Plan, ids: &Ids, version: TaskDataVersion) -> Outcome<Option<Element>> {
    let Some(points) = &plan.land.guide else {
        return Ok(None);
    };
    let width_mm = (plan.job.drill.working_width_m * 1000.0).round();
    let last = points.len().saturating_sub(1);
    let kind = |nth: usize| match version {
        TaskDataVersion::V3_3 => OTHER,
        TaskDataVersion::V4_3 if nth == 0 => A,
        TaskDataVersion::V4_3 if nth == last => B,
        TaskDataVersion::V4_3 => BETWEEN,
    };
    let mut line = Element::new("LSG").with("A", 5);
    if version == TaskDataVersion::V3_3 {
        line = line.with("B", NAME);
    }
    let mut line = line.with("C", width_mm);
    for (nth, place) in points.iter().enumerate() {
        line = line.child(point(kind(nth), *place)?);
    }
    if version == TaskDataVersion::V3_3 {
        return Ok(Some(line));
    }
    let (straight, curve, both) = (1, 3, 1);
    let shape = if points.len() > 2 { curve } else { straight };
    let made_in_office = 16;
    let pattern = Element::new("GPN")
        .with("A", &ids.pattern)
        .with("B", NAME)
        .with("C", shape)
        .with("E", both)
        .with("F", both)
        .with("I", made_in_office)
        .child(line);
    let group = Element::new("GGP").with("A", &ids.guidance).with("B", NAME);
    Ok(Some(group.child(pattern)))
}

/// A point to 9 decimals, a tenth of a millimetre: what the schema takes.
fn point(kind: u8, LonLat { lon, lat }: LonLat) -> Outcome<Element> {
    let rounded = |value: f64| (value * 1e9).round() / 1e9;
    Ok(Element::new("PNT")
        .with("A", kind)
        .with("C", degrees(rounded(lat), 90.0)?)
        .with("D", degrees(rounded(lon), 180.0)?))
}
