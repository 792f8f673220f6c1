//! The A-B line of the job, as the terminal's own guidance line.

use super::ids::Ids;
use super::outlines::degrees;
use crate::codec::taskdata::Element;
use crate::findings::Outcome;
use crate::job::TaskDataVersion;
use crate::plan::Plan;
use crate::read::Xy;

/// Name of the line on the screen.
const NAME: &str = "A-B";

/// The line as a child of the partfield; nothing where the job has none. Version 4 has it in a group, with A and B as
/// such; version 3 knows it as a plain line for guidance.
pub(super) fn line(plan: &Plan, ids: &Ids, version: TaskDataVersion) -> Outcome<Option<Element>> {
    let Some(ends) = plan.guide else {
        return Ok(None);
    };
    let width_mm = (plan.job.drill.working_width_m * 1000.0).round();
    let kinds = match version {
        TaskDataVersion::V4_3 => [6, 7],
        TaskDataVersion::V3_3 => [2, 2],
    };
    let mut line = Element::new("LSG").with("A", 5);
    if version == TaskDataVersion::V3_3 {
        line = line.with("B", NAME);
    }
    let mut line = line.with("C", width_mm);
    for (kind, end) in kinds.into_iter().zip(ends) {
        line = line.child(point(kind, end)?);
    }
    if version == TaskDataVersion::V3_3 {
        return Ok(Some(line));
    }
    let (straight, both) = (1, 1);
    let made_in_office = 16;
    let pattern = Element::new("GPN")
        .with("A", &ids.pattern)
        .with("B", NAME)
        .with("C", straight)
        .with("E", both)
        .with("F", both)
        .with("I", made_in_office)
        .child(line);
    let group = Element::new("GGP").with("A", &ids.guidance).with("B", NAME);
    Ok(Some(group.child(pattern)))
}

/// A point to 9 decimals, a tenth of a millimetre: what the schema takes.
fn point(kind: u8, [lon, lat]: Xy) -> Outcome<Element> {
    let rounded = |value: f64| (value * 1e9).round() / 1e9;
    Ok(Element::new("PNT")
        .with("A", kind)
        .with("C", degrees(rounded(lat), 90.0)?)
        .with("D", degrees(rounded(lon), 180.0)?))
}
