//! Fewer points in shapes that tile: a border is simplified once for both of its sides, so neighbours stay
//! without gap and overlap. Method: docs/methods/simplify.md.

use super::point::{Pt, UNITS_PER_M, cross};
use super::point_grid::PointGrid;
use super::shape::{Ring, Shape};
use super::together::{NEAREST, distance};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Takes points out of shapes that tile, as [`super::Arrangement::dissolve`] gives them.
///
/// `limits` says for a border with these groups on its left and right (`None`: nothing) how far, in metres,
/// it may move into the left and into the right side. No edge longer than `longest_m` is made. No point where
/// more than two borders meet goes; no border crosses or touches another that it did not touch before, or comes
/// nearer to a point than a file can tell; no ring vanishes.
pub fn simplify(
    shapes: &[(u32, Shape)],
    longest_m: f64,
    limits: impl Fn(Option<u32>, Option<u32>) -> [f64; 2],
) -> Vec<(u32, Shape)> {
    let mut net = Net::of(shapes);
    // A point that may not go now may only do so after a neighbour went, and is looked at again then: most points of a
    // border are none that ever may, and stay out of the queue.
    let entry = |net: &Net, at: u32| {
        net.removable(at, longest_m, &limits)?;
        Some(Reverse((net.size(at)?, at)))
    };
    let all = 0..net.points.len() as u32;
    let mut queue: BinaryHeap<Reverse<(u64, u32)>> = all.filter_map(|at| entry(&net, at)).collect();
    while let Some(Reverse((size, at))) = queue.pop() {
        // An entry from before a neighbour went has been replaced by a newer one.
        if net.size(at) != Some(size) {
            continue;
        }
        // Its neighbours may have been joined meanwhile.
        let Some([a, b]) = net.removable(at, longest_m, &limits) else {
            continue;
        };
        if net.holds_a_point([a, at, b]) {
            continue;
        }
        net.remove(at, [a, b]);
        for near in [a, b] {
            queue.extend(entry(&net, near));
        }
    }
    // Rings come in the order in which their points were numbered.
    let mut numbers = net.numbers.iter();
    let mut kept = |ring: &Ring| -> Ring {
        let points = ring.iter().zip(numbers.by_ref());
        let there = points.filter(|(_, number)| net.is_there(**number));
        there.map(|(point, _)| *point).collect()
    };
    let mut thinned = |shape: &Shape| Shape {
        exterior: kept(&shape.exterior),
        holes: shape.holes.iter().map(&mut kept).collect(),
    };
    shapes
        .iter()
        .map(|(group, shape)| (*group, thinned(shape)))
        .collect()
}

/// All borders as they are now.
struct Net {
    /// All points there were, sorted, and where they lie.
    points: Vec<Pt>,
    grid: PointGrid,
    /// Of the points of all rings, ring after ring, the places in `points`.
    numbers: Vec<u32>,
    ways: Vec<Ways>,
    /// The neighbours that each point of one border had at first: what went between two points is found along them.
    was: Vec<[u32; 2]>,
    /// Per point of one border, per neighbour at first: what lies left of the way there, and of the way back.
    left: Vec<[[u32; 2]; 2]>,
    /// Neighbours of points where more borders meet, as they are now.
    nodes: Vec<Vec<u32>>,
}

/// Where the borders of a point lead.
#[derive(Clone, Copy, PartialEq)]
enum Ways {
    /// It has one border, with these neighbours.
    One([u32; 2]),
    /// More borders meet here: the place in `nodes`.
    Node(u32),
    /// It has been taken out.
    Gone,
}

/// Stands for no neighbour, and for nothing on a side.
const NONE: u32 = u32::MAX;

impl Net {
    fn of(shapes: &[(u32, Shape)]) -> Self {
        let mut rings: Vec<(u32, &Ring)> = Vec::new();
        for (group, shape) in shapes {
            rings.extend(shape.rings().map(|ring| (*group, ring)));
        }
        let mut placed: Vec<(Pt, u32)> = Vec::new();
        for (_, ring) in &rings {
            let first = placed.len() as u32;
            placed.extend(ring.iter().copied().zip(first..));
        }
        placed.sort_unstable();
        let mut points: Vec<Pt> = Vec::new();
        let mut numbers = vec![0; placed.len()];
        for (point, place) in placed {
            if points.last() != Some(&point) {
                points.push(point);
            }
            numbers[place as usize] = points.len() as u32 - 1;
        }
        let count = points.len();
        let mut net = Self {
            grid: PointGrid::new(&points),
            points,
            numbers: Vec::new(),
            ways: vec![Ways::One([NONE; 2]); count],
            was: Vec::new(),
            left: vec![[[NONE; 2]; 2]; count],
            nodes: Vec::new(),
        };
        let mut first = 0;
        for (group, ring) in rings {
            let ring = &numbers[first..first + ring.len()];
            first += ring.len();
            let ends = ring.iter().skip(1).chain(ring.first());
            for (&from, &to) in ring.iter().zip(ends) {
                if let Some(slot) = net.join(from, to) {
                    net.left[from as usize][slot][0] = group;
                }
                if let Some(slot) = net.join(to, from) {
                    net.left[to as usize][slot][1] = group;
                }
            }
        }
        let at_first = |ways: &Ways| match ways {
            Ways::One(neighbours) => *neighbours,
            _ => [NONE; 2],
        };
        net.was = net.ways.iter().map(at_first).collect();
        net.numbers = numbers;
        net
    }

    /// Notes a neighbour, and says which of the two of a point with one border it is.
    fn join(&mut self, from: u32, to: u32) -> Option<usize> {
        match &mut self.ways[from as usize] {
            Ways::One(known) => {
                if let Some(slot) = known
                    .iter()
                    .position(|other| *other == to || *other == NONE)
                {
                    known[slot] = to;
                    return Some(slot);
                }
                let neighbours = vec![known[0], known[1], to];
                self.ways[from as usize] = Ways::Node(self.nodes.len() as u32);
                self.nodes.push(neighbours);
            }
            Ways::Node(node) => {
                let neighbours = &mut self.nodes[*node as usize];
                if !neighbours.contains(&to) {
                    neighbours.push(to);
                }
            }
            Ways::Gone => {}
        }
        None
    }

    fn is_there(&self, at: u32) -> bool {
        self.ways[at as usize] != Ways::Gone
    }

    fn at(&self, point: u32) -> Pt {
        self.points[point as usize]
    }

    /// The neighbours of a point of one border; `None` for a point that stays in any case, or has gone.
    fn neighbours(&self, at: u32) -> Option<[u32; 2]> {
        match self.ways[at as usize] {
            Ways::One(neighbours) if !neighbours.contains(&NONE) => Some(neighbours),
            _ => None,
        }
    }

    /// Twice the area that goes with a point of one border; `None` for a point that stays in any case. So does one
    /// with more land than the number holds, 8 km2: no border may move so far.
    fn size(&self, at: u32) -> Option<u64> {
        let [a, b] = self.neighbours(at)?;
        let area2 = cross(self.at(a), self.at(at), self.at(b)).unsigned_abs();
        u64::try_from(area2).ok()
    }

    fn are_joined(&self, a: u32, b: u32) -> bool {
        match &self.ways[a as usize] {
            Ways::One(neighbours) => neighbours.contains(&b),
            Ways::Node(node) => self.nodes[*node as usize].contains(&b),
            Ways::Gone => false,
        }
    }

    /// The neighbours of a point that may go, as far as the border itself is concerned.
    fn removable(
        &self,
        at: u32,
        longest_m: f64,
        limits: &impl Fn(Option<u32>, Option<u32>) -> [f64; 2],
    ) -> Option<[u32; 2]> {
        let [a, b] = self.neighbours(at)?;
        if self.at(a).distance_m(self.at(b)) > longest_m {
            return None;
        }
        let [[right, left], [left_on, right_on]] = self.left[at as usize];
        // Joined already: what lies between would vanish.
        if [left, right] != [left_on, right_on] || self.are_joined(a, b) {
            return None;
        }
        let side = |group: u32| (group != NONE).then_some(group);
        let [into_left, into_right] = limits(side(left), side(right));
        let (from, to) = (self.at(a), self.at(b));
        let fits = |point: u32| {
            let point = self.at(point);
            let side = cross(from, to, point);
            // A point on the left of the new border: the border has moved into the right side.
            let limit = if side > 0 { into_right } else { into_left };
            distance_m(from, to, point) <= limit
        };
        let fits = fits(at) && self.gone(at, 0, a).all(fits) && self.gone(at, 1, b).all(fits);
        fits.then_some([a, b])
    }

    /// The points that went between a point and what is now its neighbour on this side.
    fn gone(&self, at: u32, slot: usize, neighbour: u32) -> impl Iterator<Item = u32> {
        let (mut before, mut here) = (at, self.was[at as usize][slot]);
        std::iter::from_fn(move || {
            if here == neighbour {
                return None;
            }
            let [a, b] = self.was[here as usize];
            let went = here;
            (before, here) = (here, if a == before { b } else { a });
            Some(went)
        })
    }

    /// Whether another point lies in the triangle, on its border, or too near to the border that would be left.
    fn holds_a_point(&self, corners: [u32; 3]) -> bool {
        let [a, v, b] = corners.map(|corner| self.at(corner));
        // On a straight border nothing moves, so a point beside it is in nobody's way.
        let flat = cross(a, v, b) == 0;
        let reach = if flat { 0 } else { NEAREST.ceil() as i64 };
        let low = Pt {
            x: a.x.min(v.x).min(b.x) - reach,
            y: a.y.min(v.y).min(b.y) - reach,
        };
        let high = Pt {
            x: a.x.max(v.x).max(b.x) + reach,
            y: a.y.max(v.y).max(b.y) + reach,
        };
        let inside = |p: Pt| {
            let turns = [cross(a, v, p), cross(v, b, p), cross(b, a, p)];
            turns.iter().all(|turn| *turn >= 0) || turns.iter().all(|turn| *turn <= 0)
        };
        let in_the_way = |p: Pt| match flat {
            true => cross(a, b, p) == 0,
            false => inside(p) || distance(p, [a, b]).0 < NEAREST,
        };
        self.grid
            .near(low, high)
            .map(|other| (self.at(other), other))
            .filter(|(point, _)| (low.x..=high.x).contains(&point.x))
            .filter(|(point, _)| (low.y..=high.y).contains(&point.y))
            .filter(|(_, other)| !corners.contains(other) && self.is_there(*other))
            .any(|(point, _)| in_the_way(point))
    }

    fn remove(&mut self, at: u32, [a, b]: [u32; 2]) {
        self.ways[at as usize] = Ways::Gone;
        for (of, new) in [(a, b), (b, a)] {
            let neighbours = match &mut self.ways[of as usize] {
                Ways::One(neighbours) => &mut neighbours[..],
                Ways::Node(node) => &mut self.nodes[*node as usize],
                Ways::Gone => continue,
            };
            let old = neighbours.iter_mut().find(|other| **other == at);
            old.into_iter().for_each(|other| *other = new);
        }
    }
}

/// From a point to a straight line between two others, metres.
fn distance_m(from: Pt, to: Pt, point: Pt) -> f64 {
    let [ux, uy] = [(to.x - from.x) as f64, (to.y - from.y) as f64];
    let [vx, vy] = [(point.x - from.x) as f64, (point.y - from.y) as f64];
    let length2 = ux * ux + uy * uy;
    let along = if length2 > 0.0 {
        (ux * vx + uy * vy) / length2
    } else {
        0.0
    };
    if along <= 0.0 {
        return from.distance_m(point);
    }
    if along >= 1.0 {
        return to.distance_m(point);
    }
    cross(from, to, point).unsigned_abs() as f64 / length2.sqrt() / UNITS_PER_M
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Overlay;

    fn ring(points: &[[f64; 2]]) -> Ring {
        points
            .iter()
            .map(|xy| Pt::from_metres(*xy).unwrap())
            .collect()
    }

    /// The land of each polygon less what later ones cover.
    fn tiles(overlay: &Overlay) -> Vec<(u32, Shape)> {
        let arrangement = overlay.arrange();
        let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
            .map(|face| overlay.covering(&arrangement, face).last().copied())
            .collect();
        arrangement.dissolve(&group)
    }

    /// A field of 100 m by 50 m; the border between west and east is a zigzag of 0.3 m, and a wedge of 0.2 m
    /// stands out of the south side and another is cut into the north side.
    fn field() -> Vec<(u32, Shape)> {
        let zigzag: Vec<[f64; 2]> = (0..=25)
            .map(|n| [50.0 + f64::from(n % 2) * 0.3, f64::from(n) * 2.0])
            .collect();
        let mut west = vec![[0.0, 0.0], [20.0, -0.2], [40.0, 0.0]];
        west.extend(&zigzag);
        west.extend([[40.0, 50.0], [20.0, 49.8], [10.0, 50.0], [0.0, 50.0]]);
        let mut east: Vec<[f64; 2]> = zigzag.into_iter().rev().collect();
        east.extend([[100.0, 0.0], [100.0, 50.0]]);
        let mut overlay = Overlay::default();
        for points in [west, east] {
            overlay.add(Shape {
                exterior: ring(&points),
                holes: Vec::new(),
            });
        }
        tiles(&overlay)
    }

    fn count(shapes: &[(u32, Shape)]) -> usize {
        let rings = shapes.iter().flat_map(|(_, shape)| shape.rings());
        rings.map(Vec::len).sum()
    }

    fn edges(shapes: &[(u32, Shape)]) -> Vec<(Pt, Pt)> {
        let rings = shapes.iter().flat_map(|(_, shape)| shape.rings());
        rings
            .flat_map(|ring| {
                let ends = ring.iter().skip(1).chain(ring.first());
                ring.iter().copied().zip(ends.copied()).collect::<Vec<_>>()
            })
            .collect()
    }

    #[test]
    fn neighbours_stay_without_gap_and_no_land_is_gained_outside() {
        let before = field();
        let outer = |left: Option<u32>, right: Option<u32>| match (left, right) {
            (Some(_), Some(_)) => [0.5, 0.5],
            (Some(_), None) => [0.5, 0.0],
            _ => [0.0, 0.5],
        };
        let after = simplify(&before, 1e6, outer);
        assert!(count(&after) < count(&before) / 3, "{after:?}");
        // Each edge has its twin or lies on the outside, and those outside make one ring.
        let all = edges(&after);
        let outside: Vec<_> = all
            .iter()
            .filter(|(from, to)| !all.contains(&(*to, *from)))
            .collect();
        assert_eq!(all.len() - outside.len(), 2, "one straight border is left");
        let area = |shapes: &[(u32, Shape)]| shapes.iter().map(|(_, s)| s.area_m2()).sum::<f64>();
        // The wedge that stands out goes (4 m2); the one cut in stays, and its sides may cut corners (4 m2).
        let lost = area(&before) - area(&after);
        assert!((4.0 - 1e-6..8.0).contains(&lost), "{lost}");
        let north = Pt::from_metres([20.0, 49.8]).unwrap();
        assert!(after.iter().any(|(_, s)| s.exterior.contains(&north)));
    }

    #[test]
    fn whatever_went_lies_near_the_new_border() {
        let mut state = 3u64;
        let corner = |nth: u32| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
            let angle = f64::from(nth) / 400.0 * std::f64::consts::TAU;
            let radius = 80.0 + (state >> 40) as f64 / (1 << 24) as f64 * 0.5;
            [radius * angle.cos(), radius * angle.sin()]
        };
        let corners: Vec<[f64; 2]> = (0..400).map(corner).collect();
        let mut overlay = Overlay::default();
        overlay.add(Shape {
            exterior: ring(&corners),
            holes: Vec::new(),
        });
        let before = tiles(&overlay);
        let after = simplify(&before, 1e6, |_, _| [0.3, 0.3]);
        assert!(count(&after) < count(&before) / 3, "{}", count(&after));
        let border = edges(&after);
        for (point, _) in edges(&before) {
            let away = border
                .iter()
                .map(|(from, to)| distance_m(*from, *to, point));
            let away = away.fold(f64::INFINITY, f64::min);
            assert!(away <= 0.3, "{point:?} lies {away} m from it");
        }
    }

    #[test]
    fn no_edge_longer_than_asked_for_is_made() {
        let before = field();
        let after = simplify(&before, 12.0, |_, _| [0.5, 0.5]);
        assert!(count(&after) < count(&before));
        let was = edges(&before);
        for (from, to) in edges(&after) {
            let made = !was.contains(&(from, to));
            assert!(!made || from.distance_m(to) <= 12.0, "{from:?} {to:?}");
        }
    }

    #[test]
    fn a_border_that_may_not_move_keeps_every_bend() {
        let before = field();
        let after = simplify(&before, 1e6, |_, _| [0.0, 0.0]);
        assert!(count(&after) <= count(&before));
        for ((_, a), (_, b)) in before.iter().zip(&after) {
            assert_eq!(a.area2(), b.area2());
        }
        // Only what lies on a straight line has gone.
        assert!(after[0].1.exterior.len() > 25);
    }

    /// Land that is 2.1 mm wide in its middle: without the bend in its southern border it would be 0.1 mm there, and
    /// fall apart when a file rounds it.
    #[test]
    fn no_border_comes_nearer_to_a_point_than_a_file_can_tell() {
        let mut overlay = Overlay::default();
        overlay.add(Shape {
            exterior: ring(&[
                [0.0, 0.0],
                [50.0, -0.002],
                [100.0, 0.0],
                [100.0, 5.0],
                [50.0, 0.0001],
                [0.0, 5.0],
            ]),
            holes: Vec::new(),
        });
        let before = tiles(&overlay);
        assert_eq!(simplify(&before, 1e6, |_, _| [0.5, 0.5]), before);
    }

    #[test]
    fn nothing_vanishes_and_nothing_crosses() {
        // A small square in a large one, and a tolerance above both.
        let mut overlay = Overlay::default();
        for (low, size) in [(0.0, 4.0), (1.0, 0.5)] {
            overlay.add(Shape {
                exterior: ring(&[
                    [low, low],
                    [low + size, low],
                    [low + size, low + size],
                    [low, low + size],
                ]),
                holes: Vec::new(),
            });
        }
        let before = tiles(&overlay);
        let after = simplify(&before, 1e6, |_, _| [100.0, 100.0]);
        for (_, shape) in &after {
            assert!(shape.rings().all(|ring| ring.len() >= 3), "{shape:?}");
            assert!(shape.area2() > 0, "{shape:?}");
        }
        assert_eq!(after.len(), 2);
        let hole = after.iter().find(|(_, s)| !s.holes.is_empty()).unwrap();
        let islet = after.iter().find(|(_, s)| s.holes.is_empty()).unwrap();
        assert_eq!(
            crate::geometry::point::ring_area2(&hole.1.holes[0]),
            -islet.1.area2()
        );
    }
}
