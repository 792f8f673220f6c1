//! A second opinion from readings instead of plots: errors that depend on their neighbours.

use super::answer::{Answer, Design, Effect};
use super::clean::Cleaned;
use super::near::Near;
use super::plots::Plots;
use crate::trial::{Given, Neighbours, lattice};
use serde::Serialize;
use std::collections::BTreeMap;

/// Readings are taken together over so much travel: what one mixes anyway (J. Knight and B. Pettitt, 2003), m.
const TOGETHER_M: f64 = 30.0;
/// More pieces are not fitted.
const MOST: usize = 4_000;

/// The second opinion.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Second {
    /// The difference.
    pub effect: Effect,
    /// How much of the mean error of its neighbours each error takes over.
    pub share_of_neighbours: f64,
    /// Pieces of 30 m that were fitted.
    pub pieces: usize,
}

/// A piece of a pass in a plot.
#[derive(Default)]
struct Piece {
    sum: f64,
    weight: f64,
    xy: [f64; 2],
    readings: f64,
}

/// Fits pieces of 30 m. `None` for more than 4 000 pieces, or too few.
pub(super) fn second(cleaned: &Cleaned, plots: &Plots, answer: &Answer) -> Option<Second> {
    let mut pieces: BTreeMap<(usize, usize, u64), Piece> = BTreeMap::new();
    let of_pass = super::delay::pass_of(cleaned.readings.len(), &cleaned.passes);
    for (plot, members) in plots.readings.iter().enumerate() {
        for &at in members {
            let step = (cleaned.travelled_m[at] / TOGETHER_M) as u64;
            let piece = pieces
                .entry((plot, of_pass[at] as usize, step))
                .or_default();
            piece.sum += cleaned.kg_per_ha[at] * cleaned.weight[at];
            piece.weight += cleaned.weight[at];
            piece.xy[0] += cleaned.readings[at].xy[0];
            piece.xy[1] += cleaned.readings[at].xy[1];
            piece.readings += 1.0;
        }
    }
    if pieces.len() > MOST || pieces.len() < 12 {
        return None;
    }
    let places: Vec<[f64; 2]> = pieces
        .values()
        .map(|piece| piece.xy.map(|sum| sum / piece.readings))
        .collect();
    let values: Vec<f64> = pieces
        .values()
        .map(|piece| piece.sum / piece.weight)
        .collect();
    let plot: Vec<usize> = pieces.keys().map(|(plot, ..)| *plot).collect();
    let near = Near::of(places.iter().enumerate().map(|(at, xy)| (at as u32, *xy)));
    let mut links = Vec::new();
    for (at, xy) in places.iter().enumerate() {
        let others = near
            .within(*xy, 1.2 * TOGETHER_M)
            .map(|other| other as usize)
            .filter(|&other| other < at);
        links.extend(others.map(|other| [other, at]));
    }
    links.sort_unstable();
    let neighbours = Neighbours::of(values.len(), &links)?;
    let (columns, weights) = columns(plots, &plot, answer)?;
    let found = lattice(&columns, &values, &neighbours)?;
    let mut names: Vec<&str> = plots.of.iter().map(|plot| plot.block.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let within = answer.design == Design::Pairs && answer.blocks == names.len();
    let witness: Vec<usize> = match within {
        true => plot
            .iter()
            .map(|&at| {
                names
                    .binary_search(&plots.of[at].block.as_str())
                    .unwrap_or(0)
            })
            .collect(),
        false => plot,
    };
    let given = Given {
        columns: &columns,
        values: &values,
        neighbours: &neighbours,
    };
    let effect = found.estimate_by(&weights, &witness, within, &given)?;
    Some(Second {
        effect: effect.into(),
        share_of_neighbours: found.share,
        pieces: values.len(),
    })
}

/// Columns of the model and the weights of the difference that the answer gives.
fn columns(plots: &Plots, plot: &[usize], answer: &Answer) -> Option<(Vec<Vec<f64>>, Vec<f64>)> {
    let mut columns = vec![vec![1.0; plot.len()]];
    if answer.design == Design::Rates {
        let rate = |at: &usize| plots.of[*at].treatment.parse::<f64>().ok();
        let rates: Vec<f64> = plot.iter().map(rate).collect::<Option<_>>()?;
        let [own, base] = [
            answer.treatment.parse::<f64>().ok()?,
            answer.base.parse::<f64>().ok()?,
        ];
        columns.push(rates.clone());
        columns.push(rates.iter().map(|rate| rate * rate).collect());
        return Some((columns, vec![0.0, own - base, own * own - base * base]));
    }
    let mut weights = vec![0.0];
    for (name, ..) in answer
        .means
        .iter()
        .filter(|(name, ..)| *name != answer.base)
    {
        columns.push(
            plot.iter()
                .map(|&at| f64::from(u8::from(plots.of[at].treatment == *name)))
                .collect(),
        );
        weights.push(f64::from(u8::from(*name == answer.treatment)));
    }
    Some((columns, weights))
}
