//! A boundary file that holds several fields, where the job is for one.

use crate::findings::{Fault, Finding, Outcome};
use crate::job::Job;
use crate::read::{Geometry, Layer, taskdata};
use std::collections::BTreeSet;

/// So many names and attributes are listed.
const LISTED: usize = 5;
/// Words in the names of attributes that tell fields apart; the first is the best. A guess, for messages only.
const NAMING: [&str; 4] = ["name", "field", "parcel", "id"];

/// An attribute that every feature has a value of, not the same for all.
struct Telling<'a> {
    attribute: &'a str,
    /// The first of its values, in the order of the file.
    first: Vec<String>,
    /// How many it has.
    count: usize,
}

/// Refuses polygons that an attribute tells apart, unless the job says what they are: one of them (`only`), each a field of
/// its own (`split_by`), or parts of one field (`in_parts`). Polygons that nothing tells apart are parts, with a warning.
///
/// # Errors
/// Several features that are not alike, and no word on them.
pub(super) fn check<P>(job: &Job, boundary: &Layer<P>) -> Outcome<Option<Finding>> {
    // Of task data the fields are known, and a field of `split_by` has been picked by its attribute.
    let said = job.field.in_parts || job.split_value.is_some();
    if said || taskdata::is_task_data(&boundary.file) {
        return Ok(None);
    }
    let polygons = boundary.features.iter();
    let polygons = polygons.filter(|feature| matches!(feature.geometry, Geometry::Polygons(_)));
    let count = polygons.count();
    if count < 2 {
        return Ok(None);
    }
    let telling = telling(boundary);
    let Some(first) = telling.first() else {
        let message = format!(
            "the boundary holds {count} features that nothing tells apart: they are planned as parts of one field. Say in_parts = true under [field] if they are, or give the file of one field"
        );
        return Ok(Some(Finding::warning(
            "plan.in_parts",
            boundary.place(),
            message,
        )));
    };
    let attributes: Vec<String> = telling.iter().take(LISTED).map(listed).collect();
    Err(Fault::input(
        "plan.several_fields",
        boundary.place(),
        format!(
            "the boundary holds {count} features that its attributes tell apart: {}",
            attributes.join("; ")
        ),
        "one field, or a word under [field] on what they are",
        format!(
            "One of them: boundary = {{ ..., only = {{ {key} = {value:?} }} }}. Each a field of its own: split_by = {key:?}. All of them parts of one field: in_parts = true.",
            key = first.attribute,
            value = first.first.first().map_or("", String::as_str)
        ),
    ))
}

/// What tells the features apart, the likeliest first.
fn telling<P>(boundary: &Layer<P>) -> Vec<Telling<'_>> {
    let mut all: Vec<Telling> = Vec::new();
    for (column, attribute) in boundary.attributes.iter().enumerate() {
        let mut known = BTreeSet::new();
        let mut first = Vec::new();
        let mut whole = true;
        for feature in &boundary.features {
            let value = feature.values.get(column).map(ToString::to_string);
            let value = value.unwrap_or_default();
            whole &= !value.trim().is_empty();
            if known.insert(value.clone()) && first.len() < LISTED {
                first.push(value);
            }
        }
        let count = known.len();
        if whole && count > 1 {
            all.push(Telling {
                attribute,
                first,
                count,
            });
        }
    }
    let rank = |of: &Telling| {
        let name = of.attribute.to_lowercase();
        let named = NAMING.iter().position(|word| name.contains(word));
        named.unwrap_or(NAMING.len())
    };
    // Those that differ most first; of equals the one that sounds like a name.
    all.sort_by_key(|of| (usize::MAX - of.count, rank(of)));
    all
}

fn listed(of: &Telling) -> String {
    let values: Vec<String> = of.first.iter().map(|value| format!("'{value}'")).collect();
    let more = match of.count > LISTED {
        true => format!(" and {} more", of.count - LISTED),
        false => String::new(),
    };
    format!("{} ({}{more})", of.attribute, values.join(", "))
}
