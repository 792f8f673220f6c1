//! Two treatments side by side.

use super::Estimate;

/// The mean of differences between neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paired {
    /// Number of pairs.
    pub pairs: usize,
    /// Mean difference with its interval.
    pub difference: Estimate,
    /// Standard deviation of the differences.
    pub deviation: f64,
}

impl Paired {
    /// Student's t.
    pub fn t(&self) -> f64 {
        self.difference.value / self.difference.standard_error
    }
}

/// The paired t (Student, "The probable error of a mean", Biometrika 6:1, 1908): one difference per pair.
///
/// `None` for fewer than two pairs, or where all differences are the same.
pub fn paired(differences: &[f64]) -> Option<Paired> {
    let pairs = differences.len();
    if pairs < 2 {
        return None;
    }
    let n = pairs as f64;
    let mean = differences.iter().sum::<f64>() / n;
    let squares: f64 = differences.iter().map(|d| (d - mean).powi(2)).sum();
    let deviation = (squares / (n - 1.0)).sqrt();
    Some(Paired {
        pairs,
        difference: Estimate::of(mean, deviation / n.sqrt(), n - 1.0)?,
        deviation,
    })
}

/// The difference in a window that moves along two neighbouring strips.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moving {
    /// Where the middle of the window lies, as an index into the differences.
    pub middle: usize,
    /// The difference there.
    pub difference: Estimate,
}

/// The paired t in a window of so many differences that moves along two strips (R. Lawes and R. Bramley, "A simple
/// method for the analysis of on-farm strip trials", Agronomy Journal 104:371, 2012): one difference per step along
/// the strips. Neighbours in a window are alike, so each window's probability is too small: a picture of where, never the
/// headline.
pub fn moving_pairs(differences: &[f64], window: usize) -> Vec<Moving> {
    if window < 2 {
        return Vec::new();
    }
    let windows = differences.windows(window).enumerate();
    windows
        .filter_map(|(first, window_of)| {
            Some(Moving {
                middle: first + window / 2,
                difference: paired(window_of)?.difference,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_sees_where_the_difference_lies() {
        let differences: Vec<f64> = (0..20)
            .map(|n| if n < 10 { 0.0 } else { 1.0 } + f64::from(n % 2) * 0.1)
            .collect();
        let moving = moving_pairs(&differences, 5);
        assert_eq!(moving.len(), 16);
        assert_eq!(moving[0].middle, 2);
        assert!(!moving[0].difference.is_shown() || moving[0].difference.value < 0.1);
        assert!(moving[15].difference.interval[0] > 0.9);
        assert!(moving_pairs(&differences, 1).is_empty());
        assert!(moving_pairs(&differences, 21).is_empty());
    }

    #[test]
    fn too_few_pairs_say_nothing() {
        assert_eq!(paired(&[]), None);
        assert_eq!(paired(&[1.0]), None);
        assert_eq!(paired(&[1.0, 1.0, 1.0]), None);
        assert_eq!(paired(&[1.0, f64::NAN]), None);
    }
}
