//! Means of plots whose errors are alike the closer they lie: restricted maximum likelihood.

use super::Estimate;
use super::banded::Banded;
use super::orthogonal::{LeastSquares, least_squares};

/// How likeness falls with distance, in ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// `1 / (1 + d^2)`.
    RationalQuadratic,
    /// `exp(-d)`.
    Exponential,
    /// None at all: independent errors.
    Independent,
}

impl Family {
    /// Likeness of two errors so many ranges apart.
    fn at(self, ranges: f64) -> f64 {
        match self {
            Self::RationalQuadratic => 1.0 / (1.0 + ranges * ranges),
            Self::Exponential => (-ranges).exp(),
            Self::Independent => 0.0,
        }
    }
}

/// A linear model of plots, fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotModel {
    /// Which likeness.
    pub family: Family,
    /// Distance that the family counts in, unit of the places.
    pub range: f64,
    /// Share of the variance that even the closest plots do not have in common.
    pub nugget: f64,
    /// Coefficients and what is left, after weighting.
    pub fit: LeastSquares,
    /// Restricted log-likelihood at its top.
    pub log_likelihood: f64,
}

impl PlotModel {
    /// Akaike's criterion: coefficients, range, nugget and variance are chosen.
    pub fn criterion(&self) -> f64 {
        let of_family = if self.family == Family::Independent {
            1.0
        } else {
            3.0
        };
        let coefficients = self.fit.adds.iter().filter(|adds| **adds).count() as f64;
        -2.0 * self.log_likelihood + 2.0 * (coefficients + of_family)
    }
}

/// Fits plots at places (H. Patterson and R. Thompson, "Recovery of inter-block information when block sizes are
/// unequal", Biometrika 58:545, 1971). Memory and time grow with the square and the cube of the number of plots.
pub fn plot_model(
    family: Family,
    columns: &[Vec<f64>],
    values: &[f64],
    places: &[[f64; 2]],
) -> Option<PlotModel> {
    let n = values.len();
    if places.len() != n || n > MOST_PLOTS {
        return None;
    }
    let at = |range: f64, nugget: f64| one(family, range, nugget, columns, values, places);
    if family == Family::Independent {
        return at(1.0, 0.0);
    }
    let [nearest, farthest] = reach(places)?;
    // By the logarithm of the range, and the nugget: a coarse net, then ever smaller steps.
    let score = |[log, nugget]: [f64; 2]| {
        at(log.exp(), nugget).map_or(f64::NEG_INFINITY, |model| model.log_likelihood)
    };
    let (low, high) = ((nearest / 5.0).ln(), (farthest * 3.0).ln());
    const NET: u32 = 8;
    let mut best = ([low, 0.5], f64::NEG_INFINITY);
    for a in 0..=NET {
        for nugget in [0.01, 0.2, 0.5, 0.8] {
            let point = [low + (high - low) * f64::from(a) / f64::from(NET), nugget];
            let own = score(point);
            if own > best.1 {
                best = (point, own);
            }
        }
    }
    let mut step = [(high - low) / f64::from(NET) / 2.0, 0.15];
    while step[0] > 1e-5 || step[1] > 1e-6 {
        let mut moved = false;
        for [a, b] in [
            [1.0, 0.0],
            [-1.0, 0.0],
            [0.0, 1.0],
            [0.0, -1.0],
            [1.0, 1.0],
            [-1.0, -1.0],
            [1.0, -1.0],
            [-1.0, 1.0],
        ] {
            let log = (best.0[0] + a * step[0]).clamp(low, high);
            let nugget = (best.0[1] + b * step[1]).clamp(0.0, 0.999);
            let own = score([log, nugget]);
            if own > best.1 {
                best = ([log, nugget], own);
                moved = true;
            }
        }
        if !moved {
            step = step.map(|size| size / 2.0);
        }
    }
    at(best.0[0].exp(), best.0[1])
}

/// Plots that one fit takes: 2 000 are a matrix of 32 MB.
pub const MOST_PLOTS: usize = 2_000;

/// The least distance of two places that differ, and the largest.
fn reach(places: &[[f64; 2]]) -> Option<[f64; 2]> {
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    for (n, a) in places.iter().enumerate() {
        for b in &places[..n] {
            let away = (a[0] - b[0]).hypot(a[1] - b[1]);
            if away > 0.0 {
                least = least.min(away);
                most = most.max(away);
            }
        }
    }
    (most > 0.0 && most.is_finite()).then_some([least, most])
}

fn one(
    family: Family,
    range: f64,
    nugget: f64,
    columns: &[Vec<f64>],
    values: &[f64],
    places: &[[f64; 2]],
) -> Option<PlotModel> {
    let n = values.len();
    let band = if family == Family::Independent { 0 } else { n };
    let mut likeness = Banded::new(n, band);
    for (row, a) in places.iter().enumerate() {
        likeness.set(row, row, 1.0);
        if family == Family::Independent {
            continue;
        }
        for (column, b) in places[..row].iter().enumerate() {
            let away = (a[0] - b[0]).hypot(a[1] - b[1]) / range;
            likeness.set(row, column, (1.0 - nugget) * family.at(away));
        }
    }
    let factor = likeness.factored()?;
    let whitened: Vec<Vec<f64>> = columns
        .iter()
        .map(|column| factor.whitened(column))
        .collect();
    let fit = least_squares(&whitened, &factor.whitened(values))?;
    let left = fit.degrees_of_freedom as f64;
    let spread = fit.mean_square().filter(|square| *square > 0.0)?;
    let log_likelihood = -0.5
        * (left * ((2.0 * std::f64::consts::PI * spread).ln() + 1.0)
            + factor.log_determinant()
            + fit.log_determinant);
    Some(PlotModel {
        family,
        range,
        nugget,
        fit,
        log_likelihood,
    })
}

impl PlotModel {
    /// A sum of coefficients with these weights.
    pub fn estimate(&self, weights: &[f64]) -> Option<Estimate> {
        let (value, variance) = self.fit.combined(weights);
        let left = self.fit.degrees_of_freedom as f64;
        Estimate::of(value, (variance * self.fit.mean_square()?).sqrt(), left)
    }
}
