//! Corners and edges of what is on the map, to draw along: a place near one is that corner, or lies on that edge.

use super::super::by_hand::zones;
use super::super::view::picture::by_row;
use super::super::view::{PER_M, placed};
use super::super::work::Shown;
use crate::geometry::{Pt, Ring};
use rstar::RTree;
use rstar::primitives::{GeomWithData, Line};
use serde::Serialize;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// A place that was told in whole hundredths of a metre lies this near to where it was, m.
const TOLD_M: f64 = 0.0075;

/// A place of the plane, metres, with the point of the grid that it is.
type Corner = GeomWithData<[f64; 2], Pt>;

/// All borders on the map: field, land left out, and every piece with its own reasons (zones, headland, strips, places).
pub struct Edges {
    corners: RTree<Corner>,
    edges: RTree<Line<[f64; 2]>>,
}

/// What a place was brought to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Caught {
    /// A corner.
    Corner,
    /// A place on an edge.
    Edge,
    /// Nothing is near.
    Nothing,
}

impl Edges {
    /// Those of the map that is shown, or only those between the zones of a layer.
    pub fn of(shown: &Shown, layer: Option<usize>) -> Self {
        if let Some(layer) = layer {
            let zones = zones(shown, layer);
            let rings = zones.iter().flat_map(|zone| zone.shape.rings());
            let edges: BTreeSet<(Pt, Pt)> = rings.flat_map(edges_of).collect();
            let inner = edges.iter().filter(|(a, b)| edges.contains(&(*b, *a)));
            return Self::of_edges(inner.copied());
        }
        let land = &shown.prepared.land;
        let pieces = by_row(shown);
        let left_out = land.exclusions.iter().flatten();
        let pieces = pieces.iter().map(|(_, shape)| shape);
        let shapes = land.field.iter().chain(left_out).chain(pieces);
        Self::of_rings(shapes.flat_map(|shape| shape.rings()))
    }

    fn of_rings<'a>(rings: impl Iterator<Item = &'a Ring>) -> Self {
        Self::of_edges(rings.flat_map(edges_of))
    }

    fn of_edges(all: impl Iterator<Item = (Pt, Pt)>) -> Self {
        let (mut corners, mut edges) = (BTreeSet::new(), BTreeSet::new());
        for (from, to) in all {
            corners.extend([from, to]);
            // A border between two pieces is there twice, once each way.
            edges.insert((from.min(to), from.max(to)));
        }
        let corners = corners.into_iter();
        let edges = edges.into_iter();
        Self {
            corners: RTree::bulk_load(
                corners
                    .map(|point| Corner::new(point.metres(), point))
                    .collect(),
            ),
            edges: RTree::bulk_load(
                edges
                    .map(|(from, to)| Line::new(from.metres(), to.metres()))
                    .collect(),
            ),
        }
    }

    /// The corner within reach (m), or else the place on the nearest edge within it, or else the place itself.
    pub fn catch(&self, place: [f64; 2], within_m: f64) -> ([f64; 2], Caught) {
        let (found, caught) = self.exactly(place, within_m);
        (found.map_or(place, Pt::metres), caught)
    }

    /// What a place was before it was told in whole hundredths of a metre: a corner or a place on an edge where one is so
    /// near that it can have been meant. None far outside every field.
    pub(super) fn untold(&self, place: [f64; 2]) -> Option<Pt> {
        let (found, _) = self.exactly(place, TOLD_M);
        found.or_else(|| Pt::from_metres(place))
    }

    fn exactly(&self, place: [f64; 2], within_m: f64) -> (Option<Pt>, Caught) {
        let near = |at: [f64; 2]| (at[0] - place[0]).hypot(at[1] - place[1]) <= within_m;
        let corner = self.corners.nearest_neighbor(&place);
        if let Some(corner) = corner.filter(|corner| near(*corner.geom())) {
            return (Some(corner.data), Caught::Corner);
        }
        let edge = self.edges.nearest_neighbor(&place);
        let on_edge = edge.map(|edge| edge.nearest_point(&place));
        match on_edge.filter(|at| near(*at)).and_then(Pt::from_metres) {
            Some(at) => (Some(at), Caught::Edge),
            None => (None, Caught::Nothing),
        }
    }
}

/// The edges of a ring, in its order.
pub(in crate::edit) fn edges_of(ring: &Ring) -> impl Iterator<Item = (Pt, Pt)> {
    let ends = ring.iter().skip(1).chain(ring.first());
    ring.iter().copied().zip(ends.copied())
}

/// The most that a place is moved, m: a hand far out sees little else.
const MOST_M: f64 = 50.0;

/// Where a place goes that is pointed at, and what it is caught by; places and reach as they travel.
pub(in crate::edit) fn caught(
    shown: &Shown,
    layer: Option<usize>,
    place: [i64; 2],
    within: f64,
) -> Value {
    let place = place.map(|at| at as f64 / PER_M);
    let within_m = (within / PER_M).clamp(0.0, MOST_M);
    let (at, caught) = shown.edges(layer).catch(place, within_m);
    json!({ "at": placed(at), "caught": caught })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Edges {
        let ring: Ring = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]]
            .iter()
            .filter_map(|at| Pt::from_metres(*at))
            .collect();
        Edges::of_rings(std::iter::once(&ring))
    }

    #[test]
    fn a_corner_comes_before_an_edge_and_an_edge_before_nothing() {
        let edges = square();
        assert_eq!(
            edges.catch([1.0, 2.0], 3.0),
            ([0.0, 0.0], Caught::Corner),
            "the edge is nearer, the corner is meant"
        );
        assert_eq!(edges.catch([50.0, 2.0], 3.0), ([50.0, 0.0], Caught::Edge));
        assert_eq!(
            edges.catch([50.0, 50.0], 3.0),
            ([50.0, 50.0], Caught::Nothing)
        );
    }

    #[test]
    fn what_was_told_in_hundredths_is_the_corner_again() {
        let ring: Ring = [[0.0, 0.0], [33.3333, 0.0], [33.3333, 66.6666]]
            .iter()
            .filter_map(|at| Pt::from_metres(*at))
            .collect();
        let corner = ring[2];
        let edges = Edges::of_rings(std::iter::once(&ring));
        assert_eq!(edges.untold([33.33, 66.67]), Some(corner));
        assert_ne!(edges.untold([33.33, 66.69]), Some(corner));
    }
}
