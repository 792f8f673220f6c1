//! Readings whose errors depend on those of their neighbours.

use super::Estimate;
use super::banded::Banded;
use super::curves::least_of;
use super::orthogonal::{LeastSquares, least_squares};
use std::collections::VecDeque;

/// Which readings are neighbours, both ways; each neighbour of a reading weighs the same, 1 in all.
#[derive(Debug, Clone, PartialEq)]
pub struct Neighbours {
    of: Vec<Vec<u32>>,
    /// Place of each reading in an order that keeps neighbours close.
    place: Vec<u32>,
    band: usize,
}

impl Neighbours {
    /// From pairs of different readings out of `count`, each pair once or more. `None` where a number is none of a reading.
    pub fn of(count: usize, pairs: &[[usize; 2]]) -> Option<Self> {
        let mut of = vec![Vec::new(); count];
        for &[a, b] in pairs {
            if a == b || a >= count || b >= count {
                return None;
            }
            of[a].push(u32::try_from(b).ok()?);
            of[b].push(u32::try_from(a).ok()?);
        }
        for own in &mut of {
            own.sort_unstable();
            own.dedup();
        }
        let place = close_order(&of);
        let reach = |(n, own): (usize, &Vec<u32>)| {
            let away = own
                .iter()
                .map(|&other| place[n].abs_diff(place[other as usize]));
            away.max().unwrap_or(0)
        };
        let band = of.iter().enumerate().map(reach).max().unwrap_or(0) as usize;
        Some(Self { of, place, band })
    }

    /// Each value less `share` times the mean of its neighbours.
    pub fn filtered(&self, values: &[f64], share: f64) -> Vec<f64> {
        let filtered = |(own, value): (&Vec<u32>, &f64)| {
            let sum: f64 = own
                .iter()
                .filter_map(|&other| values.get(other as usize))
                .sum();
            value - share * sum / (own.len().max(1) as f64)
        };
        self.of.iter().zip(values).map(filtered).collect()
    }

    /// Logarithm of the determinant of the filter, which is similar to a symmetric matrix. `None` outside -1 to 1.
    fn log_determinant(&self, share: f64) -> Option<f64> {
        let mut matrix = Banded::new(self.of.len(), self.band);
        for (n, own) in self.of.iter().enumerate() {
            let row = self.place[n] as usize;
            matrix.set(row, row, 1.0);
            for &other in own {
                let column = self.place[other as usize] as usize;
                if column < row {
                    let degrees = own.len() as f64 * self.of[other as usize].len() as f64;
                    matrix.set(row, column, -share / degrees.sqrt());
                }
            }
        }
        Some(matrix.factored()?.log_determinant())
    }
}

/// An order in which neighbours are close (E. Cuthill and J. McKee, "Reducing the bandwidth of sparse symmetric
/// matrices", 1969): place of each.
fn close_order(of: &[Vec<u32>]) -> Vec<u32> {
    let mut place = vec![u32::MAX; of.len()];
    let mut next = 0;
    let mut by_degree: Vec<usize> = (0..of.len()).collect();
    by_degree.sort_by_key(|&n| of[n].len());
    for start in by_degree {
        if place[start] != u32::MAX {
            continue;
        }
        // The last that a walk reaches lies at an end; the walk from there numbers them.
        let end = walk(of, start, |_| {});
        walk(of, end, |n| {
            place[n] = next;
            next += 1;
        });
    }
    place
}

/// Walks from neighbour to neighbour, nearest first; gives the last.
fn walk(of: &[Vec<u32>], start: usize, mut each: impl FnMut(usize)) -> usize {
    let mut seen = std::collections::HashSet::from([start]);
    let mut queue = VecDeque::from([start]);
    let mut last = start;
    while let Some(n) = queue.pop_front() {
        each(n);
        last = n;
        let mut new: Vec<usize> = of[n]
            .iter()
            .map(|&m| m as usize)
            .filter(|&m| seen.insert(m))
            .collect();
        new.sort_by_key(|&m| of[m].len());
        queue.extend(new);
    }
    last
}

/// A linear model whose errors depend on those of their neighbours.
#[derive(Debug, Clone, PartialEq)]
pub struct LatticeFit {
    /// How much of the mean error of its neighbours each error takes over.
    pub share: f64,
    /// Coefficients and what is left, after the filter.
    pub fit: LeastSquares,
    /// Logarithm of the likelihood at its top.
    pub log_likelihood: f64,
}

/// Fits `values = columns + error`, `error = share x mean error of the neighbours + noise`, by maximum likelihood (J. Ord,
/// "Estimation methods for models of spatial interaction", 1975; L. Anselin, "Spatial Econometrics", 1988, chapter 12).
pub fn lattice(
    columns: &[Vec<f64>],
    values: &[f64],
    neighbours: &Neighbours,
) -> Option<LatticeFit> {
    if neighbours.of.len() != values.len()
        || columns.iter().any(|column| column.len() != values.len())
    {
        return None;
    }
    let n = values.len() as f64;
    let fit_at = |share: f64| {
        let columns: Vec<Vec<f64>> = columns
            .iter()
            .map(|column| neighbours.filtered(column, share))
            .collect();
        least_squares(&columns, &neighbours.filtered(values, share))
    };
    let likelihood = |share: f64| {
        let fit = fit_at(share)?;
        let spread = fit.residual_squares / n;
        Some(
            neighbours.log_determinant(share)?
                - n / 2.0 * ((2.0 * std::f64::consts::PI * spread).ln() + 1.0),
        )
    };
    let less = |share: f64| likelihood(share).map_or(f64::INFINITY, |log| -log);
    let share = least_of(-0.9, 0.999, &less);
    Some(LatticeFit {
        share,
        log_likelihood: likelihood(share)?,
        fit: fit_at(share)?,
    })
}

impl LatticeFit {
    /// A sum of coefficients with these weights, taking every reading as a witness of its own. Readings of one strip share
    /// what the lattice does not see: [`Self::estimate_by`] is the honest one where plots were given treatments.
    pub fn estimate(&self, weights: &[f64]) -> Option<Estimate> {
        let (value, variance) = self.fit.combined(weights);
        // The share is one number more that was chosen.
        let left = self.fit.degrees_of_freedom.checked_sub(1)? as f64;
        Estimate::of(
            value,
            (variance * self.fit.residual_squares / left).sqrt(),
            left,
        )
    }

    /// The same with plots or blocks as witnesses: each is left out in turn, and what that changes is the doubt (the jackknife: B.
    /// Efron and C. Stein, "The jackknife estimate of variance", Annals of Statistics 9:586, 1981). What is left may be alike
    /// within one in any way. `witness` holds the number of each reading's block where every treatment is in each block, and then
    /// `compared_within` is true; else of its plot. `columns` is what was fitted, before the filter.
    pub fn estimate_by(
        &self,
        weights: &[f64],
        witness: &[usize],
        compared_within: bool,
        given: &Given,
    ) -> Option<Estimate> {
        let count = witness.iter().max().map_or(0, |most| most + 1);
        let used = self.fit.adds.iter().filter(|adds| **adds).count();
        let taken = if compared_within { 1 } else { used };
        let left = count.checked_sub(taken).filter(|left| *left > 0)? as f64;
        let filtered: Vec<Vec<f64>> = given
            .columns
            .iter()
            .map(|column| given.neighbours.filtered(column, self.share))
            .collect();
        let values = given.neighbours.filtered(given.values, self.share);
        let (whole, _) = self.fit.combined(weights);
        let mut squares = 0.0;
        for out in 0..count {
            let keep = |column: &[f64]| -> Vec<f64> {
                let kept = column.iter().zip(witness).filter(|(_, of)| **of != out);
                kept.map(|(value, _)| *value).collect()
            };
            let columns: Vec<Vec<f64>> = filtered.iter().map(|column| keep(column)).collect();
            let fit = least_squares(&columns, &keep(&values))?;
            // A treatment that only this one had would vanish.
            if fit.adds != self.fit.adds {
                return None;
            }
            squares += (fit.combined(weights).0 - whole).powi(2);
        }
        let count = count as f64;
        Estimate::of(whole, (squares * (count - 1.0) / count).sqrt(), left)
    }
}

/// What a lattice was fitted to.
#[derive(Clone, Copy)]
pub struct Given<'a> {
    /// Columns of the model, one number per reading.
    pub columns: &'a [Vec<f64>],
    /// One value per reading.
    pub values: &'a [f64],
    /// Which readings are neighbours.
    pub neighbours: &'a Neighbours,
}
