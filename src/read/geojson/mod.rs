//! GeoJSON: RFC 7946, the `crs` member of the older 2008 specification, and features one after the other, a line
//! each or with the separators of RFC 8142.
//!
//! The text is parsed feature by feature, with no tree of values in between: coordinates are most of such a file.

mod crs;
mod features;
mod geometry;
mod properties;

use super::gather::Gather;
use super::{DeclaredCrs, Layer, Value, file};
use crate::findings::{Fault, Outcome, Place};
use features::{Feature, Features, Raw, Text, Top};
use serde::de::{DeserializeSeed, Error};
use serde_json::Value as Json;
use serde_json::de::SliceRead;
use std::borrow::Cow;
use std::path::Path;

/// Reads a GeoJSON file.
pub(super) fn read(path: &Path) -> Outcome<Layer> {
    let bytes = file::bytes(path)?;
    parse(&bytes, path)
}

/// Reads the bytes of a GeoJSON file; `path` is for messages.
pub(super) fn parse(bytes: &[u8], path: &Path) -> Outcome<Layer> {
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return Err(Fault::input(
            "read.not_utf8",
            Place::file(path),
            "The text is UTF-16",
            "GeoJSON in UTF-8",
            "Save the file again as UTF-8.",
        ));
    }
    let text = without_separators(text);
    let mut features = Features::with_room_for(text.len());
    let told = match content(&text, &mut features) {
        Ok(crs) => crs.map_or(Ok(DeclaredCrs::Wgs84ByStandard), |own| crs::declared(&own)),
        Err(Bad::Json(error)) => return Err(fault(path, &error, features.number)),
        Err(Bad::Line(line, problem)) => {
            return Err(no_geojson(path, line, &problem, features.number));
        }
        Err(Bad::Told(problem)) => Err(problem),
    };
    layer(told, features, path)
}

/// What is wrong with a text.
enum Bad {
    /// At a place in it.
    Json(serde_json::Error),
    /// A sentence about what ends in this line.
    Line(usize, String),
    /// A sentence about all of it.
    Told(String),
}

impl From<serde_json::Error> for Bad {
    fn from(error: serde_json::Error) -> Self {
        Self::Json(error)
    }
}

/// Reads all texts of a file: a collection, a geometry, or features one after the other. Gives their `crs` member.
fn content(text: &[u8], features: &mut Features) -> Result<Option<Json>, Bad> {
    let mut parser = serde_json::Deserializer::from_slice(text);
    let Top { own, has_features } = Text(features).deserialize(&mut parser)?;
    match own.kind.as_deref() {
        Some("FeatureCollection") => {
            parser.end()?;
            match has_features {
                true => Ok(own.crs),
                false => Err(Bad::Told(
                    "The FeatureCollection has no `features`".to_owned(),
                )),
            }
        }
        Some("Topology") => Err(Bad::Told("This is TopoJSON, not GeoJSON".to_owned())),
        kind => {
            // What it may have had of a collection means nothing.
            *features = Features::with_room_for(text.len());
            if kind == Some("Feature") {
                return sequence(own, text, parser, features);
            }
            features.take_bare(serde_json::from_slice(text)?);
            Ok(own.crs)
        }
    }
}

/// A feature, and those that follow it. Only features may follow each other.
fn sequence<'a>(
    first: Feature,
    text: &'a [u8],
    parser: serde_json::Deserializer<SliceRead<'a>>,
    features: &mut Features,
) -> Result<Option<Json>, Bad> {
    features.number = Some(1);
    let crs = first.crs.clone();
    let mut next = Some(first);
    let mut texts = parser.into_iter::<Feature>();
    for number in 2.. {
        let Some(feature) = next else { break };
        if feature.crs != crs {
            return Err(Bad::Told("Its lines name different CRSs".to_owned()));
        }
        features.take(feature).map_err(|problem| {
            let before = text.get(..texts.byte_offset()).unwrap_or_default();
            let lines = before.iter().filter(|byte| **byte == b'\n').count();
            Bad::Line(lines + 1, problem)
        })?;
        features.number = Some(number);
        next = texts.next().transpose()?;
    }
    Ok(crs)
}

/// Separators of RFC 8142, which may stand before each text of a sequence, made blanks. In a string they would
/// have to be escaped.
fn without_separators(text: &[u8]) -> Cow<'_, [u8]> {
    const SEPARATOR: u8 = 0x1E;
    let first = text.iter().find(|byte| !byte.is_ascii_whitespace());
    if first != Some(&SEPARATOR) {
        return text.into();
    }
    let blank = |byte: &u8| if *byte == SEPARATOR { b' ' } else { *byte };
    text.iter().map(blank).collect()
}

/// The layer of all features, if their texts told their CRS.
fn layer(told: Result<DeclaredCrs, String>, features: Features, path: &Path) -> Outcome<Layer> {
    let place = Place::file(path);
    let wrong = |problem: String| {
        Fault::input(
            "read.geojson",
            place.clone(),
            problem,
            "a FeatureCollection, a Feature or a geometry (RFC 7946), or one Feature in each line",
            "Export the layer again as GeoJSON.",
        )
    };
    let crs = told.map_err(wrong)?;
    let (raw, attributes) = features.all().map_err(wrong)?;
    let mut gather = Gather::new(place.clone());
    let features = raw
        .into_iter()
        .enumerate()
        .map(|(at, raw)| feature(raw, at + 1, attributes.len(), &mut gather))
        .collect::<Outcome<Vec<_>>>()?;
    Ok(Layer {
        file: path.to_path_buf(),
        format: "GeoJSON",
        table: None,
        crs,
        attributes,
        features,
        findings: gather.findings(),
    })
}

fn feature(raw: Raw, number: usize, width: usize, gather: &mut Gather) -> Outcome<super::Feature> {
    let name = raw.id.unwrap_or_else(|| number.to_string());
    gather.dropped(&name, raw.drawn.heights, false);
    let geometry = gather.geometry(&name, raw.drawn.shape)?;
    let mut values = raw.values;
    values.resize(width, Value::Missing);
    Ok(super::Feature {
        name,
        geometry,
        values,
    })
}

/// JSON leaves open which of two members of one name counts, so two are refused.
fn once<T, E: Error>(name: &str, place: &mut Option<T>, value: T) -> Result<(), E> {
    match place.replace(value) {
        None => Ok(()),
        Some(_) => Err(E::custom(twice(name))),
    }
}

fn twice(name: &str) -> String {
    format!("the member `{name}` stands twice in one object")
}

/// What the parser says, with its line and the feature it was in.
fn fault(path: &Path, error: &serde_json::Error, feature: Option<usize>) -> Box<Fault> {
    if error.is_eof() {
        return Fault::input(
            "read.truncated",
            place(path, error.line(), feature),
            "The file ends in the middle of its text",
            "a whole GeoJSON file",
            "Copy or export it again; it was cut off.",
        );
    }
    let text = error.to_string();
    // The line stands in the place already.
    let problem = text.split(" at line ").next().unwrap_or(&text);
    let problem = format!("{problem} (column {})", error.column());
    no_geojson(path, error.line(), &problem, feature)
}

fn no_geojson(path: &Path, line: usize, problem: &str, feature: Option<usize>) -> Box<Fault> {
    Fault::input(
        "read.geojson",
        place(path, line, feature),
        format!("This is not GeoJSON: {problem}"),
        "JSON text with one FeatureCollection, Feature or geometry (RFC 7946)",
        "Correct that line, or export the layer again as GeoJSON.",
    )
}

fn place(path: &Path, line: usize, feature: Option<usize>) -> Place {
    let place = Place::file(path).line(line);
    match feature {
        Some(number) => place.feature(number),
        None => place,
    }
}

#[cfg(test)]
mod tests;
