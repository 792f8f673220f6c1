//! Rings as a format wants them: closed, wound, and without the points that rounding made equal.

use crate::read::{Polygon, Xy};
use crate::units::nearest_whole;
use rayon::prelude::*;

/// A polygon ready to write: the exterior first, then its holes.
pub(super) struct Rings(pub Vec<Vec<Xy>>);

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
pub(super) fn of(polygons: &[Polygon], winding: Winding, decimals: Option<i32>) -> Vec<Rings> {
    let polygons = polygons.par_iter().with_min_len(64);
    polygons
        .filter_map(|polygon| one(polygon, winding, decimals))
        .collect()
}

/// Whether [`of`] leaves anything.
pub(super) fn any(polygons: &[Polygon], winding: Winding, decimals: Option<i32>) -> bool {
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
pub(super) fn one(polygon: &Polygon, winding: Winding, decimals: Option<i32>) -> Option<Rings> {
    let exterior_left = winding == Winding::ExteriorCounterClockwise;
    let exterior = ring(&polygon.exterior, exterior_left, decimals)?;
    let holes = polygon
        .holes
        .iter()
        .filter_map(|hole| ring(hole, !exterior_left, decimals));
    Some(Rings(std::iter::once(exterior).chain(holes).collect()))
}

fn ring(points: &[Xy], counter_clockwise: bool, decimals: Option<i32>) -> Option<Vec<Xy>> {
    let mut ring: Vec<Xy> = match decimals {
        Some(decimals) => {
            let scale = 10f64.powi(decimals);
            points
                .iter()
                .map(|p| p.map(|v| rounded(v, scale)))
                .collect()
        }
        None => points.to_vec(),
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
/// first point, so that small rings far from the origin keep their digits.
fn twice_area(ring: &[Xy]) -> f64 {
    let Some(&[x0, y0]) = ring.first() else {
        return 0.0;
    };
    ring.windows(2)
        .map(|pair| match pair {
            [a, b] => (a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0),
            _ => 0.0,
        })
        .sum()
}

/// West, south, east and north of all points; `None` without any.
pub(super) fn extent<'a>(points: impl IntoIterator<Item = &'a Xy>) -> Option<[f64; 4]> {
    points.into_iter().fold(None, |extent, &[x, y]| {
        let [west, south, east, north] = extent.unwrap_or([x, y, x, y]);
        Some([west.min(x), south.min(y), east.max(x), north.max(y)])
    })
}

#[cfg(test)]
mod tests {
    use super::rounded;

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
