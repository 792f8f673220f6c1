//! Tails and quantiles of t, F and normal, from the crate statrs.

use statrs::distribution::{ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// The quantile of Student's t: `probability` of all values lie below.
pub fn t_quantile(probability: f64, degrees_of_freedom: f64) -> Option<f64> {
    if !(probability > 0.0 && probability < 1.0) {
        return None;
    }
    let t = StudentsT::new(0.0, 1.0, degrees_of_freedom).ok()?;
    Some(t.inverse_cdf(probability))
}

/// The probability that |t| is at least so large.
pub fn t_two_sided(t: f64, degrees_of_freedom: f64) -> Option<f64> {
    let of = StudentsT::new(0.0, 1.0, degrees_of_freedom).ok()?;
    Some(2.0 * of.sf(t.abs()))
}

/// The probability that F is at least so large.
pub fn f_upper_tail(f: f64, of_term: f64, of_error: f64) -> Option<f64> {
    let of = FisherSnedecor::new(of_term, of_error).ok()?;
    Some(of.sf(f.max(0.0)))
}

/// The standard normal distribution function.
pub(super) fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_printed_tables() {
        // Fisher and Yates, Statistical Tables, table III: t at 5 and 1 %, two-sided (from memory; scipy 1.17.1 gives the same).
        for (df, five, one) in [
            (1.0, 12.706, 63.657),
            (5.0, 2.571, 4.032),
            (12.0, 2.179, 3.055),
            (30.0, 2.042, 2.750),
        ] {
            assert!((t_quantile(0.975, df).unwrap() - five).abs() < 6e-4, "{df}");
            assert!((t_quantile(0.995, df).unwrap() - one).abs() < 6e-4, "{df}");
            assert!((t_two_sided(five, df).unwrap() - 0.05).abs() < 4e-5, "{df}");
        }
        // The upper 5 % point of F with 3 and 12 degrees of freedom is 3.49 in the same book, table V.
        assert!((f_upper_tail(3.490, 3.0, 12.0).unwrap() - 0.05).abs() < 5e-5);
    }

    #[test]
    fn nonsense_gives_nothing() {
        assert_eq!(t_quantile(0.975, 0.0), None);
        assert_eq!(t_quantile(1.0, 4.0), None);
        assert_eq!(t_two_sided(1.0, f64::NAN), None);
        assert_eq!(f_upper_tail(1.0, -1.0, 3.0), None);
    }
}
