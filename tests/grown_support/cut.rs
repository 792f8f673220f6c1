//! Polygons cut by a straight line, both halves kept, with corners of the border left exactly as they are.

pub type Point = [f64; 2];
/// Not closed: the last point does not repeat the first.
pub type Ring = Vec<Point>;
/// The outer ring counter-clockwise, then holes clockwise.
pub type Rings = Vec<Ring>;

/// A place on the line and the direction in which the left half lies, of length 1.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    pub through: Point,
    pub left: Point,
}

impl Line {
    fn off(&self, [x, y]: Point) -> f64 {
        (x - self.through[0]) * self.left[0] + (y - self.through[1]) * self.left[1]
    }

    fn along(&self, [x, y]: Point) -> f64 {
        (x - self.through[0]) * self.left[1] - (y - self.through[1]) * self.left[0]
    }
}

pub fn area2(ring: &[Point]) -> f64 {
    let [ox, oy] = ring[0];
    let ends = ring.iter().skip(1).chain(ring.first());
    let cross = |(a, b): (&Point, &Point)| (a[0] - ox) * (b[1] - oy) - (b[0] - ox) * (a[1] - oy);
    ring.iter().zip(ends).map(cross).sum()
}

/// A run of a ring on one side, from where it comes over the line to where it leaves.
struct Run {
    points: Ring,
    /// Numbers of the two crossings.
    from: usize,
    to: usize,
}

/// What lies left and right of the line. `None` where rounding keeps the crossings from pairing.
pub fn halves(rings: &Rings, line: Line) -> Option<[Vec<Rings>; 2]> {
    let crossings = crossings(rings, line);
    let mut order: Vec<usize> = (0..crossings.len()).collect();
    order.sort_by(|&a, &b| crossings[a].1.total_cmp(&crossings[b].1));
    let mut rank = vec![0; order.len()];
    for (at, &nth) in order.iter().enumerate() {
        rank[nth] = at;
    }
    let [mut left, mut right] = [Vec::new(), Vec::new()];
    let [mut left_whole, mut right_whole] = [Vec::new(), Vec::new()];
    let mut nth = 0;
    for ring in rings {
        let here = ring.iter().map(|&point| line.off(point) >= 0.0);
        let sides: Vec<bool> = here.collect();
        let count = (0..ring.len())
            .filter(|&at| sides[at] != sides[(at + 1) % ring.len()])
            .count();
        if count == 0 {
            match sides[0] {
                true => left_whole.push(ring.clone()),
                false => right_whole.push(ring.clone()),
            }
            continue;
        }
        let first = (0..ring.len()).find(|&at| sides[at] != sides[(at + 1) % ring.len()])?;
        // The crossings of this ring are numbered from its first one on.
        for step in 0..count {
            let (from, to) = (nth + step, nth + (step + 1) % count);
            let start = crossings[from].2;
            let mut points = vec![crossings[from].0];
            let mut at = (start + 1) % ring.len();
            let side = sides[at];
            while sides[at] == side {
                points.push(ring[at]);
                at = (at + 1) % ring.len();
            }
            points.push(crossings[to].0);
            let run = Run { points, from, to };
            match side {
                true => left.push(run),
                false => right.push(run),
            }
        }
        debug_assert_eq!(crossings[nth].2, first);
        nth += count;
    }
    let left = joined(left, &rank)?;
    let right = joined(right, &rank)?;
    Some([parts(left, left_whole)?, parts(right, right_whole)?])
}

/// Where rings cross the line: the place, how far along, and after which point of its ring.
fn crossings(rings: &Rings, line: Line) -> Vec<(Point, f64, usize)> {
    let mut found = Vec::new();
    for ring in rings {
        for (at, &a) in ring.iter().enumerate() {
            let b = ring[(at + 1) % ring.len()];
            let [from, to] = [line.off(a), line.off(b)];
            if (from >= 0.0) != (to >= 0.0) {
                let share = from / (from - to);
                let place = [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
                found.push((place, line.along(place), at));
            }
        }
    }
    found
}

/// Runs joined along the line into rings: the land lies between crossings 0 and 1, 2 and 3, ... of it.
fn joined(runs: Vec<Run>, rank: &[usize]) -> Option<Rings> {
    let mut rings = Vec::new();
    let mut used = vec![false; runs.len()];
    for first in 0..runs.len() {
        if used[first] {
            continue;
        }
        let (mut ring, mut at) = (Vec::new(), first);
        loop {
            used[at] = true;
            ring.extend_from_slice(&runs[at].points);
            let wanted = rank[runs[at].to] ^ 1;
            at = (0..runs.len()).find(|&other| rank[runs[other].from] == wanted)?;
            if at == first {
                break;
            }
            if used[at] {
                return None;
            }
        }
        rings.push(ring);
    }
    Some(rings)
}

/// Outer rings with the holes that lie in them.
fn parts(cut: Rings, whole: Rings) -> Option<Vec<Rings>> {
    let rings = cut.into_iter().chain(whole);
    let (outer, holes): (Rings, Rings) = rings.partition(|ring| area2(ring) > 0.0);
    let mut parts: Vec<Rings> = outer.into_iter().map(|ring| vec![ring]).collect();
    for hole in holes {
        let part = parts
            .iter_mut()
            .find(|part| holds(&part[0], middle(&hole)))?;
        part.push(hole);
    }
    Some(parts)
}

/// A place on the first side of a ring.
fn middle(ring: &Ring) -> Point {
    let [a, b] = [ring[0], ring[1]];
    [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]
}

fn holds(ring: &Ring, [x, y]: Point) -> bool {
    let ends = ring.iter().skip(1).chain(ring.first());
    let over = |(a, b): &(&Point, &Point)| {
        (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    };
    ring.iter().zip(ends).filter(over).count() % 2 == 1
}
