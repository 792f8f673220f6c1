//! Areas of polygons in degrees, on the ellipsoid.

use super::plane::Frame;
use super::series::{INVERSE_FLATTENING, SEMI_MAJOR_M};
use crate::findings::Outcome;
use crate::read::{Polygon, Xy};
use rayon::prelude::*;

/// The plane in which the polygons of a file are measured: one for all, so that it is worked out once, or one for
/// each where they lie farther apart than a plane reaches.
pub struct GroundAreas(Option<Frame>);

impl GroundAreas {
    /// For polygons within an extent: west, south, east, north, degrees on WGS 84.
    pub fn within(extent: Option<[f64; 4]>) -> Self {
        let corners = extent.map(|[west, south, east, north]| [[west, south], [east, north]]);
        Self(corners.and_then(|corners| Frame::one_way(&corners).ok()))
    }

    /// Area of polygons as drawn (longitude and latitude), holes taken off, whatever the winding, m2.
    ///
    /// # Errors
    /// A polygon that no plane takes: beyond 84 degrees of latitude, more than 100 km from its middle.
    pub fn polygons_m2(&self, polygons: &[Polygon]) -> Outcome<f64> {
        let of = |polygon: &Polygon| match &self.0 {
            Some(frame) => Ok(polygon_m2(polygon, frame)),
            None => Ok(polygon_m2(polygon, &Frame::one_way(&polygon.exterior)?)),
        };
        let each = polygons.par_iter().with_min_len(64).map(of);
        let each: Vec<Outcome<f64>> = each.collect();
        each.into_iter().sum()
    }
}

fn polygon_m2(polygon: &Polygon, frame: &Frame) -> f64 {
    let holes: f64 = polygon.holes.iter().map(|hole| ring_m2(hole, frame)).sum();
    ring_m2(&polygon.exterior, frame) - holes
}

/// A transverse Mercator plane is too large by the square of its scale, at x metres from the middle meridian by
/// 1 + x^2 / R^2 with R^2 the product of both radii of curvature; further terms are below 1e-10 within 20 km (J. P. Snyder,
/// Map Projections: A Working Manual, USGS 1987, chapter 8; the form in x is from memory, and held against geodesic areas below).
/// The integral of 1 - x^2 / R^2 over a polygon is that of x - x^3 / (3 R^2) along its border, and Simpson's rule has the
/// cube without error.
fn ring_m2(ring: &[Xy], frame: &Frame) -> f64 {
    let mut plane = ring.to_vec();
    frame.all_to_plane(&mut plane);
    let Some(&[x0, y0]) = plane.first() else {
        return 0.0;
    };
    let cubes = 1.0 / (3.0 * radius2(frame.origin()[1]));
    let ends = plane.iter().cycle().skip(1);
    let mut twice = 0.0;
    let mut of_scale = 0.0;
    for ([x, y], [next_x, next_y]) in plane.iter().zip(ends) {
        twice += (x - x0) * (next_y - y0) - (next_x - x0) * (y - y0);
        let middle = (x + next_x) / 2.0;
        let cube = (x.powi(3) + 4.0 * middle.powi(3) + next_x.powi(3)) / 6.0;
        of_scale += (next_y - y) * cube;
    }
    (twice / 2.0 - cubes * of_scale).abs()
}

/// Product of the radii of curvature in the meridian and across it, m2 (Snyder 1987, chapter 4; from memory).
fn radius2(latitude: f64) -> f64 {
    let flattening = 1.0 / INVERSE_FLATTENING;
    let e2 = flattening * (2.0 - flattening);
    let sine = latitude.to_radians().sin();
    SEMI_MAJOR_M.powi(2) * (1.0 - e2) / (1.0 - e2 * sine * sine).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use geographiclib_rs::{Geodesic, PolygonArea, Winding};

    /// Polygons of 600 m with edges of 20 m, up to 15 km from the middle of their file, on both sides of the
    /// equator: areas as C. F. F. Karney's (Algorithms for geodesics, 2013) in the library of that name.
    #[test]
    fn areas_are_those_on_the_ellipsoid() {
        for latitude in [0.0, 52.0, -35.0, 68.0] {
            let of_metres = |x: f64, y: f64| {
                let north = latitude + y / 111_000.0;
                [9.0 + x / 111_000.0 / north.to_radians().cos(), north]
            };
            let [west, south] = of_metres(-15_000.0, -3_000.0);
            let [east, north] = of_metres(15_000.0, 3_000.0);
            let areas = GroundAreas::within(Some([west, south, east, north]));
            for k in 0..7 {
                let (east_m, north_m) = (f64::from(k) * 5_000.0 - 15_000.0, f64::from(k) * 400.0);
                let corner = |n: u32| {
                    let (sine, cosine) = (f64::from(n) / 90.0 * std::f64::consts::TAU).sin_cos();
                    let radius = 300.0 + 40.0 * (f64::from(n) * 0.7).sin();
                    of_metres(east_m + radius * cosine, north_m + radius * sine)
                };
                let mut exterior: Vec<Xy> = (0..90).map(corner).collect();
                exterior.push(corner(0));
                let geodesic = Geodesic::wgs84();
                let mut karney = PolygonArea::new(&geodesic, Winding::CounterClockwise);
                for [lon, lat] in &exterior[1..] {
                    karney.add_point(*lat, *lon);
                }
                let (_, wanted, _) = karney.compute(true);
                let polygon = Polygon {
                    exterior,
                    holes: Vec::new(),
                };
                for areas in [&areas, &GroundAreas::within(None)] {
                    let got = areas.polygons_m2(std::slice::from_ref(&polygon)).unwrap();
                    assert!(
                        (got / wanted - 1.0).abs() < 2e-9,
                        "{latitude} {k}: {got} {wanted}"
                    );
                }
            }
        }
    }
}
