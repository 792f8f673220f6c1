//! Variograms: how the difference of two values grows with their distance.

use crate::job::VariogramModel;

/// Number of distance classes.
const LAGS: usize = 15;

/// A fitted variogram. The range is the distance at which the model has reached 95 % of its sill
/// (exponential, gaussian) or all of it (spherical).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Variogram {
    pub model: VariogramModel,
    pub nugget: f64,
    /// Sill above the nugget.
    pub partial_sill: f64,
    pub range_m: f64,
}

/// Half the mean squared difference of pairs of values, by distance.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lag {
    pub distance_m: f64,
    pub half_square: f64,
    pub pairs: f64,
}

impl Variogram {
    /// Half the expected squared difference at a distance; 0 at no distance.
    pub(super) fn at(&self, distance_m: f64) -> f64 {
        match distance_m > 0.0 {
            true => self.nugget + self.partial_sill * shape(self.model, distance_m / self.range_m),
            false => 0.0,
        }
    }
}

/// The model's share of the sill at a distance in ranges.
fn shape(model: VariogramModel, h: f64) -> f64 {
    match model {
        VariogramModel::Spherical if h >= 1.0 => 1.0,
        VariogramModel::Spherical => 1.5 * h - 0.5 * h * h * h,
        VariogramModel::Exponential => 1.0 - (-3.0 * h).exp(),
        VariogramModel::Gaussian => 1.0 - (-3.0 * h * h).exp(),
    }
}

/// The lags of points up to a third of the diagonal of their box (common practice in general
/// geostatistics software), in classes of equal width; empty classes are left out.
pub(super) fn lags(points: &[[f64; 2]], values: &[f64]) -> Vec<Lag> {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for point in points {
        for axis in 0..2 {
            low[axis] = low[axis].min(point[axis]);
            high[axis] = high[axis].max(point[axis]);
        }
    }
    let reach = (high[0] - low[0]).hypot(high[1] - low[1]) / 3.0;
    let mut sums = [[0.0; 3]; LAGS];
    for (n, (a, za)) in points.iter().zip(values).enumerate() {
        for (b, zb) in points.iter().zip(values).take(n) {
            let distance = (a[0] - b[0]).hypot(a[1] - b[1]);
            let lag = (distance / reach * LAGS as f64) as usize;
            if let Some([distances, squares, pairs]) = sums.get_mut(lag) {
                *distances += distance;
                *squares += (za - zb) * (za - zb) / 2.0;
                *pairs += 1.0;
            }
        }
    }
    sums.iter()
        .filter(|[.., pairs]| *pairs > 0.0)
        .map(|&[distances, squares, pairs]| Lag {
            distance_m: distances / pairs,
            half_square: squares / pairs,
            pairs,
        })
        .collect()
}

/// Fits a model to lags by least squares, weighted with pairs / distance^2 (N. Cressie, "Fitting
/// variogram models by weighted least squares", 1985, in the form that general geostatistics
/// software uses). For a given range the rest is linear; the range is searched on a fine scale and
/// then by golden section. Gives the variogram and the weighted sum of squares left.
pub(super) fn fit(lags: &[Lag], model: VariogramModel) -> Option<(Variogram, f64)> {
    let longest = lags.iter().map(|lag| lag.distance_m).fold(0.0, f64::max);
    if lags.len() < 3 || longest <= 0.0 {
        return None;
    }
    let at = |log: f64| with_range(lags, model, longest * log.exp());
    // From a hundredth of the longest lag to three times it.
    let (first, step) = ((0.01_f64).ln(), (300.0_f64).ln() / 120.0);
    let mut best = 0;
    for n in 1..=120 {
        if at(first + step * f64::from(n)).1 < at(first + step * f64::from(best)).1 {
            best = n;
        }
    }
    let (mut low, mut high) = (
        first + step * f64::from((best - 1).max(0)),
        first + step * f64::from((best + 1).min(120)),
    );
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    for _ in 0..60 {
        let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if at(a).1 <= at(b).1 {
            high = b;
        } else {
            low = a;
        }
    }
    Some(at((low + high) / 2.0))
}

/// The best nugget and sill for a range, neither below 0.
fn with_range(lags: &[Lag], model: VariogramModel, range_m: f64) -> (Variogram, f64) {
    let rows: Vec<[f64; 3]> = lags
        .iter()
        .map(|lag| {
            let weight = lag.pairs / lag.distance_m.max(1e-9).powi(2);
            [
                weight,
                shape(model, lag.distance_m / range_m),
                lag.half_square,
            ]
        })
        .collect();
    let sum = |of: &dyn Fn(&[f64; 3]) -> f64| rows.iter().map(|row| row[0] * of(row)).sum::<f64>();
    let (w, f, ff) = (sum(&|_| 1.0), sum(&|r| r[1]), sum(&|r| r[1] * r[1]));
    let (y, fy) = (sum(&|r| r[2]), sum(&|r| r[1] * r[2]));
    let determinant = w * ff - f * f;
    let mut pairs = vec![(y / w, 0.0), (0.0, if ff > 0.0 { fy / ff } else { 0.0 })];
    if determinant > 1e-12 * w * ff {
        pairs.push((
            (ff * y - f * fy) / determinant,
            (w * fy - f * y) / determinant,
        ));
    }
    let left = |(nugget, sill): (f64, f64)| sum(&|r| (r[2] - nugget - sill * r[1]).powi(2));
    let mut best = ((y / w).max(0.0), 0.0);
    for pair in pairs {
        if pair.0 >= 0.0 && pair.1 >= 0.0 && left(pair) < left(best) {
            best = pair;
        }
    }
    let variogram = Variogram {
        model,
        nugget: best.0,
        partial_sill: best.1,
        range_m,
    };
    (variogram, left(best))
}
