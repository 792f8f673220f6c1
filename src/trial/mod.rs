//! What a trial says: effects with their intervals, response curves with their economic optimum, and what a trial
//! could see before it is sown. Pure arithmetic on plain numbers; nothing here knows files or fields.
//! Method and sources: docs/methods/trials.md.
//!
//! A result that the numbers cannot give (too few plots, no variation, a singular design) is `None`.

mod banded;
mod blocks;
mod curves;
mod distributions;
mod lattice;
mod optimum;
mod orthogonal;
mod paired;
mod power;
mod reml;
#[cfg(test)]
mod test_published;
#[cfg(test)]
mod test_simulated;

pub use blocks::{Analysis, Factor, Row, analysis};
pub use curves::{Curve, Data, Fitted, Shape, curve};
pub use distributions::{f_upper_tail, t_quantile, t_two_sided};
pub use lattice::{Given, LatticeFit, Neighbours, lattice};
pub use optimum::{Lies, Optimum, OptimumSet};
pub use orthogonal::{LeastSquares, least_squares};
pub use paired::{Moving, Paired, moving_pairs, paired};
pub use power::{least_difference, pairs_needed, power};
pub use reml::{Family, PlotModel, plot_model};

/// An estimate with its 95 % interval, in the unit of the values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Degrees of freedom of the standard error.
    pub degrees_of_freedom: f64,
    /// Ends of the 95 % interval.
    pub interval: [f64; 2],
    /// Two-sided probability of an estimate at least so far from 0 where the truth is 0.
    pub p: f64,
}

impl Estimate {
    /// From an estimate, its standard error and degrees of freedom; `None` where they are no numbers above 0.
    pub fn of(value: f64, standard_error: f64, degrees_of_freedom: f64) -> Option<Self> {
        if !value.is_finite() || !standard_error.is_finite() || standard_error <= 0.0 {
            return None;
        }
        let reach = t_quantile(0.975, degrees_of_freedom)? * standard_error;
        Some(Self {
            value,
            standard_error,
            degrees_of_freedom,
            interval: [value - reach, value + reach],
            p: t_two_sided(value / standard_error, degrees_of_freedom)?,
        })
    }

    /// Whether the interval leaves 0 out.
    pub fn is_shown(&self) -> bool {
        self.interval[0] > 0.0 || self.interval[1] < 0.0
    }
}
