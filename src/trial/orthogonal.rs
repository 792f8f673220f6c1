//! Least squares by orthogonal columns.

/// A linear model fitted by least squares.
#[derive(Debug, Clone, PartialEq)]
pub struct LeastSquares {
    /// One coefficient per column; 0 for a column that the ones before it already hold.
    pub coefficients: Vec<f64>,
    /// Whether a column adds to those before it.
    pub adds: Vec<bool>,
    /// Sum of squares that each column takes up after those before it (unit of the values, squared).
    pub taken_up: Vec<f64>,
    /// What is left per value.
    pub residuals: Vec<f64>,
    /// Sum of the squares of what is left.
    pub residual_squares: f64,
    /// Values less columns that add.
    pub degrees_of_freedom: usize,
    /// Logarithm of the determinant of X'X over the columns that add.
    pub log_determinant: f64,
    /// The inverse of X'X over all columns, row by row; times the residual mean square the covariance of the coefficients.
    pub unscaled_covariance: Vec<Vec<f64>>,
}

/// A column of which no more than this share of its length is new to those before it adds nothing.
const NEW_SHARE: f64 = 1e-9;

impl LeastSquares {
    /// Residual mean square; `None` where nothing is left to tell it from.
    pub fn mean_square(&self) -> Option<f64> {
        match self.degrees_of_freedom {
            0 => None,
            left => Some(self.residual_squares / left as f64),
        }
    }

    /// The value and the unscaled variance of a sum of coefficients with these weights.
    pub fn combined(&self, weights: &[f64]) -> (f64, f64) {
        let value = weights
            .iter()
            .zip(&self.coefficients)
            .map(|(w, c)| w * c)
            .sum();
        let rows = weights.iter().zip(&self.unscaled_covariance);
        let variance = rows
            .map(|(w, row)| w * row.iter().zip(weights).map(|(c, v)| c * v).sum::<f64>())
            .sum();
        (value, variance)
    }
}

/// Fits `values` by the columns, in their order; each column has one number per value.
///
/// Gram and Schmidt, each column twice: as good as reflections (L. Giraud and others, "The loss of orthogonality in
/// the Gram-Schmidt orthogonalization process", 2005). `None` where lengths differ or a number is not finite.
pub fn least_squares(columns: &[Vec<f64>], values: &[f64]) -> Option<LeastSquares> {
    let whole =
        |numbers: &[f64]| numbers.len() == values.len() && numbers.iter().all(|v| v.is_finite());
    if values.is_empty() || !whole(values) || !columns.iter().all(|column| whole(column)) {
        return None;
    }
    let size = columns.len();
    let mut units: Vec<Vec<f64>> = Vec::with_capacity(size);
    // Upper triangle: column = sum over units.
    let mut upper = vec![vec![0.0; size]; size];
    let mut adds = vec![true; size];
    let mut residuals = values.to_vec();
    let mut effects = vec![0.0; size];
    for (nth, column) in columns.iter().enumerate() {
        let mut rest = column.clone();
        for _ in 0..2 {
            for (before, unit) in units.iter().enumerate() {
                let share = dot(unit, &rest);
                upper[before][nth] += share;
                subtract(&mut rest, unit, share);
            }
        }
        let length = dot(&rest, &rest).sqrt();
        let own = dot(column, column).sqrt();
        adds[nth] = length > NEW_SHARE * own;
        if adds[nth] {
            rest.iter_mut().for_each(|v| *v /= length);
            upper[nth][nth] = length;
            for _ in 0..2 {
                let share = dot(&rest, &residuals);
                effects[nth] += share;
                subtract(&mut residuals, &rest, share);
            }
        } else {
            rest.iter_mut().for_each(|v| *v = 0.0);
        }
        units.push(rest);
    }
    let inverse = inverse_upper(&upper, &adds);
    let coefficients = inverse.iter().map(|row| dot(row, &effects)).collect();
    let unscaled_covariance = inverse
        .iter()
        .map(|a| inverse.iter().map(|b| dot(a, b)).collect())
        .collect();
    let used = adds.iter().filter(|adds| **adds).count();
    Some(LeastSquares {
        coefficients,
        taken_up: effects.iter().map(|e| e * e).collect(),
        residual_squares: dot(&residuals, &residuals),
        residuals,
        degrees_of_freedom: values.len() - used.min(values.len()),
        log_determinant: (0..size)
            .filter(|&n| adds[n])
            .map(|n| 2.0 * upper[n][n].ln())
            .sum(),
        unscaled_covariance,
        adds,
    })
}

/// The inverse of an upper triangle, over the columns that add; rows and columns of the others are 0.
fn inverse_upper(upper: &[Vec<f64>], adds: &[bool]) -> Vec<Vec<f64>> {
    let size = upper.len();
    let mut inverse = vec![vec![0.0; size]; size];
    for column in (0..size).filter(|&n| adds[n]) {
        inverse[column][column] = 1.0 / upper[column][column];
        for row in (0..column).rev().filter(|&n| adds[n]) {
            let sum: f64 = (row + 1..=column)
                .filter(|&k| adds[k])
                .map(|k| upper[row][k] * inverse[k][column])
                .sum();
            inverse[row][column] = -sum / upper[row][row];
        }
    }
    inverse
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn subtract(from: &mut [f64], unit: &[f64], share: f64) {
    from.iter_mut().zip(unit).for_each(|(v, u)| *v -= share * u);
}
