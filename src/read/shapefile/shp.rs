//! The `.shp` file: header, records, shapes.

use super::super::{Path, Xy};
use super::index::{self, Broken, HEADER, Span};
use super::parts::Parts;
use super::rings::{self, Winding};
use crate::codec::bytes::{Bytes, Order, Short};
use crate::codec::wkb::Shape;
use crate::findings::{Fault, Finding, Outcome, Place};
use std::fmt;

/// The contents of all records, in order.
pub(super) fn records<'a>(
    parts: &'a Parts,
    place: &Place,
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<&'a [u8]>> {
    let shp = &parts.shp;
    let end = header(shp, place)?;
    let spans = match parts.shx.as_deref().map(|shx| index::by_index(shx, shp)) {
        Some(Some(spans)) => spans,
        Some(None) => {
            findings.push(Finding::warning(
                "read.bad_index",
                place.clone(),
                "The .shx does not fit the .shp; the records were read in the order of the .shp.",
            ));
            in_sequence(shp, end, place)?
        }
        None => in_sequence(shp, end, place)?,
    };
    let used: usize = spans
        .iter()
        .map(|span| span.length + index::RECORD_HEADER)
        .sum();
    let left = (shp.len() - HEADER).saturating_sub(used);
    if left > 0 {
        findings.push(Finding::warning(
            "read.unused_bytes",
            place.clone(),
            format!("{left} bytes of the .shp belong to no record and were not read."),
        ));
    }
    Ok(spans
        .iter()
        .filter_map(|Span { start, length }| shp.get(*start..start + length))
        .collect())
}

/// Checks the header. Gives the length of the file that it states, in bytes.
fn header(shp: &[u8], place: &Place) -> Outcome<usize> {
    let fault = |code, found: String, next: &str| {
        Fault::input(
            code,
            place.clone(),
            found,
            "the .shp file of a shapefile",
            next,
        )
    };
    let mut bytes = Bytes::new(shp);
    if shp.len() < HEADER {
        return Err(fault(
            "read.truncated",
            format!(
                "The .shp has {} bytes and ends inside its header of {HEADER}",
                shp.len()
            ),
            "Copy or export it again; it was cut off.",
        ));
    }
    let (Ok(9994), Ok(_), Ok(stated)) =
        (bytes.u32(Order::Big), bytes.take(20), bytes.u32(Order::Big))
    else {
        return Err(fault(
            "read.not_shapefile",
            "The file does not start as a .shp does (file code 9994)".to_string(),
            "Check that it is the right file; export it again.",
        ));
    };
    let Some(length) = index::words(stated).filter(|length| *length >= HEADER) else {
        return Err(fault(
            "read.not_shapefile",
            "The header of the .shp states a length that no file has".to_string(),
            "Export the shapefile again.",
        ));
    };
    if length > shp.len() {
        // Followed to its end, so that the fault can name the record.
        let whole = in_sequence(shp, shp.len(), place)?.len();
        return Err(fault(
            "read.truncated",
            format!(
                "The .shp ends after record {whole} at {} bytes; its header states {length}",
                shp.len()
            ),
            "Copy or export it again; it was cut off.",
        ));
    }
    Ok(length)
}

fn in_sequence(shp: &[u8], end: usize, place: &Place) -> Outcome<Vec<Span>> {
    index::in_sequence(shp, end).map_err(|broken| match broken {
        Broken::Truncated { record } => Fault::input(
            "read.truncated",
            place.clone().feature(record),
            format!("The .shp ends inside record {record}"),
            "a whole .shp file",
            "Copy or export it again; it was cut off.",
        ),
        Broken::Length { record } => Fault::input(
            "read.damaged",
            place.clone().feature(record),
            format!("Record {record} of the .shp states a length that no record has"),
            "a whole .shp file",
            "Copy or export it again; it is damaged.",
        ),
    })
}

/// One decoded record.
pub(super) struct Read {
    pub(super) shape: Shape,
    pub(super) heights: bool,
    pub(super) measures: bool,
    pub(super) winding: Winding,
}

/// Why a record is not a shape that is read.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Problem {
    Truncated,
    Type(i32),
    MultiPatch,
    /// The list of where parts start does not rise from 0 to the number of points.
    PartStarts,
}

impl Problem {
    pub(super) fn code(&self) -> &'static str {
        match self {
            Self::MultiPatch => "read.geometry_type",
            _ => "read.damaged",
        }
    }

    pub(super) fn next(&self) -> &'static str {
        match self {
            Self::MultiPatch => "Turn it into polygons in a GIS.",
            _ => "Copy or export the shapefile again; it is damaged.",
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Truncated => out.write_str("it is too short for the points it states"),
            Self::Type(code) => write!(out, "its shape type {code} is not known"),
            Self::MultiPatch => out.write_str("it is a MultiPatch (a body in space)"),
            Self::PartStarts => out.write_str("the starts of its parts are out of order"),
        }
    }
}

impl From<Short> for Problem {
    fn from(_: Short) -> Self {
        Self::Truncated
    }
}

/// Decodes the content of a record.
pub(super) fn shape(record: &[u8]) -> Result<Read, Problem> {
    let mut bytes = Bytes::new(record);
    let code = bytes.i32(Order::Little)?;
    // 11, 13, 15 and 18 have Z (and perhaps M); 21, 23, 25 and 28 have M; 31 is the MultiPatch.
    let (kind, dimension) = (code % 10, code / 10);
    if code == 31 {
        return Err(Problem::MultiPatch);
    }
    if !(0..=2).contains(&dimension) || (code != 0 && kind == 0) {
        return Err(Problem::Type(code));
    }
    let mut winding = Winding::Right;
    let shape = match kind {
        0 => Shape::Empty,
        1 => Shape::Points(vec![point(&mut bytes)?]),
        3 => Shape::Lines(lines(&mut bytes)?),
        5 => {
            let assembled = rings::assemble(lines(&mut bytes)?);
            winding = assembled.winding;
            Shape::Polygons(assembled.polygons)
        }
        8 => {
            bytes.take(32)?;
            let count = bytes.u32(Order::Little)? as usize;
            Shape::Points(points(&mut bytes, count)?)
        }
        _ => return Err(Problem::Type(code)),
    };
    Ok(Read {
        shape,
        heights: dimension == 1,
        measures: dimension == 2,
        winding,
    })
}

fn point(bytes: &mut Bytes<'_>) -> Result<Xy, Short> {
    Ok([bytes.f64(Order::Little)?, bytes.f64(Order::Little)?])
}

fn points(bytes: &mut Bytes<'_>, count: usize) -> Result<Vec<Xy>, Problem> {
    // Asked first, so that a damaged count reserves nothing.
    if bytes.left() / 16 < count {
        return Err(Problem::Truncated);
    }
    (0..count)
        .map(|_| point(bytes).map_err(Problem::from))
        .collect()
}

/// The parts of a polyline or the rings of a polygon.
fn lines(bytes: &mut Bytes<'_>) -> Result<Vec<Path>, Problem> {
    bytes.take(32)?;
    let parts = bytes.u32(Order::Little)? as usize;
    let count = bytes.u32(Order::Little)? as usize;
    if bytes.left() / 4 < parts {
        return Err(Problem::Truncated);
    }
    let mut starts = Vec::with_capacity(parts + 1);
    for _ in 0..parts {
        starts.push(bytes.u32(Order::Little)? as usize);
    }
    starts.push(count);
    if starts.first() != Some(&0) || !starts.is_sorted() {
        return Err(Problem::PartStarts);
    }
    let all = points(bytes, count)?;
    starts
        .windows(2)
        .map(|pair| match pair {
            [from, to] => all
                .get(*from..*to)
                .map(<[Xy]>::to_vec)
                .ok_or(Problem::PartStarts),
            _ => Err(Problem::PartStarts),
        })
        .collect()
}
