//! One planar arrangement of all rings: which sources cover which face, exactly.
//!
//! Rings of any number of sources are noded together (snap rounding, `noding.rs`) and kept as chains: ways
//! between nodes. The faces between them carry, per source, how often its rings wind around them.
//! Faces tile the plane by construction: every chain has one face on its left and one on its right,
//! and face areas are exact integers.

mod coarse;
mod cycles;
mod dissolve;
mod west;

use super::csr::Csr;
use super::noding::{Noded, Passage};
use super::point::{Pt, area2_to_m2, cross};
use super::shape::{Ring, Shape};
use cycles::Cycles;
use std::collections::BTreeMap;

/// Number of the unbounded face.
pub const OUTSIDE: u32 = 0;

const NONE: u32 = u32::MAX;

/// How often the rings of a source wind around a face, counter-clockwise positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Winding {
    /// Number of the source.
    pub source: u32,
    /// Turns around the face.
    pub count: i32,
}

/// Faces, the chains between them, and the windings of each face.
#[derive(Clone)]
pub struct Arrangement {
    chains: HalfEdges,
    /// Face left and right of each chain, seen from its first end.
    sides: Vec<[u32; 2]>,
    /// Twice the area of each face in units^2; 0 for [`OUTSIDE`].
    area2: Vec<i128>,
    /// The westernmost point of each face.
    corners: Vec<Pt>,
    windings: Csr<Winding>,
}

/// Chains as half-edges: 2c runs chain c forwards, 2c + 1 backwards.
#[derive(Clone)]
struct HalfEdges {
    /// Points of each chain, both ends included.
    ways: Csr<Pt>,
    /// Nodes each chain runs from and to.
    ends: Vec<[u32; 2]>,
    /// The half-edge after each half-edge around the face on its left.
    next: Vec<u32>,
}

/// What becomes of steps between two points, by their ends, the lower one first: their new points from there.
pub(super) type Ways = BTreeMap<[Pt; 2], Vec<Pt>>;

impl Arrangement {
    /// Arranges rings, each with the source it belongs to. Rings are closed implicitly and may
    /// cross themselves and each other, touch, overlap and run backwards.
    pub fn new<'a>(rings: impl IntoIterator<Item = (u32, &'a [Pt]), IntoIter: Clone>) -> Self {
        Self::of(Noded::of_rings(rings.into_iter()))
    }

    /// Arranges rings, each a source by its place, and lets go of them on the way.
    pub(super) fn of_own(rings: Vec<Ring>) -> Self {
        Self::of(Noded::of_own_rings(rings))
    }

    /// The same, unless the rings meet so often that no map is meant.
    ///
    /// # Errors
    /// At how many places at least they meet, and one of them.
    pub fn of_map<'a>(
        rings: impl IntoIterator<Item = (u32, &'a [Pt]), IntoIter: Clone>,
    ) -> Result<Self, (usize, Pt)> {
        Ok(Self::of(Noded::of_map(rings.into_iter())?))
    }

    /// The borders between groups alone, some steps of them led other ways, with the groups as sources, and the
    /// steps that have come of that, each from its lower to its higher point, ascending. `group` has one entry per
    /// face; only what lies near steps that have changed is arranged anew.
    pub(super) fn led(&self, group: &[Option<u32>], ways: &Ways) -> (Self, Vec<[Pt; 2]>) {
        let borders = self.ways().filter_map(|(way, sides)| {
            let [left, right] = sides.map(|face| group[face as usize]);
            let side = |source: Option<u32>, count: i32| {
                source.map(move |source| Passage { source, count })
            };
            let mut passages: Vec<Passage> = Vec::with_capacity(2);
            passages.extend(side(left, 1));
            passages.extend(side(right, -1));
            (left != right).then_some((way, passages))
        });
        let (noded, fresh) = Noded::led(borders, ways);
        (Self::of(noded), fresh)
    }

    fn of(noded: Noded) -> Self {
        let Noded {
            ways,
            ends,
            nodes,
            passages,
        } = noded;
        let chains = HalfEdges::of(ways, ends, nodes);
        let cycles = Cycles::of(&chains);
        let (face_of_cycle, area2) = cycles.faces(&chains);
        let mut corners = vec![Pt { x: 0, y: 0 }; area2.len()];
        for (cycle, &face) in face_of_cycle.iter().enumerate() {
            if cycles.area2[cycle] > 0 {
                corners[face as usize] = cycles.westmost[cycle][0];
            }
        }
        let face = |half_edge: usize| face_of_cycle[cycles.of_half_edge[half_edge] as usize];
        let sides: Vec<[u32; 2]> = (0..chains.ends.len())
            .map(|chain| [face(2 * chain), face(2 * chain + 1)])
            .collect();
        let windings = spread_windings(area2.len(), &sides, &passages);
        Self {
            chains,
            sides,
            area2,
            corners,
            windings,
        }
    }

    /// Number of faces, the unbounded one (number [`OUTSIDE`]) included.
    pub fn faces(&self) -> usize {
        self.area2.len()
    }

    /// Twice the area of a face in units^2, exactly.
    pub fn area2(&self, face: u32) -> i128 {
        self.area2[face as usize]
    }

    /// Area of a face in m2; 0 for [`OUTSIDE`].
    pub fn area_m2(&self, face: u32) -> f64 {
        area2_to_m2(self.area2(face))
    }

    /// The westernmost point on the border of a face; the origin for [`OUTSIDE`].
    pub fn corner(&self, face: u32) -> Pt {
        self.corners[face as usize]
    }

    /// Sources that wind around a face, ascending; counts are never 0.
    pub fn windings(&self, face: u32) -> &[Winding] {
        self.windings.list(face as usize)
    }

    /// How often a source winds around a face.
    pub fn winding(&self, face: u32, source: u32) -> i32 {
        let list = self.windings(face);
        list.binary_search_by_key(&source, |w| w.source)
            .map_or(0, |at| list[at].count)
    }

    /// The ways between nodes, which meet in these only, with the faces left and right of each.
    pub(super) fn ways(&self) -> impl Iterator<Item = (&[Pt], [u32; 2])> {
        self.chains.ways.lists().zip(self.sides.iter().copied())
    }

    /// Edges: end points, and the faces left and right of the way from the first to the second.
    pub fn edges(&self) -> impl Iterator<Item = ([Pt; 2], [u32; 2])> {
        self.edges_between(|_| true)
    }

    /// The edges whose faces, left and right, pass the test.
    pub fn edges_between(
        &self,
        wanted: impl Fn([u32; 2]) -> bool,
    ) -> impl Iterator<Item = ([Pt; 2], [u32; 2])> {
        let ways = self.chains.ways.lists().zip(&self.sides);
        ways.filter(move |(_, sides)| wanted(**sides))
            .flat_map(|(way, &sides)| steps(way).map(move |ends| (ends, sides)))
    }

    /// Faces that have an edge in common, left and right: each two at least once.
    pub fn neighbours(&self) -> impl Iterator<Item = [u32; 2]> {
        self.sides.iter().copied()
    }

    /// Edges like [`Self::edges_between`], with every point put through `place`: one way's points at once,
    /// of which it appends what becomes of each.
    pub fn edges_at<T: Copy>(
        &self,
        wanted: impl Fn([u32; 2]) -> bool,
        place: impl Fn(&[Pt], &mut Vec<T>),
    ) -> impl Iterator<Item = ([T; 2], [u32; 2])> {
        let ways = self.chains.ways.lists().zip(&self.sides);
        let mut ways = ways.filter(move |(_, sides)| wanted(**sides));
        let mut sides = [OUTSIDE; 2];
        let mut placed: Vec<T> = Vec::new();
        let mut end = 0;
        std::iter::from_fn(move || {
            while end >= placed.len() {
                let (way, beside) = ways.next()?;
                placed.clear();
                place(way, &mut placed);
                (sides, end) = (*beside, 1);
            }
            end += 1;
            Some(([placed[end - 2], placed[end - 1]], sides))
        })
    }

    /// Unites faces into groups and gives the shapes of each group. `group` has one entry per face;
    /// `None` leaves a face out.
    ///
    /// Each shape is one piece connected through edges; its rings are simple and start at their
    /// westernmost point. Shapes are ordered by group and then from west to east.
    pub fn dissolve(&self, group: &[Option<u32>]) -> Vec<(u32, Shape)> {
        dissolve::shapes(self, group)
    }

    /// The same shapes on a grid of 2^`bits` units, as [`super::coarse::coarse`] has them, without making them on this one first.
    pub fn coarse(&self, group: &[Option<u32>], bits: u32) -> Vec<(u32, Shape)> {
        coarse::shapes(self, group, bits)
    }

    fn left_face(&self, half_edge: u32) -> u32 {
        self.sides[(half_edge >> 1) as usize][(half_edge & 1) as usize]
    }
}

/// The steps of a way.
fn steps(way: &[Pt]) -> impl Iterator<Item = [Pt; 2]> {
    way.windows(2).map(|step| [step[0], step[1]])
}

impl HalfEdges {
    /// Half-edges with the order in which they follow each other: at the end of one, the next outgoing
    /// one clockwise from the way back.
    fn of(ways: Csr<Pt>, ends: Vec<[u32; 2]>, nodes: usize) -> Self {
        let outgoing: Vec<(u32, u32)> = ends
            .iter()
            .zip(0..)
            .flat_map(|(&[from, to], chain)| [(from, 2 * chain), (to, 2 * chain + 1)])
            .collect();
        let mut around = Csr::from_pairs(nodes, &outgoing);
        let mut half_edges = Self {
            next: vec![NONE; outgoing.len()],
            ways,
            ends,
        };
        for node in 0..nodes {
            let star = around.list_mut(node);
            if star.len() > 2 {
                star.sort_unstable_by(|&a, &b| {
                    let [[centre, a], [_, b]] =
                        [a, b].map(|half_edge| half_edges.first_step(half_edge));
                    by_angle(centre, a, b)
                });
            }
            for (nth, &out) in star.iter().enumerate() {
                let clockwise = star[(nth + star.len() - 1) % star.len()];
                half_edges.next[(out ^ 1) as usize] = clockwise;
            }
        }
        half_edges
    }

    /// The node a half-edge starts at.
    fn start_of(&self, half_edge: u32) -> u32 {
        self.ends[(half_edge >> 1) as usize][(half_edge & 1) as usize]
    }

    /// The first two points of a half-edge.
    fn first_step(&self, half_edge: u32) -> [Pt; 2] {
        let way = self.ways.list((half_edge >> 1) as usize);
        match half_edge & 1 {
            0 => [way[0], way[1]],
            _ => [way[way.len() - 1], way[way.len() - 2]],
        }
    }
}

/// Orders directions from a centre counter-clockwise, starting east, exactly.
fn by_angle(centre: Pt, a: Pt, b: Pt) -> std::cmp::Ordering {
    let lower_half = |p: Pt| (p.y, p.x) < (centre.y, centre.x);
    lower_half(a)
        .cmp(&lower_half(b))
        .then_with(|| 0.cmp(&cross(centre, a, b)))
}

/// Windings of all faces, spread from the unbounded face across the chains.
fn spread_windings(faces: usize, sides: &[[u32; 2]], passages: &Csr<Passage>) -> Csr<Winding> {
    let borders: Vec<(u32, u32)> = sides
        .iter()
        .zip(0..)
        .flat_map(|(sides, chain)| sides.map(|face| (face, chain)))
        .collect();
    let borders = Csr::from_pairs(faces, &borders);
    // Lists in the order in which faces are reached, and where that of each face is.
    let mut reached: Csr<Winding> = Csr::new();
    let mut list_of = vec![NONE; faces];
    list_of[OUTSIDE as usize] = 0;
    reached.push([]);
    let mut waiting = vec![OUTSIDE];
    let mut there = Vec::new();
    while let Some(face) = waiting.pop() {
        for &chain in borders.list(face as usize) {
            let [left, right] = sides[chain as usize];
            let (other, sign) = if face == left { (right, -1) } else { (left, 1) };
            if list_of[other as usize] != NONE {
                continue;
            }
            let here = reached.list(list_of[face as usize] as usize);
            across(here, passages.list(chain as usize), sign, &mut there);
            list_of[other as usize] = reached.len() as u32;
            reached.push(there.iter().copied());
            waiting.push(other);
        }
    }
    drop(borders);
    let mut windings = Csr::with_room_for(reached.items().len());
    for list in list_of {
        let list = (list != NONE).then(|| reached.list(list as usize));
        windings.push(list.unwrap_or_default().iter().copied());
    }
    windings
}

/// Windings beyond a chain: a ring that runs along it winds once more around its left side. All lists are by rising source.
fn across(here: &[Winding], passages: &[Passage], sign: i32, there: &mut Vec<Winding>) {
    there.clear();
    let mut here = here.iter().peekable();
    for passage in passages {
        while let Some(same) = here.next_if(|winding| winding.source < passage.source) {
            there.push(*same);
        }
        let known = here.next_if(|winding| winding.source == passage.source);
        let count = known.map_or(0, |winding| winding.count) + sign * passage.count;
        if count != 0 {
            there.push(Winding {
                source: passage.source,
                count,
            });
        }
    }
    there.extend(here);
}
