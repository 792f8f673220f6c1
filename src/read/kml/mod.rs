//! KML 2.2 and 2.3 (OGC 07-147r2, 12-007r2), and KML packed as KMZ: what people draw on a globe. Coordinates are longitude and
//! latitude on WGS 84 by the standard.
//!
//! Folders and documents may nest in any way, so tables are not made of them but of the kinds of geometry: points, lines
//! and polygons. The folder of a placemark is an attribute.

mod coordinates;
mod packed;
mod placemarks;
#[cfg(test)]
mod tests;

pub(super) use packed::is_packed;

use super::asked_table::{self, Words};
use super::file;
use super::gather::Gather;
use super::{DeclaredCrs, Feature, Layer, TableSummary, Value};
use crate::codec::room;
use crate::codec::wkb::Shape;
use crate::codec::xml::{BadXml, decoded};
use crate::findings::{Fault, Finding, Outcome, Place};
use placemarks::{Kml, Placemark};
use std::collections::HashMap;
use std::path::Path;

/// Format in words.
pub(super) const FORMAT: &str = "KML";

/// A kind of geometry, and so a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Points,
    Lines,
    Polygons,
}

impl Kind {
    const ALL: [Self; 3] = [Self::Points, Self::Lines, Self::Polygons];

    fn table(self) -> &'static str {
        match self {
            Self::Points => "points",
            Self::Lines => "lines",
            Self::Polygons => "polygons",
        }
    }

    /// Whether a placemark has any of it.
    fn is_in(self, placemark: &Placemark) -> bool {
        match self {
            Self::Points => !placemark.points.is_empty(),
            Self::Lines => !placemark.lines.is_empty(),
            Self::Polygons => !placemark.polygons.is_empty(),
        }
    }

    /// That part of a placemark.
    fn of(self, placemark: &mut Placemark) -> Shape {
        match self {
            Self::Points => Shape::Points(std::mem::take(&mut placemark.points)),
            Self::Lines => Shape::Lines(std::mem::take(&mut placemark.lines)),
            Self::Polygons => Shape::Polygons(std::mem::take(&mut placemark.polygons)),
        }
    }
}

/// The tables of a file that hold something.
pub(super) fn tables(path: &Path) -> Outcome<Vec<TableSummary>> {
    let (kml, _) = content(path)?;
    let tables = Kind::ALL.iter().filter_map(|kind| {
        let features = kml.placemarks.iter().filter(|one| kind.is_in(one)).count() as u64;
        (features > 0).then(|| TableSummary {
            name: Some(kind.table().to_owned()),
            geometry: kind.table().to_owned(),
            features,
        })
    });
    Ok(tables.collect())
}

/// Reads the one kind of geometry that the file holds, or the one that `table` names.
pub(super) fn read(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    let (kml, bytes) = content(path)?;
    let kind = asked_for(path, table, &kml.placemarks)?;
    let place = Place::file(path).layer(kind.table());
    let mut findings = left_out(&kml, &place);
    let mut placemarks = kml.placemarks;
    placemarks.retain(|one| kind.is_in(one));
    let columns = columns(&kml.attributes, &placemarks);
    let cells = placemarks.len().saturating_mul(columns.len());
    if cells.saturating_mul(size_of::<Value>()) > room::most(bytes) {
        return Err(too_wide(place, columns.len(), placemarks.len(), bytes));
    }
    let names = names(&placemarks);
    let mut gather = Gather::new(place);
    let mut features = Vec::with_capacity(placemarks.len());
    for (mut placemark, name) in placemarks.into_iter().zip(names) {
        gather.dropped(&name, placemark.has_heights, false);
        let geometry = gather.geometry(&name, kind.of(&mut placemark))?;
        let mut values = vec![Value::Missing; columns.len()];
        for (attribute, text) in placemark.values {
            // Where a name comes twice, the first value that says something stands.
            if let Ok(at) = columns.binary_search(&attribute)
                && values[at] == Value::Missing
            {
                values[at] = kml.attributes.value(attribute, text);
            }
        }
        features.push(Feature {
            name,
            geometry,
            values,
        });
    }
    findings.extend(gather.findings());
    Ok(Layer {
        file: path.to_path_buf(),
        format: FORMAT,
        table: Some(kind.table().to_owned()),
        crs: DeclaredCrs::Wgs84ByStandard,
        attributes: columns
            .iter()
            .map(|at| kml.attributes.name(*at).to_owned())
            .collect(),
        features,
        findings,
    })
}

/// What the file holds, and how many bytes it has, unpacked.
fn content(path: &Path) -> Outcome<(Kml, usize)> {
    if !is_packed(path)? {
        let bytes = file::bytes(path)?;
        let mut kml = Kml::default();
        parse(&bytes, &mut kml).map_err(|bad| no_kml(Place::file(path), &bad))?;
        return Ok((kml, bytes.len()));
    }
    let (mut kml, mut unpacked) = (Kml::default(), 0);
    let files = packed::files(path)?;
    for (name, bytes) in &files {
        let place = || Place::file(path).layer(name.clone());
        parse(bytes, &mut kml).map_err(|bad| no_kml(place(), &bad))?;
        unpacked += bytes.len();
    }
    // What lies in the archive was read with it.
    kml.links
        .retain(|link| files.iter().all(|(name, _)| !is_link_to(link, name)));
    Ok((kml, unpacked))
}

fn parse(bytes: &[u8], kml: &mut Kml) -> Result<(), BadXml> {
    placemarks::parse(&decoded(bytes)?, kml)
}

/// Whether a link means this file of the same archive: relative, by the end of its path.
fn is_link_to(link: &str, name: &str) -> bool {
    let link = link.trim_start_matches("./");
    !link.contains(':') && (name == link || name.ends_with(&format!("/{link}")))
}

fn no_kml(place: Place, bad: &BadXml) -> Box<Fault> {
    Fault::input(
        "read.not_kml",
        place.line(bad.line),
        format!("This is no KML that can be read: {}", bad.what),
        "KML 2.2 or 2.3, whole; places as 'longitude,latitude' or 'longitude,latitude,height', in degrees, with blanks between places only",
        "Export it again from the program that drew it; a copy that was cut short ends like this.",
    )
}

fn asked_for(path: &Path, table: Option<&str>, placemarks: &[Placemark]) -> Outcome<Kind> {
    let there = Kind::ALL.iter().copied();
    let there: Vec<Kind> = there
        .filter(|kind| placemarks.iter().any(|one| kind.is_in(one)))
        .collect();
    let words = Words {
        format: FORMAT,
        tables: "points, lines or polygons",
        kinds: "kinds of geometry",
        hint: "; folders are told apart by `only = { folder = \"..\" }`",
        nothing: [
            "no place, no line and no polygon",
            "placemarks with a geometry; pictures laid on the ground and links to other files are not read",
            "Check that it is the right file; if it only links to another, save that one and name it.",
        ],
    };
    asked_table::asked_for(path, table, &there, Kind::table, &words)
}

/// The attributes that any of these placemarks has, in the order of the file.
fn columns(attributes: &placemarks::Attributes, placemarks: &[Placemark]) -> Vec<usize> {
    let mut used = vec![false; attributes.len()];
    for (at, _) in placemarks.iter().flat_map(|one| &one.values) {
        used[*at] = true;
    }
    (0..attributes.len()).filter(|at| used[*at]).collect()
}

/// What messages call each placemark: its name, with its number where others have the same one; its number where it has none.
fn names(placemarks: &[Placemark]) -> Vec<String> {
    let mut counts: HashMap<&str, usize> = HashMap::new();
    for placemark in placemarks {
        *counts.entry(placemark.name()).or_default() += 1;
    }
    let numbered = placemarks.iter().zip(1..);
    numbered
        .map(|(placemark, number)| match placemark.name() {
            "" => number.to_string(),
            name if counts.get(name) == Some(&1) => name.to_owned(),
            name => format!("{name} ({number})"),
        })
        .collect()
}

fn left_out(kml: &Kml, place: &Place) -> Vec<Finding> {
    let mut findings = Vec::new();
    if let Some(link) = kml.links.first() {
        findings.push(Finding::warning(
            "read.kml_links",
            place.clone(),
            format!(
                "{} links to other files are not followed, '{}' first; save what they show as a file of its own.",
                kml.links.len(),
                link.escape_debug()
            ),
        ));
    }
    if kml.pictures > 0 {
        findings.push(Finding::note(
            "read.kml_pictures",
            place.clone(),
            format!("{} pictures and models are not read.", kml.pictures),
        ));
    }
    if kml.without_geometry > 0 {
        findings.push(Finding::note(
            "read.kml_no_geometry",
            place.clone(),
            format!(
                "{} placemarks have no geometry and were left out.",
                kml.without_geometry
            ),
        ));
    }
    findings
}

fn too_wide(place: Place, columns: usize, rows: usize, bytes: usize) -> Box<Fault> {
    Fault::input(
        "read.kml_wide",
        place,
        format!(
            "{rows} placemarks have {columns} different attributes between them, most of them empty"
        ),
        format!(
            "a table of up to {} MB from {bytes} bytes",
            room::most(bytes) / 1_000_000
        ),
        "Export only the attributes you need, as GeoPackage or GeoJSON.",
    )
}
