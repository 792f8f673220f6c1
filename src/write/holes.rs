//! Field boundaries with the exclusions taken out, as parts of one exterior each.

use super::rings;
use crate::coordinates::LonLat;
use crate::read::Polygon;

/// Parts of a field, and what could not be made a hole of one.
pub(super) struct Parts {
    /// One exterior with its holes each.
    pub parts: Vec<Polygon<LonLat>>,
    /// Exclusions that touch or cross a border or another exclusion.
    pub left_over: Vec<Polygon<LonLat>>,
}

/// Makes every exclusion that lies inside a part, clear of its border and of other holes, a hole of
/// that part. Land inside a ring-shaped exclusion becomes a part of its own.
pub(super) fn take_out(boundary: &[Polygon<LonLat>], exclusions: &[Polygon<LonLat>]) -> Parts {
    let mut out = Parts {
        parts: boundary.to_vec(),
        left_over: Vec::new(),
    };
    for exclusion in exclusions {
        let inside = out
            .parts
            .iter_mut()
            .find(|part| lies_inside(&exclusion.exterior, part));
        let Some(part) = inside else {
            out.left_over.push(exclusion.clone());
            continue;
        };
        part.holes.push(exclusion.exterior.clone());
        let islands = exclusion.holes.iter().cloned();
        out.parts.extend(islands.map(|exterior| Polygon {
            exterior,
            holes: Vec::new(),
        }));
    }
    out
}

/// Whether a ring lies in the land of a part without touching its border. A hole of the part that
/// lies inside the ring counts as a conflict too.
fn lies_inside(ring: &[LonLat], part: &Polygon<LonLat>) -> bool {
    let Some(&first) = ring.first() else {
        return false;
    };
    let outlines = std::iter::once(&part.exterior).chain(&part.holes);
    contains(&part.exterior, first)
        && outlines.clone().all(|outline| !meet(ring, outline))
        && part.holes.iter().all(|hole| {
            !contains(hole, first) && hole.first().is_none_or(|&point| !contains(ring, point))
        })
}

/// Whether a point lies in a ring (crossings of a ray to the east).
fn contains(ring: &[LonLat], LonLat { lon: x, lat: y }: LonLat) -> bool {
    edges(ring).fold(false, |inside, (a, b)| {
        let crosses =
            (a[1] > y) != (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0];
        inside != crosses
    })
}

/// Whether two rings share a point.
fn meet(one: &[LonLat], other: &[LonLat]) -> bool {
    let Some(box_of_one) = rings::extent(one.iter().map(|place| place.pair())) else {
        return false;
    };
    // Boundaries are long and exclusions small: most edges are out of reach.
    let near: Vec<_> = edges(other)
        .filter(|(c, d)| overlap(box_of_one, extent_of(*c, *d)))
        .collect();
    edges(one).any(|(a, b)| {
        near.iter()
            .any(|&(c, d)| overlap(extent_of(a, b), extent_of(c, d)) && segments_meet(a, b, c, d))
    })
}

fn extent_of(a: [f64; 2], b: [f64; 2]) -> [f64; 4] {
    [
        a[0].min(b[0]),
        a[1].min(b[1]),
        a[0].max(b[0]),
        a[1].max(b[1]),
    ]
}

/// Whether two boxes (west, south, east, north) share a point.
fn overlap(one: [f64; 4], other: [f64; 4]) -> bool {
    one[0] <= other[2] && other[0] <= one[2] && one[1] <= other[3] && other[1] <= one[3]
}

fn segments_meet(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        let turn = (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
        if turn == 0.0 {
            0
        } else if turn > 0.0 {
            1
        } else {
            -1
        }
    };
    // Boxes overlap already, so segments on one line meet.
    side(a, b, c) * side(a, b, d) <= 0 && side(c, d, a) * side(c, d, b) <= 0
}

/// Edges of a ring, the closing one included; as plain numbers, for whether lines cross is the same on any paper.
fn edges(ring: &[LonLat]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
    let places = ring.iter().map(|place| place.pair());
    let next = places.clone().skip(1).chain(places.clone().next());
    places.zip(next).filter(|(a, b)| a != b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, edge: f64) -> Vec<LonLat> {
        [
            [x, y],
            [x + edge, y],
            [x + edge, y + edge],
            [x, y + edge],
            [x, y],
        ]
        .map(LonLat::of_pair)
        .to_vec()
    }

    fn polygon(exterior: Vec<LonLat>) -> Polygon<LonLat> {
        Polygon {
            exterior,
            holes: Vec::new(),
        }
    }

    #[test]
    fn a_pond_becomes_a_hole_of_its_part() {
        let boundary = [
            polygon(square(0.0, 0.0, 10.0)),
            polygon(square(20.0, 0.0, 10.0)),
        ];
        let out = take_out(&boundary, &[polygon(square(22.0, 2.0, 3.0))]);
        assert!(out.parts[0].holes.is_empty());
        assert_eq!(out.parts[1].holes, [square(22.0, 2.0, 3.0)]);
        assert!(out.left_over.is_empty());
    }

    #[test]
    fn what_touches_or_crosses_a_border_is_left_over() {
        let boundary = [polygon(square(0.0, 0.0, 10.0))];
        let exclusions = [
            polygon(square(8.0, 8.0, 5.0)),
            polygon(square(0.0, 3.0, 2.0)),
            polygon(square(4.0, 4.0, 2.0)),
            polygon(square(5.0, 5.0, 2.0)),
            polygon(square(4.5, 4.5, 1.0)),
            polygon(square(3.0, 3.0, 4.0)),
            polygon(square(30.0, 0.0, 1.0)),
        ];
        let out = take_out(&boundary, &exclusions);
        assert_eq!(out.parts[0].holes, [square(4.0, 4.0, 2.0)]);
        assert_eq!(out.left_over.len(), 6);
    }

    #[test]
    fn an_island_becomes_a_part() {
        let boundary = [polygon(square(0.0, 0.0, 10.0))];
        let moat = Polygon {
            exterior: square(2.0, 2.0, 6.0),
            holes: vec![square(4.0, 4.0, 1.0)],
        };
        let out = take_out(&boundary, &[moat]);
        assert_eq!(out.parts.len(), 2);
        assert_eq!(out.parts[1].exterior, square(4.0, 4.0, 1.0));
    }
}
