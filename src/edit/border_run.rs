//! A border moved between two places on it: all corners from one to the other go together.

use super::border::{Classed, at_the_edge, inner_ways_to, nearest_edge, no_border, nothing, tiled};
use super::by_hand::Zone;
use super::draw::{edges_of, refused};
use crate::findings::{Fault, Outcome};
use crate::geometry::{Pt, Ring, Shape};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

/// Edges of all zones, each in the direction in which its zone runs.
type Edges = BTreeSet<(Pt, Pt)>;

/// Places that become corners, by the edge that they lie on, its lesser end first; along it from there.
type New = BTreeMap<(Pt, Pt), Vec<Pt>>;

/// The zones after the border between two places has gone as far as from the first of them to a third.
///
/// # Errors
/// Places that lie on no border, or on two that do not meet; a border that ends at the edge of the land, or would cross another.
pub(super) fn moved(zones: &[Zone], places: &[Pt]) -> Outcome<Classed> {
    let &[first, last, to] = places else {
        return Err(no_border());
    };
    if first == last || first == to {
        return Err(nothing());
    }
    let edges: Edges = zones
        .iter()
        .flat_map(|zone| zone.shape.rings())
        .flat_map(edges_of)
        .collect();
    let mut new = New::new();
    for place in [first, last] {
        let is_corner = edges.iter().any(|(a, _)| *a == place);
        if !is_corner {
            let inner = edges.iter().filter(|edge| is_inner(edge, &edges));
            new.entry(nearest_edge(place, inner)?)
                .or_default()
                .push(place);
        }
    }
    for ((from, _), places) in &mut new {
        places.sort_by(|a, b| from.distance_m(*a).total_cmp(&from.distance_m(*b)));
    }
    let run = way(first, last, &edges, &new).ok_or_else(two_borders)?;
    let stays = |point: &Pt| {
        let mut from = edges.iter().filter(|(a, _)| a == point).peekable();
        from.peek().is_some()
            && !(from.all(|edge| is_inner(edge, &edges)) && inner_ways_to(*point, &edges))
    };
    if run.iter().any(stays) {
        return Err(at_the_edge());
    }
    let by = |point: Pt| match run.contains(&point) {
        true => Pt {
            x: point.x + to.x - first.x,
            y: point.y + to.y - first.y,
        },
        false => point,
    };
    let ring = |ring: &Ring| -> Ring {
        let pieces =
            edges_of(ring).flat_map(|(a, b)| std::iter::once(a).chain(between(a, b, &new)));
        pieces.map(by).collect()
    };
    let shapes = zones.iter().map(|zone| Shape {
        exterior: ring(&zone.shape.exterior),
        holes: zone.shape.holes.iter().map(ring).collect(),
    });
    tiled(zones, &shapes.collect::<Vec<_>>())
}

fn is_inner((a, b): &(Pt, Pt), edges: &Edges) -> bool {
    edges.contains(&(*b, *a))
}

/// New corners of an edge, from its first end on.
fn between(a: Pt, b: Pt, new: &New) -> Vec<Pt> {
    let mut places = new.get(&(a.min(b), a.max(b))).cloned().unwrap_or_default();
    if b < a {
        places.reverse();
    }
    places
}

/// All corners on the shortest way along borders between zones; none where there is no such way.
fn way(first: Pt, last: Pt, edges: &Edges, new: &New) -> Option<BTreeSet<Pt>> {
    let mut beside: BTreeMap<Pt, Vec<Pt>> = BTreeMap::new();
    for &(a, b) in edges.iter().filter(|edge| is_inner(edge, edges)) {
        let corners: Vec<Pt> = std::iter::once(a)
            .chain(between(a, b, new))
            .chain([b])
            .collect();
        for (from, to) in corners.iter().zip(corners.iter().skip(1)) {
            beside.entry(*from).or_default().push(*to);
        }
    }
    // Shortest ways first (E. W. Dijkstra, "A note on two problems in connexion with graphs", 1959), in whole micrometres.
    let mut came_from: BTreeMap<Pt, Pt> = BTreeMap::new();
    let mut done: BTreeSet<Pt> = BTreeSet::new();
    let mut next = BinaryHeap::from([Reverse((0_u64, first, first))]);
    while let Some(Reverse((far, at, from))) = next.pop() {
        if !done.insert(at) {
            continue;
        }
        came_from.insert(at, from);
        if at == last {
            break;
        }
        for to in beside.get(&at).into_iter().flatten() {
            let step = (at.distance_m(*to) * 1e6).round() as u64;
            next.push(Reverse((far + step, *to, at)));
        }
    }
    let mut run = BTreeSet::from([last]);
    let mut at = last;
    while at != first {
        at = *came_from.get(&at)?;
        run.insert(at);
    }
    Some(run)
}

fn two_borders() -> Box<Fault> {
    refused(
        "edit.two_borders",
        "no border between zones leads from the one place to the other".to_owned(),
        "two places on borders that meet",
        "point at two places of one border; near it a place is caught",
    )
}
