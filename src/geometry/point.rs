//! Points on the integer grid and exact predicates on them.

use crate::coordinates::PlaneXy;
use crate::units::nearest_whole;

/// Grid units per metre: 2^20.
pub const UNITS_PER_M: f64 = 1_048_576.0;

/// Largest coordinate the exact arithmetic is made for: 2^40 units, 1048 km from the origin. The
/// longest products, three differences of coordinates, then fit in 127 bits.
pub const LARGEST: i64 = 1 << 40;

/// A point on the integer grid, in units of 2^-20 m.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pt {
    /// East, in steps of 2^-20 m.
    pub x: i64,
    /// North, in steps of 2^-20 m.
    pub y: i64,
}

impl Pt {
    /// The grid point nearest to a place in metres; `None` when it is not finite or beyond
    /// [`LARGEST`].
    pub fn from_metres(xy: [f64; 2]) -> Option<Self> {
        let scaled = [xy[0] * UNITS_PER_M, xy[1] * UNITS_PER_M];
        let limit = LARGEST as f64;
        let fits = scaled.iter().all(|v| v.abs() <= limit);
        fits.then(|| Self {
            x: nearest_whole(scaled[0]),
            y: nearest_whole(scaled[1]),
        })
    }

    /// The place in metres, as numbers to reckon with.
    pub fn metres(self) -> [f64; 2] {
        [self.x as f64 / UNITS_PER_M, self.y as f64 / UNITS_PER_M]
    }

    /// The place in the field's plane.
    pub fn place(self) -> PlaneXy {
        PlaneXy::of_pair(self.metres())
    }

    /// Straight distance in metres.
    pub fn distance_m(self, other: Self) -> f64 {
        let [dx, dy] = [(self.x - other.x) as f64, (self.y - other.y) as f64];
        (dx * dx + dy * dy).sqrt() / UNITS_PER_M
    }
}

/// Twice the signed area of the triangle a, b, c, exactly: positive when c lies left of a -> b.
pub fn cross(a: Pt, b: Pt, c: Pt) -> i128 {
    let [ux, uy] = [b.x - a.x, b.y - a.y];
    let [vx, vy] = [c.x - a.x, c.y - a.y];
    i128::from(ux) * i128::from(vy) - i128::from(uy) * i128::from(vx)
}

/// Twice the signed area of a ring (closed implicitly), exactly, in units^2.
pub fn ring_area2(ring: &[Pt]) -> i128 {
    let Some(&first) = ring.first() else { return 0 };
    ring.windows(2)
        .map(|pair| cross(first, pair[0], pair[1]))
        .sum()
}

/// Turns twice an area in units^2 into m2.
pub fn area2_to_m2(area2: i128) -> f64 {
    area2 as f64 / (2.0 * UNITS_PER_M * UNITS_PER_M)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_beyond_the_grid_or_not_finite_is_refused() {
        assert_eq!(Pt::from_metres([f64::NAN, 0.0]), None);
        assert_eq!(Pt::from_metres([0.0, f64::INFINITY]), None);
        assert_eq!(Pt::from_metres([1_048_577.0, 0.0]), None);
        assert_eq!(
            Pt::from_metres([-1.5, 2.0]),
            Some(Pt {
                x: -1_572_864,
                y: 2_097_152
            })
        );
    }

    #[test]
    fn cross_is_exact_where_floats_are_not() {
        let far = LARGEST;
        let [a, b] = [Pt { x: -far, y: -far }, Pt { x: far, y: far - 1 }];
        assert_eq!(cross(a, b, Pt { x: 0, y: 0 }), i128::from(far));
    }

    #[test]
    fn the_area_of_a_square_metre() {
        let unit = UNITS_PER_M as i64;
        let ring = [[0, 0], [unit, 0], [unit, unit], [0, unit]].map(|[x, y]| Pt { x, y });
        assert_eq!(area2_to_m2(ring_area2(&ring)), 1.0);
    }
}
