//! One shape that was drawn by hand, as a file of its own.

use super::attributes::{Kind, Value};
use super::drive_layers::{Geometry, GeometryKind, Layer};
use super::geojson;
use crate::coordinates::LonLat;
use crate::read::Polygon;

/// A shape in degrees.
pub enum DrawnShape {
    /// Land.
    Polygon(Polygon<LonLat>),
    /// A line.
    Line(Vec<LonLat>),
}

/// A GeoJSON file with one shape and what is said of it, by name.
pub fn drawn_geojson(shape: DrawnShape, said: &[(&str, &str)]) -> String {
    let (kind, geometry) = match shape {
        DrawnShape::Polygon(polygon) => (GeometryKind::Polygons, Geometry::Polygons(vec![polygon])),
        DrawnShape::Line(line) => (GeometryKind::Line, Geometry::Line(line)),
    };
    let (names, values): (Vec<_>, Vec<_>) = said
        .iter()
        .map(|(name, value)| {
            let value = Value::Text((*value).to_owned());
            (((*name).to_owned(), Kind::Text), value)
        })
        .unzip();
    let layer = Layer {
        name: "drawn",
        what: "drawn by hand",
        about: String::new(),
        columns: names,
        geometry: kind,
        rows: vec![(geometry, values)],
    };
    geojson::layer_text(None, &layer)
}
