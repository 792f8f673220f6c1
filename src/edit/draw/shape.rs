//! From places that were pointed at to the shape that a file holds: nothing that crosses itself, nothing beside the field.

use super::super::view::PER_M;
use super::super::work::Shown;
use super::Drawing;
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Outcome, Place};
use crate::geometry::{Overlay, Pt, Shape};
use crate::land::guide_line;
use crate::map::lon_lat;
use crate::read::{DeclaredCrs, Feature, Geometry, Layer};
use crate::write::{DrawnShape, drawn_geojson};

/// What a drawing becomes on this map.
pub(in crate::edit) enum Shaped {
    /// A file of this name, with this text.
    File {
        /// Its name, if it is free.
        name: String,
        /// GeoJSON.
        text: String,
    },
    /// Longitude and latitude, degrees.
    LonLat(LonLat),
}

/// Makes the shape of a drawing. Places that were brought to a corner or an edge lie on it exactly.
///
/// # Errors
/// An outline that crosses itself, has no area or lies beside the field; one that leaves no land; a line without length, or one
/// that no bout can run along; a place or a name that is none.
pub(in crate::edit) fn made(drawing: &Drawing, shown: &Shown) -> Outcome<Shaped> {
    let frame = &shown.prepared.frame;
    let file = |name: &str, why: &str, shape: DrawnShape| {
        let name = name.trim();
        if name.is_empty() {
            return Err(no_name());
        }
        let said = [("name", name), ("why", why.trim())];
        let said: Vec<_> = said.into_iter().filter(|(_, of)| !of.is_empty()).collect();
        Ok(Shaped::File {
            name: format!("{name}.geojson"),
            text: drawn_geojson(shape, &said),
        })
    };
    let line_of = |line: &[i64]| {
        let line = line_of(line, shown)?;
        let metres = line.iter().map(|point| point.place());
        Ok::<_, Box<Fault>>(metres.collect::<Vec<PlaneXy>>())
    };
    match drawing {
        Drawing::Exclusion {
            name, why, outline, ..
        } => {
            let shape = outline_of(outline, shown)?;
            some_land_left(&shape, shown)?;
            file(name, why, DrawnShape::Polygon(lon_lat(&shape, frame)))
        }
        Drawing::Place {
            name, why, outline, ..
        } => {
            let shape = outline_of(outline, shown)?;
            file(name, why, DrawnShape::Polygon(lon_lat(&shape, frame)))
        }
        Drawing::Strip {
            name, why, line, ..
        } => {
            let line = line_of(line)?;
            file(name, why, DrawnShape::Line(frame.line_in_degrees(line)))
        }
        Drawing::Guide { line } => {
            let line = line_of(line)?;
            guide_line(&layer_of(line.clone()), &shown.prepared.land.field)?;
            // Without the points that a straight edge has in degrees: what has two ends is straight.
            let ends = frame.all_to_lon_lat(line);
            file("guide-line", "", DrawnShape::Line(ends))
        }
        Drawing::Entrance { at } => {
            let place = points(at, shown)?.first().copied().ok_or_else(no_place)?;
            let lon_lat = frame.to_lon_lat(place.place());
            // To a tenth of a millimetre, as files have it.
            let [lon, lat] = lon_lat.pair().map(|degrees| (degrees * 1e9).round() / 1e9);
            Ok(Shaped::LonLat(LonLat::new(lon, lat)))
        }
    }
}

/// Places as they travel, on the corners and edges that they were brought to.
pub(in crate::edit) fn points(flat: &[i64], shown: &Shown) -> Outcome<Vec<Pt>> {
    let mut at = [0_i64, 0];
    let mut points = Vec::with_capacity(flat.len() / 2);
    let edges = shown.edges(None);
    for step in flat.chunks_exact(2) {
        for (own, by) in at.iter_mut().zip(step) {
            *own = own.saturating_add(*by);
        }
        let place = at.map(|travels| travels as f64 / PER_M);
        points.push(edges.untold(place).ok_or_else(no_place)?);
    }
    points.dedup();
    Ok(points)
}

fn line_of(flat: &[i64], shown: &Shown) -> Outcome<Vec<Pt>> {
    let line = points(flat, shown)?;
    match line.len() {
        0 | 1 => Err(refused(
            "edit.no_line",
            "this line has no two places".to_owned(),
            "a line of two places or more",
            "point at where it begins and where it goes on",
        )),
        _ => Ok(line),
    }
}

/// A ring of land that touches the field.
pub(in crate::edit) fn outline_of(flat: &[i64], shown: &Shown) -> Outcome<Shape> {
    let mut ring = points(flat, shown)?;
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    if ring.len() < 3 {
        return Err(refused(
            "edit.no_outline",
            format!("this outline has {} corners", ring.len()),
            "an outline of three corners or more",
            "point at its corners, one after the other",
        ));
    }
    let mut overlay = Overlay::default();
    overlay.add(Shape {
        exterior: ring.clone(),
        holes: Vec::new(),
    });
    let arrangement = overlay.arrange();
    if !overlay.self_crossings(&arrangement).is_empty() {
        return Err(refused(
            "edit.crosses_itself",
            "this outline crosses itself".to_owned(),
            "an outline around one piece of land",
            "take corners back and draw around the land, without crossing what is drawn",
        ));
    }
    let mut own = overlay.shapes_where(|covering| !covering.is_empty());
    let (Some(shape), true) = (own.pop(), own.is_empty()) else {
        return Err(refused(
            "edit.no_area",
            "this outline encloses no area, or several pieces".to_owned(),
            "an outline around one piece of land",
            "point at the corners around the land",
        ));
    };
    if shared(&shape, &shown.prepared.land.field).is_empty() {
        return Err(refused(
            "edit.beside_field",
            "what is drawn lies beside the field".to_owned(),
            "land of the field",
            "draw around land inside the border",
        ));
    }
    Ok(shape)
}

/// What a shape has in common with others.
fn shared(shape: &Shape, others: &[Shape]) -> Vec<Shape> {
    let mut overlay = Overlay::default();
    let own = overlay.add(shape.clone());
    for other in others {
        overlay.add(other.clone());
    }
    overlay.shapes_where(|covering| covering.contains(&own) && covering.len() > 1)
}

fn some_land_left(shape: &Shape, shown: &Shown) -> Outcome<()> {
    let mut overlay = Overlay::default();
    let own = overlay.add(shape.clone());
    for land in &shown.prepared.land.land {
        overlay.add(land.clone());
    }
    let left = overlay.shapes_where(|covering| !covering.is_empty() && !covering.contains(&own));
    match left.is_empty() {
        false => Ok(()),
        true => Err(refused(
            "edit.nothing_left",
            "what is drawn covers the whole field; no land is left to sow".to_owned(),
            "an outline that leaves some of the field",
            "draw around less land",
        )),
    }
}

/// A line as the engine takes one from a file.
fn layer_of(line: Vec<PlaneXy>) -> Layer<PlaneXy> {
    Layer {
        file: "the drawn line".into(),
        format: "drawn",
        table: None,
        crs: DeclaredCrs::Wgs84ByStandard,
        attributes: Vec::new(),
        features: vec![Feature {
            name: "1".to_owned(),
            geometry: Geometry::Lines(vec![line]),
            values: Vec::new(),
        }],
        findings: Vec::new(),
    }
}

/// A fault of something that was done by hand.
pub(in crate::edit) fn refused(
    code: &'static str,
    found: String,
    allowed: &str,
    next: &str,
) -> Box<Fault> {
    Fault::input(code, Place::nowhere(), found, allowed, next)
}

fn no_name() -> Box<Fault> {
    refused(
        "edit.no_name",
        "what is drawn has no name".to_owned(),
        "a name, such as pond or ditch in the north",
        "write its name, and do this again",
    )
}

fn no_place() -> Box<Fault> {
    refused(
        "edit.no_place_on_map",
        "a place lies far outside every field".to_owned(),
        "places on the map",
        "point at the map again",
    )
}
