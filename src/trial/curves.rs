//! Yield by rate: linear, quadratic, quadratic plateau, linear plateau.

use super::orthogonal::{LeastSquares, least_squares};

/// Form of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A straight line.
    Linear,
    /// A parabola.
    Quadratic,
    /// A parabola up to its top, level from there.
    QuadraticPlateau,
    /// A straight line up to a join, level from there.
    LinearPlateau,
}

impl Shape {
    /// What it is called.
    pub fn word(self) -> &'static str {
        match self {
            Self::Linear => "linear",
            Self::Quadratic => "quadratic",
            Self::QuadraticPlateau => "quadratic plateau",
            Self::LinearPlateau => "linear plateau",
        }
    }

    /// Numbers that the fit chooses, the spread of the values among them.
    fn parameters(self) -> usize {
        match self {
            Self::Linear => 3,
            Self::Quadratic | Self::LinearPlateau | Self::QuadraticPlateau => 4,
        }
    }
}

/// A curve: `constant + slope rate + bend rate^2` up to `join`, level from there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Form.
    pub shape: Shape,
    /// Yield at rate 0.
    pub constant: f64,
    /// Yield per unit of rate at rate 0.
    pub slope: f64,
    /// Yield per unit of rate, squared; 0 where the curve is straight.
    pub bend: f64,
    /// Rate from which the curve is level; infinite without a plateau.
    pub join: f64,
}

impl Curve {
    /// The yield at a rate.
    pub fn at(&self, rate: f64) -> f64 {
        let rate = rate.min(self.join);
        self.constant + rate * (self.slope + rate * self.bend)
    }
}

/// A curve fitted to plots.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The curve. Of further columns (blocks) it stands at their 0.
    pub curve: Curve,
    /// Least squares behind it: the columns of the curve, then the further ones. Quadratic: 1, rate, rate squared.
    pub fit: LeastSquares,
    /// Values less everything that was fitted, the join among it.
    pub degrees_of_freedom: usize,
    /// Akaike's criterion with its correction for few values (C. Hurvich and C.-L. Tsai, Biometrika 76:297, 1989); less is
    /// better; infinite where there are too few values for it.
    pub criterion: f64,
}

/// What a curve is fitted to.
#[derive(Clone, Copy)]
pub struct Data<'a> {
    /// Rate per plot or reading.
    pub rates: &'a [f64],
    /// Yield per plot or reading.
    pub yields: &'a [f64],
    /// Further columns: blocks.
    pub further: &'a [Vec<f64>],
    /// Makes the errors independent: the identity, or the filter of a lattice. Linear.
    pub filter: &'a (dyn Fn(&[f64]) -> Vec<f64> + Sync),
}

impl Data<'_> {
    pub(super) fn range(&self) -> [f64; 2] {
        let least = self.rates.iter().copied().fold(f64::INFINITY, f64::min);
        [
            least,
            self.rates.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        ]
    }

    /// Least squares with these columns of the curve.
    pub(super) fn fit(&self, of_curve: Vec<Vec<f64>>, yields: &[f64]) -> Option<LeastSquares> {
        let all = of_curve.iter().chain(self.further);
        let columns: Vec<Vec<f64>> = all.map(|column| (self.filter)(column)).collect();
        least_squares(&columns, &(self.filter)(yields))
    }

    pub(super) fn ones(&self) -> Vec<f64> {
        vec![1.0; self.rates.len()]
    }

    fn column(&self, of: impl Fn(f64) -> f64) -> Vec<f64> {
        self.rates.iter().map(|rate| of(*rate)).collect()
    }

    /// With a plateau from `join`: a constant, and what is missing below it.
    pub(super) fn with_join(&self, shape: Shape, join: f64) -> Option<LeastSquares> {
        let missing = self.column(|rate| -missing(shape, join, rate));
        self.fit(vec![self.ones(), missing], self.yields)
    }
}

/// What a rate misses of the plateau, for a curve of unit steepness.
pub(super) fn missing(shape: Shape, join: f64, rate: f64) -> f64 {
    let below = (join - rate).max(0.0);
    match shape {
        Shape::QuadraticPlateau => below * below,
        _ => below,
    }
}

/// Fits a curve. `None` for fewer than three rates (linear: two), or fewer values than numbers to choose.
pub fn curve(shape: Shape, data: &Data) -> Option<Fitted> {
    let mut rates: Vec<f64> = data.rates.to_vec();
    rates.sort_by(f64::total_cmp);
    rates.dedup();
    let least = if shape == Shape::Linear { 2 } else { 3 };
    if rates.len() < least || data.rates.len() != data.yields.len() {
        return None;
    }
    let (fit, join) = match shape {
        Shape::Linear => (
            data.fit(vec![data.ones(), data.rates.to_vec()], data.yields)?,
            f64::INFINITY,
        ),
        Shape::Quadratic => {
            let squares = data.column(|rate| rate * rate);
            (
                data.fit(vec![data.ones(), data.rates.to_vec(), squares], data.yields)?,
                f64::INFINITY,
            )
        }
        Shape::QuadraticPlateau | Shape::LinearPlateau => {
            let [from, to] = data.range();
            let left = |join: f64| {
                data.with_join(shape, join)
                    .map_or(f64::INFINITY, |fit| fit.residual_squares)
            };
            let join = least_of(from + (to - from) * 0.01, to, &left);
            (data.with_join(shape, join)?, join)
        }
    };
    let [constant, second] = [fit.coefficients[0], fit.coefficients[1]];
    let (constant, slope, bend) = match shape {
        Shape::Linear => (constant, second, 0.0),
        Shape::Quadratic => (constant, second, fit.coefficients[2]),
        Shape::LinearPlateau => (constant - second * join, second, 0.0),
        Shape::QuadraticPlateau => (
            constant - second * join * join,
            2.0 * second * join,
            -second,
        ),
    };
    let n = data.yields.len() as f64;
    let used = data.yields.len() - fit.degrees_of_freedom;
    let has_join = usize::from(join.is_finite());
    let chosen = (shape.parameters() + used - (shape.parameters() - 1 - has_join)) as f64;
    let correction = match n - chosen - 1.0 > 0.0 {
        true => 2.0 * chosen + 2.0 * chosen * (chosen + 1.0) / (n - chosen - 1.0),
        false => f64::INFINITY,
    };
    Some(Fitted {
        curve: Curve {
            shape,
            constant,
            slope,
            bend,
            join,
        },
        degrees_of_freedom: fit.degrees_of_freedom.checked_sub(has_join)?,
        criterion: n * (fit.residual_squares / n).ln() + correction,
        fit,
    })
}

/// Where a function of one number is least between two ends: on a scale of 80 steps, then by golden section.
pub(super) fn least_of(from: f64, to: f64, of: &dyn Fn(f64) -> f64) -> f64 {
    const STEPS: u32 = 80;
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let at = |nth: u32| from + (to - from) * f64::from(nth) / f64::from(STEPS);
    let (mut best, mut value) = (0, f64::INFINITY);
    for nth in 0..=STEPS {
        let own = of(at(nth));
        if own < value {
            (best, value) = (nth, own);
        }
    }
    let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(STEPS)));
    for _ in 0..50 {
        let [a, b] = [high - GOLDEN * (high - low), low + GOLDEN * (high - low)];
        match of(a) <= of(b) {
            true => high = b,
            false => low = a,
        }
    }
    let middle = (low + high) / 2.0;
    // The ends of the scale may be the least themselves.
    match of(middle) <= value {
        true => middle,
        false => at(best),
    }
}
