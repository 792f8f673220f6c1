//! Readings unlike all around them.

use super::near::Near;
use super::passes::median;
use rayon::prelude::*;

/// Neighbours that are looked at: about three passes to both sides.
const NEIGHBOURS: usize = 25;
/// So many times the usual deviation of the neighbours is too far (F. Hampel's identifier in L. Davies and U. Gather, "The
/// identification of multiple outliers", JASA 88:782, 1993, with 3.5; from memory).
const FAR: f64 = 3.5;
/// Median absolute deviation to standard deviation of a normal distribution.
const TO_DEVIATION: f64 = 1.4826;

/// Which values lie too far from the median of their neighbours. `places` and `values` of those that count so far; the
/// usual deviation is never taken below half of that of the field, lest a quiet corner refuses its own noise.
pub(super) fn outliers(places: &[[f64; 2]], values: &[f64]) -> Vec<bool> {
    let near = Near::of(places.iter().enumerate().map(|(at, xy)| (at as u32, *xy)));
    let judged: Vec<[f64; 2]> = places
        .par_iter()
        .zip(values)
        .map(|(xy, value)| {
            // The first is the reading itself, or one that lies on it.
            let around: Vec<f64> = near
                .nearest(*xy)
                .take(NEIGHBOURS + 1)
                .map(|other| values[other as usize])
                .collect();
            let middle = median(around.clone());
            let deviation =
                TO_DEVIATION * median(around.iter().map(|other| (other - middle).abs()).collect());
            [value - middle, deviation]
        })
        .collect();
    let usual = median(judged.iter().map(|[_, deviation]| *deviation).collect());
    let far = |[apart, deviation]: &[f64; 2]| apart.abs() > FAR * deviation.max(0.5 * usual);
    judged.iter().map(far).collect()
}
