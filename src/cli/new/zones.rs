//! The zone layers of a new job: each with its name, and where its classes come from.

use super::inputs::Input;
use super::values::{self, Values};
use crate::cli::survey::{self, Attribute, AttributeKind, Survey};
use crate::edit::NewLayer;
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Near;
use crate::job::Source;
use crate::read::{Geometry, Raster, taskdata};
use std::collections::BTreeSet;

/// Words in attribute names that speak for classes. A guess, for the user to correct.
const CLASS_WORDS: [&str; 10] = [
    "soil", "class", "zone", "texture", "type", "index", "group", "boden", "klasse", "sol",
];

/// Words in attribute names that speak against classes.
const OTHER_WORDS: [&str; 6] = ["area", "shape", "length", "perimeter", "date", "fid"];

/// A zone layer.
pub(super) struct Zones {
    pub source: Source,
    pub name: String,
    pub kind: Kind,
}

/// Where its classes come from.
pub(super) enum Kind {
    /// Polygons, and the place of the class attribute in their survey.
    Polygons(Box<Survey>, usize),
    /// Values of points or of a raster.
    Values(Values),
}

impl Zones {
    /// The class attribute of polygons.
    pub(super) fn attribute(&self) -> Option<&Attribute> {
        match &self.kind {
            Kind::Polygons(survey, nth) => survey.attributes.get(*nth),
            Kind::Values(_) => None,
        }
    }
}

/// Names that the command line gives for no layer in particular.
#[derive(Default)]
pub(super) struct Columns<'a> {
    /// Attributes with classes.
    pub classes: &'a [String],
    /// Columns with values.
    pub values: &'a [String],
}

/// Opens the zone layers; each gets a name of its own, and its most plausible class attribute or column of values.
///
/// # Errors
/// As [`Input::open`]; no attribute that could be a class; `wanted` names that no layer has.
/// `near` is the boundary, where it is known.
pub(super) fn zones(
    layers: &[NewLayer],
    wanted: &Columns,
    near: Option<&Near>,
) -> Outcome<Vec<Zones>> {
    let mut zones: Vec<Zones> = Vec::new();
    let mut names = BTreeSet::new();
    for layer in layers {
        let (source, kind) = opened(layer, wanted, near)?;
        let base = source.table.clone().unwrap_or_else(|| {
            let stem = source.file.file_stem();
            stem.map(|stem| stem.to_string_lossy().into_owned())
                .unwrap_or_default()
        });
        let name = free_name(&base, &mut names);
        zones.push(Zones { source, name, kind });
    }
    all_found(&zones, wanted)?;
    Ok(zones)
}

fn opened(layer: &NewLayer, wanted: &Columns, near: Option<&Near>) -> Outcome<(Source, Kind)> {
    let own = layer.column.as_deref();
    let is_file = !taskdata::is_task_data(&layer.source.file);
    if is_file && Raster::is(&layer.source.file) {
        let (source, values) = values::of_raster(&layer.source, near)?;
        return Ok((source, Kind::Values(values)));
    }
    let input = Input::open(&layer.source, near)?;
    if input.has(|geometry| matches!(geometry, Geometry::Polygons(_))) {
        let attribute = class_attribute(&input, own, wanted.classes)?;
        return Ok((
            input.source,
            Kind::Polygons(Box::new(input.survey), attribute),
        ));
    }
    let values = values::of_points(&input, own, wanted.values)?;
    Ok((input.source, Kind::Values(values)))
}

/// Every name that was given has to be that of some layer.
fn all_found(zones: &[Zones], wanted: &Columns) -> Outcome<()> {
    let classes = zones.iter().flat_map(|zone| match &zone.kind {
        Kind::Polygons(survey, _) => survey.layer.attributes.clone(),
        Kind::Values(_) => Vec::new(),
    });
    let values = zones.iter().flat_map(|zone| match &zone.kind {
        Kind::Values(Values {
            of: values::Of::Points { columns, .. },
            ..
        }) => columns.clone(),
        _ => Vec::new(),
    });
    let each: [(&[String], Vec<String>, &str, &str); 2] = [
        (
            wanted.classes,
            classes.collect(),
            "attribute",
            "--class-attribute",
        ),
        (
            wanted.values,
            values.collect(),
            "column of numbers",
            "--value-column",
        ),
    ];
    for (names, known, what, option) in each {
        if let Some(name) = names.iter().find(|name| !known.contains(name)) {
            let known: Vec<String> = known.iter().map(|name| format!("'{name}'")).collect();
            return Err(Fault::input(
                "new.no_attribute",
                Place::nowhere(),
                format!("no layer has the {what} '{name}'"),
                match known.is_empty() {
                    true => format!("no {option}: no layer has any"),
                    false => known.join(", "),
                },
                format!("name one of these with {option}"),
            ));
        }
    }
    Ok(())
}

fn free_name(base: &str, taken: &mut BTreeSet<String>) -> String {
    let base: String = base
        .to_lowercase()
        .chars()
        .map(|c| if c.is_control() { '_' } else { c })
        .collect();
    let base = if base.trim().is_empty() {
        "zones".to_owned()
    } else {
        base
    };
    let mut name = base.clone();
    let mut number = 2;
    while !taken.insert(name.clone()) {
        name = format!("{base}-{number}");
        number += 1;
    }
    name
}

fn class_attribute(input: &Input, own: Option<&str>, wanted: &[String]) -> Outcome<usize> {
    let layer = &input.survey.layer;
    let asked = own.into_iter().chain(wanted.iter().map(String::as_str));
    let place = |name: &str| layer.attributes.iter().position(|own| own == name);
    let mut asked = asked.filter_map(place);
    if let Some(n) = asked.next() {
        return Ok(n);
    }
    let scored = input
        .survey
        .attributes
        .iter()
        .enumerate()
        .filter(|(_, a)| !a.classes.is_empty());
    let scored = scored.map(|(n, attribute)| (score(attribute, layer.features.len()), n));
    // Of equals the first in the file.
    let best = scored.reduce(|best, next| if next.0 > best.0 { next } else { best });
    best.map(|(_, n)| n).ok_or_else(|| {
        let names: Vec<String> = layer
            .attributes
            .iter()
            .map(|name| format!("'{name}'"))
            .collect();
        Fault::input(
            "new.no_classes",
            layer.place(),
            "no attribute of this layer has few enough values to be a class",
            format!(
                "an attribute with up to {} different values",
                survey::MOST_CLASSES
            ),
            match names.is_empty() {
                true => "give the polygons a class attribute in your GIS".to_owned(),
                false => format!("name one with --class-attribute: {}", names.join(", ")),
            },
        )
    })
}

/// How plausible it is that the values are classes.
fn score(attribute: &Attribute, features: usize) -> i32 {
    let name = attribute.name.to_lowercase();
    let mut score = 0;
    score += if CLASS_WORDS.iter().any(|word| name.contains(word)) {
        4
    } else {
        0
    };
    score -= if OTHER_WORDS.iter().any(|word| name.contains(word)) {
        6
    } else {
        0
    };
    // What tells tasks and fields of task data apart is no class.
    score -= if ["task", "task_name", "field"].contains(&name.as_str()) {
        6
    } else {
        0
    };
    score -= if name == "id" || name.ends_with("_id") {
        4
    } else {
        0
    };
    score += match attribute.kind {
        AttributeKind::Text => 2,
        AttributeKind::Whole => 1,
        AttributeKind::Number | AttributeKind::Mixed => -1,
        AttributeKind::Flag | AttributeKind::Empty => 0,
    };
    score += if (2..=12).contains(&attribute.distinct) {
        2
    } else {
        0
    };
    score += if attribute.distinct < features { 2 } else { 0 };
    score - if attribute.missing > 0 { 2 } else { 0 }
}
