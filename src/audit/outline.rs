//! What a file and a plan are held together by: the area of some land, its middle, the length of its border, and the
//! points of its border added up. Measured here by the audit's own means and by geo; `plan.json` states what planning
//! has measured.

use super::ellipsoid;
use super::overlay::drawn;
use crate::coordinates::LonLat;
use crate::document::LandOutline;
use crate::read::Polygon;
use crate::units::{M_PER_DEGREE, nearest_whole};
use geo::{Centroid, LineString};
use rayon::prelude::*;

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

impl From<LandOutline> for Outline {
    fn from(of: LandOutline) -> Self {
        Self {
            area_m2: of.area_m2,
            middle: of.middle_lon_lat,
            border_m: of.border_m,
            points: Points {
                count: of.border_points.count,
                sums: of.border_points.sums,
            },
        }
    }
}

/// The points of all rings, each once, rounded to nine decimals as in files: how many there are, and their sums.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Points {
    pub count: u64,
    /// Of longitudes and latitudes, in 1e-9 degrees.
    pub sums: [i64; 2],
}

impl Points {
    fn and(self, other: Self) -> Self {
        let sum = |axis: usize| self.sums[axis].wrapping_add(other.sums[axis]);
        Self {
            count: self.count + other.count,
            sums: [sum(0), sum(1)],
        }
    }

    /// Of a closed ring. One that rounding leaves without area has none, as in files.
    fn of(ring: &LineString) -> Self {
        let step = |degrees: f64| nearest_whole(degrees * 1e9);
        let mut points: Vec<[i64; 2]> = ring.0.iter().map(|at| [step(at.x), step(at.y)]).collect();
        points.dedup();
        let closing = points.pop();
        let Some(first) = closing.filter(|_| points.len() > 2) else {
            return Self::default();
        };
        let away = |at: &[i64; 2]| {
            let from_first = |axis: usize| i128::from(at[axis]) - i128::from(first[axis]);
            [from_first(0), from_first(1)]
        };
        let triangle = |pair: &[[i64; 2]]| match pair {
            [a, b] => {
                let ([ax, ay], [bx, by]) = (away(a), away(b));
                ax * by - bx * ay
            }
            _ => 0,
        };
        if points.windows(2).map(triangle).sum::<i128>() == 0 {
            return Self::default();
        }
        let one = |sums: &[i64; 2]| Self {
            count: 1,
            sums: *sums,
        };
        points.iter().map(one).fold(Self::default(), Self::and)
    }
}

impl Outline {
    /// Of polygons in degrees.
    pub fn of(polygons: &[Polygon<LonLat>]) -> Self {
        let each = polygons.par_iter().with_min_len(64).map(Self::of_one);
        let each: Vec<Self> = each.collect();
        each.into_iter().fold(Self::default(), Self::and)
    }

    fn of_one(polygon: &Polygon<LonLat>) -> Self {
        let drawn = drawn(polygon, LonLat::pair);
        let area_m2 = ellipsoid::polygon_m2(&drawn);
        let middle = drawn.centroid().filter(|_| area_m2 > 0.0);
        let mut own = Self {
            area_m2,
            middle: middle.map(|at| LonLat::new(at.x(), at.y())),
            ..Self::default()
        };
        for ring in std::iter::once(drawn.exterior()).chain(drawn.interiors()) {
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

/// Length of a ring in degrees, m; longitudes go the shorter way round.
pub(super) fn length_m(ring: &LineString) -> f64 {
    let Some(first) = ring.0.first() else {
        return 0.0;
    };
    let narrower = first.y.to_radians().cos();
    let degrees: f64 = ring
        .lines()
        .map(|edge| {
            let geo::Coord { x: east, y: north } = edge.delta();
            let east = (east - (east / 360.0).round() * 360.0) * narrower;
            (east * east + north * north).sqrt()
        })
        .sum();
    degrees * M_PER_DEGREE
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
    fn points_add_up_wherever_rings_start_and_end_and_one_that_is_moved_shows() {
        let ring = square(8.0, 50.0, 0.01);
        let mut other = ring.clone();
        other.rotate_left(2);
        other.reverse();
        other.push(other[0]);
        other.insert(1, LonLat::new(other[0].lon + 1e-11, other[0].lat));
        let mut moved = ring.clone();
        moved[1].lat += 2e-9;
        let [ring, other, moved] =
            [ring, other, moved].map(|ring| Outline::of(&[whole(ring)]).points);
        assert_eq!(ring, other);
        assert_eq!(ring.count, 4);
        assert_eq!(moved.sums[1] - ring.sums[1], 2);
        assert_eq!(moved.count, ring.count);
    }
}
