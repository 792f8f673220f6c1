//! Choosing the reader: by what the file holds first, by its name where that says nothing.

use super::file::{self, FORMATS};
use super::{
    DeclaredCrs, Geometry, Layer, MOST_LONGITUDE, Raster, TableSummary, csv, gather, geojson,
    geopackage, gml, gpx, kml, only, raster, shapefile, taskdata,
};
use crate::codec::xml;
use crate::findings::{Fault, Finding, Outcome, Place, number};
use crate::job::Source;
use std::path::{Path, PathBuf};

/// Reads what a job names: path relative to `folder`, its table, and only the features it asks for.
///
/// `source.crs` is left to the caller, who knows how to understand it; but with one the
/// coordinates of a GeoJSON file need not be longitudes and latitudes.
///
/// # Errors
/// The faults of [`read`]; `only` names an attribute that is not there, or a value nobody has.
pub fn open(source: &Source, folder: &Path) -> Outcome<Layer> {
    let path = match source.file.is_absolute() || folder.as_os_str().is_empty() {
        true => source.file.clone(),
        false => folder.join(&source.file),
    };
    let layer = match csv::is(&path)? {
        true => csv::read(&path, source)?,
        false => read_unchecked(&path, source.table.as_deref())?,
    };
    asked_for(layer, source)
}

/// Reads GeoJSON that is at hand as text, in place of the file that `source` names.
///
/// # Errors
/// As [`open`], for GeoJSON; a table is asked for.
pub fn given(text: &str, source: &Source) -> Outcome<Layer> {
    let layer = geojson::parse(text.as_bytes(), &source.file)?;
    if let Some(table) = &source.table {
        return Err(no_tables(&source.file, table, layer.format));
    }
    asked_for(layer, source)
}

/// What a job asks for of a layer.
fn asked_for(mut layer: Layer, source: &Source) -> Outcome<Layer> {
    check_on_earth(&layer)?;
    if source.crs.is_none() {
        check_degrees(&layer)?;
    }
    only::keep(&mut layer, &source.only)?;
    Ok(layer)
}

fn no_tables(path: &Path, table: &str, format: &str) -> Box<Fault> {
    Fault::input(
        "read.no_tables",
        Place::file(path),
        format!("The table '{table}' is asked for, but a {format} has no tables"),
        "no `table` for this file",
        "Remove `table` from the job, or name another file.",
    )
}

/// Reads one layer of a file. `table` is needed only where the file has several.
///
/// # Errors
/// One fault: the file is missing, a folder, empty or unreadable; of an unknown format; damaged
/// (named by line, record or feature); it has several layers and none is named, or not the named
/// one; a geometry of a type that is not read; a coordinate that is not finite, or not a longitude
/// and latitude where the format's standard demands those.
pub fn read(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    let source = Source {
        file: path.to_path_buf(),
        table: table.map(str::to_owned),
        ..Source::default()
    };
    open(&source, Path::new(""))
}

/// Lists the layers of a file: one for GeoJSON and a loose shapefile, several perhaps for a zipped
/// shapefile or a GeoPackage.
///
/// # Errors
/// As for [`read`].
pub fn tables(path: &Path) -> Outcome<Vec<TableSummary>> {
    if csv::is(path)? {
        let source = Source {
            file: path.to_path_buf(),
            ..Source::default()
        };
        let checked = |layer: Outcome<Layer>| layer.and_then(|layer| asked_for(layer, &source));
        return csv::each(&source, |name, layer| tabled(name, checked(layer)));
    }
    let named = |names: Vec<String>| -> Outcome<Vec<TableSummary>> {
        names
            .iter()
            .map(|name| read_unchecked(path, Some(name)).map(|layer| summary(&layer)))
            .collect()
    };
    match format(path)? {
        Format::GeoPackage => geopackage::tables(path),
        Format::TaskData => taskdata::tables(path),
        Format::Gpx => gpx::tables(path),
        Format::Kml => kml::tables(path),
        Format::Gml => gml::tables(path),
        Format::ZippedShapefile => named(shapefile::names_in_zip(path)?),
        Format::GeoJson | Format::Shapefile => Ok(vec![summary(&read_unchecked(path, None)?)]),
    }
}

/// What a sheet or a CSV file holds. A sheet of several that is no table of places is told as it is: others may be.
fn tabled(name: Option<&str>, layer: Outcome<Layer>) -> Outcome<TableSummary> {
    match (layer, name) {
        (Err(fault), Some(name)) if fault.code == csv::FAULT => Ok(TableSummary {
            name: Some(name.to_owned()),
            geometry: "no geometry".to_string(),
            features: 0,
        }),
        (layer, _) => layer.map(|layer| summary(&layer)),
    }
}

/// All layers of a file that have polygons, in the order of [`tables`], each read once.
///
/// # Errors
/// As for [`read`].
pub fn polygon_layers(path: &Path) -> Outcome<Vec<Layer>> {
    let is_wanted = |of: &TableSummary| of.geometry.to_lowercase().contains("polygon");
    let source = Source {
        file: path.to_path_buf(),
        ..Source::default()
    };
    // What says nothing of its layers is read to know.
    let with_polygons = |layer: &Layer| is_wanted(&summary(layer));
    let of_text = csv::is(path)?;
    let layers: Vec<Layer> = match format(path) {
        _ if of_text => {
            let layers = csv::each(&source, |_, layer| layer)?;
            layers.into_iter().filter(with_polygons).collect()
        }
        Ok(Format::GeoJson | Format::Shapefile) => {
            let layer = read_unchecked(path, None)?;
            Some(layer).filter(with_polygons).into_iter().collect()
        }
        Ok(Format::ZippedShapefile) => {
            let names = shapefile::names_in_zip(path)?;
            let several = names.len() > 1;
            let name = |name: &String| {
                read_unchecked(path, Some(name).filter(|_| several).map(String::as_str))
            };
            let layers: Vec<Layer> = names.iter().map(name).collect::<Outcome<_>>()?;
            layers.into_iter().filter(with_polygons).collect()
        }
        Ok(Format::GeoPackage) => geopackage::layers(path, is_wanted)?,
        Ok(Format::TaskData | Format::Gpx | Format::Kml | Format::Gml) => {
            let tables = tables(path)?;
            let several = tables.len() > 1;
            let wanted = tables.iter().filter(|table| is_wanted(table));
            let name = |table: &TableSummary| {
                read_unchecked(path, table.name.as_deref().filter(|_| several))
            };
            wanted.map(name).collect::<Outcome<_>>()?
        }
        Err(fault) => return Err(fault),
    };
    let checked = layers.into_iter().map(|layer| asked_for(layer, &source));
    checked.collect()
}

/// All files that this input consists of and that exist, the named one first. For a shapefile:
/// .shp, .dbf, .prj, .cpg and .shx.
pub fn input_files(path: &Path) -> Vec<PathBuf> {
    match format(path) {
        Ok(Format::Shapefile) => shapefile::loose_files(path),
        Ok(Format::TaskData) => taskdata::loose_files(path),
        Ok(_) => vec![path.to_path_buf()],
        Err(_) if path.is_file() => {
            let mut files = vec![path.to_path_buf()];
            if Raster::is(path) {
                files.extend(raster::prj_beside(path));
                files.extend(raster::mask_beside(path));
            }
            files
        }
        Err(_) => Vec::new(),
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    GeoJson,
    Shapefile,
    ZippedShapefile,
    GeoPackage,
    TaskData,
    Gpx,
    Kml,
    Gml,
}

impl Format {
    /// The extensions the format usually has.
    fn extensions(self) -> &'static [&'static str] {
        match self {
            Self::GeoJson => &["geojson", "json", "geojsonl", "geojsons", "ndjson", "jsonl"],
            Self::Shapefile => &["shp"],
            Self::ZippedShapefile => &["zip", "shz"],
            Self::GeoPackage => &["gpkg", "gpkx"],
            Self::TaskData => &["xml", "zip"],
            Self::Gpx => &["gpx"],
            Self::Kml => &["kml", "kmz"],
            Self::Gml => &["gml", "xml"],
        }
    }
}

/// How a compound file begins: workbooks of the old form, and newer ones that a password locks (MS-CFB 2.2).
const OLD_WORKBOOK: [u8; 8] = [0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];

/// What the file holds. Its name decides only which fault is given when it holds none of them.
fn format(path: &Path) -> Outcome<Format> {
    if taskdata::is_task_data(path) {
        return Ok(Format::TaskData);
    }
    file::check(path)?;
    let head = file::head(path, 4096)?;
    if let Some(format) = by_content(&head) {
        return match (format, extension(path).as_str()) {
            (Format::Shapefile, "shx") => Err(part_of_shapefile(path)),
            (Format::ZippedShapefile, _) if kml::is_packed(path)? => Ok(Format::Kml),
            _ => Ok(format),
        };
    }
    if head.starts_with(&OLD_WORKBOOK) {
        return Err(Fault::input(
            "read.old_workbook",
            Place::file(path),
            "This is a workbook in the old form (.xls), or one with a password",
            FORMATS,
            "Save it in the spreadsheet program as .xlsx or .ods without a password, or the sheet as CSV.",
        ));
    }
    if Raster::is(path) {
        return Err(Fault::input(
            "read.is_raster",
            Place::file(path),
            "This is a raster, and polygons, lines or points are wanted here",
            FORMATS,
            "A zone layer may be a raster if the job says how its values become classes: values = { method = \"natural_breaks\", classes = 4 } instead of class_attribute.",
        ));
    }
    match extension(path).as_str() {
        // Let the format's own reader say what is wrong.
        end if Format::GeoJson.extensions().contains(&end) => Ok(Format::GeoJson),
        "shp" => Ok(Format::Shapefile),
        "zip" | "shz" => Ok(Format::ZippedShapefile),
        "gpkg" | "gpkx" => Ok(Format::GeoPackage),
        "gpx" => Ok(Format::Gpx),
        "kml" | "kmz" => Ok(Format::Kml),
        "gml" => Ok(Format::Gml),
        "shx" | "dbf" | "prj" | "cpg" => Err(part_of_shapefile(path)),
        _ => Err(Fault::input(
            "read.unknown_format",
            Place::file(path),
            "This is no map format that is read here",
            FORMATS,
            "Export the layer from your GIS as GeoPackage or GeoJSON.",
        )),
    }
}

fn by_content(head: &[u8]) -> Option<Format> {
    if head.starts_with(b"SQLite format 3\0") {
        return Some(Format::GeoPackage);
    }
    if head.starts_with(b"PK\x03\x04") || head.starts_with(b"PK\x05\x06") {
        return Some(Format::ZippedShapefile);
    }
    if head.starts_with(&[0, 0, 0x27, 0x0A]) {
        return Some(Format::Shapefile);
    }
    match xml::root(head).as_deref() {
        Some("gpx") => return Some(Format::Gpx),
        Some("kml") => return Some(Format::Kml),
        // Roots have any name; what they have in common is the space of names that their parts are from.
        Some(_) if xml::mentions(head, "opengis.net/gml") => return Some(Format::Gml),
        _ => {}
    }
    let text = head.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(head);
    // A sequence of texts (RFC 8142) begins with its separator.
    let first = text
        .iter()
        .find(|byte| !byte.is_ascii_whitespace() && **byte != 0x1E);
    (first == Some(&b'{')).then_some(Format::GeoJson)
}

fn extension(path: &Path) -> String {
    path.extension()
        .map(|text| text.to_string_lossy().to_lowercase())
        .unwrap_or_default()
}

fn part_of_shapefile(path: &Path) -> Box<Fault> {
    let shp = shapefile::loose_files(path)
        .into_iter()
        .find(|part| extension(part) == "shp")
        .map(|part| part.display().to_string());
    Fault::input(
        "read.part_of_shapefile",
        Place::file(path),
        "This is one of the side files of a shapefile",
        "the .shp file, with its side files beside it",
        match shp {
            Some(shp) => format!("Name '{shp}' instead."),
            None => "Get the .shp file that belongs to it.".to_string(),
        },
    )
}

fn read_unchecked(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    let format = format(path)?;
    let mut layer = match format {
        Format::GeoJson => geojson::read(path)?,
        Format::Shapefile => shapefile::read(path)?,
        Format::ZippedShapefile => shapefile::read_zipped(path, table)?,
        Format::GeoPackage => geopackage::read(path, table)?,
        Format::Gpx => gpx::read(path, table)?,
        Format::Kml => kml::read(path, table)?,
        Format::Gml => gml::read(path, table)?,
        Format::TaskData => return taskdata::layer(path, table),
    };
    if let (Format::GeoJson | Format::Shapefile, Some(table)) = (format, table) {
        return Err(no_tables(path, table, layer.format));
    }
    if !format.extensions().contains(&extension(path).as_str()) {
        layer.findings.push(Finding::note(
            "read.other_extension",
            Place::file(path),
            format!(
                "By its content this is a {}, and it was read as one.",
                layer.format
            ),
        ));
    }
    Ok(layer)
}

/// No coordinate of a place on Earth is larger, in any CRS and unit: its girth is 4.0e10 mm.
const FARTHEST: f64 = 1e11;

/// A vertex far beyond the Earth is damage; whatever works with it works without end.
fn check_on_earth(layer: &Layer) -> Outcome<()> {
    for feature in &layer.features {
        let far = |(_, [x, y]): &(usize, &[f64; 2])| !(x.abs() <= FARTHEST && y.abs() <= FARTHEST);
        if let Some((at, [x, y])) = gather::points(&feature.geometry).enumerate().find(far) {
            return Err(Fault::input(
                "read.far_away",
                layer.place().feature(&feature.name),
                format!(
                    "Its point {} has the coordinates {}, {}, which no place on Earth has",
                    at + 1,
                    number(*x),
                    number(*y)
                ),
                format!("coordinates up to {}", number(FARTHEST)),
                "Correct or delete that point in a GIS, or leave the feature out with `only`.",
            ));
        }
    }
    Ok(())
}

/// Longitudes and latitudes are what RFC 7946 demands; anything else is a projected CRS unsaid.
fn check_degrees(layer: &Layer) -> Outcome<()> {
    if layer.crs != DeclaredCrs::Wgs84ByStandard {
        return Ok(());
    }
    for feature in &layer.features {
        let outside = |[x, y]: &&[f64; 2]| x.abs() > MOST_LONGITUDE || y.abs() > 90.0;
        if let Some([x, y]) = gather::points(&feature.geometry).find(outside) {
            return Err(Fault::input(
                "read.not_degrees",
                layer.place().feature(&feature.name),
                format!(
                    "The point {}, {} is no longitude and latitude, so these are probably projected coordinates (metres)",
                    number(*x),
                    number(*y)
                ),
                "longitude from -180 to 180 (to 540 where it counts on beyond the antimeridian), then latitude from -90 to 90 (RFC 7946), since the file names no other CRS",
                "Say in the job which CRS they are in, such as `crs = \"EPSG:25832\"`, or export the file again in WGS 84.",
            ));
        }
    }
    Ok(())
}

fn summary(layer: &Layer) -> TableSummary {
    let mut kinds: Vec<&str> = Vec::new();
    for feature in &layer.features {
        let kind = match feature.geometry {
            Geometry::Empty => continue,
            Geometry::Points(_) => "points",
            Geometry::Lines(_) => "lines",
            Geometry::Polygons(_) => "polygons",
        };
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    kinds.sort_unstable();
    TableSummary {
        name: layer.table.clone(),
        geometry: match kinds.is_empty() {
            true => "no geometry".to_string(),
            false => kinds.join(", "),
        },
        features: layer.features.len() as u64,
    }
}
