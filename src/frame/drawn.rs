//! Edges that are straight in the plane, for files whose readers draw straight lines in degrees: points are put
//! where such a line would stray. Method: docs/methods/frame.md, 'Edges in files'.

use super::plane::Frame;
use crate::coordinates::{LonLat, PlaneXy};

/// How far a line that a reader draws in degrees may lie beside the straight edge in the plane, metres.
pub const DRAWN_M: f64 = 0.000_3;
/// Edges longer than this get points in any case, metres: beyond it higher terms count.
const LONGEST_M: f64 = 5_000.0;
/// Mean radius of the Earth, metres.
const EARTH_M: f64 = 6_371_000.0;
/// Largest value of c (2 - c^2), which it has at c = sqrt(2 / 3).
const STEEPEST: f64 = 1.088_662_107_903_635;

/// How strongly straight lines of the plane bend in degrees, at most, over a field.
///
/// An edge of length L whose share east is c lies beside its chord by L^2 / 8 times
/// c (2 - c^2) tan(latitude) / R + (1 + 2 tan^2(latitude)) x / R^2 at the distance x from the middle meridian:
/// second derivatives of longitude x / (R cos(latitude)) and of latitude y / R - x^2 tan(latitude) / (2 R^2)
/// along the edge (derived; held against the frame itself in the tests).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bend {
    of_direction: f64,
    of_reach: f64,
    /// Edges up to this length are straight enough whatever their direction, metres.
    pub longest_straight_m: f64,
}

impl Bend {
    /// For a field about this latitude (degrees) that reaches so far east and north of its middle, metres.
    pub(super) fn about(latitude: f64, reach_m: [f64; 2]) -> Self {
        let tangent = (latitude.abs().to_radians() + reach_m[1] / EARTH_M).tan();
        let of_direction = tangent / EARTH_M;
        let of_reach = (1.0 + 2.0 * tangent * tangent) * reach_m[0] / (EARTH_M * EARTH_M);
        let most = STEEPEST * of_direction + of_reach;
        Self {
            of_direction,
            of_reach,
            longest_straight_m: (8.0 * DRAWN_M / most).sqrt().min(LONGEST_M),
        }
    }

    /// In how many equal pieces an edge is drawn.
    fn pieces(&self, [a, b]: [PlaneXy; 2]) -> u32 {
        let [dx, dy] = [b.x - a.x, b.y - a.y];
        let length2 = dx * dx + dy * dy;
        if length2 <= self.longest_straight_m * self.longest_straight_m {
            return 1;
        }
        let east2 = dx * dx / length2;
        let bend = self.of_direction * east2.sqrt() * (2.0 - east2) + self.of_reach;
        let by_bend = (length2 * bend / (8.0 * DRAWN_M)).sqrt();
        by_bend.max(length2.sqrt() / LONGEST_M).ceil().max(1.0) as u32
    }

    /// Appends the points between the ends of an edge, in the plane. Both ways along an edge give the same points.
    fn between(&self, [from, to]: [PlaneXy; 2], path: &mut Vec<PlaneXy>) {
        let pieces = self.pieces([from, to]);
        let reversed = (from.x, from.y) > (to.x, to.y);
        let [a, b] = if reversed { [to, from] } else { [from, to] };
        for nth in 1..pieces {
            let nth = if reversed { pieces - nth } else { nth };
            let share = f64::from(nth) / f64::from(pieces);
            path.push(PlaneXy::new(
                a.x + share * (b.x - a.x),
                a.y + share * (b.y - a.y),
            ));
        }
    }
}

impl Frame {
    /// The longest edge of the plane that a file may hold without points between, whatever its direction, metres.
    pub fn longest_straight_m(&self) -> f64 {
        self.bend().longest_straight_m
    }

    /// A line of the plane (metres) as a file in degrees holds it: straight lines between the places given lie
    /// within [`DRAWN_M`] of the edges. Borders get the same points from both of their sides.
    pub fn line_in_degrees(&self, line: impl IntoIterator<Item = PlaneXy>) -> Vec<LonLat> {
        let bend = self.bend();
        let mut path: Vec<PlaneXy> = Vec::new();
        for point in line {
            if let Some(&before) = path.last() {
                bend.between([before, point], &mut path);
            }
            path.push(point);
        }
        self.all_to_lon_lat(path)
    }

    /// The same for a ring, which comes open and leaves closed.
    pub fn ring_in_degrees(&self, ring: impl ExactSizeIterator<Item = PlaneXy>) -> Vec<LonLat> {
        let bend = self.bend();
        // With room for the point that closes it: a full list would double its room.
        let mut path: Vec<PlaneXy> = Vec::with_capacity(ring.len() + 1);
        for point in ring {
            if let Some(&before) = path.last() {
                bend.between([before, point], &mut path);
            }
            path.push(point);
        }
        if let (Some(&first), Some(&last)) = (path.first(), path.last()) {
            bend.between([last, first], &mut path);
        }
        let mut path = self.all_to_lon_lat(path);
        path.extend(path.first().copied());
        path
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How far the middle of each piece in degrees lies beside the edge in the plane, metres.
    fn strays(frame: &Frame, [a, b]: [[f64; 2]; 2]) -> f64 {
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let drawn = frame.line_in_degrees([a, b].map(PlaneXy::of_pair));
        let beside = |pair: &[LonLat]| {
            let [lon, lat] =
                [0, 1].map(|axis: usize| (pair[0].pair()[axis] + pair[1].pair()[axis]) / 2.0);
            let middle = LonLat::new(lon, lat);
            let PlaneXy { x, y } = frame.to_plane(middle);
            ((x - a[0]) * dy - (y - a[1]) * dx).abs() / dx.hypot(dy)
        };
        drawn.windows(2).map(beside).fold(0.0, f64::max)
    }

    #[test]
    fn edges_of_any_length_and_direction_are_drawn_within_the_tolerance() {
        let mut longest_stray: f64 = 0.0;
        for latitude in [-70.0, -35.0, 0.0, 12.0, 54.8, 70.0] {
            for reach in [200.0, 5_000.0, 60_000.0] {
                let about = Frame::about(2.5, latitude);
                let corners = [[-reach, -reach], [reach, reach]]
                    .map(|xy| about.to_lon_lat(PlaneXy::of_pair(xy)));
                let frame = Frame::centred_on(&corners).unwrap();
                for length in [50.0, 130.0, 400.0, 1_900.0, 12_000.0] {
                    for turn in 0..12 {
                        let (sine, cosine) = (f64::from(turn) * 0.3).sin_cos();
                        let along = [length * cosine, length * sine];
                        // The edge ends at the corner of the field farthest to the east.
                        let from = [reach - along[0].max(0.0), reach - along[1].max(0.0)];
                        let to = [from[0] + along[0], from[1] + along[1]];
                        if from[0] < -reach || to[0] < -reach || to[1] < -reach {
                            continue;
                        }
                        let stray = strays(&frame, [from, to]);
                        longest_stray = longest_stray.max(stray);
                        assert!(
                            stray <= 1.02 * DRAWN_M,
                            "{latitude} {reach} {length} {turn}: {stray}"
                        );
                    }
                }
            }
        }
        // No points are wasted either.
        assert!(longest_stray > 0.8 * DRAWN_M, "{longest_stray}");
    }

    #[test]
    fn both_sides_of_a_border_get_the_same_points() {
        let frame =
            Frame::centred_on(&[LonLat::new(8.98, 52.99), LonLat::new(9.02, 53.01)]).unwrap();
        let (a, b) = (PlaneXy::new(-800.0, 13.0), PlaneXy::new(755.5, 40.25));
        let forth = frame.line_in_degrees([a, b]);
        let mut back = frame.line_in_degrees([b, a]);
        back.reverse();
        assert!(forth.len() > 8);
        assert_eq!(forth, back);
        let ring = frame.ring_in_degrees([a, b, PlaneXy::new(0.0, 300.0)].into_iter());
        assert_eq!(ring.first(), ring.last());
        assert_eq!(ring[..forth.len()], forth[..]);
    }
}
