//! One planar arrangement of all rings: which sources cover which face, exactly.
//!
//! Rings of any number of sources are noded together (snap rounding, `noding.rs`); the faces between them
//! carry, per source, how often its rings wind around them. Faces tile the plane by construction:
//! every edge has one face on its left and one on its right, and face areas are exact integers.

use super::csr::Csr;
use super::grid_index::GridIndex;
use super::noding::{Passage, Segments};
use super::point::{Pt, area2_to_m2, cross};
use super::shape::Shape;

mod dissolve;

/// Number of the unbounded face.
pub const OUTSIDE: u32 = 0;

const NONE: u32 = u32::MAX;

/// How often the rings of a source wind around a face, counter-clockwise positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Winding {
    pub source: u32,
    pub count: i32,
}

/// Faces, the edges between them, and the windings of each face.
#[derive(Clone)]
pub struct Arrangement {
    points: Vec<Pt>,
    /// End points of each edge, lower number first.
    ends: Vec<[u32; 2]>,
    /// Face left and right of each edge, seen from its first end.
    sides: Vec<[u32; 2]>,
    /// The half-edge after each half-edge around the face on its left. Half-edge 2e runs edge e
    /// forwards, 2e + 1 backwards.
    next: Vec<u32>,
    /// Twice the area of each face in units^2; 0 for [`OUTSIDE`].
    area2: Vec<i128>,
    /// The westernmost point of each face.
    corners: Vec<Pt>,
    windings: Csr<Winding>,
}

impl Arrangement {
    /// Arranges rings, each with the source it belongs to. Rings are closed implicitly and may
    /// cross themselves and each other, touch, overlap and run backwards.
    pub fn new<'a>(rings: impl IntoIterator<Item = (u32, &'a [Pt])>) -> Self {
        let Segments {
            points,
            ends,
            passages,
        } = Segments::of_rings(rings.into_iter());
        let next = next_half_edges(&points, &ends);
        let cycles = Cycles::of(&points, &ends, &next);
        let (face_of_cycle, area2) = cycles.faces(&points, &ends);
        let mut corners = vec![Pt { x: 0, y: 0 }; area2.len()];
        for (cycle, &face) in face_of_cycle.iter().enumerate() {
            if cycles.area2[cycle] > 0 {
                corners[face as usize] = cycles.westmost[cycle][0];
            }
        }
        let face = |half_edge: usize| face_of_cycle[cycles.of_half_edge[half_edge] as usize];
        let sides: Vec<[u32; 2]> = (0..ends.len())
            .map(|edge| [face(2 * edge), face(2 * edge + 1)])
            .collect();
        let windings = spread_windings(area2.len(), &sides, &passages);
        Self {
            points,
            ends,
            sides,
            next,
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

    /// Edges: end points, and the faces left and right of the way from the first to the second.
    pub fn edges(&self) -> impl Iterator<Item = ([Pt; 2], [u32; 2])> {
        self.ends
            .iter()
            .zip(&self.sides)
            .map(|(&ends, &sides)| (self.placed(ends), sides))
    }

    /// Edges like [`Self::edges`], with every point put through `place` once.
    pub fn edges_at<T: Copy>(
        &self,
        place: impl FnOnce(&[Pt]) -> Vec<T>,
    ) -> impl Iterator<Item = ([T; 2], [u32; 2])> {
        let placed = place(&self.points);
        let ends = self.ends.iter().zip(&self.sides);
        ends.map(move |(&ends, &sides)| (ends.map(|end| placed[end as usize]), sides))
    }

    /// Unites faces into groups and gives the shapes of each group. `group` has one entry per face;
    /// `None` leaves a face out.
    ///
    /// Each shape is one piece connected through edges; its rings are simple and start at their
    /// westernmost point. Shapes are ordered by group and then from west to east.
    pub fn dissolve(&self, group: &[Option<u32>]) -> Vec<(u32, Shape)> {
        dissolve::shapes(self, group)
    }

    fn placed(&self, ends: [u32; 2]) -> [Pt; 2] {
        ends.map(|end| self.points[end as usize])
    }

    fn start_of(&self, half_edge: u32) -> u32 {
        self.ends[(half_edge >> 1) as usize][(half_edge & 1) as usize]
    }

    fn left_face(&self, half_edge: u32) -> u32 {
        self.sides[(half_edge >> 1) as usize][(half_edge & 1) as usize]
    }
}

/// For each half-edge the one that follows it around the face on its left: at the end point, the
/// next outgoing half-edge clockwise from the way back.
fn next_half_edges(points: &[Pt], ends: &[[u32; 2]]) -> Vec<u32> {
    let outgoing: Vec<(u32, u32)> = ends
        .iter()
        .enumerate()
        .flat_map(|(edge, &[a, b])| [(a, 2 * edge as u32), (b, 2 * edge as u32 + 1)])
        .collect();
    let mut around = Csr::from_pairs(points.len(), &outgoing);
    let mut next = vec![NONE; 2 * ends.len()];
    for (number, &centre) in points.iter().enumerate() {
        let star = around.list_mut(number);
        if star.len() > 2 {
            let tip = |half_edge: u32| {
                let other = ends[(half_edge >> 1) as usize][(!half_edge & 1) as usize];
                points[other as usize]
            };
            star.sort_unstable_by(|&a, &b| by_angle(centre, tip(a), tip(b)));
        }
        for (nth, &out) in star.iter().enumerate() {
            let clockwise = star[(nth + star.len() - 1) % star.len()];
            next[(out ^ 1) as usize] = clockwise;
        }
    }
    next
}

/// Orders directions from a centre counter-clockwise, starting east, exactly.
fn by_angle(centre: Pt, a: Pt, b: Pt) -> std::cmp::Ordering {
    let lower_half = |p: Pt| (p.y, p.x) < (centre.y, centre.x);
    lower_half(a)
        .cmp(&lower_half(b))
        .then_with(|| 0.cmp(&cross(centre, a, b)))
}

/// The closed walks along half-edges: each goes once around one border of one face.
struct Cycles {
    of_half_edge: Vec<u32>,
    /// Twice the signed area each walk encloses: positive for the outer border of a face.
    area2: Vec<i128>,
    /// The westernmost point of each walk and the one that follows it.
    westmost: Vec<[Pt; 2]>,
}

impl Cycles {
    fn of(points: &[Pt], ends: &[[u32; 2]], next: &[u32]) -> Self {
        let mut cycles = Self {
            of_half_edge: vec![NONE; next.len()],
            area2: Vec::new(),
            westmost: Vec::new(),
        };
        let start = |half_edge: u32| {
            points[ends[(half_edge >> 1) as usize][(half_edge & 1) as usize] as usize]
        };
        for first in 0..next.len() as u32 {
            if cycles.of_half_edge[first as usize] != NONE {
                continue;
            }
            let number = cycles.area2.len() as u32;
            let origin = start(first);
            let mut area2 = 0;
            let mut westmost = [origin, start(first ^ 1)];
            let mut here = first;
            loop {
                cycles.of_half_edge[here as usize] = number;
                let [from, to] = [start(here), start(here ^ 1)];
                area2 += cross(origin, from, to);
                westmost = westmost.min([from, to]);
                here = next[here as usize];
                if here == first {
                    break;
                }
            }
            cycles.area2.push(area2);
            cycles.westmost.push(westmost);
        }
        cycles
    }

    /// The face each cycle borders, and twice the area of each face.
    ///
    /// A cycle with positive area is the outer border of a face of its own. Any other is the outer
    /// border of a connected piece of linework: it lies in the face that is met first on the way
    /// west from its westernmost point.
    fn faces(&self, points: &[Pt], ends: &[[u32; 2]]) -> (Vec<u32>, Vec<i128>) {
        let mut face_of = vec![NONE; self.area2.len()];
        let mut area2 = vec![0];
        // From west to east: so the numbers of faces do not depend on where a file starts its
        // rings, and a piece of linework met on the way west is already settled.
        let mut cycles: Vec<usize> = (0..self.area2.len()).collect();
        cycles.sort_by_key(|&cycle| self.westmost[cycle]);
        let (outer, inner): (Vec<usize>, Vec<usize>) =
            cycles.into_iter().partition(|&cycle| self.area2[cycle] > 0);
        for cycle in outer {
            face_of[cycle] = area2.len() as u32;
            area2.push(self.area2[cycle]);
        }
        let placed: Vec<[Pt; 2]> = ends
            .iter()
            .map(|e| e.map(|end| points[end as usize]))
            .collect();
        let grid = GridIndex::new(&placed);
        for cycle in inner {
            let face = match first_edge_west(&grid, &placed, self.westmost[cycle][0]) {
                Some(half_edge) => face_of[self.of_half_edge[half_edge as usize] as usize],
                None => OUTSIDE,
            };
            face_of[cycle] = face;
            if face != OUTSIDE {
                area2[face as usize] += self.area2[cycle];
            }
        }
        (face_of, area2)
    }
}

/// The half-edge with, on its left, the face just west of `place`: the first edge met on the way
/// west, a hair above `place` so that no end point is ever met. Edges that begin at `place` do not
/// count.
fn first_edge_west(grid: &GridIndex, placed: &[[Pt; 2]], place: Pt) -> Option<u32> {
    let mut nearest: Option<(Crossed, u32)> = None;
    for (steps, cell) in grid.leftwards(place).enumerate() {
        for &edge in cell {
            let [first, second] = placed[edge as usize];
            let upwards = first.y <= place.y && second.y > place.y;
            let downwards = second.y <= place.y && first.y > place.y;
            if !upwards && !downwards {
                continue;
            }
            let crossed = match upwards {
                true => Crossed::new(first, second, place.y),
                false => Crossed::new(second, first, place.y),
            };
            if !crossed.is_west_of(place.x) {
                continue;
            }
            // East of an upward edge is its right side: the left of the half-edge that runs down.
            let half_edge = 2 * edge + u32::from(upwards);
            if nearest.is_none_or(|(best, _)| best.is_west_of_other(&crossed)) {
                nearest = Some((crossed, half_edge));
            }
        }
        if let Some((best, half_edge)) = nearest
            && !best.is_west_of(grid.left_border(steps as i64, place))
        {
            return Some(half_edge);
        }
    }
    nearest.map(|(_, half_edge)| half_edge)
}

/// Where an edge crosses a horizontal line: x = numerator / rise, and the run on the way up.
#[derive(Clone, Copy)]
struct Crossed {
    numerator: i128,
    rise: i128,
    run: i128,
}

impl Crossed {
    fn new(low: Pt, high: Pt, y: i64) -> Self {
        let rise = i128::from(high.y - low.y);
        let run = i128::from(high.x - low.x);
        let numerator = i128::from(low.x) * rise + i128::from(y - low.y) * run;
        Self {
            numerator,
            rise,
            run,
        }
    }

    fn is_west_of(&self, x: i64) -> bool {
        self.numerator < i128::from(x) * self.rise
    }

    /// Compares a hair above the line, so that edges from one point are told apart.
    fn is_west_of_other(&self, other: &Self) -> bool {
        let [here, there] = [self.numerator * other.rise, other.numerator * self.rise];
        here < there || (here == there && self.run * other.rise < other.run * self.rise)
    }
}

/// Windings of all faces, spread from the unbounded face across the edges.
fn spread_windings(faces: usize, sides: &[[u32; 2]], passages: &Csr<Passage>) -> Csr<Winding> {
    let borders: Vec<(u32, u32)> = sides
        .iter()
        .enumerate()
        .flat_map(|(edge, &[left, right])| [(left, edge as u32), (right, edge as u32)])
        .collect();
    let borders = Csr::from_pairs(faces, &borders);
    let mut known: Vec<Option<Vec<Winding>>> = vec![None; faces];
    known[OUTSIDE as usize] = Some(Vec::new());
    let mut waiting = vec![OUTSIDE];
    while let Some(face) = waiting.pop() {
        for &edge in borders.list(face as usize) {
            let [left, right] = sides[edge as usize];
            let (other, sign) = if face == left { (right, -1) } else { (left, 1) };
            if known[other as usize].is_some() {
                continue;
            }
            let here = known[face as usize].as_deref().unwrap_or_default();
            let passages = passages.list(edge as usize);
            known[other as usize] = Some(across(here, passages, sign));
            waiting.push(other);
        }
    }
    let mut windings = Csr::new();
    for list in known {
        windings.push(list.unwrap_or_default());
    }
    windings
}

/// Windings beyond an edge: a ring that runs along it winds once more around its left side.
fn across(here: &[Winding], passages: &[Passage], sign: i32) -> Vec<Winding> {
    let mut there = here.to_vec();
    for passage in passages {
        let change = sign * passage.count;
        match there.binary_search_by_key(&passage.source, |w| w.source) {
            Ok(at) if there[at].count + change == 0 => {
                there.remove(at);
            }
            Ok(at) => there[at].count += change,
            Err(at) => there.insert(
                at,
                Winding {
                    source: passage.source,
                    count: change,
                },
            ),
        }
    }
    there
}
