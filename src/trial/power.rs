//! What a trial can see, before it is sown.

use super::distributions::{normal_cdf, t_quantile};
use statrs::function::gamma::ln_gamma;

/// The chance that a two-sided test at 5 % shows a difference of `difference`, where its standard error is
/// `standard_error` with so many degrees of freedom: the noncentral t.
pub fn power(difference: f64, standard_error: f64, degrees_of_freedom: f64) -> Option<f64> {
    if standard_error.is_nan() || standard_error <= 0.0 || !difference.is_finite() {
        return None;
    }
    let least = t_quantile(0.975, degrees_of_freedom)?;
    let shift = (difference / standard_error).abs();
    let below = noncentral_t(least, degrees_of_freedom, shift)
        - noncentral_t(-least, degrees_of_freedom, shift);
    Some((1.0 - below).clamp(0.0, 1.0))
}

/// The least difference that so many pairs show with this power, where the differences of pairs deviate by
/// `deviation`. `None` for fewer than two pairs.
pub fn least_difference(pairs: usize, deviation: f64, wanted: f64) -> Option<f64> {
    if pairs < 2 || deviation.is_nan() || deviation <= 0.0 || !(wanted > 0.05 && wanted < 1.0) {
        return None;
    }
    let n = pairs as f64;
    let standard_error = deviation / n.sqrt();
    let (mut low, mut high) = (0.0, standard_error);
    while power(high, standard_error, n - 1.0)? < wanted {
        high *= 2.0;
    }
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        match power(middle, standard_error, n - 1.0)? < wanted {
            true => low = middle,
            false => high = middle,
        }
    }
    Some(high)
}

/// More pairs than this nobody drives on one farm.
const MOST_PAIRS: usize = 10_000;

/// The fewest pairs that show a difference with this power. `None` where even 10 000 do not.
pub fn pairs_needed(difference: f64, deviation: f64, wanted: f64) -> Option<usize> {
    let enough =
        |pairs: usize| Some(least_difference(pairs, deviation, wanted)? <= difference.abs());
    if !enough(MOST_PAIRS)? {
        return None;
    }
    let (mut too_few, mut found) = (1, MOST_PAIRS);
    while found - too_few > 1 {
        let middle = (too_few + found) / 2;
        match enough(middle)? {
            true => found = middle,
            false => too_few = middle,
        }
    }
    Some(found)
}

/// Distribution function of the noncentral t: the mean of the normal distribution function over the spread that a
/// standard deviation with so many degrees of freedom has, by Simpson's rule.
fn noncentral_t(t: f64, degrees_of_freedom: f64, shift: f64) -> f64 {
    // s is the estimated over the true standard deviation; its density peaks near 1.
    let half = degrees_of_freedom / 2.0;
    let log_scale = std::f64::consts::LN_2 + half * half.ln() - ln_gamma(half);
    let density = |s: f64| match s > 0.0 {
        true => (log_scale + (degrees_of_freedom - 1.0) * s.ln() - half * s * s).exp(),
        false if degrees_of_freedom <= 1.0 => log_scale.exp(),
        false => 0.0,
    };
    let spread = 1.0 / (2.0 * degrees_of_freedom).sqrt();
    let (from, to) = ((1.0 - 9.0 * spread).max(0.0), 1.0 + 9.0 * spread);
    const STEPS: usize = 400;
    let step = (to - from) / STEPS as f64;
    let value = |nth: usize| {
        let s = from + step * nth as f64;
        density(s) * normal_cdf(t * s - shift)
    };
    let inner: f64 = (1..STEPS)
        .map(|n| value(n) * if n % 2 == 1 { 4.0 } else { 2.0 })
        .sum();
    (value(0) + inner + value(STEPS)) * step / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn power_is_that_of_general_statistics_software() {
        // The help page of `power.t.test` of R: 20 per group, difference 1, deviation 1: power 0.8689528 (from memory; scipy
        // 1.17.1, stats.nct, gives 0.868953). Two groups: standard error sqrt(2/20), 38 degrees of freedom.
        let found = power(1.0, (2.0_f64 / 20.0).sqrt(), 38.0).unwrap();
        assert!((found - 0.868_952_8).abs() < 1e-6, "{found}");
        // scipy 1.17.1: 1 - nct.cdf(t975, 5, 2) + nct.cdf(-t975, 5, 2).
        let found = power(2.0, 1.0, 5.0).unwrap();
        assert!((found - 0.368_158).abs() < 2e-6, "{found}");
        // No difference: the share of false alarms.
        assert!((power(0.0, 1.0, 3.0).unwrap() - 0.05).abs() < 1e-6);
    }

    #[test]
    fn pairs_and_difference_say_the_same() {
        for pairs in [3, 6, 16, 40] {
            let least = least_difference(pairs, 0.27, 0.8).unwrap();
            assert_eq!(pairs_needed(least * 1.000_001, 0.27, 0.8), Some(pairs));
            assert_eq!(pairs_needed(least * 0.999_9, 0.27, 0.8), Some(pairs + 1));
        }
        assert_eq!(pairs_needed(1e-9, 1.0, 0.8), None);
        assert_eq!(least_difference(1, 1.0, 0.8), None);
    }
}
