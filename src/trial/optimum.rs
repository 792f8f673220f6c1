//! The rate that pays best, and all rates that may.

use super::curves::{Data, Fitted, Shape, least_of, missing};
use super::distributions::t_quantile;

/// The rate at which the last unit just pays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Optimum {
    /// The rate, within those that were tried.
    pub rate: f64,
    /// Where it lies.
    pub lies: Lies,
}

/// Where an optimum lies among the rates that were tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lies {
    /// Between the lowest and the highest.
    Inside,
    /// The lowest pays best: less may be better still.
    Lowest,
    /// The highest pays best: more may be better still.
    Highest,
}

/// All rates that may be the best, at 95 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OptimumSet {
    /// From one rate to another. Beyond the rates that were tried it is the curve's word alone.
    Between([f64; 2]),
    /// The data do not bound it.
    Unbounded,
}

impl Fitted {
    /// The rate that pays best, where a unit of rate costs as much as `price_ratio` units of yield bring.
    pub fn optimum(&self, data: &Data, price_ratio: f64) -> Optimum {
        let curve = &self.curve;
        let [least, most] = data.range();
        let profit = |rate: f64| curve.at(rate) - price_ratio * rate;
        let top = match curve.shape {
            Shape::Linear => most,
            Shape::Quadratic if curve.bend >= 0.0 => most,
            Shape::Quadratic => (price_ratio - curve.slope) / (2.0 * curve.bend),
            Shape::LinearPlateau => curve.join,
            Shape::QuadraticPlateau if curve.bend >= 0.0 => least,
            Shape::QuadraticPlateau => curve.join + price_ratio / (2.0 * curve.bend),
        };
        let top = top.clamp(least, most);
        // A curve that bends upwards, or hardly rises, pays best at an end.
        let ends = [least, most].into_iter();
        let rate = ends.fold(top, |best, end| {
            if profit(end) > profit(best) {
                end
            } else {
                best
            }
        });
        let lies = match rate {
            rate if rate <= least => Lies::Lowest,
            rate if rate >= most => Lies::Highest,
            _ => Lies::Inside,
        };
        Optimum { rate, lies }
    }

    /// The 95 % set of rates that may pay best. Quadratic: M. Bachmaier, "A confidence set for that x-coordinate where the
    /// quadratic regression model has a given gradient", Statistical Papers 50:649, 2009: every rate at which the slope does not
    /// differ from the price ratio. With a plateau: every rate with which the curve, forced to pay best there, fits as well
    /// (F with 1 degree of freedom). A straight line has none.
    pub fn optimum_set(&self, data: &Data, price_ratio: f64) -> Option<OptimumSet> {
        let t = t_quantile(0.975, self.degrees_of_freedom as f64)?;
        match self.curve.shape {
            Shape::Linear => None,
            Shape::Quadratic => self.quadratic_set(price_ratio, t),
            Shape::QuadraticPlateau | Shape::LinearPlateau => {
                let bound =
                    self.fit.residual_squares * (1.0 + t * t / self.degrees_of_freedom as f64);
                self.plateau_set(data, price_ratio, bound)
            }
        }
    }

    fn quadratic_set(&self, price_ratio: f64, t: f64) -> Option<OptimumSet> {
        let mean_square = self.fit.mean_square()?;
        let covariance =
            |a: usize, b: usize| self.fit.unscaled_covariance[a][b] * mean_square * t * t;
        let [slope, bend] = [self.curve.slope - price_ratio, self.curve.bend];
        // (slope + 2 bend x)^2 <= t^2 variance of it.
        let square = 4.0 * (bend * bend - covariance(2, 2));
        let half = 2.0 * (slope * bend - covariance(1, 2));
        let constant = slope * slope - covariance(1, 1);
        let root = half * half - square * constant;
        Some(match square > 0.0 && root >= 0.0 {
            true => OptimumSet::Between([
                (-half - root.sqrt()) / square,
                (-half + root.sqrt()) / square,
            ]),
            false => OptimumSet::Unbounded,
        })
    }

    fn plateau_set(&self, data: &Data, price_ratio: f64, bound: f64) -> Option<OptimumSet> {
        let shape = self.curve.shape;
        let [least, most] = data.range();
        let squares = |best: f64| match shape {
            Shape::QuadraticPlateau if price_ratio > 0.0 => {
                let left = |log: f64| forced(data, best, best + log.exp(), price_ratio);
                let reach = 3.0 * (most - least);
                left(least_of((reach * 1e-3).ln(), reach.ln(), &left))
            }
            // A join pays only where the line below it is steep enough.
            Shape::LinearPlateau => steep_enough(data, best, price_ratio),
            _ => data
                .with_join(shape, best)
                .map_or(f64::INFINITY, |fit| fit.residual_squares),
        };
        let own = self.optimum(data, price_ratio).rate;
        const STEPS: usize = 200;
        let step = (most - least) / STEPS as f64;
        let holds = |nth: usize| squares(least + step * nth as f64) <= bound;
        let inside: Vec<usize> = (0..=STEPS).filter(|&nth| holds(nth)).collect();
        // The best itself fits, though no step may fall on it.
        let from = inside
            .first()
            .map_or(own, |&n| own.min(least + step * n as f64));
        let to = inside
            .last()
            .map_or(own, |&n| own.max(least + step * n as f64));
        Some(OptimumSet::Between([from, to]))
    }
}

/// Squares left of a quadratic plateau that pays best at `best` and is level from `join`.
fn forced(data: &Data, best: f64, join: f64, price_ratio: f64) -> f64 {
    let steep = price_ratio / (2.0 * (join - best));
    level_alone(data, Shape::QuadraticPlateau, join, steep)
}

/// Squares left of a linear plateau that joins at `join`, its line no flatter than the price ratio.
fn steep_enough(data: &Data, join: f64, price_ratio: f64) -> f64 {
    let free = data.with_join(Shape::LinearPlateau, join);
    if let Some(fit) = free.filter(|fit| {
        fit.coefficients
            .get(1)
            .is_some_and(|slope| *slope >= price_ratio)
    }) {
        return fit.residual_squares;
    }
    level_alone(data, Shape::LinearPlateau, join, price_ratio)
}

/// Squares left where all of the curve but its level is given: its join, and how steep it is below that.
fn level_alone(data: &Data, shape: Shape, join: f64, steep: f64) -> f64 {
    let yields = data.yields.iter().zip(data.rates);
    let yields: Vec<f64> = yields
        .map(|(y, rate)| y + steep * missing(shape, join, *rate))
        .collect();
    let fit = data.fit(vec![data.ones()], &yields);
    fit.map_or(f64::INFINITY, |fit| fit.residual_squares)
}
