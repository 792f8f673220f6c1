//! Whole layers: to WGS 84 degrees and into the field's plane.

use super::area::{PLANE_REACH_DEGREES, paths, points};
use super::crs::{Crs, half_a_turn};
use super::distinct_points::{DistinctPoints, PATH_START};
use super::edges::{Edge, Failure, length_m, points_on};
use super::local::Extent;
use super::plane::{Frame, from_meridian};
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Finding, Outcome};
use crate::read::{Feature, Geometry, Layer, Xy};

/// Edges farther than this from the field are not densified by [`place`], metres.
const NEAR_M: f64 = 20_000.0;

/// Turns all coordinates of a layer into WGS 84 degrees; straight edges are densified so that they
/// lie within 0.05 mm of the straight edge in the layer's own CRS once they are in the plane. An edge
/// shared by two polygons gets the same points in both.
///
/// Refused: a coordinate that has no place on Earth, and edges so long that they would need more than
/// five million points.
pub fn to_wgs84(layer: Layer, crs: &Crs) -> Outcome<Layer<LonLat>> {
    straightened(layer, crs, |_| true)
}

/// Turns all coordinates of a layer into WGS 84 degrees, for those who take edges as straight in degrees: a layer
/// in degrees keeps its points as they are, another gets points as with [`to_wgs84`].
///
/// # Errors
/// As [`to_wgs84`].
pub fn as_drawn(layer: Layer, crs: &Crs) -> Outcome<Layer<LonLat>> {
    let bends = !crs.is_wgs84();
    straightened(layer, crs, |_| bends)
}

/// Turns a layer in its own CRS into the field's plane: [`to_wgs84`] and [`to_plane`] in one, with the
/// edges densified only where they come near the field.
pub fn place(layer: Layer, crs: &Crs, frame: &Frame) -> Outcome<Layer<PlaneXy>> {
    let field = frame.extent();
    let near = |edge: &Edge| {
        let Some(field) = field else { return true };
        let ends = edge.ends();
        let length = length_m(ends);
        let lon0 = frame.origin().lon;
        if ends
            .iter()
            .any(|p| from_meridian(p.lon, lon0).abs() > PLANE_REACH_DEGREES)
        {
            return length > 1_000_000.0;
        }
        // A long edge swings out from its chord by at most tan(84 degrees) / R * length^2 / 8.
        let swing = 2e-7 * length * length;
        Extent::of(ends.map(|p| frame.to_plane(p).pair()))
            .is_some_and(|e| e.gap(&field) <= NEAR_M + swing)
    };
    Ok(to_plane(straightened(layer, crs, near)?, frame))
}

/// Turns a WGS 84 layer into plane coordinates. Features with a place more than 60 degrees of longitude
/// from the field, where the plane does not reach, are left out with a warning.
pub fn to_plane(layer: Layer<LonLat>, frame: &Frame) -> Layer<PlaneXy> {
    let lon0 = frame.origin().lon;
    let layer_place = layer.place();
    let mut findings = Vec::new();
    let mut layer = layer.moved(|feature| {
        let reach = -PLANE_REACH_DEGREES..=PLANE_REACH_DEGREES;
        let beyond = |p: &&LonLat| !reach.contains(&from_meridian(p.lon, lon0));
        if let Some(&far) = paths(&feature.geometry).flatten().find(beyond) {
            findings.push(Finding::warning(
                "frame.feature_too_far",
                layer_place.clone().feature(&feature.name).at(far),
                format!(
                    "the feature reaches more than {PLANE_REACH_DEGREES} degrees of longitude from the field and is left out"
                ),
            ));
            return None;
        }
        Some(Feature {
            name: feature.name,
            geometry: feature.geometry.moved(|path| frame.all_to_plane(path)),
            values: feature.values,
        })
    });
    layer.findings.append(&mut findings);
    layer
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

/// All points of a layer that is not in degrees, in its own CRS and in degrees.
struct Points {
    source: Vec<Xy>,
    places: Vec<LonLat>,
    /// Per point of the layer: which of these it is.
    numbers: Vec<u32>,
}

impl Points {
    /// The error is the first point that has no place on Earth, and its number in the layer.
    fn of(layer: &Layer, crs: &Crs) -> Result<Self, (usize, Xy)> {
        let features = || layer.features.iter();
        let paths = || features().flat_map(|one| paths(&one.geometry));
        let count = paths().map(|path| path.len()).sum();
        // Most points of zones are in two rings: each is put through the operation once.
        let mut distinct = DistinctPoints::with_room_for(count / 2);
        let mut numbers = Vec::with_capacity(count);
        for path in paths() {
            let mut before = PATH_START;
            for point in path {
                before = distinct.number_after(before, *point);
                numbers.push(before);
            }
        }
        let source = distinct.points;
        let places = crs.try_wgs84(source.clone()).map_err(|bad| {
            let first = numbers.iter().position(|&number| number as usize == bad);
            let point = source.get(bad).copied().unwrap_or_default();
            (first.unwrap_or_default(), point)
        })?;
        Ok(Self {
            source,
            places,
            numbers,
        })
    }

    /// Where a point of the layer is in its CRS, and in degrees.
    fn at(&self, point: usize) -> (Xy, LonLat) {
        let number = self.numbers[point] as usize;
        (self.source[number], self.places[number])
    }
}

/// The layer in degrees, with points put on the edges that `wanted` lets through.
fn straightened(layer: Layer, crs: &Crs, wanted: impl Fn(&Edge) -> bool) -> Outcome<Layer<LonLat>> {
    // Where each feature's points start.
    let mut starts = Vec::with_capacity(layer.features.len());
    let mut start = 0;
    for feature in &layer.features {
        starts.push(start);
        start += paths(&feature.geometry)
            .map(|path| path.len())
            .sum::<usize>();
    }
    let no_place = |layer: &Layer, number: usize, point: Xy| {
        let after = starts.partition_point(|&start| start <= number);
        let feature = after.checked_sub(1).and_then(|nth| layer.features.get(nth));
        crs.no_place(point, feature.map(|feature| feature.name.as_str()))
    };
    // A layer in degrees has its places already, and mostly keeps its paths as they are.
    let points = match crs.is_wgs84() {
        true => {
            let mut all = points(&layer).enumerate();
            let bad = all.find(|(_, point)| half_a_turn(*point).is_none());
            if let Some((number, point)) = bad {
                return Err(no_place(&layer, number, point));
            }
            None
        }
        false => {
            let points = Points::of(&layer, crs);
            Some(points.map_err(|(number, point)| no_place(&layer, number, point))?)
        }
    };
    // Of a point by its number in the layer: where it is in the CRS, and in degrees.
    let ends = |number: usize, point: Xy| match &points {
        Some(points) => points.at(number),
        // Checked above.
        None => {
            let place = half_a_turn(point).unwrap_or(LonLat::of_pair(point));
            (place.pair(), place)
        }
    };

    // Every edge that may need points, with the index of the point it starts from.
    let mut edges: Vec<Edge> = Vec::new();
    let mut edge_starts: Vec<usize> = Vec::new();
    let mut from = 0;
    for feature in &layer.features {
        let kind = joined(&feature.geometry);
        for path in paths(&feature.geometry) {
            let steps = match kind {
                Joined::Not => 0,
                Joined::InLine => path.len().saturating_sub(1),
                Joined::InRing => path.len(),
            };
            let mut here = path.first().map(|&first| ends(from, first));
            for nth in 0..steps {
                let to = if nth + 1 == path.len() { 0 } else { nth + 1 };
                let there = ends(from + to, path[to]);
                let [a, b] = [here.unwrap_or(there), there];
                let edge = Edge::between([a.0, b.0], [a.1, b.1]);
                if let Some(edge) = edge.filter(&wanted) {
                    edges.push(edge);
                    edge_starts.push(from + nth);
                }
                here = Some(there);
            }
            from += path.len();
        }
    }
    let added = points_on(&edges, crs).map_err(|failure| match failure {
        Failure::NoPlace(edge, point) => {
            no_place(&layer, edge_starts.get(edge).copied().unwrap_or_default(), point)
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
    let mut on_edges = edge_starts
        .into_iter()
        .zip(edges.iter().zip(added))
        .peekable();
    let mut at = 0;
    let layer = layer.moved(|feature| {
        let geometry = feature.geometry.moved(|path| {
            let numbers = at..at + path.len();
            at = numbers.end;
            let stays = on_edges.peek().is_none_or(|(start, _)| *start >= at);
            if points.is_none() && stays {
                return path.into_iter().filter_map(half_a_turn).collect();
            }
            let mut drawn = Vec::new();
            for (number, point) in numbers.zip(path) {
                drawn.push(ends(number, point).1);
                if let Some((_, (edge, mut added))) =
                    on_edges.next_if(|(start, _)| *start == number)
                {
                    if edge.reversed {
                        added.reverse();
                    }
                    drawn.append(&mut added);
                }
            }
            drawn
        });
        Some(Feature {
            name: feature.name,
            geometry,
            values: feature.values,
        })
    });
    Ok(layer)
}
