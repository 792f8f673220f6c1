//! A uniform grid over points: which lie in a box.

use super::csr::Csr;
use super::point::Pt;

/// Cells of 2^shift units with the numbers of the points in them; about one cell per point.
pub(crate) struct PointGrid {
    min: Pt,
    shift: u32,
    columns: i64,
    rows: i64,
    cells: Csr<u32>,
}

impl PointGrid {
    pub(crate) fn new(points: &[Pt]) -> Self {
        let low = |of: fn(&Pt) -> i64| points.iter().map(of).min().unwrap_or(0);
        let high = |of: fn(&Pt) -> i64| points.iter().map(of).max().unwrap_or(0);
        let min = Pt {
            x: low(|p| p.x),
            y: low(|p| p.y),
        };
        let [width, height] = [high(|p| p.x) - min.x, high(|p| p.y) - min.y];
        let wanted = points.len() as i64 + 1;
        let mut shift = 0;
        while ((width >> shift) + 1).saturating_mul((height >> shift) + 1) > wanted {
            shift += 1;
        }
        let [columns, rows] = [(width >> shift) + 1, (height >> shift) + 1];
        let cell = |p: &Pt| ((p.y - min.y) >> shift) * columns + ((p.x - min.x) >> shift);
        let pairs: Vec<(u32, u32)> = points.iter().map(|p| cell(p) as u32).zip(0..).collect();
        Self {
            min,
            shift,
            columns,
            rows,
            cells: Csr::from_pairs((columns * rows) as usize, &pairs),
        }
    }

    /// Numbers of the points in all cells that the box from `low` to `high` touches, and so of all that lie
    /// in the box.
    pub(crate) fn near(&self, low: Pt, high: Pt) -> impl Iterator<Item = u32> {
        let column = |x: i64| ((x - self.min.x) >> self.shift).clamp(0, self.columns - 1);
        let row = |y: i64| ((y - self.min.y) >> self.shift).clamp(0, self.rows - 1);
        let (columns, rows) = (column(low.x)..=column(high.x), row(low.y)..=row(high.y));
        rows.flat_map(move |row| {
            let cells = columns
                .clone()
                .map(move |column| row * self.columns + column);
            cells.flat_map(|cell| self.cells.list(cell as usize).iter().copied())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_point_of_a_box_is_found() {
        let mut state = 9u64;
        let mut next = || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
            ((state >> 33) % 1000) as i64 - 500
        };
        let points: Vec<Pt> = (0..300)
            .map(|_| Pt {
                x: next(),
                y: next(),
            })
            .collect();
        let grid = PointGrid::new(&points);
        for _ in 0..200 {
            let [a, b] = [
                Pt {
                    x: next(),
                    y: next(),
                },
                Pt {
                    x: next(),
                    y: next(),
                },
            ];
            let [low, high] = [
                Pt {
                    x: a.x.min(b.x),
                    y: a.y.min(b.y),
                },
                Pt {
                    x: a.x.max(b.x),
                    y: a.y.max(b.y),
                },
            ];
            let found: Vec<u32> = grid.near(low, high).collect();
            for (number, p) in points.iter().enumerate() {
                let inside = low.x <= p.x && p.x <= high.x && low.y <= p.y && p.y <= high.y;
                assert!(
                    !inside || found.contains(&(number as u32)),
                    "{p:?} {low:?} {high:?}"
                );
            }
        }
        assert_eq!(PointGrid::new(&[]).near(points[0], points[1]).count(), 0);
    }
}
