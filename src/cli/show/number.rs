//! Numbers as people read them: the same as in the report.

use crate::findings::without_zeros;
use crate::plan::Plan;
pub(in crate::cli) use crate::report::number::{
    Numbers, Rounded, grouped, hectares, kilograms, rate,
};
use crate::units::{M_PER_FOOT, lb_per_acre_from_kg_per_ha};

/// How the plan's job writes numbers.
pub(super) fn numbers(plan: &Plan) -> Numbers {
    Numbers::of(plan.job.report.units)
}

/// Quantities with their units, for sentences.
impl Numbers {
    /// From the lowest to the highest rate, kg/ha, without the unit; where both read the same, that one alone.
    pub(super) fn rates(&self, low_kg_per_ha: f64, high_kg_per_ha: f64) -> String {
        match [low_kg_per_ha, high_kg_per_ha].map(|rate| self.rate_text(rate)) {
            [low, high] if low == high => low,
            [low, high] => format!("{low} to {high}"),
        }
    }

    /// A rate with one decimal in either unit, for columns of rates.
    pub(in crate::cli) fn tenth_of_rate(&self, kg_per_ha: f64) -> String {
        match self.is_us() {
            true => grouped(lb_per_acre_from_kg_per_ha(kg_per_ha), 1),
            false => grouped(kg_per_ha, 1),
        }
    }

    /// `160 kg/ha`.
    pub(super) fn rate_of(&self, kg_per_ha: f64) -> String {
        format!("{} {}", self.rate_text(kg_per_ha), self.rate_unit())
    }

    /// `5 432 kg`.
    pub(super) fn kg(&self, kg: f64) -> String {
        format!("{} {}", self.mass_text(kg), self.mass_unit())
    }

    /// `5 432.1 kg`.
    pub(in crate::cli) fn weighed_of(&self, kg: f64) -> String {
        format!("{} {}", self.weighed_text(kg, 1), self.mass_unit())
    }

    /// `+0.4 kg`, `-1.2 kg`, `0.0 kg`.
    pub(super) fn more_or_less(&self, kg: f64, decimals: usize) -> String {
        let text = self.weighed_text(kg, decimals);
        let is_none = text.bytes().all(|byte| matches!(byte, b'0' | b'.'));
        let sign = if kg > 0.0 && !is_none { "+" } else { "" };
        format!("{sign}{text} {}", self.mass_unit())
    }

    /// A rate as a terminal shows it, from kg/ha: two decimals, in lb/ac one.
    pub(in crate::cli) fn at_the_gate_text(&self, kg_per_ha: f64) -> String {
        match self.is_us() {
            true => grouped(lb_per_acre_from_kg_per_ha(kg_per_ha), 1),
            false => grouped(kg_per_ha, 2),
        }
    }

    /// A way to a place, from m: whole metres, whole feet.
    pub(super) fn away_text(&self, m: f64) -> String {
        let each = if self.is_us() { M_PER_FOOT } else { 1.0 };
        grouped(m / each, 0)
    }

    /// `12.30 ha`, from m2.
    pub(in crate::cli) fn area_of(&self, m2: f64) -> String {
        format!("{} {}", self.area_text(m2), self.area_unit())
    }

    /// `250 m2`.
    pub(super) fn spot_of(&self, m2: f64) -> String {
        format!("{} {}", self.spot_text(m2), self.spot_unit())
    }

    /// `11.85 m`: to a hundredth, for what is measured at the drill.
    pub(super) fn exact_length_of(&self, m: f64) -> String {
        let each = if self.is_us() { M_PER_FOOT } else { 1.0 };
        let text = grouped(m / each, 2);
        format!("{} {}", without_zeros(&text), self.length_unit())
    }

    /// `6 m`.
    pub(super) fn length_of(&self, m: f64) -> String {
        format!("{} {}", self.length_text(m), self.length_unit())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_rate_is_said_once() {
        let numbers = Numbers::METRIC;
        assert_eq!(numbers.rates(0.0, 37.23), "0 to 37.23");
        assert_eq!(numbers.rates(37.23, 37.23), "37.23");
        // They differ by less than is shown.
        assert_eq!(numbers.rates(37.230_1, 37.230_2), "37.23");
    }
}
