//! Borders between the rows of land: which run near a place, which row is there, and where a straight way crosses them.

use super::borders::{Boxed, bounds, rectangle};
use crate::zones::LandUnits;
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};

/// Borders between the rows of land.
pub(super) struct RowBorders(RTree<Boxed<RowEdge>>);

/// An edge with the rows on its left and right.
pub(super) struct RowEdge {
    number: usize,
    pub(super) ends: [[f64; 2]; 2],
    pub(super) rows: [Option<u32>; 2],
}

/// Ways are looked at in parts of this length, so that the box of a long one does not meet all borders, m.
const PART_M: f64 = 100.0;

/// A border this little before the start of a way has been crossed there: ways begin at borders, and rounding decides, m.
const BEFORE_M: f64 = 0.001;

impl RowBorders {
    pub(super) fn of(units: &LandUnits) -> Self {
        let row = |face: u32| units.row_of_face.get(face as usize).copied().flatten();
        let edges = units.arrangement.edges_between(|sides| {
            let [left, right] = sides.map(row);
            left != right
        });
        let edges = edges.enumerate().map(|(number, (ends, sides))| {
            let ends = ends.map(|end| end.metres());
            let rows = sides.map(row);
            GeomWithData::new(rectangle(&ends), RowEdge { number, ends, rows })
        });
        Self(RTree::bulk_load(edges.collect()))
    }

    /// Those whose boxes meet a box.
    pub(super) fn near(&self, around: &AABB<[f64; 2]>) -> impl Iterator<Item = &RowEdge> {
        let edges = self.0.locate_in_envelope_intersecting(around);
        edges.map(|edge| &edge.data)
    }

    /// The row at a place: the side on which the nearest border to the east has it.
    pub(super) fn row_at(&self, [x, y]: [f64; 2]) -> Option<u32> {
        let ray = AABB::from_corners([x, y], [f64::MAX, y]);
        let mut nearest: Option<(f64, Option<u32>)> = None;
        for RowEdge { ends, rows, .. } in self.near(&ray) {
            let [a, b] = *ends;
            let up = b[1] > y;
            if up == (a[1] > y) {
                continue;
            }
            let at = a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
            if at > x && nearest.is_none_or(|(least, _)| at < least) {
                // A border that runs north has the west on its left.
                nearest = Some((at, rows[usize::from(!up)]));
            }
        }
        nearest.and_then(|(_, row)| row)
    }

    /// The rows along a straight way, with the metres at which each is entered: the first at its start.
    pub(super) fn along(&self, [start, end]: [[f64; 2]; 2]) -> Vec<(f64, Option<u32>)> {
        let way = [end[0] - start[0], end[1] - start[1]];
        let length = way[0].hypot(way[1]);
        if length <= 0.0 {
            return Vec::new();
        }
        let along = way.map(|d| d / length);
        let at = |metres: f64| [0, 1].map(|axis| start[axis] + metres * along[axis]);
        let turned = |[x, y]: [f64; 2]| {
            let [x, y] = [x - start[0], y - start[1]];
            [x * along[0] + y * along[1], y * along[0] - x * along[1]]
        };
        let parts = (length / PART_M).ceil().max(1.0) as usize;
        let mut crossings: Vec<(f64, usize, Option<u32>)> = Vec::new();
        for nth in 0..parts {
            let [from, to] = [nth, nth + 1].map(|nth| nth as f64 / parts as f64 * length);
            let from = if nth == 0 { -BEFORE_M } else { from };
            let [low, high] = bounds(&[at(from), at(to)]);
            let around = AABB::from_corners(low.map(|v| v - BEFORE_M), high.map(|v| v + BEFORE_M));
            for border in self.near(&around) {
                let [a, b] = border.ends.map(turned);
                // Half open, so that a corner counts once.
                if (a[1] < 0.0) == (b[1] < 0.0) {
                    continue;
                }
                let metres = a[0] + a[1] / (a[1] - b[1]) * (b[0] - a[0]);
                // A border that crosses from the left of the way to its right has what lies ahead on its left.
                let next = if b[1] < a[1] { 0 } else { 1 };
                if metres > from && metres <= to && metres < length {
                    crossings.push((metres, border.number, border.rows[next]));
                }
            }
        }
        crossings.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let before = crossings.partition_point(|(metres, _, _)| *metres <= 0.0);
        let first = match before.checked_sub(1) {
            Some(last) => crossings[last].2,
            None => self.row_at(start),
        };
        let rest = crossings.iter().skip(before);
        let rest = rest.map(|(metres, _, row)| (*metres, *row));
        std::iter::once((0.0, first)).chain(rest).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::test_numbers::random_numbers;
    use super::*;
    use crate::geometry::{Overlay, Pt, Shape};

    /// The slow way: every border crossed by the endless line, those before the start telling the row there.
    fn by_all_borders(
        borders: &RowBorders,
        [start, end]: [[f64; 2]; 2],
    ) -> Vec<(f64, Option<u32>)> {
        let way = [end[0] - start[0], end[1] - start[1]];
        let length = way[0].hypot(way[1]);
        let along = way.map(|d| d / length);
        let turned = |[x, y]: [f64; 2]| {
            let [x, y] = [x - start[0], y - start[1]];
            [x * along[0] + y * along[1], y * along[0] - x * along[1]]
        };
        let mut all: Vec<&RowEdge> = borders.0.iter().map(|edge| &edge.data).collect();
        all.sort_by_key(|edge| edge.number);
        let mut crossings = Vec::new();
        for border in all {
            let [a, b] = border.ends.map(turned);
            if (a[1] < 0.0) != (b[1] < 0.0) {
                let metres = a[0] + a[1] / (a[1] - b[1]) * (b[0] - a[0]);
                crossings.push((metres, border.rows[usize::from(b[1] >= a[1])]));
            }
        }
        crossings.sort_by(|a, b| a.0.total_cmp(&b.0));
        let before = crossings.partition_point(|(metres, _)| *metres <= 0.0);
        let first = before.checked_sub(1).and_then(|last| crossings[last].1);
        let rest = crossings[before..].iter().copied();
        let rest = rest.filter(|(metres, _)| *metres < length);
        std::iter::once((0.0, first)).chain(rest).collect()
    }

    #[test]
    fn what_lies_near_tells_the_rows_along_a_way() {
        let mut random = random_numbers(17);
        let mut entered = 0;
        for _ in 0..20 {
            let mut overlay = Overlay::default();
            for _ in 0..15 {
                let corner = |_| Pt::from_metres([400.0 * random(), 400.0 * random()]).unwrap();
                let exterior = [0; 3].map(corner);
                overlay.add(Shape {
                    exterior: exterior.to_vec(),
                    holes: Vec::new(),
                });
            }
            let arrangement = overlay.arrange();
            let row = |face: u32| {
                let count = overlay.covering(&arrangement, face).len() as u32;
                (count > 0).then_some(count)
            };
            let row_of_face = (0..arrangement.faces() as u32).map(row).collect();
            let units = LandUnits {
                row_of_face,
                arrangement,
                rows: Vec::new(),
                pieces: 0,
                setback_at_border: Vec::new(),
                classes: Vec::new(),
            };
            let borders = RowBorders::of(&units);
            for _ in 0..50 {
                let way = [0; 2].map(|_| [0; 2].map(|_| 500.0 * random() - 50.0));
                let got = borders.along(way);
                assert_eq!(got, by_all_borders(&borders, way));
                entered += got.len() - 1;
            }
        }
        assert!(entered > 5_000, "{entered}");
    }
}
