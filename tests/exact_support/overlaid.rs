//! Polygons laid over each other, slowly: the plane is cut into level slabs at every corner and crossing;
//! between two neighbouring edges of a slab the same polygons cover all land.

use super::{Q, Ring, whole};
use std::collections::{BTreeMap, BTreeSet};

/// A polygon: what its first ring encloses (an odd number of times) and none of the others does.
pub type Rings = Vec<Ring>;

/// An edge that is not level, from its lower end upwards, and what it belongs to.
pub struct Edge<T> {
    pub low: [i64; 2],
    pub high: [i64; 2],
    pub of: T,
}

impl<T> Edge<T> {
    /// `None` for a level edge.
    pub fn new(from: [i64; 2], to: [i64; 2], of: T) -> Option<Self> {
        let [low, high] = if from[1] < to[1] {
            [from, to]
        } else {
            [to, from]
        };
        (from[1] != to[1]).then_some(Self { low, high, of })
    }

    fn x_at(&self, y: &Q) -> Q {
        let [run, rise] = [0, 1].map(|k| whole(self.high[k] - self.low[k]));
        whole(self.low[0]) + (y - whole(self.low[1])) * run / rise
    }
}

/// The height at which two edges cross or one ends on the other; level ends are known anyway.
fn crossing<T>(a: &Edge<T>, b: &Edge<T>) -> Option<Q> {
    let low = a.low[1].max(b.low[1]);
    let high = a.high[1].min(b.high[1]);
    let reach = |edge: &Edge<T>| [edge.low[0].min(edge.high[0]), edge.low[0].max(edge.high[0])];
    let [[west_a, east_a], [west_b, east_b]] = [reach(a), reach(b)];
    if low >= high || east_a < west_b || east_b < west_a {
        return None;
    }
    let [low, high] = [whole(low), whole(high)];
    let [below, above] = [&low, &high].map(|y| a.x_at(y) - b.x_at(y));
    let zero = whole(0);
    // They change places between the two heights.
    let crosses = (below < zero && above > zero) || (below > zero && above < zero);
    crosses.then(|| &low + (&high - &low) * &below / (&below - &above))
}

fn to_i64(value: &Q) -> i64 {
    i64::try_from(value.to_integer()).expect("as large as coordinates")
}

/// A trapezoid between two level lines, left and right bounded by edges.
pub struct Trapezoid<'a, T> {
    pub heights: [&'a Q; 2],
    /// West and east, low and high.
    pub west: &'a [Q; 2],
    pub east: &'a [Q; 2],
    /// The edges that bound it; several where they lie on each other.
    pub edges: [&'a T; 2],
}

impl<T> Trapezoid<'_, T> {
    pub fn area2(&self) -> Q {
        let width = |at: usize| &self.east[at] - &self.west[at];
        (width(0) + width(1)) * (self.heights[1] - self.heights[0])
    }

    /// Its middle.
    pub fn middle(&self) -> [Q; 2] {
        let x = &self.west[0] + &self.west[1] + &self.east[0] + &self.east[1];
        let y = self.heights[0] + self.heights[1];
        [x / whole(4), y / whole(2)]
    }
}

/// Goes through all edges by slab from south to north, from west to east in each: `seen` is told of every
/// edge, `between` of what lies between it and the next one.
pub fn slabs<T>(
    edges: &[Edge<T>],
    mut start: impl FnMut(),
    mut seen: impl FnMut(&T),
    mut between: impl FnMut(Trapezoid<T>),
) {
    let ends = edges.iter().flat_map(|edge| [edge.low[1], edge.high[1]]);
    let mut heights: BTreeSet<Q> = ends.map(whole).collect();
    for (nth, a) in edges.iter().enumerate() {
        heights.extend(edges[nth + 1..].iter().filter_map(|b| crossing(a, b)));
    }
    let heights: Vec<Q> = heights.into_iter().collect();
    for slab in heights.windows(2) {
        // Between two heights no edge begins or ends.
        let [floor, ceiling] = [slab[0].floor(), slab[1].ceil()].map(|y| to_i64(&y));
        let mut here: Vec<([Q; 2], &T)> = edges
            .iter()
            .filter(|edge| edge.low[1] <= floor && edge.high[1] >= ceiling)
            .map(|edge| ([edge.x_at(&slab[0]), edge.x_at(&slab[1])], &edge.of))
            .collect();
        here.sort_by_cached_key(|(x, _)| &x[0] + &x[1]);
        start();
        for pair in here.windows(2) {
            let [(west, left), (east, right)] = [&pair[0], &pair[1]];
            seen(left);
            between(Trapezoid {
                heights: [&slab[0], &slab[1]],
                west,
                east,
                edges: [left, right],
            });
        }
    }
}

/// The edges of polygons, each with its polygon and ring.
pub fn edges_of(polygons: &[Rings]) -> Vec<Edge<[usize; 2]>> {
    let mut edges = Vec::new();
    for (polygon, rings) in polygons.iter().enumerate() {
        for (nth, ring) in rings.iter().enumerate() {
            let ends = ring.iter().skip(1).chain(ring.first());
            let of_ring = ring.iter().zip(ends);
            edges.extend(of_ring.filter_map(|(&a, &b)| Edge::new(a, b, [polygon, nth])));
        }
    }
    edges
}

/// Twice the area, exactly, that each set of polygons (ascending) covers.
pub fn covered(polygons: &[Rings]) -> BTreeMap<Vec<u32>, Q> {
    let edges = edges_of(polygons);
    let mut areas: BTreeMap<Vec<u32>, Q> = BTreeMap::new();
    let inside: Vec<Vec<bool>> = polygons.iter().map(|p| vec![false; p.len()]).collect();
    let inside = std::cell::RefCell::new(inside);
    let outside = inside.borrow().clone();
    slabs(
        &edges,
        || inside.replace(outside.clone()).clear(),
        |&[polygon, ring]| inside.borrow_mut()[polygon][ring] ^= true,
        |land| {
            let covering = covering(&inside.borrow());
            if !covering.is_empty() && land.area2() != whole(0) {
                *areas.entry(covering).or_insert_with(|| whole(0)) += land.area2();
            }
        },
    );
    areas
}

/// The polygons that cover a place, from inside how many of whose rings it lies.
fn covering(inside: &[Vec<bool>]) -> Vec<u32> {
    let covers = |rings: &Vec<bool>| rings[0] && !rings[1..].iter().any(|&hole| hole);
    (0..)
        .zip(inside)
        .filter(|(_, rings)| covers(rings))
        .map(|(polygon, _)| polygon)
        .collect()
}

/// The polygons that cover a place, by the edges west of it.
pub fn covering_at(polygons: &[Rings], place: &[Q; 2]) -> Vec<u32> {
    let mut inside: Vec<Vec<bool>> = polygons.iter().map(|p| vec![false; p.len()]).collect();
    for edge in edges_of(polygons) {
        let [low, high] = [edge.low[1], edge.high[1]].map(whole);
        if low <= place[1] && place[1] < high && edge.x_at(&place[1]) < place[0] {
            inside[edge.of[0]][edge.of[1]] ^= true;
        }
    }
    covering(&inside)
}
