//! Limits of single numbers, told from the data.

use super::passes::median;

/// How many times the middle half a value may lie beyond it: the outer fences of J. Tukey, "Exploratory Data Analysis", 1977,
/// chapter 2 (from memory).
const FENCE: f64 = 3.0;

/// Values between these count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limits {
    pub least: f64,
    pub most: f64,
}

impl Limits {
    /// The outer fences of numbers; everything where there are none. Numbers that hardly differ get a tenth of their size as
    /// the middle half, lest a constant column refuses its first deviation.
    pub(super) fn of(numbers: impl Iterator<Item = f64>) -> Self {
        let mut numbers: Vec<f64> = numbers.filter(|number| number.is_finite()).collect();
        if numbers.is_empty() {
            return Self {
                least: f64::NEG_INFINITY,
                most: f64::INFINITY,
            };
        }
        let quarter = numbers.len() / 4;
        let low = *numbers.select_nth_unstable_by(quarter, f64::total_cmp).1;
        let upper = (3 * quarter).min(numbers.len() - 1);
        let high = *numbers.select_nth_unstable_by(upper, f64::total_cmp).1;
        let half = (high - low).max(0.1 * median(numbers).abs());
        Self {
            least: low - FENCE * half,
            most: high + FENCE * half,
        }
    }

    /// Whether a value counts; what is no number is not judged.
    pub(super) fn hold(&self, value: f64) -> bool {
        !(value < self.least || value > self.most)
    }
}
