//! Lines parallel to a curve, one working width apart, and the lanes of sections along them.
//!
//! The land on one side of the curve is a region; the region moved inwards by a distance (`geometry::offset`) has
//! the parallel as its border (`parallels.rs`), so a parallel never crosses itself: where it would fold, it has a corner or ends.

use super::SwitchRule;
use super::borders::{Borders, bounds};
use super::frame::{Edge, Turned};
use super::lane::{self, Drilled, Slab};
use super::parallels::{Guide, Parallels};
use super::path::Path;
use crate::geometry::thin::{distance_m, thinned};
use crate::geometry::{Pt, Ring, Shape};
use crate::land::{Land, guide_extended};
use rstar::AABB;

/// A way along a strip, in the direction of the guide.
pub(super) type Line = Vec<[f64; 2]>;

/// The arc around the field that closes a region is drawn in steps of this angle, degrees; it is far away.
const STEP_DEG: f64 = 5.0;

/// Arcs around bends of the curve come in chords; what lies within this of a longer chord goes, m.
const FINE_M: f64 = 0.005;

/// Borders within this of a lane are looked at, m.
const NEAR_M: f64 = 1e-3;

/// Strips from the right of the guide to its left, each with its lines in the order in which they are met; strips
/// that do not reach the interior are left out at both ends. Empty where the guide is no curve.
pub(super) fn strips(land: &Land, interior: &Borders, width_m: f64) -> Vec<Vec<Line>> {
    let Some(guide) = land.guide.as_ref().filter(|_| land.is_curved()) else {
        return Vec::new();
    };
    let (line, middle, radius) = guide_extended(guide, &land.field);
    let far = Far {
        middle,
        near_m: radius + width_m,
        closing_m: 5.0 * radius + 10.0 * width_m,
    };
    let most = (2.0 * radius / width_m).ceil() as usize + 1;
    let guide = Guide::of(&line);
    let side = |region: Option<Shape>, backwards: bool| -> Vec<Vec<Line>> {
        let mut parallels = Parallels::of(region, &guide, width_m);
        let lines = (1..=most).map(|_| far.lines(parallels.advance(), backwards));
        // Once none is near the field, all others lie beyond.
        lines.take_while(|lines| !lines.is_empty()).collect()
    };
    let mut strips = side(far.region(&line, true), true);
    strips.reverse();
    strips.push(vec![line.clone()]);
    strips.extend(side(far.region(&line, false), false));
    let reaches = |lines: &Vec<Line>| {
        lines.iter().any(|line| {
            let path = Path::new(line, false);
            let half = width_m / 2.0;
            let slabs = along(&path, interior, [-half, half]);
            !lane::drilled(&slabs, width_m, SwitchRule::AnyPartIn)
                .on_m
                .is_empty()
        })
    };
    let first = strips.iter().position(reaches).unwrap_or(strips.len());
    let end = strips.iter().rposition(reaches).map_or(0, |last| last + 1);
    strips.truncate(end);
    strips.drain(..first.min(end));
    strips
}

/// The surroundings of a field.
struct Far {
    middle: [f64; 2],
    /// What lies farther from the middle is not near the field, m.
    near_m: f64,
    /// Radius of the circle that closes a region, m.
    closing_m: f64,
}

impl Far {
    /// The region on one side of a line that leads past the field on both ends, within a circle; `None` beyond the
    /// plane's grid.
    fn region(&self, line: &[[f64; 2]], right: bool) -> Option<Shape> {
        let mut inside: Line = line.to_vec();
        let ends = [self.on_circle(line.get(1)?, line.first()?)?, {
            let [.., before, last] = line else {
                return None;
            };
            self.on_circle(before, last)?
        }];
        if let Some(first) = inside.first_mut() {
            *first = ends[0];
        }
        if let Some(last) = inside.last_mut() {
            *last = ends[1];
        }
        if right {
            inside.reverse();
        }
        let angle = |[x, y]: [f64; 2]| (y - self.middle[1]).atan2(x - self.middle[0]);
        let from = angle(*inside.last()?);
        let turn = (angle(*inside.first()?) - from).rem_euclid(std::f64::consts::TAU);
        let steps = (turn.to_degrees() / STEP_DEG).ceil().max(1.0);
        for step in 1..steps as usize {
            let (sine, cosine) = (from + turn * step as f64 / steps).sin_cos();
            inside.push([
                self.middle[0] + self.closing_m * cosine,
                self.middle[1] + self.closing_m * sine,
            ]);
        }
        let exterior: Option<Ring> = inside.iter().map(|&place| Pt::from_metres(place)).collect();
        Some(Shape {
            exterior: exterior?,
            holes: Vec::new(),
        })
    }

    /// Where the ray from one point through the next leaves the circle.
    fn on_circle(&self, from: &[f64; 2], to: &[f64; 2]) -> Option<[f64; 2]> {
        let way = [to[0] - from[0], to[1] - from[1]];
        let length = way[0].hypot(way[1]);
        let along = way.map(|d| d / length);
        let start = [from[0] - self.middle[0], from[1] - self.middle[1]];
        let towards = start[0] * along[0] + start[1] * along[1];
        let rest = self.closing_m.powi(2) - (start[0].powi(2) + start[1].powi(2) - towards.powi(2));
        let metres = rest.sqrt() - towards;
        (metres.is_finite() && metres > 0.0)
            .then(|| [from[0] + metres * along[0], from[1] + metres * along[1]])
    }

    /// The borders of shapes as far as they lie near the field.
    fn lines(&self, shapes: &[Shape], backwards: bool) -> Vec<Line> {
        let mut lines = Vec::new();
        for ring in shapes.iter().flat_map(Shape::rings) {
            let mut points: Line = ring.iter().map(|point| point.metres()).collect();
            points.extend(points.first().copied());
            let near = |pair: &[[f64; 2]]| matches!(pair, &[a, b] if distance_m(self.middle, [a, b]) < self.near_m);
            // Begun where the ring is far away, so that no line is cut in two.
            let start = points.windows(2).position(|pair| !near(pair)).unwrap_or(0);
            points.pop();
            points.rotate_left(start);
            points.extend(points.first().copied());
            let mut line: Line = Vec::new();
            for pair in points.windows(2) {
                let &[a, b] = pair else { continue };
                if near(pair) {
                    if line.is_empty() {
                        line.push(a);
                    }
                    line.push(b);
                } else if !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
            }
            if !line.is_empty() {
                lines.push(line);
            }
        }
        for line in &mut lines {
            *line = thinned(line, FINE_M);
            if backwards {
                line.reverse();
            }
        }
        lines
    }
}

/// The width of a lane (metres to the left: from, to) inside the land, by station along a path: square to the way,
/// straight piece by straight piece.
pub(super) fn along(path: &Path, land: &Borders, [lo, hi]: [f64; 2]) -> Vec<Slab> {
    let mut slabs = Vec::new();
    for (start, end, from_m) in path.straights() {
        let way = [end[0] - start[0], end[1] - start[1]];
        let turned = Turned::to(way[0].atan2(way[1]).to_degrees());
        let [u, v] = turned.of(start);
        let (stations, lane) = ([u, u + way[0].hypot(way[1])], [v + lo, v + hi]);
        let corner = |nth: usize| turned.back([stations[nth % 2], lane[nth / 2]]);
        let [low, high] = bounds(&[0, 1, 2, 3].map(corner));
        // A hair more, for edges that only touch the lane.
        let around = AABB::from_corners(low.map(|m| m - NEAR_M), high.map(|m| m + NEAR_M));
        let near = land.near(&around).map(|edge| Edge {
            from: turned.of(edge.from),
            to: turned.of(edge.to),
        });
        let near: Vec<Edge> = near.collect();
        let at = |place: [f64; 2]| land.at(turned.back(place));
        for slab in lane::between(&near, lane, stations, &at) {
            slabs.push(slab.moved(from_m - u));
        }
    }
    slabs
}

/// What a lane along a path drills by a rule.
pub(super) fn drilled(path: &Path, land: &Borders, lane: [f64; 2], rule: SwitchRule) -> Drilled {
    lane::drilled(&along(path, land, lane), lane[1] - lane[0], rule)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_led_on_to_the_circle_around_the_field() {
        let far = Far {
            middle: [100.0, 50.0],
            near_m: 1.0,
            closing_m: 10.0,
        };
        let on = |from, to| far.on_circle(&from, &to);
        // A triangle of 6, 8 and 10; from the far side through the middle; away from the circle there is none.
        assert_eq!(on([100.0, 50.0], [103.0, 54.0]), Some([106.0, 58.0]));
        assert_eq!(on([94.0, 50.0], [95.0, 50.0]), Some([110.0, 50.0]));
        assert_eq!(on([111.0, 50.0], [112.0, 50.0]), None);
    }
}
