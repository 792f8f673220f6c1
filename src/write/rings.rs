//! Rings as a format wants them: closed, wound, and without the points that rounding made equal.

use crate::coordinates::LonLat;
use crate::read::Polygon;
use crate::units::nearest_whole;
use rayon::prelude::*;

/// A polygon ready to write: the exterior first, then its holes. Longitudes and latitudes as plain numbers, for those
/// that count on beyond 180 are no places any more.
pub(super) struct Rings(pub Vec<Vec<[f64; 2]>>);

/// Which way an exterior runs; holes run the other way.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Winding {
    /// RFC 7946, OGC simple features.
    ExteriorCounterClockwise,
    /// The Shapefile description of 1998.
    ExteriorClockwise,
}

/// Closes and winds all rings. `decimals` are those of the format, or `None` if it keeps every bit.
/// A ring that has no area left once it is rounded is left out; with an exterior go its holes.
pub(super) fn of(
    polygons: &[Polygon<LonLat>],
    winding: Winding,
    decimals: Option<i32>,
) -> Vec<Rings> {
    let polygons = polygons.par_iter().with_min_len(64);
    polygons
        .filter_map(|polygon| one(polygon, winding, decimals))
        .collect()
}

/// Whether [`of`] leaves anything.
pub(super) fn any(polygons: &[Polygon<LonLat>], winding: Winding, decimals: Option<i32>) -> bool {
    polygons.iter().any(|polygon| {
        ring(
            &polygon.exterior,
            winding == Winding::ExteriorCounterClockwise,
            decimals,
        )
        .is_some()
    })
}

/// The same for one polygon.
pub(super) fn one(
    polygon: &Polygon<LonLat>,
    winding: Winding,
    decimals: Option<i32>,
) -> Option<Rings> {
    let exterior_left = winding == Winding::ExteriorCounterClockwise;
    let exterior = ring(&polygon.exterior, exterior_left, decimals)?;
    let holes = polygon
        .holes
        .iter()
        .filter_map(|hole| ring(hole, !exterior_left, decimals));
    Some(Rings(std::iter::once(exterior).chain(holes).collect()))
}

fn ring(
    points: &[LonLat],
    counter_clockwise: bool,
    decimals: Option<i32>,
) -> Option<Vec<[f64; 2]>> {
    let points = points.iter().map(|place| place.pair());
    let mut ring: Vec<[f64; 2]> = match decimals {
        Some(decimals) => {
            let scale = 10f64.powi(decimals);
            points.map(|p| p.map(|v| rounded(v, scale))).collect()
        }
        None => points.collect(),
    };
    ring.dedup();
    if ring.len() > 1 && ring.first() != ring.last() {
        ring.extend(ring.first().copied());
    }
    if ring.len() < 4 {
        return None;
    }
    let area = twice_area(&ring);
    if area == 0.0 {
        return None;
    }
    if (area > 0.0) != counter_clockwise {
        ring.reverse();
    }
    Some(ring)
}

/// A number to the steps of a scale, such as 1e9 for nine decimals, halves away from zero.
pub(super) fn rounded(value: f64, scale: f64) -> f64 {
    let steps = value * scale;
    // Beyond whole numbers nothing is left to round; a zero keeps its sign.
    if steps.abs() < WHOLE {
        (nearest_whole(steps) as f64).copysign(steps) / scale
    } else {
        steps.round() / scale
    }
}

/// From here on every f64 is a whole number.
const WHOLE: f64 = 4_503_599_627_370_496.0;

/// Twice the signed area of a closed ring, positive if it runs counter-clockwise. Taken from the
/// first point, so that small rings far from the origin keep their digits; the shorter way round, so that a ring across the
/// 180th meridian is not taken for one around the globe.
fn twice_area(ring: &[[f64; 2]]) -> f64 {
    let Some(&[x0, y0]) = ring.first() else {
        return 0.0;
    };
    let east = |x: f64| match x - x0 {
        far if far > 180.0 => far - 360.0,
        far if far < -180.0 => far + 360.0,
        near => near,
    };
    ring.windows(2)
        .map(|pair| match pair {
            [a, b] => east(a[0]) * (b[1] - y0) - east(b[0]) * (a[1] - y0),
            _ => 0.0,
        })
        .sum()
}

/// Whether a ring goes across the 180th meridian: from one point to the next by more than half a turn.
pub(super) fn is_across(ring: &[LonLat]) -> bool {
    ring.windows(2)
        .any(|pair| matches!(pair, [a, b] if (a.lon - b.lon).abs() > 180.0))
}

/// The same polygons, their longitudes counted on to the east beyond 180 where one goes across the 180th meridian. A format
/// that does not say which ring is in which, such as Shapefile, would have it around the globe otherwise, and others in it.
pub(super) fn counted_on(polygons: Vec<Rings>) -> Vec<Rings> {
    let edges = polygons.iter().flat_map(|Rings(rings)| rings);
    let mut edges = edges.flat_map(|ring| ring.windows(2));
    if !edges.any(|pair| matches!(pair, [a, b] if (a[0] - b[0]).abs() > 180.0)) {
        return polygons;
    }
    polygons.into_iter().map(Rings::counted_on).collect()
}

impl Rings {
    /// The same rings with longitudes that count on to the east beyond 180.
    pub(super) fn counted_on(self) -> Self {
        let ring = |ring: Vec<[f64; 2]>| ring.into_iter().map(counts_on).collect();
        Self(self.0.into_iter().map(ring).collect())
    }
}

/// A place whose longitude counts on to the east beyond 180.
pub(super) fn counts_on([x, y]: [f64; 2]) -> [f64; 2] {
    if x < 0.0 { [x + 360.0, y] } else { [x, y] }
}

/// West, south, east and north of all points; `None` without any.
pub(super) fn extent(points: impl IntoIterator<Item = [f64; 2]>) -> Option<[f64; 4]> {
    points.into_iter().fold(None, |extent, [x, y]| {
        let [west, south, east, north] = extent.unwrap_or([x, y, x, y]);
        Some([west.min(x), south.min(y), east.max(x), north.max(y)])
    })
}

#[cfg(test)]
mod tests {
    use super::{Rings, Winding, counted_on, of, rounded};
    use crate::coordinates::LonLat;
    use crate::read::Polygon;

    /// A square across the 180th meridian and a small one west of it, which is in no other.
    #[test]
    fn rings_across_the_180th_meridian_are_wound_and_counted_on() {
        let square = |west: f64, size: f64| {
            let turned = |x: f64| if x > 180.0 { x - 360.0 } else { x };
            let [east, south, north] = [west + size, -17.0, -17.0 + size];
            let corners = [[west, south], [east, south], [east, north], [west, north]];
            Polygon {
                exterior: corners.map(|[x, y]| LonLat::new(turned(x), y)).to_vec(),
                holes: Vec::new(),
            }
        };
        let both = [square(179.999, 0.002), square(180.003, 0.001)];
        for (winding, sign) in [
            (Winding::ExteriorCounterClockwise, 1.0),
            (Winding::ExteriorClockwise, -1.0),
        ] {
            let rings = counted_on(of(&both, winding, None));
            for (Rings(rings), side) in rings.iter().zip([0.002_f64, 0.001]) {
                let ring = &rings[0];
                assert!(
                    ring.iter().all(|[x, _]| (179.9..180.1).contains(x)),
                    "{ring:?}"
                );
                let area = super::twice_area(ring) / 2.0;
                assert!((area - sign * side * side).abs() < 1e-12, "{area}");
            }
        }
        let west = [square(-60.0, 0.001)];
        let Rings(rings) = &counted_on(of(&west, Winding::ExteriorClockwise, None))[0];
        assert!(rings[0].iter().all(|[x, _]| *x < 0.0));
    }

    #[test]
    fn rounding_is_that_of_the_standard_library_to_the_bit() {
        let mut state = 11u64;
        let mut values = vec![
            0.0,
            -0.0,
            1e-12,
            -1e-12,
            0.5e-9,
            1.5e-9,
            4.6e6,
            f64::NAN,
            f64::INFINITY,
        ];
        for _ in 0..20_000 {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
            values.push((state >> 11) as f64 / 2f64.powi(53) * 360.0 - 180.0);
        }
        for value in values {
            let known = (value * 1e9).round() / 1e9;
            assert_eq!(rounded(value, 1e9).to_bits(), known.to_bits(), "{value}");
        }
    }
}
