//! Symmetric positive definite matrices with a band, factored (Cholesky). A full matrix is one whose band is all of it.

/// The lower triangle, row by row, `band` numbers before the diagonal.
#[derive(Debug, Clone)]
pub(super) struct Banded {
    size: usize,
    band: usize,
    numbers: Vec<f64>,
}

impl Banded {
    /// All 0.
    pub(super) fn new(size: usize, band: usize) -> Self {
        let band = band.min(size.saturating_sub(1));
        Self {
            size,
            band,
            numbers: vec![0.0; size * (band + 1)],
        }
    }

    /// Sets an element; `column` lies at most `band` before `row`.
    pub(super) fn set(&mut self, row: usize, column: usize, value: f64) {
        let at = self.at(row, column);
        self.numbers[at] = value;
    }

    fn at(&self, row: usize, column: usize) -> usize {
        row * (self.band + 1) + self.band + column - row
    }

    /// Factors in place into L L'. `None` where the matrix is not positive definite.
    pub(super) fn factored(mut self) -> Option<Factor> {
        let (band, wide) = (self.band, self.band + 1);
        for row in 0..self.size {
            let first = row.saturating_sub(band);
            for column in first..=row {
                // The rows begin at different columns; from `from` both have numbers.
                let from = first.max(column.saturating_sub(band));
                let length = column - from;
                let a = row * wide + band + from - row;
                let b = column * wide + band + from - column;
                let shared: f64 = self.numbers[a..a + length]
                    .iter()
                    .zip(&self.numbers[b..b + length])
                    .map(|(x, y)| x * y)
                    .sum();
                let at = self.at(row, column);
                let left = self.numbers[at] - shared;
                if column == row {
                    if left.is_nan() || left <= 0.0 {
                        return None;
                    }
                    self.numbers[at] = left.sqrt();
                } else {
                    self.numbers[at] = left / self.numbers[self.at(column, column)];
                }
            }
        }
        Some(Factor(self))
    }
}

/// The factor L of a matrix.
#[derive(Debug, Clone)]
pub(super) struct Factor(Banded);

impl Factor {
    /// Logarithm of the determinant of the matrix.
    pub(super) fn log_determinant(&self) -> f64 {
        let of = &self.0;
        (0..of.size)
            .map(|n| 2.0 * of.numbers[of.at(n, n)].ln())
            .sum()
    }

    /// L^-1 times a column.
    pub(super) fn whitened(&self, column: &[f64]) -> Vec<f64> {
        let of = &self.0;
        let mut result = column.to_vec();
        for row in 0..of.size {
            let first = row.saturating_sub(of.band);
            let start = of.at(row, first);
            let shared: f64 = of.numbers[start..start + row - first]
                .iter()
                .zip(&result[first..row])
                .map(|(l, x)| l * x)
                .sum();
            result[row] = (result[row] - shared) / of.numbers[of.at(row, row)];
        }
        result
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_and_a_full_matrix_give_the_same() {
        // Second differences: the determinant of the n x n matrix is n + 1 (a classic; by induction).
        for band in [1, 3, 9] {
            let mut matrix = Banded::new(9, band);
            for n in 0..9 {
                matrix.set(n, n, 2.0);
                if n > 0 {
                    matrix.set(n, n - 1, -1.0);
                }
            }
            let factor = matrix.factored().unwrap();
            assert!((factor.log_determinant() - 10.0_f64.ln()).abs() < 1e-13);
            // x' A^-1 x for x = e1 is n / (n + 1).
            let mut first = vec![0.0; 9];
            first[0] = 1.0;
            let squares: f64 = factor.whitened(&first).iter().map(|v| v * v).sum();
            assert!((squares - 0.9).abs() < 1e-13, "{squares}");
        }
    }

    #[test]
    fn what_is_not_positive_is_refused() {
        let mut matrix = Banded::new(2, 1);
        matrix.set(0, 0, 1.0);
        matrix.set(1, 0, 2.0);
        matrix.set(1, 1, 1.0);
        assert!(matrix.factored().is_none());
    }
}
