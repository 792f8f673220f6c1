//! Ordinary kriging with all points at once.

use super::variogram::Variogram;

/// A system solved once for all places: prediction is a weighted sum of variogram values.
pub(super) struct Kriging<'a> {
    points: &'a [[f64; 2]],
    variogram: Variogram,
    /// Per point, and last the constant.
    weights: Vec<f64>,
    /// What each point's value differs from its prediction by all others.
    pub left_out_error: Vec<f64>,
}

impl<'a> Kriging<'a> {
    /// Solves the system (dual form). The leave-one-out errors follow from the inverse (O. Dubrule,
    /// "Cross validation of kriging in a unique neighborhood", 1983). `None` where points coincide
    /// or the variogram is flat zero, so that the system has no solution.
    pub(super) fn of(points: &'a [[f64; 2]], values: &[f64], variogram: Variogram) -> Option<Self> {
        let n = points.len();
        let size = n + 1;
        let mut matrix = vec![0.0; size * size];
        for i in 0..n {
            for j in 0..n {
                let [dx, dy] = [points[i][0] - points[j][0], points[i][1] - points[j][1]];
                matrix[i * size + j] = variogram.at(dx.hypot(dy));
            }
            matrix[i * size + n] = 1.0;
            matrix[n * size + i] = 1.0;
        }
        let inverse = inverse(matrix, size)?;
        let weights: Vec<f64> = (0..size)
            .map(|i| (0..n).map(|j| inverse[i * size + j] * values[j]).sum())
            .collect();
        let left_out_error = (0..n).map(|i| weights[i] / inverse[i * size + i]).collect();
        Some(Self {
            points,
            variogram,
            weights,
            left_out_error,
        })
    }

    /// The prediction at a place.
    pub(super) fn at(&self, [x, y]: [f64; 2]) -> f64 {
        let of_points: f64 = self
            .points
            .iter()
            .zip(&self.weights)
            .map(|([px, py], weight)| weight * self.variogram.at((px - x).hypot(py - y)))
            .sum();
        of_points + self.weights.last().copied().unwrap_or(0.0)
    }
}

/// The inverse by Gauss and Jordan with row pivots.
fn inverse(mut a: Vec<f64>, size: usize) -> Option<Vec<f64>> {
    let largest = a.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    let mut b = vec![0.0; size * size];
    for i in 0..size {
        b[i * size + i] = 1.0;
    }
    for column in 0..size {
        let pivot = (column..size).reduce(|best, row| {
            match a[row * size + column].abs() > a[best * size + column].abs() {
                true => row,
                false => best,
            }
        })?;
        if a[pivot * size + column].abs() <= 1e-13 * largest {
            return None;
        }
        for k in 0..size {
            a.swap(pivot * size + k, column * size + k);
            b.swap(pivot * size + k, column * size + k);
        }
        let scale = a[column * size + column];
        for k in 0..size {
            a[column * size + k] /= scale;
            b[column * size + k] /= scale;
        }
        let own_a = a[column * size..][..size].to_vec();
        let own_b = b[column * size..][..size].to_vec();
        for row in (0..size).filter(|row| *row != column) {
            let factor = a[row * size + column];
            if factor != 0.0 {
                let (to_a, to_b) = (&mut a[row * size..][..size], &mut b[row * size..][..size]);
                for k in 0..size {
                    to_a[k] -= factor * own_a[k];
                    to_b[k] -= factor * own_b[k];
                }
            }
        }
    }
    Some(b)
}
