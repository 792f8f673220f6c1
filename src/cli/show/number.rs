//! Numbers as people read them: the same as in the report.

pub(in crate::cli) use crate::report::number::{
    Numbers, Rounded, grouped, hectares, kilograms, rate,
};

/// From the lowest to the highest rate; where both read the same, that one alone.
pub(super) fn rates(low_kg_per_ha: f64, high_kg_per_ha: f64) -> String {
    let [low, high] = [rate(low_kg_per_ha), rate(high_kg_per_ha)];
    match low == high {
        true => low,
        false => format!("{low} to {high}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_rate_is_said_once() {
        assert_eq!(rates(0.0, 37.23), "0 to 37.23");
        assert_eq!(rates(37.23, 37.23), "37.23");
        // They differ by less than is shown.
        assert_eq!(rates(37.230_1, 37.230_2), "37.23");
    }
}
