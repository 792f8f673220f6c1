//! Which pixels of a grid are meant: row by row, from one column to another.

use std::ops::Range;

/// Pixels of a grid, as spans of columns.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spans {
    columns: usize,
    /// Where the spans of each row start, and an end.
    first: Vec<u32>,
    /// First column and the one behind the last; in a row they rise and do not touch.
    spans: Vec<[u32; 2]>,
}

impl Spans {
    /// Of spans in any order, which may lie over each other; a list for each row.
    pub(super) fn of_rows(columns: usize, rows: Vec<Vec<[u32; 2]>>) -> Self {
        let mut own = Self {
            columns,
            first: vec![0],
            spans: Vec::new(),
        };
        for mut row in rows {
            row.sort_unstable();
            let start = own.spans.len();
            for [from, to] in row.into_iter().filter(|[from, to]| from < to) {
                match own.spans[start..].last_mut() {
                    Some([_, end]) if from <= *end => *end = to.max(*end),
                    _ => own.spans.push([from, to]),
                }
            }
            own.first.push(own.spans.len() as u32);
        }
        own
    }

    pub(super) fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }

    /// How many pixels.
    pub(super) fn count(&self) -> usize {
        self.spans
            .iter()
            .map(|[from, to]| (to - from) as usize)
            .sum()
    }

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    /// The spans of a row; none beyond the last.
    pub(super) fn row(&self, row: usize) -> &[[u32; 2]] {
        match (self.first.get(row), self.first.get(row + 1)) {
            (Some(&from), Some(&to)) => &self.spans[from as usize..to as usize],
            _ => &[],
        }
    }

    /// Whether a pixel is meant, by its place in the grid.
    pub(super) fn contains(&self, place: usize) -> bool {
        let column = (place % self.columns) as u32;
        let spans = self.row(place / self.columns);
        let after = spans.partition_point(|[from, _]| *from <= column);
        after > 0 && column < spans[after - 1][1]
    }

    /// Places in the grid from one to another, row by row, of these rows.
    pub(super) fn ranges(&self, rows: Range<usize>) -> impl Iterator<Item = Range<usize>> {
        rows.flat_map(|row| {
            let start = row * self.columns;
            let spans = self.row(row).iter();
            spans.map(move |[from, to]| start + *from as usize..start + *to as usize)
        })
    }

    /// All places in the grid, in order.
    pub(super) fn places(&self) -> impl Iterator<Item = usize> {
        self.ranges(0..self.first.len() - 1).flatten()
    }
}

#[cfg(test)]
impl Spans {
    /// The pixels of a grid for which something holds.
    pub(super) fn of(columns: usize, count: usize, meant: impl Fn(usize) -> bool) -> Self {
        let rows = (0..count.div_ceil(columns)).map(|row| {
            let places = (row * columns..((row + 1) * columns).min(count)).filter(|at| meant(*at));
            let column = |at: usize| (at - row * columns) as u32;
            places.map(|at| [column(at), column(at) + 1]).collect()
        });
        Self::of_rows(columns, rows.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_join_and_hold_their_pixels() {
        let spans = Spans::of_rows(
            10,
            vec![
                vec![[4, 6], [0, 2], [5, 8], [8, 9], [3, 3]],
                vec![],
                vec![[9, 10]],
            ],
        );
        assert_eq!(spans.row(0), [[0, 2], [4, 9]]);
        let places: Vec<usize> = spans.places().collect();
        assert_eq!(places, [0, 1, 4, 5, 6, 7, 8, 29]);
        assert_eq!(spans.count(), places.len());
        for place in 0..30 {
            assert_eq!(spans.contains(place), places.contains(&place), "{place}");
        }
        assert_eq!(Spans::of(10, 30, |at| spans.contains(at)), spans);
    }
}
