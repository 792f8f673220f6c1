//! The middle of land: whether a map lies where it should, though its areas and its extent are right.

use crate::read::{Polygon, Xy};

/// The middle of polygons in degrees, weighted by area in degrees; `None` where they have none.
pub fn middle(polygons: &[Polygon]) -> Option<Xy> {
    let origin = *polygons.first()?.exterior.first()?;
    let mut area = 0.0;
    let mut moment = [0.0; 2];
    for polygon in polygons {
        let holes = polygon.holes.iter().map(|hole| (hole, -1.0));
        for (ring, sign) in std::iter::once((&polygon.exterior, 1.0)).chain(holes) {
            let (own, [x, y]) = twice(ring, origin);
            // Whichever way the ring runs.
            let sign = sign * own.signum();
            area += sign * own;
            moment = [moment[0] + sign * x, moment[1] + sign * y];
        }
    }
    let at = |axis: usize| origin[axis] + moment[axis] / (3.0 * area);
    (area > 0.0).then(|| [at(0), at(1)])
}

/// Twice the signed area of a ring, and six times its first moments, from an origin nearby.
fn twice(ring: &[Xy], origin: Xy) -> (f64, Xy) {
    let from = |place: &Xy| [place[0] - origin[0], place[1] - origin[1]];
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

    fn square(west: f64, south: f64, side: f64) -> Vec<Xy> {
        let (east, north) = (west + side, south + side);
        vec![[west, south], [east, south], [east, north], [west, north]]
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
            let [x, y] = middle(&[polygon]).unwrap();
            assert!((x - 1.9).abs() < 1e-12 && (y - 30.5 / 15.0).abs() < 1e-12);
            hole.reverse();
        }
        assert_eq!(middle(&[]), None);
    }

    #[test]
    fn parts_count_by_their_area() {
        let of = |ring| Polygon {
            exterior: ring,
            holes: Vec::new(),
        };
        let parts = [of(square(8.0, 50.0, 1.0)), of(square(10.0, 50.0, 2.0))];
        let [x, y] = middle(&parts).unwrap();
        assert!((x - (8.5 + 4.0 * 11.0) / 5.0).abs() < 1e-9, "{x}");
        assert!((y - (50.5 + 4.0 * 51.0) / 5.0).abs() < 1e-9, "{y}");
    }
}
