//! Faces of a group united into shapes with simple rings.

use super::{Arrangement, HalfEdges};
use crate::geometry::point::ring_area2;
use crate::geometry::shape::{Ring, Shape};
use crate::geometry::union_find::UnionFind;
use std::collections::BTreeMap;

/// See [`Arrangement::dissolve`].
pub(super) fn shapes(arrangement: &Arrangement, group: &[Option<u32>]) -> Vec<(u32, Shape)> {
    let piece_of = pieces(arrangement, group);
    let mut shapes: BTreeMap<(u32, u32), Rings> = BTreeMap::new();
    let mut seen = vec![false; arrangement.chains.next.len()];
    for first in 0..seen.len() as u32 {
        let face = arrangement.left_face(first);
        let Some(group_here) = group[face as usize] else {
            continue;
        };
        if seen[first as usize] || !is_border(arrangement, group, first) {
            continue;
        }
        let rings = shapes
            .entry((group_here, piece_of[face as usize]))
            .or_default();
        let walk = walk(arrangement, group, first, &mut seen);
        for ring in simple_rings(&arrangement.chains, walk) {
            rings.add(ring);
        }
    }
    let mut finished: Vec<(u32, Shape)> = shapes
        .into_iter()
        .map(|((group, _), rings)| (group, rings.into_shape()))
        .collect();
    finished.sort_by_key(|(group, shape)| (*group, shape.exterior.first().copied()));
    finished
}

fn is_border(arrangement: &Arrangement, group: &[Option<u32>], half_edge: u32) -> bool {
    let [left, right] = [half_edge, half_edge ^ 1].map(|h| arrangement.left_face(h) as usize);
    group[left] != group[right]
}

/// For each face the piece it belongs to: the lowest face it is connected with through edges.
pub(super) fn pieces(arrangement: &Arrangement, group: &[Option<u32>]) -> Vec<u32> {
    let mut sets = UnionFind::new(arrangement.faces());
    for [left, right] in arrangement.neighbours() {
        if group[left as usize].is_some() && group[left as usize] == group[right as usize] {
            sets.unite(left, right);
        }
    }
    (0..arrangement.faces() as u32)
        .map(|face| sets.find(face))
        .collect()
}

/// The half-edges of one border walk with the group on its left.
fn walk(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    first: u32,
    seen: &mut [bool],
) -> Vec<u32> {
    let next = &arrangement.chains.next;
    let mut walk = Vec::new();
    let mut here = first;
    loop {
        seen[here as usize] = true;
        walk.push(here);
        here = next[here as usize];
        // Turn past chains inside the group.
        while !is_border(arrangement, group, here) {
            here = next[(here ^ 1) as usize];
        }
        if here == first {
            return walk;
        }
    }
}

/// Cuts a walk that comes through the same node twice into rings that do not.
fn simple_rings(chains: &HalfEdges, walk: Vec<u32>) -> Vec<Ring> {
    let mut nodes: Vec<u32> = walk.iter().map(|&half| chains.start_of(half)).collect();
    nodes.sort_unstable();
    let twice: Vec<u32> = nodes
        .windows(2)
        .filter(|p| p[0] == p[1])
        .map(|p| p[0])
        .collect();
    if twice.is_empty() {
        return vec![ring(chains, &walk)];
    }
    let mut rings = Vec::new();
    let mut open: Vec<u32> = Vec::new();
    // Where among the open half-edges one last started at a node; that may have been closed since.
    let mut started: BTreeMap<u32, usize> = BTreeMap::new();
    for half_edge in walk {
        let node = chains.start_of(half_edge);
        if twice.binary_search(&node).is_ok() {
            let before = started.get(&node).copied();
            let still = |at: &usize| open.get(*at).is_some_and(|&of| chains.start_of(of) == node);
            if let Some(start) = before.filter(still) {
                rings.push(ring(chains, &open[start..]));
                open.truncate(start);
            }
            started.insert(node, open.len());
        }
        open.push(half_edge);
    }
    rings.push(ring(chains, &open));
    rings
}

/// The points along half-edges that follow each other around.
fn ring(chains: &HalfEdges, half_edges: &[u32]) -> Ring {
    let way = |half_edge: u32| chains.ways.list((half_edge >> 1) as usize);
    let points = half_edges.iter().map(|&half_edge| way(half_edge).len() - 1);
    let mut ring = Vec::with_capacity(points.sum());
    for &half_edge in half_edges {
        let way = way(half_edge);
        match half_edge & 1 {
            0 => ring.extend_from_slice(&way[..way.len() - 1]),
            _ => ring.extend(way[1..].iter().rev()),
        }
    }
    ring
}

#[derive(Default)]
struct Rings {
    exterior: Ring,
    holes: Vec<Ring>,
}

impl Rings {
    fn add(&mut self, ring: Ring) {
        if ring_area2(&ring) > 0 {
            // A piece connected through edges has one outer border.
            debug_assert!(self.exterior.is_empty());
            self.exterior = ring;
        } else {
            self.holes.push(ring);
        }
    }

    fn into_shape(self) -> Shape {
        let mut holes: Vec<Ring> = self.holes.into_iter().map(from_westmost).collect();
        holes.sort_unstable_by_key(|ring| ring.first().copied());
        Shape {
            exterior: from_westmost(self.exterior),
            holes,
        }
    }
}

/// The same ring, started at its westernmost point.
fn from_westmost(mut ring: Ring) -> Ring {
    let westmost = (0..ring.len()).min_by_key(|&nth| ring[nth]).unwrap_or(0);
    ring.rotate_left(westmost);
    ring
}
