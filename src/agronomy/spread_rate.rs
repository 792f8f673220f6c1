//! The rate of a spreader for a balance: what is wanted, within its limits, in its steps.

use super::balance::balance_grade;
use super::limit::Limited;
use super::nutrient;
use crate::findings::{Outcome, Place};
use crate::job::{Job, Limits, Product, Spreader};

/// What a spreader makes of wanted rates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpreadRates {
    limited: Limited,
    may_rise: bool,
}

/// The limits of the spreader for the balance of a product: its own, and the label's most of the product where it is the same
/// that is broadcast.
pub fn spread_limits(spreader: &Spreader, product: &Product) -> Limits {
    let own = &spreader.limits;
    let of_product = product.limits.label_max_kg_per_ha;
    let same = product.balance.is_none();
    let labels = [own.label_max_kg_per_ha, of_product.filter(|_| same)];
    Limits {
        label_max_kg_per_ha: labels.into_iter().flatten().reduce(f64::min),
        ..own.clone()
    }
}

impl SpreadRates {
    /// For the balance of a product. Where a rule of the place counts what is broadcast, no rate rises above what is wanted, for
    /// that is what the rule was held against.
    ///
    /// # Errors
    /// Limits that leave no rate.
    pub fn of(job: &Job, spreader: &Spreader, product: &Product) -> Outcome<Self> {
        let grade = balance_grade(product);
        let counts = job.place_limits.iter().any(|limit| {
            let named = limit.product.as_ref() == Some(&product.id);
            let held = limit.nutrient.zip(grade);
            named
                || held.is_some_and(|(of, grade)| nutrient::supply_kg_per_ha(1.0, &grade, of) > 0.0)
        });
        Ok(Self {
            limited: Limited::new(&spread_limits(spreader, product)).map_err(|mut fault| {
                fault.place = Place::file(&job.file).feature("[spreader]");
                fault
            })?,
            may_rise: !counts,
        })
    }

    /// kg/ha for a wanted rate in kg/ha: 0 stays 0; else at most the most, at least the least, in whole steps. A rate that may
    /// not rise goes down to the step, and to 0 where that is less than the least.
    pub fn rate(&self, wanted_kg_per_ha: f64) -> f64 {
        if wanted_kg_per_ha <= 0.0 {
            return 0.0;
        }
        let most = self.limited.at_most(wanted_kg_per_ha);
        match self.may_rise {
            true => self.limited.apply(most),
            false => self.limited.rounded_down(most),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rates(may_rise: bool) -> SpreadRates {
        let limits = Limits {
            min_kg_per_ha: Some(40.0),
            label_max_kg_per_ha: Some(205.0),
            max_kg_per_ha: Some(400.0),
            step_kg_per_ha: Some(10.0),
            ..Limits::default()
        };
        SpreadRates {
            limited: Limited::new(&limits).unwrap(),
            may_rise,
        }
    }

    /// Worked by hand: steps of 10 between 40 and the label's 205, whose last step is 200.
    #[test]
    fn steps_lie_within_the_limits_and_never_above_the_label() {
        for (wanted, nearest, down) in [
            (0.0, 0.0, 0.0),
            (12.0, 40.0, 0.0),
            (44.9, 40.0, 40.0),
            (45.1, 50.0, 40.0),
            (106.5, 110.0, 100.0),
            (204.0, 200.0, 200.0),
            (500.0, 200.0, 200.0),
        ] {
            assert_eq!(rates(true).rate(wanted), nearest, "{wanted}");
            assert_eq!(rates(false).rate(wanted), down, "{wanted}");
        }
    }
}
