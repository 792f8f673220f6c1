//! A plane for what lies within a distance of something: azimuthal equidistant, by geodesics (C. F. F. Karney,
//! Algorithms for geodesics, 2013, in geo). Distances from the middle are true; across them they are too long by the
//! square of the distance over 6 R^2: 2.6e-8 at 2.5 km, 1e-5 at 50 km.

use super::overlay::{Land, about};
use crate::units::MOST_M_PER_DEGREE;
use geo::{
    Bearing, Coord, Densify, Destination, Distance, Euclidean, Geodesic, MapCoords,
    MultiLineString, MultiPoint, Point,
};

/// Points are put on edges so that they are no longer than this: a line that is straight in degrees and one that is
/// straight in the plane then lie within L^2 tan(latitude) / (8 R) of each other: 0.04 mm at 70 degrees.
const LONGEST_M: f64 = 25.0;
/// The same in degrees.
const LONGEST_DEGREES: f64 = LONGEST_M / MOST_M_PER_DEGREE;

pub(super) struct Plane {
    middle: Point,
}

impl Plane {
    pub(super) fn about(middle: Coord) -> Self {
        Self {
            middle: Point::from(middle),
        }
    }

    fn place(&self, at: Coord) -> Coord {
        let at = Point::from(at);
        let distance = Geodesic.distance(self.middle, at);
        let (sine, cosine) = Geodesic.bearing(self.middle, at).to_radians().sin_cos();
        Coord {
            x: distance * sine,
            y: distance * cosine,
        }
    }

    pub(super) fn land(&self, land: &Land) -> Land {
        let dense = Euclidean.densify(land, LONGEST_DEGREES);
        dense.map_coords(|at| self.place(at))
    }

    pub(super) fn lines(&self, lines: &MultiLineString) -> MultiLineString {
        let dense = Euclidean.densify(lines, LONGEST_DEGREES);
        dense.map_coords(|at| self.place(at))
    }

    pub(super) fn points(&self, points: &MultiPoint) -> MultiPoint {
        points.map_coords(|at| self.place(at))
    }

    /// Land of the plane in degrees, longitudes the shorter way round from the middle.
    pub(super) fn in_degrees(&self, land: &Land) -> Land {
        let near = about(self.middle.x());
        let dense = Euclidean.densify(land, LONGEST_M);
        dense.map_coords(|Coord { x, y }| {
            let bearing = x.atan2(y).to_degrees();
            let at = Geodesic.destination(self.middle, bearing, x.hypot(y));
            let [x, y] = near([at.x(), at.y()]);
            Coord { x, y }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Buffer, MultiPolygon, polygon};

    /// Every corner of what lies within 30 m of a parcel is 30 m away from it by geodesics, at any latitude.
    #[test]
    fn what_lies_within_a_distance_lies_within_it_on_the_ellipsoid() {
        for latitude in [0.0_f64, 54.8, -33.0, 69.0] {
            let [east, north] = [0.02 / latitude.to_radians().cos(), 0.01];
            let parcel = MultiPolygon::new(vec![polygon![
                (x: 9.0, y: latitude),
                (x: 9.0 + east, y: latitude),
                (x: 9.0 + 0.7 * east, y: latitude + north),
            ]]);
            let plane = Plane::about((9.0 + east / 2.0, latitude + north / 2.0).into());
            let within = plane.in_degrees(&plane.land(&parcel).buffer(30.0));
            let outline = Euclidean.densify(&parcel, 0.000_002);
            let corners = outline.0[0].exterior().points().collect::<Vec<_>>();
            for at in within.0[0].exterior().points().step_by(7) {
                let away = corners.iter().map(|corner| Geodesic.distance(*corner, at));
                let nearest = away.fold(f64::INFINITY, f64::min);
                // Points every 0.2 m on the border are up to 0.2 mm farther than the border; chords of arcs are nearer.
                assert!((29.8..30.001).contains(&nearest), "{latitude}: {nearest}");
            }
        }
    }
}
