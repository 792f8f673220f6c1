//! GeoJSON: RFC 7946, and the `crs` member of the older 2008 specification.
//!
//! The text is parsed straight into rings, with no tree of values in between: coordinates are most
//! of such a file.

mod attributes;
mod coordinates;
mod crs;
mod object;

use super::gather::Gather;
use super::{DeclaredCrs, Feature, Layer, Value, file};
use crate::findings::{Fault, Outcome, Place};
use object::{Object, Raw, Role, Seed, State};
use serde::de::DeserializeSeed;
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
    let state = State::default();
    let mut parser = serde_json::Deserializer::from_slice(text);
    let top = Seed {
        role: Role::Top,
        state: &state,
    }
    .deserialize(&mut parser)
    .and_then(|top| parser.end().map(|()| top))
    .map_err(|error| fault(path, &error, &state))?;
    layer(top, state, path)
}

fn layer(top: Object, state: State, path: &Path) -> Outcome<Layer> {
    let place = Place::file(path);
    let wrong = |problem: String| {
        Fault::input(
            "read.geojson",
            place.clone(),
            problem,
            "a FeatureCollection, a Feature or a geometry (RFC 7946)",
            "Export the layer again as GeoJSON.",
        )
    };
    let crs = match &top.crs {
        None => DeclaredCrs::Wgs84ByStandard,
        Some(member) => crs::declared(member).map_err(&wrong)?,
    };
    let raw = top.into_features(&state).map_err(wrong)?;
    let attributes = state.attributes.into_inner().into_names();
    let mut gather = Gather::new(place);
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

fn feature(raw: Raw, number: usize, width: usize, gather: &mut Gather) -> Outcome<Feature> {
    let name = raw.id.unwrap_or_else(|| number.to_string());
    gather.dropped(&name, raw.heights, false);
    let geometry = gather.geometry(&name, raw.shape)?;
    let mut values = raw.values;
    values.resize(width, Value::Missing);
    Ok(Feature {
        name,
        geometry,
        values,
    })
}

/// What the parser says, with its line and the feature it was in.
fn fault(path: &Path, error: &serde_json::Error, state: &State) -> Box<Fault> {
    let mut place = Place::file(path).line(error.line());
    if let Some(feature) = state.feature.get() {
        place = place.feature(feature);
    }
    let text = error.to_string();
    // The line stands in the place already.
    let problem = text.split(" at line ").next().unwrap_or(&text);
    if error.is_eof() {
        return Fault::input(
            "read.truncated",
            place,
            "The file ends in the middle of its text",
            "a whole GeoJSON file",
            "Copy or export it again; it was cut off.",
        );
    }
    Fault::input(
        "read.geojson",
        place,
        format!("This is not GeoJSON: {problem} (column {})", error.column()),
        "JSON text with one FeatureCollection, Feature or geometry (RFC 7946)",
        "Correct that line, or export the layer again as GeoJSON.",
    )
}

#[cfg(test)]
mod tests;
