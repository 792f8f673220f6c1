//! What a spreader makes of what flat plots leave to it, and what that costs.

use crate::agronomy::{self, Rate, SpreadRates};
use crate::job::Product;
use crate::tally::Price;

/// What the spreader makes of what flat plots leave to it.
pub(super) struct OnFlat {
    rates: Option<SpreadRates>,
    /// Land that gets another rate than it should, m2.
    pub otherwise_m2: f64,
    /// How far off in all, as a share, and the spreader's rate there, kg/ha.
    pub widest: Option<(f64, f64)>,
}

impl OnFlat {
    pub fn of(rates: Option<SpreadRates>) -> Self {
        Self {
            rates,
            otherwise_m2: 0.0,
            widest: None,
        }
    }

    /// Land of a flat plot with its rate.
    pub fn add(&mut self, product: &Product, rate: &Rate, m2: f64) {
        let (Some(rates), Some(left)) = (&self.rates, &rate.balance) else {
            return;
        };
        let given = rates.rate(left.kg_per_ha);
        if left.kg_per_ha <= 0.0 {
            return;
        }
        let in_all = agronomy::in_all_kg_per_ha(product, rate);
        let by_spreader = in_all - rate.kg_per_ha;
        let off = by_spreader * (given / left.kg_per_ha - 1.0) / in_all;
        if off.abs() > SPREAD_WITHIN {
            self.otherwise_m2 += m2;
            if self.widest.is_none_or(|(widest, _)| off.abs() > widest) {
                self.widest = Some((off.abs(), given));
            }
        }
    }
}

/// Plots are driven within so much of what they ask for, and what they get in all is held to the same.
const SPREAD_WITHIN: f64 = 0.05;

/// Price of a kilogram of what is broadcast for the balance of a product, in the money of the job.
pub(super) fn balance_price_per_kg(product: &Product) -> Option<f64> {
    let pack_kg = match &product.balance {
        Some(own) => own.pack_kg,
        None => product.pack_kg,
    };
    Price::of_balance(product)?.per_kg(pack_kg)
}
