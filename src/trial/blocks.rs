//! Blocks: analysis of variance and the least significant difference.

use super::distributions::{f_upper_tail, t_quantile};
use super::orthogonal::{LeastSquares, least_squares};

/// A grouping of plots: which level each has, counted from 0.
#[derive(Debug, Clone)]
pub struct Factor<'a> {
    /// What it is called.
    pub name: &'a str,
    /// One level per plot.
    pub levels: Vec<usize>,
}

/// A row of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The factors of the term, `N` or `N x P`.
    pub term: String,
    /// Degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Sum of squares after the terms before it.
    pub squares: f64,
    /// Mean square over the residual mean square.
    pub f: f64,
    /// Probability of so large an F where the term does nothing.
    pub p: f64,
}

/// The table, and what is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// One row per term that adds anything, in the order asked for.
    pub rows: Vec<Row>,
    /// Residual mean square.
    pub error_mean_square: f64,
    /// Degrees of freedom of the residual.
    pub error_degrees_of_freedom: usize,
    /// The fit behind it: a constant, then the columns of the terms.
    pub fit: LeastSquares,
}

impl Analysis {
    /// The least difference of two means of so many plots each that is significant at `alpha` (R. A. Fisher, "The
    /// Design of Experiments", 1935): t times the standard error of the difference.
    pub fn least_significant_difference(&self, plots_per_mean: f64, alpha: f64) -> Option<f64> {
        let t = t_quantile(1.0 - alpha / 2.0, self.error_degrees_of_freedom as f64)?;
        Some(t * (2.0 * self.error_mean_square / plots_per_mean).sqrt())
    }
}

/// Analysis of variance (F. Yates, "The design and analysis of factorial experiments", 1937), term after term: each term is a
/// set of factors by their number. Where plots are missing a term is adjusted for those before it, so blocks come first.
///
/// `None` where a factor has not one level per plot, or nothing is left to judge by.
pub fn analysis(values: &[f64], factors: &[Factor], terms: &[&[usize]]) -> Option<Analysis> {
    if factors
        .iter()
        .any(|factor| factor.levels.len() != values.len())
    {
        return None;
    }
    let mut columns = vec![vec![1.0; values.len()]];
    let mut of_term = vec![None];
    for (nth, term) in terms.iter().enumerate() {
        for column in columns_of(factors, term, values.len())? {
            columns.push(column);
            of_term.push(Some(nth));
        }
    }
    let fit = least_squares(&columns, values)?;
    let error_mean_square = fit.mean_square().filter(|square| *square > 0.0)?;
    let error_df = fit.degrees_of_freedom;
    let mut rows = Vec::new();
    for (nth, term) in terms.iter().enumerate() {
        let own = |at: &usize| of_term[*at] == Some(nth) && fit.adds[*at];
        let at: Vec<usize> = (0..columns.len()).filter(own).collect();
        if at.is_empty() {
            continue;
        }
        let squares: f64 = at.iter().map(|&at| fit.taken_up[at]).sum();
        let f = squares / at.len() as f64 / error_mean_square;
        let names: Vec<&str> = term
            .iter()
            .filter_map(|&n| Some(factors.get(n)?.name))
            .collect();
        rows.push(Row {
            term: names.join(" x "),
            degrees_of_freedom: at.len(),
            squares,
            f,
            p: f_upper_tail(f, at.len() as f64, error_df as f64)?,
        });
    }
    Some(Analysis {
        rows,
        error_mean_square,
        error_degrees_of_freedom: error_df,
        fit,
    })
}

/// The columns of a term: products of the contrasts of its factors, each against the first level.
fn columns_of(factors: &[Factor], term: &[usize], plots: usize) -> Option<Vec<Vec<f64>>> {
    let mut columns = vec![vec![1.0; plots]];
    for &number in term {
        let levels = &factors.get(number)?.levels;
        let most = levels.iter().copied().max().unwrap_or(0);
        let mut wider = Vec::new();
        for column in &columns {
            for level in 1..=most {
                let own = |(value, own): (&f64, &usize)| if *own == level { *value } else { 0.0 };
                wider.push(column.iter().zip(levels).map(own).collect());
            }
        }
        columns = wider;
    }
    Some(columns)
}
