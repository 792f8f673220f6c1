//! Land by the rates it has, of a file or of a plan.

use super::outline::Outline;
use serde::{Serialize, Serializer};

/// Land with one set of rates.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RatedLand {
    /// Of all products, kg/ha.
    pub rates: Vec<f64>,
    pub outline: Outline,
}

/// As a pair: the rates, and the area in m2.
impl Serialize for RatedLand {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        (&self.rates, self.outline.area_m2).serialize(to)
    }
}

/// The same rates once, with all their land, in order of rates.
pub(super) fn by_rates(mut land: Vec<RatedLand>) -> Vec<RatedLand> {
    let order = |a: &[f64], b: &[f64]| {
        let pairs = a.iter().zip(b);
        pairs
            .map(|(a, b)| a.total_cmp(b))
            .find(|order| order.is_ne())
            .unwrap_or(a.len().cmp(&b.len()))
    };
    // Tables of shapefiles hold six decimals, so rates are told apart by no more.
    for own in &mut land {
        for rate in &mut own.rates {
            *rate = in_a_table(*rate);
        }
    }
    land.sort_by(|a, b| order(&a.rates, &b.rates));
    let mut merged: Vec<RatedLand> = Vec::new();
    for own in land {
        match merged.last_mut() {
            Some(last) if last.rates == own.rates => {
                last.outline = std::mem::take(&mut last.outline).and(own.outline);
            }
            _ => merged.push(own),
        }
    }
    merged
}

/// A rate with the decimals of a table, as their text rounds them: `158.7573295` is below its last 5, which a product with 1e6 hides.
fn in_a_table(rate: f64) -> f64 {
    format!("{rate:.6}").parse().unwrap_or(rate)
}

/// What land has these rates; `None` where none has.
pub(super) fn with_rates<'a>(land: &'a [RatedLand], rates: &[f64]) -> Option<&'a RatedLand> {
    land.iter().find(|own| own.rates == rates)
}

#[cfg(test)]
mod tests {
    use super::in_a_table;

    /// 350 seeds per m2 of 45.359237 g per thousand, as a table holds them.
    #[test]
    fn a_rate_is_rounded_as_its_text_in_a_table() {
        let rate = 350.0 * 45.359_237 / 100.0;
        assert_eq!(in_a_table(rate).to_string(), "158.757329");
        assert_eq!(in_a_table(in_a_table(rate)), in_a_table(rate));
        assert_eq!(in_a_table(120.0), 120.0);
    }
}
