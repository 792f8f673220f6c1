//! Polygons put into one arrangement, and which of them cover a face.

use super::arrangement::{Arrangement, OUTSIDE};
use super::point::{Pt, UNITS_PER_M, area2_to_m2, cross};
use super::shape::{Ring, Shape};
use super::shared_lines::SharedLines;
use std::collections::BTreeMap;

/// Polygons as files give them, numbered in the order they are added.
///
/// A polygon covers what its exterior ring encloses (even-odd rule) and none of its holes does;
/// winding does not matter. Rings may cross themselves and each other.
#[derive(Default)]
pub struct Overlay {
    rings: Vec<Ring>,
    /// Per ring (the source number in the arrangement): its polygon.
    polygon_of: Vec<u32>,
    is_hole: Vec<bool>,
    polygons: u32,
}

/// A ring that crosses itself, or runs around some land more than once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SelfCrossing {
    /// Number of the polygon.
    pub polygon: u32,
    /// A point where it shows.
    pub place: Pt,
    /// Area of the smaller lobes and of what is wound around more than once, m2.
    pub area_m2: f64,
}

/// Land that the holes of a polygon say more than once, or that no hole can take from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OddHoles {
    /// Number of the polygon.
    pub polygon: u32,
    /// A point of the land it is about.
    pub place: Pt,
    /// Land that lies in several holes, counted once less than they are, m2: they overlap, or one lies in another.
    pub twice_m2: f64,
    /// Land of holes that lies outside of the polygon's exterior, m2.
    pub outside_m2: f64,
}

impl Overlay {
    /// Adds a polygon and gives its number.
    pub fn add(&mut self, polygon: Shape) -> u32 {
        let number = self.polygons;
        self.polygons += 1;
        for (nth, ring) in std::iter::once(polygon.exterior)
            .chain(polygon.holes)
            .enumerate()
        {
            self.rings.push(ring);
            self.polygon_of.push(number);
            self.is_hole.push(nth > 0);
        }
        number
    }

    /// Leads what runs along shared lines through all corners on them.
    pub(crate) fn share(&mut self, lines: &SharedLines) {
        lines.lead(&mut self.rings);
    }

    /// Arranges all polygons added so far.
    pub fn arrange(&self) -> Arrangement {
        Arrangement::new(self.sources())
    }

    /// The same, and lets go of the rings: what comes after asks for faces and what covers them.
    pub(crate) fn arrange_once(&mut self) -> Arrangement {
        Arrangement::of_own(std::mem::take(&mut self.rings))
    }

    /// The same, unless the rings meet so often that no map is meant.
    ///
    /// # Errors
    /// At how many places at least they meet, and one of them.
    pub fn arrange_map(&self) -> Result<Arrangement, (usize, Pt)> {
        Arrangement::of_map(self.sources())
    }

    /// The rings with their numbers.
    fn sources(&self) -> impl Iterator<Item = (u32, &[Pt])> + Clone {
        (0..).zip(self.rings.iter().map(Vec::as_slice))
    }

    /// Numbers of the polygons that cover a face, ascending.
    pub fn covering(&self, arrangement: &Arrangement, face: u32) -> Vec<u32> {
        let mut covering: Vec<u32> = Vec::new();
        self.cover(arrangement, face, &mut covering);
        covering
    }

    /// The same into a list that is there.
    pub(crate) fn cover(&self, arrangement: &Arrangement, face: u32, covering: &mut Vec<u32>) {
        covering.clear();
        for winding in arrangement.windings(face) {
            if winding.count % 2 == 0 {
                continue;
            }
            // The exterior of a polygon comes before its holes.
            let polygon = self.polygon_of[winding.source as usize];
            if !self.is_hole[winding.source as usize] {
                covering.push(polygon);
            } else if covering.last() == Some(&polygon) {
                covering.pop();
            }
        }
    }

    /// Rings that cross themselves, by polygon.
    pub fn self_crossings(&self, arrangement: &Arrangement) -> Vec<SelfCrossing> {
        // Per ring: twice the area wound around once forwards, once backwards, more often.
        let mut areas = vec![[0i128; 3]; self.rings.len()];
        for face in 1..arrangement.faces() as u32 {
            for winding in arrangement.windings(face) {
                let kind = match winding.count {
                    1 => 0,
                    -1 => 1,
                    _ => 2,
                };
                areas[winding.source as usize][kind] += arrangement.area2(face);
            }
        }
        let crossings =
            areas
                .iter()
                .enumerate()
                .filter_map(|(ring, &[forwards, backwards, more])| {
                    let area2 = forwards.min(backwards) + more;
                    let place = self.rings[ring].iter().min()?;
                    (area2 > 0).then(|| SelfCrossing {
                        polygon: self.polygon_of[ring],
                        place: *place,
                        area_m2: area2_to_m2(area2),
                    })
                });
        crossings.collect()
    }

    /// Polygons with holes that overlap, nest, or lie outside of the exterior.
    pub fn odd_holes(&self, arrangement: &Arrangement) -> Vec<OddHoles> {
        let mut odd: BTreeMap<u32, OddHoles> = BTreeMap::new();
        for face in 1..arrangement.faces() as u32 {
            let odd_here = arrangement.windings(face).iter();
            let inside = odd_here.filter(|winding| winding.count % 2 != 0);
            let rings: Vec<usize> = inside.map(|winding| winding.source as usize).collect();
            for of_polygon in rings.chunk_by(|a, b| self.polygon_of[*a] == self.polygon_of[*b]) {
                let holes = of_polygon
                    .iter()
                    .filter(|ring| self.is_hole[**ring])
                    .count();
                let outside = holes == of_polygon.len();
                if holes < 1 + usize::from(!outside) {
                    continue;
                }
                let polygon = self.polygon_of[of_polygon[0]];
                let found = odd.entry(polygon).or_insert(OddHoles {
                    polygon,
                    place: arrangement.corner(face),
                    twice_m2: 0.0,
                    outside_m2: 0.0,
                });
                let area_m2 = arrangement.area_m2(face);
                found.twice_m2 += (holes - 1) as f64 * area_m2;
                if outside {
                    found.outside_m2 += area_m2;
                }
            }
        }
        odd.into_values().collect()
    }

    /// Shapes of the land that passes the test, given the polygons that cover it.
    pub fn shapes_where(&self, mut test: impl FnMut(&[u32]) -> bool) -> Vec<Shape> {
        let arrangement = self.arrange();
        let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
            .map(|face| (face != OUTSIDE && test(&self.covering(&arrangement, face))).then_some(0))
            .collect();
        arrangement
            .dissolve(&group)
            .into_iter()
            .map(|(_, shape)| shape)
            .collect()
    }
}

/// The land any of the polygons covers, as clean shapes.
pub fn union(polygons: impl IntoIterator<Item = Shape>) -> Vec<Shape> {
    let polygons: Vec<Shape> = polygons.into_iter().collect();
    if let [one] = polygons.as_slice()
        && let Some(clean) = clean_already(one)
    {
        return vec![clean];
    }
    let mut overlay = Overlay::default();
    for polygon in polygons {
        overlay.add(polygon);
    }
    overlay.shapes_where(|covering| !covering.is_empty())
}

/// How far from its other sides each corner lies in what is clean already, units: far more than rounding moves.
const CLEAN_UNITS: f64 = 8.0;

/// A polygon with four corners that bends to the left in each, as its union would have it: most sections of a drive are such.
/// `None` for anything else.
fn clean_already(polygon: &Shape) -> Option<Shape> {
    let &[a, b, c, d] = polygon.exterior.as_slice() else {
        return None;
    };
    let ring = [a, b, c, d];
    let bends = (0..4).all(|nth| {
        let [from, corner, to] = [0, 1, 2].map(|next| ring[(nth + next) % 4]);
        let longest_m = from.distance_m(corner).max(corner.distance_m(to));
        cross(from, corner, to) as f64 > CLEAN_UNITS * longest_m * UNITS_PER_M
    });
    let first = (0..4).min_by_key(|&nth| ring[nth])?;
    (polygon.holes.is_empty() && bends).then(|| Shape {
        exterior: (0..4).map(|nth| ring[(first + nth) % 4]).collect(),
        holes: Vec::new(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: i64, y: i64, side: i64) -> Ring {
        [[0, 0], [1, 0], [1, 1], [0, 1]]
            .map(|[u, v]| Pt {
                x: x + u * side,
                y: y + v * side,
            })
            .to_vec()
    }

    #[test]
    fn a_hole_is_left_out_whatever_its_winding_and_touching_the_border() {
        for reverse in [false, true] {
            let mut hole = square(0, 4, 2);
            if reverse {
                hole.reverse();
            }
            let shapes = union([Shape {
                exterior: square(0, 0, 10),
                holes: vec![hole],
            }]);
            assert_eq!(shapes.len(), 1);
            assert_eq!(shapes[0].area2(), 2 * 96);
        }
    }

    /// Some thousand quadrilaterals, thin ones, bow ties and such as bend to the right among them.
    #[test]
    fn what_counts_as_clean_already_is_what_the_arrangement_makes_of_it() {
        let (mut state, mut clean) = (1_u64, 0);
        let mut next = |range: i64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) as i64).rem_euclid(range) - range / 2
        };
        for case in 0..4000 {
            let (wide, high) = [(60, 60), (5_000, 20), (5_000, 5_000)][case % 3];
            let corner = |_| Pt {
                x: next(wide),
                y: next(high),
            };
            let shape = Shape {
                exterior: [0; 4].map(corner).to_vec(),
                holes: Vec::new(),
            };
            if let Some(quick) = clean_already(&shape) {
                let mut overlay = Overlay::default();
                overlay.add(shape);
                assert_eq!(
                    vec![quick],
                    overlay.shapes_where(|covering| !covering.is_empty())
                );
                clean += 1;
            }
        }
        assert!(clean > 100, "{clean}");
    }

    #[test]
    fn islands_in_holes_and_pieces_that_touch_at_a_point_stay_apart() {
        let shapes = union([
            Shape {
                exterior: square(0, 0, 10),
                holes: vec![square(2, 2, 6)],
            },
            Shape {
                exterior: square(4, 4, 2),
                holes: Vec::new(),
            },
            Shape {
                exterior: square(10, 10, 5),
                holes: Vec::new(),
            },
        ]);
        let areas: Vec<i128> = shapes.iter().map(Shape::area2).collect();
        assert_eq!(areas, [128, 8, 50]); // from west to east
    }

    #[test]
    fn where_a_file_starts_its_rings_and_how_it_winds_them_changes_nothing() {
        let ring = square(0, 0, 10);
        let hole = square(2, 2, 6);
        let expected = union([Shape {
            exterior: ring.clone(),
            holes: vec![hole.clone()],
        }]);
        for turn in 0..4 {
            for reverse in [false, true] {
                let [mut ring, mut hole] = [ring.clone(), hole.clone()];
                ring.rotate_left(turn);
                hole.rotate_left(3 - turn);
                if reverse {
                    ring.reverse();
                }
                let holed = Shape {
                    exterior: ring,
                    holes: vec![hole],
                };
                assert_eq!(union([holed]), expected);
            }
        }
    }

    #[test]
    fn a_bow_tie_keeps_both_lobes_and_is_told() {
        let bow = [[0, 0], [10, 10], [10, 0], [0, 10]]
            .map(|[x, y]| Pt { x, y })
            .to_vec();
        let mut overlay = Overlay::default();
        overlay.add(Shape {
            exterior: bow,
            holes: Vec::new(),
        });
        let told = overlay.self_crossings(&overlay.arrange());
        assert_eq!(told.len(), 1);
        assert_eq!(told[0].area_m2, area2_to_m2(50));
        let shapes = overlay.shapes_where(|covering| !covering.is_empty());
        assert_eq!(shapes.iter().map(Shape::area2).sum::<i128>(), 100);
    }

    #[test]
    fn holes_that_overlap_nest_or_lie_outside_are_told_apart() {
        let mut overlay = Overlay::default();
        overlay.add(Shape {
            exterior: square(0, 0, 100),
            holes: vec![square(10, 10, 20), square(20, 20, 20), square(12, 12, 2)],
        });
        overlay.add(Shape {
            exterior: square(0, 0, 100),
            holes: vec![square(90, 90, 20)],
        });
        overlay.add(Shape {
            exterior: square(0, 0, 100),
            holes: vec![square(5, 5, 5)],
        });
        let odd = overlay.odd_holes(&overlay.arrange());
        let found: Vec<_> = odd
            .iter()
            .map(|of| (of.polygon, of.twice_m2, of.outside_m2))
            .collect();
        let m2 = |units2: i128| area2_to_m2(2 * units2);
        assert_eq!(found, [(0, m2(104), 0.0), (1, 0.0, m2(300))]);
    }

    #[test]
    fn a_hole_that_touches_at_two_points_cuts_the_polygon_in_two() {
        let diamond = [[5, 0], [10, 5], [5, 10], [0, 5]]
            .map(|[x, y]| Pt { x, y })
            .to_vec();
        let shapes = union([Shape {
            exterior: square(0, 0, 10),
            holes: vec![diamond],
        }]);
        assert_eq!(shapes.len(), 4);
        assert!(
            shapes
                .iter()
                .all(|shape| shape.area2() == 25 && shape.holes.is_empty())
        );
    }
}
