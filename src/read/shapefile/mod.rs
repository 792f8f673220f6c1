//! Shapefiles, loose or zipped.
//!
//! Source: ESRI Shapefile Technical Description, July 1998; dBase III+ table layout.
//!
//! The `.shp` and `.dbf` bytes are read by own code and not by the `shapefile` and `dbase` crates:
//! those reserve memory by the length fields of the file before they look whether so much is there,
//! cut fixed-size slices out of shorter fields (a panic on a damaged header), and turn large whole
//! numbers into floating-point ones.

mod dbf;
mod index;
mod parts;
mod rings;
mod shp;

use super::gather::Gather;
use super::{DeclaredCrs, Feature, Layer, Value};
use crate::findings::{Fault, Finding, Outcome, Place};
use parts::Parts;
use rings::Winding;
use std::path::{Path, PathBuf};

pub(super) use parts::names_in_zip;

/// Reads a loose shapefile: the `.shp` and the files of the same name beside it.
pub(super) fn read(path: &Path) -> Outcome<Layer> {
    layer(parts::loose(path)?, path)
}

/// Reads a shapefile inside a zip file; `table` picks one where there are several.
pub(super) fn read_zipped(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    layer(parts::zipped(path, table)?, path)
}

/// The existing files of a loose shapefile, `.shp` first.
pub(super) fn loose_files(path: &Path) -> Vec<PathBuf> {
    parts::EXTENSIONS
        .iter()
        .filter_map(|extension| parts::sibling(path, extension))
        .collect()
}

/// Reads a shapefile that lies in memory; `path` is for messages.
#[cfg(test)]
pub(super) fn read_bytes(path: &Path, shp: Vec<u8>, dbf: Vec<u8>, shx: Vec<u8>) -> Outcome<Layer> {
    let parts = Parts {
        name: None,
        shp,
        dbf: Some(dbf),
        prj: None,
        cpg: None,
        shx: Some(shx),
    };
    layer(parts, path)
}

/// What layers say of their format.
pub const FORMAT: &str = "Shapefile";

fn layer(parts: Parts, path: &Path) -> Outcome<Layer> {
    let mut layer = Layer {
        file: path.to_path_buf(),
        format: FORMAT,
        table: parts.name.clone(),
        crs: DeclaredCrs::None,
        attributes: Vec::new(),
        features: Vec::new(),
        findings: Vec::new(),
    };
    let place = layer.place();
    layer.crs = crs(&parts, &place, &mut layer.findings);
    let records = shp::records(&parts, &place, &mut layer.findings)?;
    let table = match &parts.dbf {
        Some(bytes) => {
            let table = dbf::read(bytes, parts.cpg.as_deref(), &place, &mut layer.findings)?;
            same_count(records.len(), table.rows.len(), &place)?;
            Some(table)
        }
        None => {
            layer.findings.push(Finding::warning(
                "read.no_attributes",
                place.clone(),
                "The .dbf file is missing, so the features have no attributes.",
            ));
            None
        }
    };
    let (attributes, rows) = match table {
        Some(table) => (table.names, table.rows),
        None => (
            Vec::new(),
            (0..records.len()).map(|_| Some(Vec::new())).collect(),
        ),
    };
    layer.attributes = attributes;
    let mut gather = Gather::new(place.clone());
    let mut deleted = 0_usize;
    for (at, (bytes, row)) in records.into_iter().zip(rows).enumerate() {
        match row {
            Some(values) => layer
                .features
                .push(feature(bytes, values, at + 1, &mut gather)?),
            None => deleted += 1,
        }
    }
    if deleted > 0 {
        layer.findings.push(Finding::warning(
            "read.deleted_records",
            place,
            format!("{deleted} records are marked as deleted in the .dbf and were left out."),
        ));
    }
    layer.findings.extend(gather.findings());
    Ok(layer)
}

fn feature(
    record: &[u8],
    values: Vec<Value>,
    number: usize,
    gather: &mut Gather,
) -> Outcome<Feature> {
    let name = number.to_string();
    let read = shp::shape(record).map_err(|problem| {
        Fault::input(
            problem.code(),
            gather.at(&name),
            format!("Record {number} of the .shp: {problem}"),
            "points, lines and polygons of the shapefile format",
            problem.next(),
        )
    })?;
    gather.dropped(&name, read.heights, read.measures);
    match read.winding {
        Winding::Right => {}
        Winding::Reversed => gather.reversed(&name),
        Winding::Doubtful => gather.doubtful(&name),
    }
    Ok(Feature {
        geometry: gather.geometry(&name, read.shape)?,
        name,
        values,
    })
}

fn crs(parts: &Parts, place: &Place, findings: &mut Vec<Finding>) -> DeclaredCrs {
    let text = parts
        .prj
        .as_deref()
        .map(String::from_utf8_lossy)
        .unwrap_or_default();
    let text = text
        .trim_start_matches('\u{feff}')
        .trim_matches(['\0', ' ', '\t', '\r', '\n']);
    if !text.is_empty() {
        return DeclaredCrs::Text(text.to_string());
    }
    let what = match parts.prj {
        Some(_) => "The .prj file is empty",
        None => "The .prj file is missing",
    };
    // Only a note: the job may name one, and without either the job is refused.
    findings.push(Finding::note(
        "read.no_crs",
        place.clone(),
        format!("{what}: the shapefile does not say which CRS its coordinates are in."),
    ));
    DeclaredCrs::None
}

fn same_count(shapes: usize, rows: usize, place: &Place) -> Outcome<()> {
    match shapes == rows {
        true => Ok(()),
        false => Err(Fault::input(
            "read.count_mismatch",
            place.clone(),
            format!(
                "The .shp has {shapes} records and the .dbf has {rows}, so attributes cannot be told apart"
            ),
            "as many rows in the .dbf as shapes in the .shp",
            "Copy all files of the shapefile again, from one export.",
        )),
    }
}
