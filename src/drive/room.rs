//! A quick look whether a shape has a place far from its borders.

use crate::geometry::thin::distance_m;
use crate::geometry::{Shape, row};

/// How far up the shape a place is looked for.
const SHARES: [f64; 5] = [0.5, 0.3, 0.7, 0.15, 0.85];

/// So much more room than asked for has to be found: parallels are drawn in chords, m.
const MORE_M: f64 = 0.01;

/// Whether one of a few places in a shape is farther than this from its borders. If none is, another place may be: then
/// only the shape moved inwards tells.
pub(super) fn has_room(shape: &Shape, reach_m: f64) -> bool {
    let edges: Vec<[[f64; 2]; 2]> = shape
        .rings()
        .flat_map(|ring| {
            let ends = ring.iter().skip(1).chain(ring.first());
            ring.iter().zip(ends).map(|(a, b)| [a.metres(), b.metres()])
        })
        .collect();
    let heights = edges.iter().map(|[a, _]| a[1]);
    let (low, high) = (
        heights.clone().fold(f64::MAX, f64::min),
        heights.fold(f64::MIN, f64::max),
    );
    let has_room = |share: f64| {
        let y = low + share * (high - low);
        let inside = row::inside(edges.iter().copied(), y).into_iter();
        let longest = inside.max_by(|[a, b], [c, d]| (b - a).total_cmp(&(d - c)));
        longest.is_some_and(|[from, to]| {
            let place = [(from + to) / 2.0, y];
            let far = |edge: &[[f64; 2]; 2]| distance_m(place, *edge) > reach_m + MORE_M;
            edges.iter().all(far)
        })
    };
    SHARES.into_iter().any(has_room)
}

#[cfg(test)]
mod tests {
    use super::super::test_numbers::random_numbers;
    use super::*;
    use crate::geometry::Pt;
    use crate::geometry::offset::inset;

    /// Where a place is found, the shape moved inwards is not empty; most wide shapes have one.
    #[test]
    fn room_that_is_found_is_there() {
        let mut random = random_numbers(17);
        let mut found = 0;
        for _ in 0..60 {
            let corners = (0..11).map(|k| {
                let (sine, cosine) = (f64::from(k) / 11.0 * std::f64::consts::TAU).sin_cos();
                let radius = 3.0 + 12.0 * random();
                Pt::from_metres([radius * cosine, radius * sine]).unwrap()
            });
            let shape = Shape {
                exterior: corners.collect(),
                holes: Vec::new(),
            };
            if has_room(&shape, 2.95) {
                found += 1;
                assert!(!inset(std::slice::from_ref(&shape), 2.95).is_empty());
            }
        }
        assert!((10..60).contains(&found), "{found}");
    }
}
