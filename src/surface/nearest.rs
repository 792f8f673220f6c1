//! For every pixel the nearest one of a set, exactly.

use super::regions::NONE;

/// Per pixel, row by row: the index of the nearest pixel for which `is` holds, [`NONE`] where no pixel
/// does. Distances are between middles; of equals the one in the column farther left counts, then the
/// one farther up.
///
/// Two passes (P. F. Felzenszwalb and D. P. Huttenlocher, "Distance transforms of sampled functions",
/// 2012): along the columns, then the lower envelope of parabolas along each row. Cost grows with the
/// number of pixels.
pub(super) fn nearest(is: &[bool], columns: usize, [wide, high]: [f64; 2]) -> Vec<u32> {
    let rows = is.len() / columns.max(1);
    // Per pixel: the row of the nearest marked pixel in its column.
    let mut row_of = vec![NONE; is.len()];
    for column in 0..columns {
        let mut last = NONE;
        for row in 0..rows {
            let at = row * columns + column;
            if is[at] {
                last = row as u32;
            }
            row_of[at] = last;
        }
        let mut last = NONE;
        for row in (0..rows).rev() {
            let at = row * columns + column;
            if is[at] {
                last = row as u32;
            }
            let above = row_of[at];
            if last != NONE && (above == NONE || last - (row as u32) < row as u32 - above) {
                row_of[at] = last;
            }
        }
    }
    let mut found = vec![NONE; is.len()];
    let mut hull = Envelope::default();
    for row in 0..rows {
        let line = &row_of[row * columns..][..columns];
        hull.clear();
        for (column, &nearest) in line.iter().enumerate() {
            if nearest != NONE {
                let down = (f64::from(nearest) - row as f64) * high / wide;
                hull.add(column, down * down);
            }
        }
        hull.walk(columns, |at, column| {
            found[row * columns + at] = line[column] * columns as u32 + column as u32;
        });
    }
    found
}

/// The lower envelope of parabolas of one shape.
#[derive(Default)]
struct Envelope {
    /// Column and height of the lowest point of each parabola that counts.
    parabolas: Vec<(usize, f64)>,
    /// Where each begins to be the lowest.
    from: Vec<f64>,
}

impl Envelope {
    fn clear(&mut self) {
        self.parabolas.clear();
        self.from.clear();
    }

    fn add(&mut self, column: usize, height: f64) {
        let mut from = f64::NEG_INFINITY;
        while let (Some(&(other, low)), Some(&begins)) = (self.parabolas.last(), self.from.last()) {
            let (x, y) = (column as f64, other as f64);
            from = (height - low + x * x - y * y) / (2.0 * (x - y));
            if from > begins {
                break;
            }
            self.parabolas.pop();
            self.from.pop();
            from = f64::NEG_INFINITY;
        }
        self.parabolas.push((column, height));
        self.from.push(from);
    }

    fn walk(&self, columns: usize, mut each: impl FnMut(usize, usize)) {
        let mut nth = 0;
        for at in 0..columns {
            while self.from.get(nth + 1).is_some_and(|from| *from < at as f64) {
                nth += 1;
            }
            if let Some((column, _)) = self.parabolas.get(nth) {
                each(at, *column);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_is_the_nearest_of_all() {
        let mut next = super::super::test_grids::numbers();
        for (columns, rows, every) in [(1, 1, 1), (7, 5, 4), (23, 31, 40), (40, 9, 3)] {
            let is: Vec<bool> = (0..columns * rows)
                .map(|_| next().is_multiple_of(every))
                .collect();
            let size = [1.0, 1.7];
            let away = |a: usize, b: usize| {
                let across = (a % columns) as f64 - (b % columns) as f64;
                let down = (a / columns) as f64 - (b / columns) as f64;
                (across * size[0]).hypot(down * size[1])
            };
            for (at, &own) in nearest(&is, columns, size).iter().enumerate() {
                let marked = (0..is.len()).filter(|&other| is[other]);
                match marked.map(|other| away(at, other)).reduce(f64::min) {
                    None => assert_eq!(own, NONE),
                    Some(best) => {
                        assert!(is[own as usize]);
                        assert!((away(at, own as usize) - best).abs() < 1e-9, "{at}: {own}");
                    }
                }
            }
        }
    }
}
