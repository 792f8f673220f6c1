//! The line that the middle of the drill follows, and the ground that a part of its width covers.
//!
//! Stations are metres along the line; v is metres to its left. Between two straight pieces the ground
//! is shared along the line that halves the corner, so that it is neither lost nor covered twice.

mod ground;

use crate::geometry::{Pt, Ring};

/// Corners sharper than this (tangent of half the turn) are taken as a turn on the spot.
const SHARPEST: f64 = 50.0;

/// Stations that differ by less are the same: those late on a long way are sums of many lengths, m.
const SAME_M: f64 = 1e-7;

/// A straight piece.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Leg {
    start: [f64; 2],
    /// Of length 1.
    along: [f64; 2],
    length: f64,
    /// Station of its start.
    from_m: f64,
    /// Tangent of half the turn (left positive) at its start and end; 0 at the ends of an open line.
    half_turn: [f64; 2],
}

/// The ground that a part of the width covers on one straight piece.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cell {
    /// Which piece, from 0.
    pub leg: usize,
    pub start: [f64; 2],
    /// Of length 1.
    pub along: [f64; 2],
    pub length_m: f64,
    /// Station of its start.
    pub from_m: f64,
    /// Convex, counter-clockwise.
    pub ring: Vec<[f64; 2]>,
}

impl Cell {
    /// A place as metres along the piece and to its left.
    pub fn turned(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [east, north] = self.along;
        let [x, y] = [x - self.start[0], y - self.start[1]];
        [x * east + y * north, y * east - x * north]
    }

    /// The other way round.
    pub fn back(&self, [u, v]: [f64; 2]) -> [f64; 2] {
        let [east, north] = self.along;
        [
            self.start[0] + u * east - v * north,
            self.start[1] + u * north + v * east,
        ]
    }
}

/// A line to drive, in metres of the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    legs: Vec<Leg>,
    /// Whether it comes back to its start.
    pub closed: bool,
}

impl Path {
    /// A line through these points; a closed one goes back to the first. Points that coincide count
    /// once; fewer than two leave a line without length.
    pub fn new(points: &[[f64; 2]], closed: bool) -> Self {
        let mut points: Vec<[f64; 2]> = points.to_vec();
        if closed {
            points.extend(points.first().copied());
        }
        let mut legs: Vec<Leg> = Vec::new();
        let mut from_m = 0.0;
        for pair in points.windows(2) {
            let &[start, end] = pair else { continue };
            let way = [end[0] - start[0], end[1] - start[1]];
            let length = way[0].hypot(way[1]);
            if length > 0.0 {
                legs.push(Leg {
                    start,
                    along: way.map(|d| d / length),
                    length,
                    from_m,
                    half_turn: [0.0; 2],
                });
                from_m += length;
            }
        }
        let count = legs.len();
        for at in 0..count {
            let next = at + 1;
            if next == count && !closed {
                continue;
            }
            let (a, b) = (&legs[at], &legs[next % count]);
            let cross = a.along[0] * b.along[1] - a.along[1] * b.along[0];
            let dot = a.along[0] * b.along[0] + a.along[1] * b.along[1];
            let half = (cross.atan2(dot) / 2.0).tan();
            let half = if half.abs() > SHARPEST { 0.0 } else { half };
            legs[at].half_turn[1] = half;
            legs[next % count].half_turn[0] = half;
        }
        Self { legs, closed }
    }

    /// How many straight pieces it has.
    pub(super) fn legs(&self) -> usize {
        self.legs.len()
    }

    /// Whether it goes straight from its start to its end.
    pub(super) fn is_straight(&self) -> bool {
        self.legs.len() == 1 && !self.closed
    }

    /// The place so far along its first straight piece and to the left of that; before the start and past the end straight on.
    pub(super) fn beside_start(&self, station_m: f64, left_m: f64) -> [f64; 2] {
        let first = self.legs.first();
        first.map_or([0.0; 2], |leg| leg.at(station_m, left_m))
    }

    /// Its length, m.
    pub fn length_m(&self) -> f64 {
        self.legs.last().map_or(0.0, |leg| leg.from_m + leg.length)
    }

    /// Its corners in order, the first again at the end of a closed line.
    pub fn points(&self) -> Vec<[f64; 2]> {
        let end = self.legs.last().map(|leg| leg.at(leg.length, 0.0));
        self.legs.iter().map(|leg| leg.start).chain(end).collect()
    }

    /// Straight pieces: start, end, station of the start.
    pub fn straights(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2], f64)> {
        self.legs
            .iter()
            .map(|leg| (leg.start, leg.at(leg.length, 0.0), leg.from_m))
    }

    /// The part of an open line between two stations.
    pub fn between(&self, from_m: f64, to_m: f64) -> Self {
        let inside = self.legs.iter().map(|leg| (leg.from_m, leg.start));
        let inside = inside.filter(|(station, _)| *station > from_m && *station < to_m);
        let mut points = vec![self.at(from_m)];
        points.extend(inside.map(|(_, place)| place));
        points.push(self.at(to_m));
        Self::new(&points, false)
    }

    /// The own ground of each straight piece over a part of the width; pieces without any are left out.
    pub(super) fn cells(&self, left_m: [f64; 2]) -> Vec<Cell> {
        let legs = 0..self.legs.len();
        legs.filter_map(|leg| self.cell(leg, left_m)).collect()
    }

    /// The same of one straight piece.
    pub(super) fn cell(&self, nth: usize, left_m: [f64; 2]) -> Option<Cell> {
        let leg = self.legs.get(nth)?;
        let last = self.legs.len() - 1;
        let open = [nth == 0 && !self.closed, nth == last && !self.closed];
        Some(Cell {
            leg: nth,
            start: leg.start,
            along: leg.along,
            length_m: leg.length,
            from_m: leg.from_m,
            ring: leg.ground([0.0, leg.length], left_m, open)?,
        })
    }

    /// The place at a station; before the start and past the end straight on.
    pub fn at(&self, station_m: f64) -> [f64; 2] {
        let nth = self.legs.partition_point(|leg| leg.from_m <= station_m);
        let leg = self.legs.get(nth.saturating_sub(1));
        leg.map_or([0.0; 2], |leg| leg.at(station_m - leg.from_m, 0.0))
    }

    /// The line that lies so far to the left of this one between two stations: its straight pieces meet where the ground on both
    /// sides of it is shared.
    pub fn beside(&self, stations: [f64; 2], left_m: f64) -> Vec<[f64; 2]> {
        let mut points: Vec<[f64; 2]> = Vec::new();
        for (nth, [from, to], open) in self.parts(stations) {
            let leg = &self.legs[nth];
            let (from_corner, to_corner) = leg.ends_at_corners([from, to], open);
            let [start, end] = leg.half_turn;
            let from = if from_corner { left_m * start } else { from };
            let to = if to_corner {
                leg.length - left_m * end
            } else {
                to
            };
            // Inside a bend a short piece has nothing left.
            if to - from > SAME_M {
                points.extend([leg.at(from, left_m), leg.at(to, left_m)]);
            }
        }
        points.dedup_by(|a, b| (a[0] - b[0]).hypot(a[1] - b[1]) < SAME_M);
        points
    }

    /// The ground between two stations and two distances to the left: convex polygons,
    /// counter-clockwise, side by side, one per straight piece.
    pub fn ground(&self, stations: [f64; 2], left_m: [f64; 2]) -> Vec<Vec<[f64; 2]>> {
        let parts = self.parts(stations);
        let pieces =
            parts.filter_map(|(nth, part, open)| self.legs[nth].ground(part, left_m, open));
        pieces.collect()
    }

    /// The straight pieces between two stations: which, from where to where along it, and whether the line ends at its
    /// start and its end.
    fn parts(&self, stations: [f64; 2]) -> impl Iterator<Item = (usize, [f64; 2], [bool; 2])> {
        let last = self.legs.len().saturating_sub(1);
        // Only the pieces at these stations. One more before: where two meet, stations are rounded sums.
        let [first, end] = [
            self.legs.partition_point(|leg| leg.from_m <= stations[0]),
            self.legs.partition_point(|leg| leg.from_m < stations[1]),
        ];
        let near = first.saturating_sub(2)..end.max(1);
        let legs = self.legs.iter().enumerate().take(near.end);
        legs.skip(near.start).filter_map(move |(nth, leg)| {
            let [from, to] = stations.map(|station| station - leg.from_m);
            let open = [nth == 0 && !self.closed, nth == last && !self.closed];
            // A part that ends or begins at a corner has nothing of the piece behind it.
            let ends_before = to <= SAME_M && !open[0];
            let begins_after = from >= leg.length - SAME_M && !open[1];
            (!ends_before && !begins_after).then_some((nth, [from, to], open))
        })
    }
}

impl Leg {
    fn at(&self, u: f64, v: f64) -> [f64; 2] {
        let [east, north] = self.along;
        [
            self.start[0] + u * east - v * north,
            self.start[1] + u * north + v * east,
        ]
    }
}

/// Area of a ring, counter-clockwise positive, m2.
pub(super) fn area_m2(ring: &[[f64; 2]]) -> f64 {
    let Some(&[x, y]) = ring.first() else {
        return 0.0;
    };
    let pairs = ring.windows(2);
    let twice = pairs.map(|pair| match pair {
        &[a, b] => (a[0] - x) * (b[1] - y) - (a[1] - y) * (b[0] - x),
        _ => 0.0,
    });
    twice.sum::<f64>() / 2.0
}

/// The ring on the plane's grid; `None` beyond it.
pub(super) fn on_grid(ring: &[[f64; 2]]) -> Option<Ring> {
    ring.iter().map(|&place| Pt::from_metres(place)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn total(path: &Path, stations: &[f64], left: [f64; 2]) -> f64 {
        let pairs = stations.windows(2);
        pairs
            .flat_map(|pair| path.ground([pair[0], pair[1]], left))
            .map(|ring| area_m2(&ring))
            .sum()
    }

    #[test]
    fn the_ground_of_a_ring_is_the_band_between_its_parallels() {
        // A square of 100 m, driven counter-clockwise, 3 m to both sides: 106^2 - 94^2.
        let path = Path::new(
            &[[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]],
            true,
        );
        assert_eq!(path.length_m(), 400.0);
        let band = 106.0f64.powi(2) - 94.0f64.powi(2);
        for stations in [
            vec![0.0, 400.0],
            vec![0.0, 1.0, 99.5, 100.0, 101.0, 250.0, 400.0],
        ] {
            assert!((total(&path, &stations, [-3.0, 3.0]) - band).abs() < 1e-9);
            // The outer half is on the right.
            let outer = 106.0f64.powi(2) - 100.0f64.powi(2);
            assert!((total(&path, &stations, [-3.0, 0.0]) - outer).abs() < 1e-9);
        }
    }

    /// Whatever its lengths add up to, the last piece has its half of the corner where a ring closes.
    #[test]
    fn a_ring_closes_at_every_corner_it_can_begin_at() {
        let corners = [
            [0.1, 0.2],
            [100.3, 0.7],
            [81.9, 63.3],
            [40.7, 90.1],
            [-7.3, 55.9],
        ];
        for first in 0..corners.len() {
            for scale in 1..60 {
                let mut points = corners.map(|at| at.map(|m| m * (1.0 + f64::from(scale) / 7.0)));
                points.rotate_left(first);
                let path = Path::new(&points, true);
                let band = total(&path, &[0.0, path.length_m()], [-3.0, 3.0]);
                // Corners halved on both sides: as large as the middle line times the width.
                assert!(
                    (band - 6.0 * path.length_m()).abs() < 1e-6,
                    "{first} {scale}"
                );
            }
        }
    }

    /// Pieces are looked up by their stations: none is missed or counted twice, wherever the stations lie.
    #[test]
    fn parts_of_a_long_line_add_up_to_the_whole() {
        let corner = |k: u32| {
            let (sine, cosine) = (f64::from(k) / 400.0 * std::f64::consts::TAU).sin_cos();
            let radius = 300.0 + 5.0 * f64::from(k % 3);
            [radius * cosine, radius * sine]
        };
        let corners: Vec<[f64; 2]> = (0..400).map(corner).collect();
        for closed in [true, false] {
            let path = Path::new(&corners, closed);
            let at_corners = path.straights().map(|(_, _, station)| station);
            let between = (0..97).map(|k| path.length_m() * f64::from(k) / 97.0);
            let mut stations: Vec<f64> = at_corners.chain(between).collect();
            stations.extend([path.length_m()]);
            stations.sort_by(f64::total_cmp);
            let [parts, whole] = [stations.as_slice(), &[0.0, path.length_m()]]
                .map(|stations| total(&path, stations, [-3.0, 3.0]));
            assert!((parts - whole).abs() < 1e-6, "{closed}: {parts} {whole}");
        }
    }

    /// The same ground in a few polygons: a round way of 400 pieces takes no more than its bends of 45 degrees ask for.
    #[test]
    fn bands_are_the_ground_of_their_pieces() {
        let mut random = super::super::test_numbers::random_numbers(31);
        for case in 0..40 {
            let wild = if case % 2 == 0 { 0.0 } else { 30.0 };
            let corners: Vec<[f64; 2]> = (0..400)
                .map(|k| {
                    let (sine, cosine) = (f64::from(k) / 400.0 * std::f64::consts::TAU).sin_cos();
                    let radius = 300.0 + wild * random();
                    [radius * cosine, radius * sine]
                })
                .collect();
            let path = Path::new(&corners, case % 4 < 2);
            let ends = [random(), random()].map(|share| share * path.length_m());
            let stations = match case % 3 {
                0 => [0.0, path.length_m()],
                _ => [ends[0].min(ends[1]), ends[0].max(ends[1])],
            };
            let left = [3.0 * random() - 4.0, 3.0 * random()];
            let bands = path.bands(stations, left);
            let pieces = path.ground(stations, left);
            let area =
                |rings: &[Vec<[f64; 2]>]| rings.iter().map(|ring| area_m2(ring)).sum::<f64>();
            let (got, expected) = (area(&bands), area(&pieces));
            assert!((got - expected).abs() < 1e-4, "{case}: {got} {expected}");
            assert!(bands.len() <= pieces.len());
            if wild == 0.0 {
                assert!(bands.len() <= 10, "{}", bands.len());
            }
        }
    }

    #[test]
    fn an_open_line_goes_straight_on_past_its_ends() {
        let path = Path::new(&[[0.0, 0.0], [0.0, 50.0]], false);
        let ground = path.ground([-5.0, 60.0], [-1.0, 2.0]);
        assert_eq!(ground.len(), 1);
        assert!((area_m2(&ground[0]) - 65.0 * 3.0).abs() < 1e-9);
        // Heading north, left is west.
        assert!(ground[0].iter().all(|[x, _]| (-2.0..=1.0).contains(x)));
        assert_eq!(path.at(55.0), [0.0, 55.0]);
    }

    #[test]
    fn points_that_coincide_and_lines_without_length_do_no_harm() {
        assert_eq!(Path::new(&[[1.0, 1.0], [1.0, 1.0]], false).length_m(), 0.0);
        assert!(
            Path::new(&[], true)
                .ground([0.0, 1.0], [0.0, 1.0])
                .is_empty()
        );
        // There and back: a turn on the spot.
        let path = Path::new(&[[0.0, 0.0], [10.0, 0.0], [0.0, 0.0]], false);
        assert!((total(&path, &[0.0, 20.0], [-1.0, 1.0]) - 40.0).abs() < 1e-9);
    }
}
