//! What tells whether land lies where it should, though its area and its extent are right: its middle, the length
//! of its border, and the points of its border added up.

use crate::coordinates::LonLat;
use crate::frame::ground_m2;
use crate::read::Polygon;
use crate::units::{M_PER_DEGREE, nearest_whole};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Steps in a degree: nine decimals, the coarsest of all files that hold polygons.
const STEPS_PER_DEGREE: f64 = 1e9;

/// Polygons in degrees by what they have in common however they are written.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Outline {
    /// On the ellipsoid, edges straight in degrees, m2.
    pub area_m2: f64,
    /// Weighted by area; `None` where there is none.
    pub middle: Option<LonLat>,
    /// Length of all rings, m.
    pub border_m: f64,
    pub points: Points,
}

/// The points of all rings, each once, rounded to nine decimals: how many there are, and their sums. One point
/// that lies elsewhere shows, wherever rings start and whichever way they run.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Points {
    /// How many there are.
    pub count: u64,
    /// Of longitudes and latitudes, in 1e-9 degrees.
    pub sums: [i64; 2],
}

impl Points {
    /// Those of these and others together.
    pub fn and(self, other: Self) -> Self {
        let sum = |axis: usize| self.sums[axis].wrapping_add(other.sums[axis]);
        Self {
            count: self.count + other.count,
            sums: [sum(0), sum(1)],
        }
    }

    /// Of a ring, closed or not. One that rounding leaves without area has none, as in files.
    fn of(ring: &[LonLat]) -> Self {
        let steps = |value: f64| nearest_whole(value * STEPS_PER_DEGREE);
        let mut points: Vec<[i64; 2]> = ring.iter().map(|place| place.pair().map(steps)).collect();
        points.dedup();
        if points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        let Some(&first) = points.first() else {
            return Self::default();
        };
        let from_first = |at: &[i64; 2]| [0, 1].map(|axis| i128::from(at[axis] - first[axis]));
        let ends = points.iter().cycle().skip(1);
        let twice: i128 = points
            .iter()
            .zip(ends)
            .map(|(a, b)| {
                let ([ax, ay], [bx, by]) = (from_first(a), from_first(b));
                ax * by - bx * ay
            })
            .sum();
        if points.len() < 3 || twice == 0 {
            return Self::default();
        }
        points.iter().fold(Self::default(), |sum, at| {
            sum.and(Self {
                count: 1,
                sums: *at,
            })
        })
    }
}

impl Outline {
    /// Of polygons in degrees.
    pub fn of(polygons: &[Polygon<LonLat>]) -> Self {
        let each = polygons.par_iter().with_min_len(64).map(Self::of_one);
        // Added up in order, for any number of threads.
        let each: Vec<Self> = each.collect();
        each.into_iter().fold(Self::default(), Self::and)
    }

    fn of_one(polygon: &Polygon<LonLat>) -> Self {
        let mut own = Self {
            area_m2: ground_m2(std::slice::from_ref(polygon)),
            middle: middle(polygon),
            ..Self::default()
        };
        for ring in std::iter::once(&polygon.exterior).chain(&polygon.holes) {
            own.border_m += length_m(ring);
            own.points = own.points.and(Points::of(ring));
        }
        own
    }

    /// Of this land and other land together.
    pub fn and(self, other: Self) -> Self {
        let area_m2 = self.area_m2 + other.area_m2;
        let middle = match (self.middle, other.middle) {
            (Some(own), Some(at)) => {
                let share = other.area_m2 / area_m2.max(f64::MIN_POSITIVE);
                Some(LonLat::new(
                    own.lon + (at.lon - own.lon) * share,
                    own.lat + (at.lat - own.lat) * share,
                ))
            }
            (own, at) => own.or(at),
        };
        Self {
            area_m2,
            middle,
            border_m: self.border_m + other.border_m,
            points: self.points.and(other.points),
        }
    }
}

/// Length of a ring in degrees, closed or not, m.
fn length_m(ring: &[LonLat]) -> f64 {
    let Some(LonLat { lat: latitude, .. }) = ring.first() else {
        return 0.0;
    };
    let shrink = latitude.to_radians().cos();
    let ends = ring.iter().cycle().skip(1);
    let steps = ring.iter().zip(ends);
    let degrees: f64 = steps
        .map(|(a, b)| {
            // The shorter way round.
            let east = (b.lon - a.lon).abs();
            (east.min(360.0 - east) * shrink).hypot(b.lat - a.lat)
        })
        .sum();
    degrees * M_PER_DEGREE
}

/// The middle of a polygon in degrees; `None` where it has no area.
fn middle(polygon: &Polygon<LonLat>) -> Option<LonLat> {
    let origin = *polygon.exterior.first()?;
    let mut area = 0.0;
    let mut moment = [0.0; 2];
    let holes = polygon.holes.iter().map(|hole| (hole, -1.0));
    for (ring, sign) in std::iter::once((&polygon.exterior, 1.0)).chain(holes) {
        let (own, [x, y]) = twice(ring, origin);
        // Whichever way the ring runs.
        let sign = sign * own.signum();
        area += sign * own;
        moment = [moment[0] + sign * x, moment[1] + sign * y];
    }
    let [east, north] = moment.map(|moment| moment / (3.0 * area));
    (area > 0.0).then(|| LonLat::new(origin.lon + east, origin.lat + north))
}

/// Twice the signed area of a ring, and six times its first moments, from an origin nearby.
fn twice(ring: &[LonLat], origin: LonLat) -> (f64, [f64; 2]) {
    let from = |place: &LonLat| [place.lon - origin.lon, place.lat - origin.lat];
    let ends = ring.iter().skip(1).chain(ring.first());
    ring.iter()
        .zip(ends)
        .fold((0.0, [0.0; 2]), |(area, [x, y]), (a, b)| {
            let (a, b) = (from(a), from(b));
            let cross = a[0] * b[1] - b[0] * a[1];
            (
                area + cross,
                [x + (a[0] + b[0]) * cross, y + (a[1] + b[1]) * cross],
            )
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(west: f64, south: f64, side: f64) -> Vec<LonLat> {
        let (east, north) = (west + side, south + side);
        [[west, south], [east, south], [east, north], [west, north]]
            .map(LonLat::of_pair)
            .to_vec()
    }

    fn whole(exterior: Vec<LonLat>) -> Polygon<LonLat> {
        Polygon {
            exterior,
            holes: Vec::new(),
        }
    }

    #[test]
    fn a_hole_pulls_the_middle_away_whichever_way_it_runs() {
        let mut hole = square(3.0, 1.0, 1.0);
        for _ in 0..2 {
            let polygon = Polygon {
                exterior: square(0.0, 0.0, 4.0),
                holes: vec![hole.clone()],
            };
            // (16 x 2 - 1 x 3.5) / 15, (16 x 2 - 1 x 1.5) / 15.
            let [x, y] = Outline::of(&[polygon]).middle.unwrap().pair();
            assert!((x - 1.9).abs() < 1e-12 && (y - 30.5 / 15.0).abs() < 1e-12);
            hole.reverse();
        }
        assert_eq!(Outline::of(&[]).middle, None);
    }

    #[test]
    fn parts_count_by_their_area_on_the_ground() {
        // Squares in degrees at 0 and at 60 degrees north, where a degree of longitude is half as long.
        let parts = [whole(square(8.0, -0.5, 1.0)), whole(square(8.0, 59.5, 1.0))];
        let latitude = Outline::of(&parts).middle.unwrap().lat;
        assert!((latitude - 20.0).abs() < 0.3, "{latitude}");
    }

    #[test]
    fn points_add_up_wherever_rings_start_and_end() {
        let ring = square(8.0, 50.0, 0.01);
        let mut other = ring.clone();
        other.rotate_left(2);
        other.reverse();
        other.push(other[0]);
        other.insert(1, LonLat::new(other[0].lon + 1e-11, other[0].lat));
        let [ring, other] = [ring, other].map(|ring| Outline::of(&[whole(ring)]).points);
        assert_eq!(ring, other);
        assert_eq!(ring.count, 4);
    }

    #[test]
    fn a_point_that_is_moved_shows() {
        let ring = square(8.0, 50.0, 0.01);
        let mut moved = ring.clone();
        moved[1].lat += 2e-9;
        let [ring, moved] = [ring, moved].map(|ring| Outline::of(&[whole(ring)]).points);
        assert_eq!(moved.sums[1] - ring.sums[1], 2);
        assert_eq!(moved.count, ring.count);
    }
}
