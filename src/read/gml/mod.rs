//! GML 2.1, 3.1 and 3.2 (OGC 02-069, 03-105r1, 07-036; ISO 19136): features as download services of surveys hand them out.
//!
//! Each kind of feature is a table. What the order of axes is goes by how a CRS is named (OGC 05-103, and what programs made of
//! it): see [`srs`]. Coordinates leave here with x east.

mod coordinates;
mod dimension;
mod features;
mod names;
mod srs;
#[cfg(test)]
mod tests;

use super::asked_table::{self, Words};
use super::file;
use super::gather::Gather;
use super::{DeclaredCrs, Feature, Layer, TableSummary, Value};
use crate::codec::room;
use crate::codec::wkb::Shape;
use crate::codec::xml::{BadXml, decoded};
use crate::findings::{Fault, Finding, Outcome, Place};
use features::{Found, Gml};
use std::path::Path;

/// Format in words.
pub(super) const FORMAT: &str = "GML";

/// The tables of a file: one for each kind of feature that has a geometry.
pub(super) fn tables(path: &Path) -> Outcome<Vec<TableSummary>> {
    let (gml, _) = content(path)?;
    // Of each kind: whether it has lines, points and polygons, and how many features.
    let mut counts = vec![([false; 3], 0); gml.kinds.len()];
    for found in &gml.found {
        let (has, features) = &mut counts[found.kind];
        has[0] |= !found.lines.is_empty();
        has[1] |= !found.points.is_empty();
        has[2] |= !found.polygons.is_empty();
        *features += 1;
    }
    let summary = |kind: usize| {
        let (has, features) = counts[kind];
        let kinds = [(has[0], "lines"), (has[1], "points"), (has[2], "polygons")];
        let kinds: Vec<&str> = kinds
            .iter()
            .filter(|(is, _)| *is)
            .map(|(_, of)| *of)
            .collect();
        TableSummary {
            name: Some(gml.kinds[kind].clone()),
            geometry: kinds.join(", "),
            features,
        }
    };
    let with_geometry = gml.with_geometry();
    Ok(with_geometry.into_iter().map(summary).collect())
}

/// Reads the features of one kind: the only one with a geometry, or the one that `table` names.
pub(super) fn read(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    let (gml, bytes) = content(path)?;
    let there = gml.with_geometry();
    let names: Vec<&str> = there.iter().map(|kind| gml.kinds[*kind].as_str()).collect();
    let words = Words {
        format: FORMAT,
        tables: "the name of a kind of feature",
        kinds: "kinds of features",
        hint: "",
        nothing: [
            "no feature with a geometry",
            "features in featureMember, featureMembers or member, each with points, lines or polygons",
            "Check that it is the right file: an answer of a service may say only that something went wrong.",
        ],
    };
    let kind = there[asked_table::place_of(path, table, &names, &words)?];
    let name = gml.kinds[kind].clone();
    let place = Place::file(path).layer(name.clone());
    let mut found = gml.found;
    found.retain(|one| one.kind == kind);
    let crs = crs(&found, &place)?;
    let mut findings = Vec::new();
    if found.iter().any(|one| one.is_north_first) {
        findings.push(Finding::note(
            "read.gml_axes",
            place.clone(),
            format!(
                "The coordinates have north (latitude) first, as '{}' says, and were read so.",
                crs.as_deref().unwrap_or_default().escape_debug()
            ),
        ));
    }
    let several = found.iter().filter(|one| one.kinds() > 1).count();
    if several > 0 {
        findings.push(Finding::note(
            "read.gml_several",
            place.clone(),
            format!("{several} features have several kinds of geometry; of each its polygons were taken, or else its lines."),
        ));
    }
    let declared = crs.as_deref().map(srs::declared);
    if let (Some(name), Some(None)) = (&crs, &declared) {
        findings.push(Finding::warning(
            "read.gml_srs",
            place.clone(),
            format!(
                "Its CRS is named '{}': which one that is, and in which order the coordinates stand, is not known here. It counts as none; with a 'crs' in the job the first number is taken as x (east, longitude).",
                name.escape_debug()
            ),
        ));
    }
    let columns = columns(&found, gml.attributes.len());
    let cells = found.len().saturating_mul(columns.len());
    if cells.saturating_mul(size_of::<Value>()) > room::most(bytes) {
        return Err(too_wide(place, columns.len(), found.len(), bytes));
    }
    let (features, told) = made(found, &columns, place)?;
    findings.extend(told);
    Ok(Layer {
        file: path.to_path_buf(),
        format: FORMAT,
        table: Some(name),
        crs: match declared.flatten() {
            Some(text) => DeclaredCrs::Text(text),
            None => DeclaredCrs::None,
        },
        attributes: columns
            .iter()
            .map(|at| gml.attributes[*at].clone())
            .collect(),
        features,
        findings,
    })
}

/// What the file holds, and how many bytes it has.
fn content(path: &Path) -> Outcome<(Gml, usize)> {
    let bytes = file::bytes(path)?;
    let read = || features::parse(&decoded(&bytes)?);
    let gml = read().map_err(|bad| no_gml(path, &bad))?;
    Ok((gml, bytes.len()))
}

fn no_gml(path: &Path, bad: &BadXml) -> Box<Fault> {
    Fault::input(
        "read.not_gml",
        Place::file(path).line(bad.line),
        format!("This is no GML that can be read: {}", bad.what),
        "GML 2 or 3, whole, with points, straight lines and polygons",
        "Export or download it again; a copy that was cut short ends like this. With curves, let a GIS make straight lines of them, and save as GeoPackage.",
    )
}

/// The one CRS of all features, as the file names it.
fn crs(found: &[Found], place: &Place) -> Outcome<Option<String>> {
    let mut first: Option<&Option<std::rc::Rc<str>>> = None;
    for one in found.iter().filter(|one| one.kinds() > 0) {
        let known = first.get_or_insert(&one.srs);
        if **known != one.srs {
            let said = |srs: &Option<std::rc::Rc<str>>| match srs {
                Some(srs) => format!("'{}'", srs.escape_debug()),
                None => "none".to_owned(),
            };
            return Err(Fault::input(
                "read.gml_crs",
                place.clone().feature(one.name()),
                format!(
                    "Its CRS is {}, and that of those before it {}",
                    said(&one.srs),
                    said(known)
                ),
                "one CRS for all features of a kind",
                "Download or export it again in one CRS.",
            ));
        }
    }
    Ok(first.and_then(|srs| srs.as_deref()).map(str::to_owned))
}

/// The attributes that any of these features has, in the order of the file.
fn columns(found: &[Found], all: usize) -> Vec<usize> {
    let mut used = vec![false; all];
    for (at, _) in found.iter().flat_map(|one| &one.values) {
        used[*at] = true;
    }
    (0..all).filter(|at| used[*at]).collect()
}

/// Features of a layer, and what was noticed.
fn made(
    found: Vec<Found>,
    columns: &[usize],
    place: Place,
) -> Outcome<(Vec<Feature>, Vec<Finding>)> {
    let kinds = Typed::of_all(&found, columns);
    let mut gather = Gather::new(place);
    let mut features = Vec::with_capacity(found.len());
    for (mut one, number) in found.into_iter().zip(1..) {
        let name = match one.name() {
            "" => format!("{number}"),
            name => name.to_owned(),
        };
        gather.dropped(&name, one.has_heights, false);
        let mut values = vec![Value::Missing; columns.len()];
        for (attribute, text) in std::mem::take(&mut one.values) {
            // Where a name comes twice, the first value that says something stands.
            if let (Ok(at), Some(text)) = (columns.binary_search(&attribute), text)
                && values[at] == Value::Missing
            {
                values[at] = kinds[at].value(text);
            }
        }
        let shape = match (one.polygons.is_empty(), one.lines.is_empty()) {
            (false, _) => Shape::Polygons(one.polygons),
            (true, false) => Shape::Lines(one.lines),
            (true, true) => Shape::Points(one.points),
        };
        features.push(Feature {
            geometry: gather.geometry(&name, shape)?,
            name,
            values,
        });
    }
    Ok((features, gather.findings()))
}

/// What all values of an attribute are: GML says that in another file, which is seldom at hand.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Typed {
    Whole,
    Number,
    Text,
}

impl Typed {
    /// Of each of these attributes, which stand in order.
    fn of_all(found: &[Found], columns: &[usize]) -> Vec<Self> {
        let mut all = vec![Self::Whole; columns.len()];
        for (attribute, text) in found.iter().flat_map(|one| &one.values) {
            let text = text.as_deref().filter(|text| !text.is_empty());
            if let (Ok(at), Some(text)) = (columns.binary_search(attribute), text) {
                all[at] = all[at].and(text);
            }
        }
        all
    }

    /// What it is with one more value.
    fn and(self, text: &str) -> Self {
        match self {
            Self::Whole if is_whole(text) => Self::Whole,
            Self::Whole | Self::Number if is_number(text) => Self::Number,
            _ => Self::Text,
        }
    }

    fn value(self, text: String) -> Value {
        let known = match self {
            Self::Whole => text.parse().ok().map(Value::Integer),
            Self::Number => text.parse().ok().map(Value::Number),
            Self::Text => None,
        };
        match known {
            Some(value) => value,
            None if text.is_empty() => Value::Missing,
            None => Value::Text(text),
        }
    }
}

/// A whole number as such are written: a zero in front makes a code of it.
fn is_whole(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    (digits == "0" || !digits.starts_with('0')) && text.parse::<i64>().is_ok()
}

fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let is_code = digits.starts_with('0') && digits.len() > 1 && !digits.starts_with("0.");
    let plain = text.bytes().all(|byte| b"+-.0123456789eE".contains(&byte));
    !is_code && plain && text.parse::<f64>().is_ok_and(f64::is_finite)
}

fn too_wide(place: Place, columns: usize, rows: usize, bytes: usize) -> Box<Fault> {
    Fault::input(
        "read.gml_wide",
        place,
        format!(
            "{rows} features have {columns} different attributes between them, most of them empty"
        ),
        format!(
            "a table of up to {} MB from {bytes} bytes",
            room::most(bytes) / 1_000_000
        ),
        "Export only the attributes you need, as GeoPackage or GeoJSON.",
    )
}
