//! Where a label stands in a polygon: at the point farthest from all its edges.
//!
//! Squares are halved where they may still hold a better point, best first, until no square can better the
//! best point by more than the wanted precision.

use std::collections::BinaryHeap;

/// More points of an outline than this make no better place for a label.
const MOST_POINTS: usize = 400;

/// A point in a polygon and its distance from the nearest edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Middle {
    /// The point.
    pub at: [f64; 2],
    /// Its distance from the nearest edge.
    pub radius: f64,
}

/// A square: its middle, half its side, the distance of its middle from the outline (below 0 outside).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Square {
    at: [f64; 2],
    half: f64,
    distance: f64,
}

impl Square {
    fn of(at: [f64; 2], half: f64, rings: &[Outline]) -> Self {
        Self {
            at,
            half,
            distance: distance(at, rings),
        }
    }

    /// No point of the square lies farther from the outline than this.
    fn most(&self) -> f64 {
        self.distance + self.half * std::f64::consts::SQRT_2
    }
}

impl Eq for Square {}
impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Square {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        let order = self.most().total_cmp(&other.most());
        let order = order.then(self.at[0].total_cmp(&other.at[0]));
        order.then(self.at[1].total_cmp(&other.at[1]))
    }
}

/// The middle of a polygon in whole drawing units (exterior first), to `precision`; `None` for one whose
/// box is narrower than twice `least`.
pub fn middle(rings: &[Vec<[i64; 2]>], least: f64, precision: f64) -> Option<Middle> {
    let exterior = rings.first()?;
    let xs = || exterior.iter().map(|point| point[0]);
    let ys = || exterior.iter().map(|point| point[1]);
    let [west, east] = [xs().min()? as f64, xs().max()? as f64];
    let [north, south] = [ys().min()? as f64, ys().max()? as f64];
    let side = f64::min(east - west, south - north);
    if side < 2.0 * least || side <= 0.0 {
        return None;
    }
    let rings: Vec<Outline> = rings.iter().map(|ring| Outline::of(ring)).collect();
    let half = side / 2.0;
    let mut heap = BinaryHeap::new();
    let mut x = west + half;
    while x < east + half {
        let mut y = north + half;
        while y < south + half {
            heap.push(Square::of([x, y], half, &rings));
            y += side;
        }
        x += side;
    }
    let centre = [(west + east) / 2.0, (north + south) / 2.0];
    let mut best = Square::of(centre, 0.0, &rings);
    while let Some(square) = heap.pop() {
        if square.distance > best.distance {
            best = square;
        }
        if square.most() - best.distance <= precision {
            break;
        }
        let half = square.half / 2.0;
        for [dx, dy] in [[-half, -half], [half, -half], [-half, half], [half, half]] {
            let at = [square.at[0] + dx, square.at[1] + dy];
            heap.push(Square::of(at, half, &rings));
        }
    }
    (best.distance >= least).then_some(Middle {
        at: best.at,
        radius: best.distance,
    })
}

/// Edges that are looked at together, and runs of them.
const RUN: usize = 8;

/// A ring with few points, by runs of edges, and these by groups.
struct Outline {
    groups: Vec<Group>,
}

/// Some runs of a ring, one after the other, and their box.
struct Group {
    runs: Vec<Run>,
    bounds: Bounds,
}

/// Some edges of a ring, one after the other, and their box.
struct Run {
    points: Vec<[f64; 2]>,
    bounds: Bounds,
}

/// The box around points that follow each other, with the heights at which they begin and end.
#[derive(Clone, Copy)]
struct Bounds {
    low: [f64; 2],
    high: [f64; 2],
    ends: [f64; 2],
}

impl Outline {
    fn of(ring: &[[i64; 2]]) -> Self {
        let each = ring.len().div_ceil(MOST_POINTS).max(1);
        let points = ring.iter().step_by(each);
        let mut points: Vec<[f64; 2]> = points.map(|&[x, y]| [x as f64, y as f64]).collect();
        points.extend(points.first().copied());
        // The last point of each piece is the first of the next.
        let pieces = |long: usize| {
            let firsts = (0..points.len().saturating_sub(1)).step_by(long);
            firsts.map(move |first| first..first + long + 1)
        };
        let cut = |piece: std::ops::Range<usize>| {
            let end = piece.end.min(points.len());
            points.get(piece.start..end).unwrap_or_default()
        };
        let mut runs = pieces(RUN).map(|piece| Run::of(cut(piece).to_vec()));
        let group = |piece| Group {
            bounds: Bounds::of(cut(piece)),
            runs: runs.by_ref().take(RUN).collect(),
        };
        Self {
            groups: pieces(RUN * RUN).map(group).collect(),
        }
    }
}

impl Bounds {
    fn of(points: &[[f64; 2]]) -> Self {
        let bound = |start: f64, further: fn(f64, f64) -> f64| {
            [0, 1].map(|axis| points.iter().map(|at| at[axis]).fold(start, further))
        };
        let height = |at: Option<&[f64; 2]>| at.map_or(0.0, |at| at[1]);
        Self {
            low: bound(f64::INFINITY, f64::min),
            high: bound(f64::NEG_INFINITY, f64::max),
            ends: [height(points.first()), height(points.last())],
        }
    }

    /// Square of the distance from a point to the box; 0 inside.
    fn away2(&self, at: [f64; 2]) -> f64 {
        let away = |axis: usize| (self.low[axis] - at[axis]).max(at[axis] - self.high[axis]);
        let [dx, dy] = [0, 1].map(|axis| away(axis).max(0.0));
        dx * dx + dy * dy
    }

    /// How often the edges in it meet the ray from a point to the east, even or odd, where that is known without looking at
    /// them.
    fn is_met(&self, [x, y]: [f64; 2]) -> Option<bool> {
        // A unit to spare for rounding.
        if y < self.low[1] || y >= self.high[1] || x > self.high[0] + 1.0 {
            return Some(false);
        }
        // All of it lies to the east: whoever begins and ends on two sides of the ray meets it an odd number of times.
        let [first, last] = self.ends;
        (x < self.low[0] - 1.0).then_some((first > y) != (last > y))
    }
}

impl Group {
    /// As of its edges, one by one.
    fn is_met(&self, at: [f64; 2]) -> bool {
        let each = || {
            self.runs
                .iter()
                .fold(false, |odd, run| odd ^ run.is_met(at))
        };
        self.bounds.is_met(at).unwrap_or_else(each)
    }

    /// The run whose box is nearest.
    fn nearest_run(&self, at: [f64; 2]) -> Option<&Run> {
        let by_box = self.runs.iter().map(|run| (run.bounds.away2(at), run));
        let first = by_box.min_by(|(a, _), (b, _)| a.total_cmp(b));
        first.map(|(_, run)| run)
    }
}

impl Run {
    fn of(points: Vec<[f64; 2]>) -> Self {
        Self {
            bounds: Bounds::of(&points),
            points,
        }
    }

    /// How often its edges meet the ray from a point to the east: even or odd.
    fn is_met(&self, at: [f64; 2]) -> bool {
        let [x, y] = at;
        let each = || {
            self.edges().fold(false, |odd, ([ax, ay], [bx, by])| {
                let meets = (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax);
                odd != meets
            })
        };
        self.bounds.is_met(at).unwrap_or_else(each)
    }

    /// Square of the distance from a point to the nearest of its edges.
    fn nearest2(&self, [x, y]: [f64; 2]) -> f64 {
        self.edges()
            .fold(f64::INFINITY, |nearest, ([ax, ay], [bx, by])| {
                let [dx, dy] = [bx - ax, by - ay];
                let long2 = dx * dx + dy * dy;
                let along = match long2 > 0.0 {
                    true => (((x - ax) * dx + (y - ay) * dy) / long2).clamp(0.0, 1.0),
                    false => 0.0,
                };
                let [px, py] = [x - ax - along * dx, y - ay - along * dy];
                nearest.min(px * px + py * py)
            })
    }

    fn edges(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
        let ends = self.points.iter().skip(1);
        self.points.iter().copied().zip(ends.copied())
    }
}

/// Distance from the nearest edge; negative outside.
fn distance(at: [f64; 2], rings: &[Outline]) -> f64 {
    let groups = || rings.iter().flat_map(|ring| &ring.groups);
    // What lies in the nearest box first: most others are then known to be farther.
    let by_box = groups().map(|group| (group.bounds.away2(at), group));
    let first = by_box.min_by(|(a, _), (b, _)| a.total_cmp(b));
    let first = first.and_then(|(_, group)| group.nearest_run(at));
    let mut nearest = first.map_or(f64::INFINITY, |run| run.nearest2(at));
    let mut inside = false;
    for group in groups() {
        inside ^= group.is_met(at);
        // A little to spare for rounding.
        if group.bounds.away2(at) > nearest * 1.000_001 {
            continue;
        }
        for run in &group.runs {
            if run.bounds.away2(at) <= nearest * 1.000_001 {
                nearest = nearest.min(run.nearest2(at));
            }
        }
    }
    nearest.sqrt() * if inside { 1.0 } else { -1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_stands_in_the_wide_part_and_never_in_a_hole() {
        // A wide square with a long narrow arm to the east.
        let hook = vec![
            [0, 0],
            [100, 0],
            [100, 45],
            [900, 45],
            [900, 55],
            [100, 55],
            [100, 100],
            [0, 100],
        ];
        let found = middle(&[hook], 1.0, 0.5).unwrap();
        assert!((found.radius - 50.0).abs() < 1.0, "{found:?}");
        assert!(found.at[0] < 60.0);
        // A ring around a hole: the label is in the ring.
        let square = |low: i64, high: i64| vec![[low, low], [high, low], [high, high], [low, high]];
        let found = middle(&[square(0, 100), square(20, 100 - 10)], 1.0, 0.5).unwrap();
        assert!((found.radius - 10.0).abs() < 2.0, "{found:?}");
        assert!(found.at[0] < 20.0 || found.at[1] < 20.0, "{found:?}");
    }

    /// Distances by runs are those from all edges, one by one.
    #[test]
    fn distances_are_those_from_the_nearest_of_all_edges() {
        let ring = |radius: f64| -> Vec<[i64; 2]> {
            let point = |nth: i32| {
                let (sine, cosine) = (f64::from(nth) * 0.021).sin_cos();
                let away = radius * (1.0 + 0.3 * (f64::from(nth) * 0.4).sin());
                [(away * cosine) as i64, (away * sine) as i64]
            };
            (0..299).map(point).collect()
        };
        let rings = [ring(1000.0), ring(300.0)];
        let outlines: Vec<Outline> = rings.iter().map(|ring| Outline::of(ring)).collect();
        let plain = |[x, y]: [f64; 2]| {
            let (mut inside, mut nearest) = (false, f64::INFINITY);
            for ring in &rings {
                for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
                    let [[ax, ay], [bx, by]] = [a, b].map(|at| at.map(|number| number as f64));
                    inside ^= (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax);
                    let [dx, dy] = [bx - ax, by - ay];
                    let long2 = dx * dx + dy * dy;
                    let along = ((x - ax) * dx + (y - ay) * dy) / long2;
                    let along = if long2 > 0.0 {
                        along.clamp(0.0, 1.0)
                    } else {
                        0.0
                    };
                    let [px, py] = [x - ax - along * dx, y - ay - along * dy];
                    nearest = f64::min(nearest, px * px + py * py);
                }
            }
            nearest.sqrt() * if inside { 1.0 } else { -1.0 }
        };
        for nth in 0..4000 {
            let at = [nth % 63, nth / 63].map(|number| f64::from(number) * 47.5 - 1500.0);
            assert_eq!(distance(at, &outlines), plain(at), "{at:?}");
        }
    }

    #[test]
    fn a_sliver_gets_no_label() {
        assert_eq!(middle(&[vec![[0, 0], [100, 0], [100, 3]]], 2.0, 0.5), None);
        assert_eq!(middle(&[], 2.0, 0.5), None);
    }
}
