//! Borders without stairs: every border is moved by less than half a pixel, both sides alike.

use super::regions::{NO_CLASS, Regions};
use super::trace::{Corner, at, borders_at};

/// A place in pixels from the top left.
pub(super) type Spot = [f64; 2];

/// How often each point takes a quarter of its neighbours. Eight level a stair whose steps are three
/// pixels long to a tenth of a pixel.
const TIMES: usize = 8;
/// A border is moved by less than this many pixels, across and along, from the middles of the pixels'
/// sides. Borders without a common corner lie a pixel apart, so they cannot meet.
const MOST: f64 = 0.49;

/// A smoothed ring.
pub(super) struct Smoothed {
    pub ring: Vec<Spot>,
    /// Pixels that the zone gained within it (lost, where it is a hole's ring and the hole grew), each
    /// weighed by how much the corner beside it counts.
    pub gained: f64,
}

/// Smooths a ring of a traced outline: the points are the middles of the sides, averaged with their
/// neighbours. Corners where three or more borders meet, and land without a value, stay as they are; the
/// nearer to such a corner, the less may move. So no two borders cross, and what one zone loses its neighbour gains. `counts` says how much what
/// changes at a corner counts, 0 to 1.
///
/// The arithmetic does not depend on the direction, so both neighbours of a border get the same points.
pub(super) fn smooth(
    ring: &[Corner],
    regions: &Regions,
    counts: &dyn Fn(Corner) -> f64,
) -> Smoothed {
    let corners = all_corners(ring);
    let fixed: Vec<usize> = (0..corners.len())
        .filter(|&n| is_fixed(regions, corners[n]))
        .collect();
    // Each point, and whether it stays.
    let mut out: Vec<(Spot, bool)> = Vec::new();
    let mut gained = 0.0;
    let moved =
        |spots: &[Spot]| -> Vec<(Spot, bool)> { spots.iter().map(|spot| (*spot, false)).collect() };
    let corner = |n: usize| corners[n % corners.len()];
    match fixed.first() {
        // An island: one chain that closes.
        None => {
            let middles: Vec<Spot> = sides(&corners, 0, corners.len());
            let away = vec![f64::INFINITY; middles.len()];
            let now = levelled(&middles, &away, None);
            for n in 0..middles.len() {
                let next = (n + 1) % middles.len();
                let bend = corner(n + 1);
                let change = [now[n], now[next], middles[next], spot(bend), middles[n]];
                gained += counts(bend) * area(&change);
            }
            out.extend(moved(&now));
        }
        Some(&first) => {
            for (nth, &from) in fixed.iter().enumerate() {
                let to = fixed.get(nth + 1).copied().unwrap_or(first + corners.len());
                let ends = [spot(corner(from)), spot(corner(to))];
                let middles = sides(&corners, from, to);
                let away: Vec<f64> = middles
                    .iter()
                    .map(|middle| largest(*middle, ends[0]).min(largest(*middle, ends[1])))
                    .collect();
                let now = levelled(&middles, &away, Some(ends));
                for n in 0..middles.len() - 1 {
                    let bend = corner(from + n + 1);
                    let change = [now[n], now[n + 1], middles[n + 1], spot(bend), middles[n]];
                    gained += counts(bend) * area(&change);
                }
                let last = middles.len() - 1;
                gained += counts(corner(from)) * area(&[ends[0], now[0], middles[0]]);
                gained += counts(corner(to)) * area(&[now[last], ends[1], middles[last]]);
                // One that is fixed for want of land beside it is not needed in a run.
                out.push((ends[0], borders_at(regions, corner(from)) > 2));
                out.extend(moved(&now));
            }
        }
    }
    Smoothed {
        ring: straightened(&out),
        gained,
    }
}

/// A corner that three or more borders share, where a zone touches itself, or at land without a value
/// or the end of the grid, which keep their shape.
fn is_fixed(regions: &Regions, corner: Corner) -> bool {
    let [column, row] = corner;
    let around = [[0, 0], [1, 0], [0, 1], [1, 1]].map(|[c, r]| [column - c, row - r]);
    borders_at(regions, corner) > 2 || around.iter().any(|&pixel| at(regions, pixel) == NO_CLASS)
}

/// The ring with the corners in its straight runs.
fn all_corners(ring: &[Corner]) -> Vec<Corner> {
    let mut all = Vec::new();
    for (n, &[x0, y0]) in ring.iter().enumerate() {
        let [x1, y1] = ring[(n + 1) % ring.len()];
        let (dx, dy) = ((x1 - x0).signum(), (y1 - y0).signum());
        let steps = (x1 - x0).abs().max((y1 - y0).abs());
        all.extend((0..steps).map(|step| [x0 + step * dx, y0 + step * dy]));
    }
    all
}

fn spot([x, y]: Corner) -> Spot {
    [x as f64, y as f64]
}

/// Middles of the sides from one corner to another.
fn sides(corners: &[Corner], from: usize, to: usize) -> Vec<Spot> {
    let corner = |n: usize| spot(corners[n % corners.len()]);
    (from..to)
        .map(|n| {
            let (a, b) = (corner(n), corner(n + 1));
            [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]
        })
        .collect()
}

fn largest(a: Spot, b: Spot) -> f64 {
    (a[0] - b[0]).abs().max((a[1] - b[1]).abs())
}

/// Averages; `away` is how far each point is from a fixed corner. Without `ends` the chain closes.
fn levelled(middles: &[Spot], away: &[f64], ends: Option<[Spot; 2]>) -> Vec<Spot> {
    let count = middles.len();
    let mut now = middles.to_vec();
    for _ in 0..TIMES {
        let before = |n: usize| match (n, ends) {
            (0, Some([start, _])) => start,
            (0, None) => now[count - 1],
            (n, _) => now[n - 1],
        };
        let after = |n: usize| match (n + 1 == count, ends) {
            (true, Some([_, end])) => end,
            (true, None) => now[0],
            (false, _) => now[n + 1],
        };
        let next: Vec<Spot> = (0..count)
            .map(|n| {
                let (a, b) = (before(n), after(n));
                let most = MOST * away[n].min(1.0);
                std::array::from_fn(|axis| {
                    // The sum of the two neighbours is the same from either side.
                    let mean = (a[axis] + b[axis]) / 4.0 + now[n][axis] / 2.0;
                    mean.clamp(middles[n][axis] - most, middles[n][axis] + most)
                })
            })
            .collect();
        now = next;
    }
    now
}

/// Leaves out moved points in runs along a row or a column.
fn straightened(ring: &[(Spot, bool)]) -> Vec<Spot> {
    let count = ring.len();
    let needed = |n: usize| {
        let (a, b, c) = (
            ring[(n + count - 1) % count].0,
            ring[n].0,
            ring[(n + 1) % count].0,
        );
        let in_run = (0..2).any(|axis| a[axis] == b[axis] && b[axis] == c[axis]);
        ring[n].1 || !in_run
    };
    (0..count)
        .filter(|&n| needed(n))
        .map(|n| ring[n].0)
        .collect()
}

/// Area of a ring in pixels; positive where it runs clockwise on the screen.
pub(super) fn area(ring: &[Spot]) -> f64 {
    let twice: f64 = (0..ring.len())
        .map(|n| {
            let ([x0, y0], [x1, y1]) = (ring[n], ring[(n + 1) % ring.len()]);
            x0 * y1 - x1 * y0
        })
        .sum();
    twice / 2.0
}

#[cfg(test)]
mod tests {
    use super::super::test_grids::grids;
    use super::super::trace::{area2, outlines};
    use super::*;
    use std::collections::BTreeMap;

    type Piece = [[u64; 2]; 2];

    /// Rings of every region, smoothed.
    fn smoothed(regions: &Regions) -> Vec<Vec<Vec<Spot>>> {
        let rings = |outline: &super::super::trace::Outline| {
            std::iter::once(&outline.exterior)
                .chain(&outline.holes)
                .map(|ring| {
                    let smoothed = smooth(ring, regions, &|_| 1.0);
                    let change = area(&smoothed.ring) - area2(ring) as f64 / 2.0;
                    assert!((smoothed.gained - change).abs() < 1e-9, "{ring:?}");
                    moved_little(ring, &smoothed.ring);
                    smoothed.ring
                })
                .collect()
        };
        outlines(regions).iter().map(rings).collect()
    }

    /// Every point lies less than half a pixel from where the ring was: from the middle of a side, or on a corner.
    fn moved_little(ring: &[Corner], smoothed: &[Spot]) {
        let corners = all_corners(ring);
        let middles = sides(&corners, 0, corners.len());
        for spot in smoothed {
            let near = middles
                .iter()
                .any(|middle| largest(*spot, *middle) <= MOST + 1e-12);
            let kept = corners.iter().any(|corner| super::spot(*corner) == *spot);
            assert!(near || kept, "{spot:?} of {ring:?}");
        }
    }

    fn check(classes: &[u8], columns: usize) {
        let regions = Regions::of(classes, columns, classes.len() / columns);
        let all = smoothed(&regions);
        // Both sides of a border have the same pieces, to the last bit.
        let mut pieces: BTreeMap<Piece, (i32, i32)> = BTreeMap::new();
        let mut land = 0.0;
        for rings in &all {
            let own: f64 = rings.iter().map(|ring| area(ring)).sum();
            assert!(own > 0.0, "a zone vanished: {classes:?}");
            land += own;
            for ring in rings {
                for n in 0..ring.len() {
                    let bits = |spot: Spot| spot.map(f64::to_bits);
                    let (a, b) = (bits(ring[n]), bits(ring[(n + 1) % ring.len()]));
                    let entry = pieces.entry([a.min(b), a.max(b)]).or_default();
                    if a < b { entry.0 += 1 } else { entry.1 += 1 }
                }
            }
        }
        assert!(
            pieces
                .values()
                .all(|&(there, back)| there <= 1 && back <= 1)
        );
        // Pieces meet at their ends only, so no zone reaches into another.
        let segments: Vec<[Spot; 2]> = pieces
            .keys()
            .map(|ends| ends.map(|end| end.map(f64::from_bits)))
            .collect();
        for (n, a) in segments.iter().enumerate() {
            for b in &segments[..n] {
                let shared = a.iter().any(|end| b.contains(end));
                assert!(shared || !cross(*a, *b), "{a:?} {b:?} of {classes:?}");
            }
        }
        // Zones that fill the grid still fill what its rounded corners leave.
        if !classes.contains(&NO_CLASS) {
            let outer: f64 = pieces
                .iter()
                .filter(|(_, (there, back))| there + back == 1)
                .map(|([a, b], (there, _))| {
                    let [a, b] = [a, b].map(|end| end.map(f64::from_bits));
                    let twice = a[0] * b[1] - b[0] * a[1];
                    if *there == 1 {
                        twice / 2.0
                    } else {
                        -twice / 2.0
                    }
                })
                .sum();
            assert!((land - outer).abs() < 1e-9, "{land} {outer}");
        }
    }

    fn cross(a: [Spot; 2], b: [Spot; 2]) -> bool {
        let side = |[p, q]: [Spot; 2], r: Spot| {
            (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
        };
        let apart = (0..2).any(|axis| {
            let ends = |[p, q]: [Spot; 2]| (p[axis].min(q[axis]), p[axis].max(q[axis]));
            ends(a).1 < ends(b).0 || ends(b).1 < ends(a).0
        });
        !apart && side(a, b[0]) * side(a, b[1]) <= 0.0 && side(b, a[0]) * side(b, a[1]) <= 0.0
    }

    #[test]
    fn smoothed_borders_are_shared_and_never_cross() {
        for (classes, columns) in grids() {
            check(&classes, columns);
        }
    }

    #[test]
    fn a_stair_becomes_a_slope() {
        // Steps three pixels long: the border of a line that falls by one in three.
        let (columns, rows) = (60, 30);
        let classes: Vec<u8> = (0..columns * rows)
            .map(|at| u8::from(at / columns > 4 + at % columns / 3))
            .collect();
        let regions = Regions::of(&classes, columns, rows);
        let off = |ring: &[Spot]| {
            ring.iter()
                .filter(|[x, _]| (12.0..48.0).contains(x))
                .map(|[x, y]| (y - (5.0 + (x - 1.5) / 3.0)).abs())
                .filter(|off| *off < 3.0)
                .fold(0.0, f64::max)
        };
        let upper = &smoothed(&regions)[0][0];
        assert!(off(upper) < 0.11, "{}", off(upper));
    }
}
