//! What lies near each straight piece of a ring: found once for all sections, rules and passes.

use super::super::borders::{Borders, Boxed, bounds, rectangle};
use super::super::frame::Edge;
use super::super::path::{Cell, Path};
use crate::geometry::Csr;
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};

/// A straight piece of a ring: which way, and which of its pieces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leg {
    pub(super) way: usize,
    pub(super) leg: usize,
}

/// What lies near the straight pieces of a way.
pub(super) struct Near {
    /// Others whose ground meets that of a piece, over the whole width.
    legs: Csr<Leg>,
    /// Borders of the headland in its box, as metres along the piece and to its left.
    borders: Csr<Edge>,
    /// A place in its box, as metres along the piece and to its left, and how many times that is on the headland.
    known: Vec<([f64; 2], i32)>,
}

/// Where in a box the headland is asked for: no border is likely to run just there.
const KNOWN_AT: [f64; 2] = [0.381_2, 0.427_3];

/// The ground over the whole width of all straight pieces of all ways.
pub(super) struct Legs {
    ground: Vec<Vec<Option<Vec<[f64; 2]>>>>,
    boxes: RTree<Boxed<Leg>>,
}

impl Legs {
    pub(super) fn of(ways: &[Path], half_m: f64) -> Self {
        let ground = |way: &Path| -> Vec<_> {
            let legs = 0..way.legs();
            legs.map(|leg| way.cell(leg, [-half_m, half_m]).map(|cell| cell.ring))
                .collect()
        };
        let ground: Vec<Vec<Option<Vec<[f64; 2]>>>> = ways.iter().map(ground).collect();
        let boxes = ground.iter().enumerate().flat_map(|(way, legs)| {
            let legs = legs.iter().enumerate();
            legs.filter_map(move |(leg, ring)| {
                let place = rectangle(ring.as_ref()?);
                Some(GeomWithData::new(place, Leg { way, leg }))
            })
        });
        let boxes = RTree::bulk_load(boxes.collect());
        Self { ground, boxes }
    }

    fn ring(&self, of: Leg) -> Option<&Vec<[f64; 2]>> {
        self.ground[of.way][of.leg].as_ref()
    }
}

impl Near {
    pub(super) fn of(nth: usize, way: &Path, half_m: f64, legs: &Legs, land: &Borders) -> Self {
        let mut near = Self {
            legs: Csr::new(),
            borders: Csr::new(),
            known: Vec::new(),
        };
        for leg in 0..way.legs() {
            let Some(cell) = way.cell(leg, [-half_m, half_m]) else {
                near.legs.push([]);
                near.borders.push([]);
                near.known.push(([0.0; 2], 0));
                continue;
            };
            let seen = Seen::of(&cell);
            let own = Leg { way: nth, leg };
            let found = legs.boxes.locate_in_envelope_intersecting(&seen.around);
            let others = found.map(|leg| leg.data).filter(|of| {
                let ring = legs.ring(*of).filter(|_| *of != own);
                ring.is_some_and(|ring| !apart(&cell.ring, ring))
            });
            near.legs.push(others);
            let borders = land.near(&seen.around).map(|edge| cell_edge(&cell, edge));
            near.borders.push(borders.filter(|edge| seen.meets(edge)));
            let known = [0, 1].map(|axis| {
                let [low, high] = [seen.low[axis], seen.high[axis]];
                low + KNOWN_AT[axis] * (high - low)
            });
            near.known.push((known, land.at(cell.back(known))));
        }
        near
    }

    pub(super) fn legs(&self, leg: usize) -> &[Leg] {
        self.legs.list(leg)
    }

    pub(super) fn borders(&self, leg: usize) -> &[Edge] {
        self.borders.list(leg)
    }

    /// How many times a place in the box of a piece, as metres along it and to its left, is on the headland: from the
    /// place known there along the piece, then across, over all borders on the way.
    pub(super) fn land_at(&self, leg: usize, [u, v]: [f64; 2]) -> i32 {
        let ([from, right], on_land) = self.known[leg];
        let between =
            |at: f64, [a, b]: [f64; 2]| i32::from(at > a && at < b) - i32::from(at > b && at < a);
        let change = |edge: &Edge| {
            let ([a, b], mut change) = ([edge.from, edge.to], 0);
            // Half open, so that a corner counts once. Land lies to the left of an edge.
            let up = b[1] > right;
            if up != (a[1] > right) {
                let at = a[0] + (right - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
                change += between(at, [from, u]) * if up { -1 } else { 1 };
            }
            let forwards = b[0] > u;
            if forwards != (a[0] > u) {
                let at = a[1] + (u - a[0]) / (b[0] - a[0]) * (b[1] - a[1]);
                change += between(at, [right, v]) * if forwards { 1 } else { -1 };
            }
            change
        };
        on_land + self.borders(leg).iter().map(change).sum::<i32>()
    }
}

pub(super) fn cell_edge(cell: &Cell, edge: &Edge) -> Edge {
    Edge {
        from: cell.turned(edge.from),
        to: cell.turned(edge.to),
    }
}

/// The ground of a piece as metres along it and to its left, and where to look for what meets it.
pub(super) struct Seen {
    pub(super) ground: Vec<[f64; 2]>,
    pub(super) low: [f64; 2],
    pub(super) high: [f64; 2],
    /// The box of that box on the plane.
    pub(super) around: AABB<[f64; 2]>,
}

impl Seen {
    pub(super) fn of(cell: &Cell) -> Self {
        let ground: Vec<[f64; 2]> = cell.ring.iter().map(|at| cell.turned(*at)).collect();
        let [low, high] = bounds(&ground);
        let corners = [low, [high[0], low[1]], high, [low[0], high[1]]].map(|at| cell.back(at));
        let [south_west, north_east] = bounds(&corners);
        Self {
            ground,
            low,
            high,
            around: AABB::from_corners(south_west, north_east),
        }
    }

    /// Whether the box of an edge meets that of the ground.
    pub(super) fn meets(&self, edge: &Edge) -> bool {
        let [low, high] = bounds(&[edge.from, edge.to]);
        (0..2).all(|axis| low[axis] <= self.high[axis] && high[axis] >= self.low[axis])
    }
}

/// Convex ground that overlaps by less lies side by side, m: corners are rounded sums.
const APART_M: f64 = 1e-9;

/// Whether two convex rings, counter-clockwise, lie side by side: an edge of one has all of the other on its right.
pub(super) fn apart(a: &[[f64; 2]], b: &[[f64; 2]]) -> bool {
    let beyond_an_edge = |ring: &[[f64; 2]], other: &[[f64; 2]]| {
        let ends = ring.iter().skip(1).chain(ring.first());
        ring.iter().zip(ends).any(|([ax, ay], [bx, by])| {
            let [dx, dy] = [bx - ax, by - ay];
            let far = APART_M * dx.hypot(dy);
            let left = |[x, y]: &[f64; 2]| dx * (y - ay) - dy * (x - ax);
            far > 0.0 && other.iter().all(|at| left(at) <= far)
        })
    };
    beyond_an_edge(a, b) || beyond_an_edge(b, a)
}
