//! Rules of the place that the user enters: the most of a nutrient or a product, and closed periods.

use super::date;
use super::product::{Kind, Nutrient};
use super::rules::{Check, at};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The most of a nutrient or of a product that your place allows on a hectare, as you enter it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlaceLimit {
    /// What people call the rule.
    #[schemars(length(min = 1))]
    pub name: String,
    /// The nutrient that is counted, in all fertiliser of the job; this or `product`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nutrient: Option<Nutrient>,
    /// Id of the product whose kilograms are counted; this or `nutrient`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<String>,
    /// The most in the time that the rule is for (a year, a crop).
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub most_kg_per_ha: f64,
    /// What of it has been given in that time before, by manure or earlier fertiliser; what a layer with `placed_since` knows counts where that is more.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub already_kg_per_ha: f64,
    /// Where the rule is written: it stands in the reasons.
    #[schemars(length(min = 1))]
    pub source: String,
}

/// A time of the year in which products must not be given, as you enter it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClosedPeriod {
    /// What people call the rule.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Ids of the products that it closes.
    #[schemars(length(min = 1))]
    pub products: Vec<String>,
    /// First closed day, MM-DD.
    #[schemars(length(min = 5, max = 5))]
    pub first_day: String,
    /// Last closed day, MM-DD; before `first_day` where the period runs over the turn of the year.
    #[schemars(length(min = 5, max = 5))]
    pub last_day: String,
    /// Where the rule is written: it stands in the reasons.
    #[schemars(length(min = 1))]
    pub source: String,
}

impl ClosedPeriod {
    /// Whether a day, as YYYY-MM-DD, is closed: the first and the last day are.
    pub fn holds(&self, day: &str) -> bool {
        let Some(day) = day.get(5..) else {
            return false;
        };
        let (from, to) = (self.first_day.as_str(), self.last_day.as_str());
        match from <= to {
            true => (from..=to).contains(&day),
            false => day >= from || day <= to,
        }
    }
}

/// Products that exist, one thing that is counted, days that are.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    for (n, limit) in job.place_limits.iter().enumerate() {
        let path = at!["place_limit", n].to_vec();
        if limit.nutrient.is_some() == limit.product.is_some() {
            check.add(
                &path,
                format!("'{}' counts nothing, or two things", limit.name),
                "exactly one of 'nutrient' and 'product'",
                "name what the rule limits",
            );
        }
        if let Some(id) = &limit.product {
            check.known_product(&[path.as_slice(), at!["product"]].concat(), id);
        }
        let fertiliser = |nutrient: Nutrient| {
            job.products.iter().any(|product| {
                let grade = product.grade.unwrap_or_default();
                let percent = match nutrient {
                    Nutrient::N => grade.n_percent,
                    Nutrient::P2o5 => grade.p2o5_percent,
                    Nutrient::K2o => grade.k2o_percent,
                };
                product.kind == Kind::Fertiliser && percent > 0.0
            })
        };
        if limit.nutrient.is_some_and(|nutrient| !fertiliser(nutrient)) {
            check.add(
                &[path.as_slice(), at!["nutrient"]].concat(),
                format!("'{}' counts a nutrient that no product holds", limit.name),
                "a nutrient in the grade of a fertiliser of the job",
                "correct the nutrient, add the product's grade, or remove the rule",
            );
        }
    }
    for (n, period) in job.closed_periods.iter().enumerate() {
        for (m, id) in period.products.iter().enumerate() {
            check.known_product_or_spread(at!["closed_period", n, "products", m], id);
        }
        for (key, day) in [
            ("first_day", &period.first_day),
            ("last_day", &period.last_day),
        ] {
            // Of a leap year, so that 02-29 is a day.
            if date::day_number(&format!("2024-{day}")).is_none() {
                check.add(
                    at!["closed_period", n, key],
                    format!("'{day}' is no day of the year"),
                    "MM-DD, such as 10-15",
                    "correct the day",
                );
            }
        }
    }
}
