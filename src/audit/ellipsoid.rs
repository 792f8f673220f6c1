//! Areas on the ellipsoid by authalic latitude: the latitude on a sphere as large as the ellipsoid that keeps the area
//! between parallels (J. P. Snyder, Map Projections: A Working Manual, USGS 1987, equations 3-11 to 3-13). The land
//! between the equator and a parallel is R^2 sin(beta) per radian of longitude.

use super::overlay::Land;
use geo::{Coord, LineString, Polygon};
use std::f64::consts::TAU;

/// Semi-major axis, flattening and first eccentricity of WGS 84: NGA.STND.0036 (2014), tables 3.1 and 3.5. The
/// eccentricity follows from the flattening; here with more digits.
const SEMI_MAJOR_M: f64 = 6_378_137.0;
const ECCENTRICITY: f64 = 0.081_819_190_842_621_49;

/// Edges that go farther north than this are taken in parts, degrees: Simpson's rule is then exact to 1e-14.
const PART_DEGREES: f64 = 0.1;

/// Area of polygons (longitude and latitude in degrees, edges straight in degrees), holes taken off, m2.
pub(super) fn land_m2(land: &Land) -> f64 {
    land.iter().map(polygon_m2).sum()
}

/// The same for one polygon, whichever way its rings run. Longitudes go the shorter way round.
pub(super) fn polygon_m2(polygon: &Polygon) -> f64 {
    let holes: f64 = polygon.interiors().iter().map(ring_m2).sum();
    ring_m2(polygon.exterior()) - holes
}

/// Area between two parallels over so many degrees of longitude, m2: that of a cell of a grid.
pub(super) fn zone_m2([south, north]: [f64; 2], width: f64) -> f64 {
    width.to_radians() * (from_equator(north) - from_equator(south))
}

/// Land under an edge, by Simpson's rule: edges are straight in degrees, and the land bends with the latitude.
fn ring_m2(ring: &LineString) -> f64 {
    let Some(near) = ring.0.first().map(|first| Near::about(first.y)) else {
        return 0.0;
    };
    let mut sum = 0.0;
    let mut before = 0.0;
    for edge in ring.lines() {
        let Coord { x: east, y: north } = edge.delta();
        let east = east - (east / 360.0).round() * 360.0;
        let parts = (north.abs() / PART_DEGREES).ceil().max(1.0);
        let land_at = |share: f64| near.land(edge.start.y + share * north);
        let mut mean = 0.0;
        for part in 0..parts as u32 {
            let from = f64::from(part);
            let after = land_at((from + 1.0) / parts);
            mean += (before + 4.0 * land_at((from + 0.5) / parts) + after) / 6.0;
            before = after;
        }
        sum += east / 360.0 * mean / parts;
    }
    (sum * TAU).abs()
}

/// Land between a latitude and others, as [`from_equator`] has it. Near by it is a series by Taylor, many times as fast: the
/// derivative of equation 3-12 by the sine of the latitude s is (1 - e^2) 2 / (1 - e^2 s^2)^2.
struct Near {
    /// Degrees.
    latitude: f64,
    sine: f64,
    cosine: f64,
    /// Of the first to fourth power of how much the sine grows, m2 per radian of longitude.
    series: [f64; 4],
}

impl Near {
    /// So far from the latitude the series is used, degrees: what it leaves out is below 1e-15 of the land there.
    const REACH: f64 = 0.1;

    fn about(latitude: f64) -> Self {
        let (sine, cosine) = latitude.to_radians().sin_cos();
        let e2 = ECCENTRICITY * ECCENTRICITY;
        let w = 1.0 / (1.0 - e2 * sine * sine);
        let all = SEMI_MAJOR_M * SEMI_MAJOR_M * (1.0 - e2) * w * w;
        // Derivatives of w^2 by the sine over w^2.
        let first = 4.0 * e2 * sine * w;
        let second = 4.0 * e2 * w + 24.0 * e2 * e2 * sine * sine * w * w;
        let third = 72.0 * e2 * e2 * sine * w * w + 192.0 * (e2 * sine * w).powi(3);
        Self {
            latitude,
            sine,
            cosine,
            series: [1.0, first / 2.0, second / 6.0, third / 24.0].map(|of| all * of),
        }
    }

    /// m2 per radian of longitude; negative to the south.
    fn land(&self, latitude: f64) -> f64 {
        let degrees = latitude - self.latitude;
        if degrees.abs() > Self::REACH {
            return from_equator(latitude) - from_equator(self.latitude);
        }
        let d = degrees.to_radians();
        let d2 = d * d;
        let grown = self.cosine * d * (1.0 - d2 / 6.0 * (1.0 - d2 / 20.0))
            - self.sine * d2 / 2.0 * (1.0 - d2 / 12.0);
        let [a, b, c, e] = self.series;
        grown * (a + grown * (b + grown * (c + grown * e)))
    }
}

/// Land between the equator and a latitude (degrees), m2 per radian of longitude; negative to the south. Equation 3-12
/// times half the square of the semi-major axis, its logarithm as an inverse hyperbolic tangent.
fn from_equator(latitude: f64) -> f64 {
    let sine = latitude.to_radians().sin();
    let e_sine = ECCENTRICITY * sine;
    let q = (1.0 - ECCENTRICITY * ECCENTRICITY)
        * (sine / (1.0 - e_sine * e_sine) + e_sine.atanh() / ECCENTRICITY);
    SEMI_MAJOR_M * SEMI_MAJOR_M / 2.0 * q
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coordinates::LonLat;
    use crate::frame::{Crs, as_drawn};
    use crate::read::{self, Geometry};
    use geo::orient::Direction;
    use geo::{CoordsIter, Densify, Euclidean, GeodesicArea, Orient};
    use std::path::Path;

    #[test]
    fn the_ellipsoid_has_its_published_area() {
        // NGA.STND.0036 (2014): area 510 065 621.724 km2 (table 3.6); radius of the sphere with that area
        // 6 371 007.1810 m; inverse flattening 298.257 223 563.
        let whole = zone_m2([-90.0, 90.0], 360.0);
        assert!((whole / 510_065_621.724e6 - 1.0).abs() < 1e-12, "{whole}");
        let radius = (whole / (2.0 * TAU)).sqrt();
        assert!((radius - 6_371_007.181_0).abs() < 1e-3, "{radius}");
        let flattening = 1.0 / 298.257_223_563;
        let e2 = flattening * (2.0 - flattening);
        assert!((ECCENTRICITY * ECCENTRICITY / e2 - 1.0).abs() < 1e-15);
    }

    /// A polygon whose edges have a point every two metres or so: what a geodesic between points so near encloses with
    /// a line that is straight in degrees is far below the tolerance.
    fn dense(polygon: &Polygon) -> Polygon {
        Euclidean
            .densify(polygon, 0.000_02)
            .orient(Direction::Default)
    }

    /// What a sum over so many geodesics loses to rounding, m2: each adds the land down to the equator, 1e7 m2 for an edge
    /// of two metres. Measured: up to 1.5e-5 times the root of the number of points, either way, for circles of 30
    /// to 300 m with 25 to 12 000 points, whose areas by authalic latitude agree to 3e-7 m2.
    fn lost_m2(points: usize) -> f64 {
        3e-5 * (points as f64).sqrt()
    }

    /// Real parcels: areas are those of C. F. F. Karney's algorithm (Algorithms for geodesics, 2013), as geo has it.
    #[test]
    fn areas_of_real_parcels_are_geodesic_areas() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields");
        let mut count = 0;
        for file in ["dk_epsg25832.shp.zip", "nl_epsg28992.gpkg"] {
            let layer = read::read(&folder.join(file), None).expect("parcels");
            let crs = Crs::of(&layer, None).expect("a CRS");
            let layer = as_drawn(layer, &crs).expect("degrees");
            for feature in layer.features {
                let Geometry::Polygons(polygons) = feature.geometry else {
                    continue;
                };
                for polygon in &polygons {
                    let polygon = crate::audit::overlay::drawn(polygon, LonLat::pair);
                    let dense = dense(&polygon);
                    let wanted = dense.geodesic_area_unsigned();
                    let got = polygon_m2(&polygon);
                    let lost = lost_m2(dense.coords_count());
                    assert!(
                        (got - wanted).abs() < 1e-9 * wanted + lost,
                        "{got} {wanted}"
                    );
                    count += 1;
                }
            }
        }
        assert!(count > 5, "{count}");
    }

    #[test]
    fn areas_are_geodesic_at_any_latitude_and_across_the_antimeridian() {
        for latitude in [0.0, 52.0, -35.0, 68.0, -85.0] {
            for west in [9.0, 179.999] {
                let [south, north, east] = [latitude - 0.002, latitude + 0.002, west + 0.01];
                let wrapped = if east > 180.0 { east - 360.0 } else { east };
                let ring = |east: f64| {
                    let corners = [
                        [west, south],
                        [east, south],
                        [east, north],
                        [west, latitude],
                    ];
                    LineString::from(corners.map(|[x, y]| (x, y)).to_vec())
                };
                let whole = Polygon::new(ring(east), Vec::new());
                let wanted = dense(&whole).geodesic_area_unsigned();
                let got = polygon_m2(&Polygon::new(ring(wrapped), Vec::new()));
                assert!(
                    (got / wanted - 1.0).abs() < 1e-9,
                    "{latitude} {got} {wanted}"
                );
            }
        }
    }

    /// Held against the closed form, which loses some 1e-15 of the land down to the equator to rounding.
    #[test]
    fn land_near_a_latitude_is_that_of_the_closed_form() {
        for latitude in [-89.9, -60.0, -12.5, 0.0, 0.05, 33.0, 52.0, 71.0, 89.8] {
            let near = Near::about(latitude);
            for step in -120..=120 {
                let other = latitude + f64::from(step) * 0.001;
                let wanted = from_equator(other) - from_equator(latitude);
                let got = near.land(other);
                let lost = 2e-15 * SEMI_MAJOR_M * SEMI_MAJOR_M;
                assert!(
                    (got - wanted).abs() < 1e-13 * wanted.abs() + lost,
                    "{latitude} {other}: {got} {wanted}"
                );
            }
        }
    }

    #[test]
    fn edges_are_straight_in_degrees_however_long() {
        let corners = vec![(3.0, 0.0), (9.0, 40.0), (5.0, 60.0)];
        let few = Polygon::new(LineString::from(corners), Vec::new());
        let many = Euclidean.densify(&few, 0.01);
        let [few, many] = [few, many].map(|polygon| polygon_m2(&polygon));
        assert!((few / many - 1.0).abs() < 1e-11, "{few} {many}");
    }
}
