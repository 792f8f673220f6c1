//! Areas on the ellipsoid of what files draw in degrees.
//!
//! The land between the equator and a latitude, per radian of longitude, is
//! a^2 (1 - e^2) / 2 * (s / (1 - e^2 s^2) + atanh(e s) / e) with s the sine of the latitude (J. P. Snyder, Map
//! Projections: A Working Manual, USGS 1987, equations 3-12 and 3-16, for authalic latitudes). A polygon whose edges are
//! straight in degrees (RFC 7946, section 3.1.1) has the integral of it over the longitude, edge by edge, for an area.

use super::plane::from_meridian;
use super::series::{INVERSE_FLATTENING, SEMI_MAJOR_M};
use crate::coordinates::LonLat;
use crate::read::Polygon;
use rayon::prelude::*;

/// First eccentricity of WGS 84, squared.
const E2: f64 = (2.0 - 1.0 / INVERSE_FLATTENING) / INVERSE_FLATTENING;

/// Edges that go farther north than this are taken in parts, degrees: the rule below is then exact to 1e-12.
const PART_DEGREES: f64 = 0.5;

/// Nodes of the quadrature of Gauss and Legendre with three points on the way from 0 to 1, and their weights.
const NODES: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

/// Area of polygons as drawn (longitude and latitude in degrees on WGS 84, edges straight in degrees), holes taken
/// off, whatever the winding, m2. Longitudes go the shorter way round.
pub fn ground_m2(polygons: &[Polygon<LonLat>]) -> f64 {
    let each = polygons.par_iter().with_min_len(64).map(|polygon| {
        let holes: f64 = polygon.holes.iter().map(|hole| ring_m2(hole)).sum();
        ring_m2(&polygon.exterior) - holes
    });
    each.collect::<Vec<f64>>().into_iter().sum()
}

/// Area between two parallels (degrees) over so many degrees of longitude, m2: that of a cell of a grid.
pub fn zone_m2([south, north]: [f64; 2], width: f64) -> f64 {
    width.to_radians() * (from_equator(north) - from_equator(south))
}

fn ring_m2(ring: &[LonLat]) -> f64 {
    let Some(&LonLat { lat: base, .. }) = ring.first() else {
        return 0.0;
    };
    // From a parallel nearby, so that small rings keep their digits.
    let at_base = from_equator(base);
    let ends = ring.iter().cycle().skip(1);
    let sum: f64 = ring
        .iter()
        .zip(ends)
        .map(|(from, to)| {
            let east = from_meridian(to.lon, from.lon);
            let north = to.lat - from.lat;
            let parts = (north.abs() / PART_DEGREES).ceil().max(1.0);
            let mean: f64 = (0..parts as u32)
                .flat_map(|part| NODES.map(|(at, weight)| ((f64::from(part) + at) / parts, weight)))
                .map(|(share, weight)| weight * (from_equator(from.lat + share * north) - at_base))
                .sum();
            east.to_radians() * mean / parts
        })
        .sum();
    sum.abs()
}

/// Land between the equator and a latitude (degrees), m2 per radian of longitude; negative to the south.
fn from_equator(latitude: f64) -> f64 {
    let sine = latitude.to_radians().sin();
    let u = E2 * sine * sine;
    // atanh(e s) / (e s) as a series in (e s)^2, which is below 0.0067: what is left out is below 1e-16.
    let series = [13.0, 11.0, 9.0, 7.0, 5.0, 3.0, 1.0];
    let series = series.iter().fold(0.0, |sum, odd| sum * u + 1.0 / odd);
    SEMI_MAJOR_M * SEMI_MAJOR_M / 2.0 * (1.0 - E2) * sine * (1.0 / (1.0 - u) + series)
}

#[cfg(test)]
mod tests {
    use super::*;
    use geographiclib_rs::{Geodesic, PolygonArea, Winding};

    fn polygon(exterior: Vec<[f64; 2]>) -> Polygon<LonLat> {
        let exterior = exterior.into_iter().map(LonLat::of_pair).collect();
        Polygon {
            exterior,
            holes: Vec::new(),
        }
    }

    #[test]
    fn all_zones_together_are_the_ellipsoid() {
        // Area of the WGS 84 ellipsoid: NGA.STND.0036 (2014), table 3.6, 510 065 621.724 km2.
        let sum: f64 = (0..180)
            .map(|row| {
                let south = f64::from(row) - 90.0;
                zone_m2([south, south + 1.0], 360.0)
            })
            .sum();
        assert!((sum / 510_065_621.724e6 - 1.0).abs() < 1e-12, "{sum}");
    }

    /// Polygons of 600 m with edges of 20 m, on both sides of the equator and across the antimeridian: areas as
    /// C. F. F. Karney's (Algorithms for geodesics, 2013) in the library of that name. Between so near points a
    /// geodesic and a straight line in degrees enclose less than the tolerance.
    #[test]
    fn areas_are_those_on_the_ellipsoid() {
        for latitude in [0.0, 52.0, -35.0, 68.0] {
            for middle in [9.0, 179.999, -180.0] {
                let of_metres = |x: f64, y: f64| {
                    let north = latitude + y / 111_000.0;
                    let east = middle + x / 111_000.0 / north.to_radians().cos();
                    [from_meridian(east, 0.0), north]
                };
                let corner = |n: u32| {
                    let (sine, cosine) = (f64::from(n) / 90.0 * std::f64::consts::TAU).sin_cos();
                    let radius = 300.0 + 40.0 * (f64::from(n) * 0.7).sin();
                    of_metres(radius * cosine, radius * sine)
                };
                let mut exterior: Vec<[f64; 2]> = (0..90).map(corner).collect();
                exterior.push(corner(0));
                let geodesic = Geodesic::wgs84();
                let mut karney = PolygonArea::new(&geodesic, Winding::CounterClockwise);
                for [lon, lat] in &exterior[1..] {
                    karney.add_point(*lat, *lon);
                }
                let (_, wanted, _) = karney.compute(true);
                let got = ground_m2(&[polygon(exterior)]);
                assert!(
                    (got / wanted - 1.0).abs() < 1e-8,
                    "{latitude} {middle}: {got} {wanted}"
                );
            }
        }
    }

    #[test]
    fn edges_are_straight_in_degrees_however_long() {
        // A triangle with corners at 0, 40 and 60 degrees north, and the same with a point every 0.01 degree.
        let corners = [[3.0, 0.0], [9.0, 40.0], [5.0, 60.0]];
        let mut dense = Vec::new();
        for nth in 0..3 {
            let (a, b): ([f64; 2], [f64; 2]) = (corners[nth], corners[(nth + 1) % 3]);
            for step in 0..6_000 {
                let share = f64::from(step) / 6_000.0;
                dense.push([0, 1].map(|axis: usize| a[axis] + share * (b[axis] - a[axis])));
            }
        }
        let [few, many] = [corners.to_vec(), dense].map(|ring| ground_m2(&[polygon(ring)]));
        assert!((few / many - 1.0).abs() < 1e-11, "{few} {many}");
    }

    #[test]
    fn holes_are_taken_off_whichever_way_rings_run() {
        let square = |low: f64, high: f64| vec![[low, low], [high, low], [high, high], [low, high]];
        let mut hole = square(0.4, 0.6);
        let whole = ground_m2(&[polygon(square(0.0, 1.0))]);
        let inner = ground_m2(&[polygon(hole.clone())]);
        for _ in 0..2 {
            hole.reverse();
            let with_hole = Polygon {
                holes: vec![polygon(hole.clone()).exterior],
                ..polygon(square(0.0, 1.0))
            };
            let got = ground_m2(&[with_hole]);
            assert!((got - (whole - inner)).abs() < 1e-3, "{got}");
        }
    }
}
