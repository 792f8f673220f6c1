//! GeoJSON: RFC 7946, the `crs` member of the older 2008 specification, and features one after the other, a line
//! each or with the separators of RFC 8142.
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
use serde_json::value::RawValue;
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
    let state = State::with_room_for(text.len());
    let mut parser = serde_json::Deserializer::from_slice(&text);
    let first = one(&mut parser, &state).map_err(|error| fault(path, &error, &state, 0))?;
    let alone = !first.is_feature();
    let mut texts = vec![first];
    match parser.end() {
        Ok(()) => {}
        // Only features follow each other.
        Err(error) if alone => return Err(fault(path, &error, &state, 0)),
        Err(_) => rest(&text, &state, &mut texts, path)?,
    }
    layer(texts, state, path)
}

/// Parses one text.
fn one<'de>(
    parser: &mut serde_json::Deserializer<serde_json::de::SliceRead<'de>>,
    state: &State,
) -> Result<Object, serde_json::Error> {
    state.heights.set(false);
    let seed = Seed {
        role: Role::Top,
        state,
    };
    let mut top = seed.deserialize(parser)?;
    top.heights = state.heights.get();
    Ok(top)
}

/// The texts after the first. Each is cut out before it is parsed: asked where it is, a parser counts lines from
/// the beginning.
fn rest(text: &[u8], state: &State, texts: &mut Vec<Object>, path: &Path) -> Outcome<()> {
    let mut pieces = serde_json::Deserializer::from_slice(text).into_iter::<&RawValue>();
    let (mut counted, mut lines) = (0, 0);
    let mut number = 0;
    while let Some(piece) = pieces.next() {
        number += 1;
        state.feature.set(Some(number));
        let piece = piece.map_err(|error| fault(path, &error, state, 0))?.get();
        if number == 1 {
            continue;
        }
        // Lines before this piece, counted on from the piece before it.
        let start = pieces.byte_offset() - piece.len();
        let between = text.get(counted..start).unwrap_or_default();
        lines += between.iter().filter(|byte| **byte == b'\n').count();
        counted = start;
        let mut parser = serde_json::Deserializer::from_slice(piece.as_bytes());
        let top = one(&mut parser, state).map_err(|error| fault(path, &error, state, lines))?;
        texts.push(top);
    }
    Ok(())
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

/// The layer of one text, or of a sequence of features, each a text of its own.
fn layer(mut texts: Vec<Object>, state: State, path: &Path) -> Outcome<Layer> {
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
    let members: Vec<_> = texts.iter_mut().map(|text| text.crs.take()).collect();
    if members.windows(2).any(|two| two[0] != two[1]) {
        return Err(wrong("Its lines name different CRSs".to_owned()));
    }
    let crs = match members.first() {
        None | Some(None) => DeclaredCrs::Wgs84ByStandard,
        Some(Some(member)) => crs::declared(member).map_err(&wrong)?,
    };
    let raw = object::features(texts, &state).map_err(wrong)?;
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
fn fault(path: &Path, error: &serde_json::Error, state: &State, lines_before: usize) -> Box<Fault> {
    let mut place = Place::file(path).line(lines_before + error.line());
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
