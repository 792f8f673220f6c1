//! Two species sown at once: a main crop and its companion, each at a share of its own full rate.

use super::product::{Kind, Lookup};
use super::rates;
use super::rules::{Check, at};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Two species sown at once. The rate that each product names is its full one, as if sown alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mixture {
    /// Id of the main crop's product.
    pub main: String,
    /// Id of the companion's product: undersown, nurse or second crop.
    pub companion: String,
    /// How the two rates are tied.
    pub series: Series,
    /// Share of the companion's own full rate.
    #[schemars(extend("minimum" = 0, "maximum" = 300))]
    pub companion_percent: Lookup,
    /// Additive series: share of the main crop's own full rate; without it all of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 300))]
    pub main_percent: Option<Lookup>,
}

/// How the rates of two species are tied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Series {
    /// The companion comes on top: the shares may add up to more than 100 percent.
    Additive,
    /// The companion takes the main crop's place: the shares add up to 100 percent.
    Replacement,
}

impl Mixture {
    /// Whether this product is one of the two.
    pub fn has(&self, id: &str) -> bool {
        self.main == id || self.companion == id
    }

    /// Its numbers with their keys.
    pub fn lookups(&self) -> Vec<(&'static str, &Lookup)> {
        let main = self.main_percent.as_ref();
        let main = main.map(|percent| ("main_percent", percent));
        [("companion_percent", &self.companion_percent)]
            .into_iter()
            .chain(main)
            .collect()
    }
}

/// A mixture of two seeds of the job, with shares that can be.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    let Some(mixture) = &job.mixture else {
        return;
    };
    for (key, id) in [("main", &mixture.main), ("companion", &mixture.companion)] {
        let path = at!["mixture", key];
        check.known_product(path, id);
        let product = job.products.iter().find(|product| product.id == *id);
        if product.is_some_and(|product| product.kind != Kind::Seed) {
            check.add(
                path,
                format!("'{id}' is no seed, and a mixture is of two seeds"),
                "the id of a product with kind = \"seed\"",
                "name a seed; what fertiliser lies beside it is not part of a mixture",
            );
        }
    }
    if mixture.main == mixture.companion {
        check.add(
            at!["mixture", "companion"],
            format!("'{}' is mixed with itself", mixture.main),
            "two products",
            "name the other seed",
        );
    }
    for (key, lookup) in mixture.lookups() {
        let path = at!["mixture", key].to_vec();
        rates::table(check, &path, lookup);
        let all = || rates::values(lookup);
        if let Some(share) = all().find(|share| *share > 0.0 && *share < 1.0) {
            check.add(
                &path,
                format!("a share of {share} percent of a full rate"),
                "percent: 30 for three tenths of the full rate, 0 for none",
                "write percent, not a fraction",
            );
        }
        let replacement = mixture.series == Series::Replacement;
        if let Some(share) = all().find(|share| replacement && *share > 100.0) {
            check.add(
                &path,
                format!("a share of {share} percent leaves nothing for the main crop to give up"),
                "up to 100 percent in the replacement series",
                "lower it, or take series = \"additive\"",
            );
        }
    }
    if mixture.series == Series::Replacement && mixture.main_percent.is_some() {
        check.add(
            at!["mixture", "main_percent"],
            "'main_percent' is given in the replacement series, where it follows from companion_percent",
            "'main_percent' in the additive series only",
            "remove it, or take series = \"additive\"",
        );
    }
}
