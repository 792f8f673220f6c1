//! Whole layers: to WGS 84 degrees and into the field's plane.

use super::area::{PLANE_REACH_DEGREES, paths};
use super::crs::Crs;
use super::edges::{Edge, Failure, length_m, points_on};
use super::local::Extent;
use super::plane::{Frame, from_meridian};
use crate::findings::{Fault, Finding, Outcome};
use crate::read::{Geometry, Layer, Path, Xy};

/// Edges farther than this from the field are not densified by [`place`], metres.
const NEAR_M: f64 = 20_000.0;

/// Turns all coordinates of a layer into WGS 84 degrees; straight edges are densified so that they
/// lie within 1 mm of the straight edge in the layer's own CRS once they are in the plane. An edge
/// shared by two polygons gets the same points in both. A note says how many points were added.
///
/// Refused: a coordinate that has no place on Earth, and edges so long that they would need more than
/// five million points.
pub fn to_wgs84(layer: Layer, crs: &Crs) -> Outcome<Layer> {
    straightened(layer, crs, |_| true)
}

/// Turns a layer in its own CRS into the field's plane: [`to_wgs84`] and [`to_plane`] in one, with the
/// edges densified only where they come near the field.
pub fn place(layer: Layer, crs: &Crs, frame: &Frame) -> Outcome<Layer> {
    let field = frame.extent();
    let near = |edge: &Edge| {
        let Some(field) = field else { return true };
        let ends = edge.ends();
        let length = length_m(ends);
        let lon0 = frame.origin()[0];
        if ends
            .iter()
            .any(|p| from_meridian(p[0], lon0).abs() > PLANE_REACH_DEGREES)
        {
            return length > 1_000_000.0;
        }
        // A long edge swings out from its chord by at most tan(84 degrees) / R * length^2 / 8.
        let swing = 2e-7 * length * length;
        Extent::of(ends.map(|p| frame.to_plane(p))).is_some_and(|e| e.gap(&field) <= NEAR_M + swing)
    };
    Ok(to_plane(straightened(layer, crs, near)?, frame))
}

/// Turns a WGS 84 layer into plane coordinates. Features with a place more than 60 degrees of longitude
/// from the field, where the plane does not reach, are left out with a warning.
pub fn to_plane(mut layer: Layer, frame: &Frame) -> Layer {
    let lon0 = frame.origin()[0];
    let layer_place = layer.place();
    let mut findings = Vec::new();
    layer.features.retain_mut(|feature| {
        let reach = -PLANE_REACH_DEGREES..=PLANE_REACH_DEGREES;
        let beyond = |p: &&Xy| !reach.contains(&from_meridian(p[0], lon0));
        if let Some(&far) = paths(&feature.geometry).flatten().find(beyond) {
            findings.push(Finding::warning(
                "frame.feature_too_far",
                layer_place.clone().feature(&feature.name).at(far),
                format!(
                    "the feature reaches more than {PLANE_REACH_DEGREES} degrees of longitude from the field and is left out"
                ),
            ));
            return false;
        }
        each_path(&mut feature.geometry, |path| frame.all_to_plane(path));
        true
    });
    layer.findings.append(&mut findings);
    layer
}

/// Runs `change` on every path of a geometry.
fn each_path(geometry: &mut Geometry, mut change: impl FnMut(&mut Path)) {
    match geometry {
        Geometry::Empty => {}
        Geometry::Points(points) => change(points),
        Geometry::Lines(lines) => lines.iter_mut().for_each(change),
        Geometry::Polygons(polygons) => {
            for polygon in polygons {
                change(&mut polygon.exterior);
                polygon.holes.iter_mut().for_each(&mut change);
            }
        }
    }
}

/// How the points of a path hang together.
#[derive(Clone, Copy, PartialEq)]
enum Joined {
    Not,
    InLine,
    InRing,
}

fn joined(geometry: &Geometry) -> Joined {
    match geometry {
        Geometry::Empty | Geometry::Points(_) => Joined::Not,
        Geometry::Lines(_) => Joined::InLine,
        Geometry::Polygons(_) => Joined::InRing,
    }
}

/// The layer in degrees, with points put on the edges that `wanted` lets through.
fn straightened(mut layer: Layer, crs: &Crs, wanted: impl Fn(&Edge) -> bool) -> Outcome<Layer> {
    // All points of the layer in one batch, and where each feature's points start.
    let mut source: Vec<Xy> = Vec::new();
    let mut starts = Vec::with_capacity(layer.features.len());
    for feature in &layer.features {
        starts.push(source.len());
        source.extend(paths(&feature.geometry).flatten());
    }
    let feature_at = |point: usize| {
        let after = starts.partition_point(|&start| start <= point);
        after
            .checked_sub(1)
            .and_then(|i| layer.features.get(i))
            .map(|f| f.name.as_str())
    };
    let mut places = source.clone();
    if let Err(bad) = crs.try_wgs84(&mut places) {
        return Err(crs.no_place(
            source.get(bad).copied().unwrap_or_default(),
            feature_at(bad),
        ));
    }

    // Every edge that may need points, with the index of the point it starts from.
    let mut edges: Vec<Edge> = Vec::new();
    let mut edge_starts: Vec<usize> = Vec::new();
    let mut from = 0;
    for feature in &layer.features {
        let kind = joined(&feature.geometry);
        for path in paths(&feature.geometry) {
            let end = from + path.len();
            if kind != Joined::Not {
                for start in from..end {
                    let last = start + 1 == end;
                    if last && kind == Joined::InLine {
                        continue;
                    }
                    let to = if last { from } else { start + 1 };
                    let edge =
                        Edge::between([source[start], source[to]], [places[start], places[to]]);
                    if let Some(edge) = edge.filter(&wanted) {
                        edges.push(edge);
                        edge_starts.push(start);
                    }
                }
            }
            from = end;
        }
    }
    let added = points_on(&edges, crs).map_err(|failure| match failure {
        Failure::NoPlace(edge, point) => {
            crs.no_place(point, edge_starts.get(edge).and_then(|&start| feature_at(start)))
        }
        Failure::TooMany => Fault::input(
            "frame.edges_too_long",
            crs.place().clone(),
            "the layer's edges are so long that keeping them straight takes more than five million points",
            "layers whose edges are not much longer than a field",
            "cut the layer to the surroundings of the field with a GIS",
        ),
    })?;

    // Back into the features, in the order in which they were taken out.
    let count: usize = added.iter().map(Vec::len).sum();
    let mut on_edges = edge_starts
        .into_iter()
        .zip(edges.iter().zip(added))
        .peekable();
    let mut at = 0;
    for feature in &mut layer.features {
        each_path(&mut feature.geometry, |path| {
            let end = at + path.len();
            path.clear();
            for (i, &place) in places.iter().enumerate().take(end).skip(at) {
                path.push(place);
                if let Some((_, (edge, mut points))) = on_edges.next_if(|(start, _)| *start == i) {
                    if edge.reversed {
                        points.reverse();
                    }
                    path.append(&mut points);
                }
            }
            at = end;
        });
    }
    if count > 0 {
        layer.findings.push(Finding::note(
            "frame.densified",
            layer.place(),
            format!(
                "{count} points were put on long edges, so that they stay within 1 mm of the straight edge in {}",
                crs.name
            ),
        ));
    }
    Ok(layer)
}
