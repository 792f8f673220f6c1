//! Files to layers: one file per format. Reading decides nothing; it reports what the file says.

#[cfg(test)]
mod test_damage;
mod asked_table;
mod csv;
mod digest;
mod file;
mod gather;
mod geojson;
mod geopackage;
mod gml;
mod gpx;
mod kml;
mod only;
mod open;
mod other_system;
mod raster;
mod shapefile;
mod sheet;
pub mod taskdata;
mod text;
mod value;
mod zipped;

pub use csv::{FAULT as CSV_FAULT, columns as csv_columns};
pub use digest::{sha256, sha256_of};
pub use file::no_endless;
pub use open::{given, input_files, open, polygon_layers, read, tables};
pub use raster::{
    Code, OneOf, Pixels, Raster, Stored, StoredValues, Window, geotiff_crs, opened_within,
};
pub use shapefile::FORMAT as SHAPEFILE;
pub use text::text;

use crate::findings::{Finding, Place};
use std::path::PathBuf;

/// A point as its file gives it: x east (or longitude), y north (or latitude), in the layer's own CRS, whatever that is. What
/// has left it is a [`crate::coordinates::LonLat`] or a [`crate::coordinates::PlaneXy`].
pub type Xy = [f64; 2];

/// Longitudes of a file may count on beyond the antimeridian, by a turn: that keeps a layer in one piece.
pub const MOST_LONGITUDE: f64 = 540.0;

/// A ring or a line. Rings are closed (last point repeats the first) only if the file closes them.
pub type Path<P = Xy> = Vec<P>;

/// What the file says its coordinates mean.
#[derive(Debug, Clone, PartialEq)]
pub enum DeclaredCrs {
    /// Nothing is declared. The job has to name a CRS.
    None,
    /// WGS 84 longitude/latitude by the format's standard (GeoJSON, RFC 7946; GPX, KML).
    Wgs84ByStandard,
    /// Anything PROJ understands: `EPSG:25832`, WKT 1 or 2, an OGC URN.
    Text(String),
}

/// The value of one attribute.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Missing,
    Text(String),
    Integer(i64),
    Number(f64),
    Flag(bool),
}

/// The geometry of one feature, Z and M dropped.
#[derive(Debug, Clone, PartialEq)]
pub enum Geometry<P = Xy> {
    Empty,
    Points(Vec<P>),
    Lines(Vec<Path<P>>),
    Polygons(Vec<Polygon<P>>),
}

/// One polygon: the exterior ring and its holes, any winding.
#[derive(Debug, Clone, PartialEq)]
pub struct Polygon<P = Xy> {
    pub exterior: Path<P>,
    pub holes: Vec<Path<P>>,
}

/// One feature of a vector layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature<P = Xy> {
    /// What the file calls it, for messages: its id, or its number from 1.
    pub name: String,
    pub geometry: Geometry<P>,
    /// One value per entry of [`Layer::attributes`].
    pub values: Vec<Value>,
}

/// A vector layer: as it is read in its own CRS, and later in degrees or in the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer<P = Xy> {
    /// The file it came from, as the user named it.
    pub file: PathBuf,
    /// Format in words: `GeoJSON`, `Shapefile`, `GeoPackage`, `GPX`, `KML`, `GML`, `CSV`, `XLSX`, `ODS`.
    pub format: &'static str,
    /// Layer or table inside the file, where the format has such.
    pub table: Option<String>,
    pub crs: DeclaredCrs,
    /// Attribute names in file order.
    pub attributes: Vec<String>,
    pub features: Vec<Feature<P>>,
    /// What reading noticed: Z dropped, empty geometries, a missing index.
    pub findings: Vec<Finding>,
}

/// One layer of a file, for listing.
#[derive(Debug, Clone, PartialEq)]
pub struct TableSummary {
    /// Name of the layer or table, where the format has such.
    pub name: Option<String>,
    /// Kind of geometry in words, such as `polygons`; for a GeoPackage the declared type.
    pub geometry: String,
    /// Number of features.
    pub features: u64,
}

impl<P> Layer<P> {
    /// Where this layer is, for messages.
    pub fn place(&self) -> Place {
        let place = Place::file(&self.file);
        match &self.table {
            Some(table) => place.layer(table.clone()),
            None => place,
        }
    }
}

impl<P> Geometry<P> {
    /// The same geometry with each path (points are one of their own) put somewhere else.
    pub(crate) fn moved<Q>(self, mut change: impl FnMut(Path<P>) -> Path<Q>) -> Geometry<Q> {
        match self {
            Self::Empty => Geometry::Empty,
            Self::Points(points) => Geometry::Points(change(points)),
            Self::Lines(lines) => Geometry::Lines(lines.into_iter().map(change).collect()),
            Self::Polygons(polygons) => {
                let moved = |polygon: Polygon<P>| Polygon {
                    exterior: change(polygon.exterior),
                    holes: polygon.holes.into_iter().map(&mut change).collect(),
                };
                Geometry::Polygons(polygons.into_iter().map(moved).collect())
            }
        }
    }
}

impl<P> Layer<P> {
    /// The same layer with its features put somewhere else.
    pub(crate) fn moved<Q>(self, change: impl FnMut(Feature<P>) -> Option<Feature<Q>>) -> Layer<Q> {
        Layer {
            features: self.features.into_iter().filter_map(change).collect(),
            file: self.file,
            format: self.format,
            table: self.table,
            crs: self.crs,
            attributes: self.attributes,
            findings: self.findings,
        }
    }
}
