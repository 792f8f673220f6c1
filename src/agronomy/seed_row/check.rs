//! What a limit says about what lies in the row, from the limit that is found to the rates that come of all.

use super::asked::{Counted, Said};
use super::case::Part;
use super::is_placed;
use crate::agronomy::Why;
use crate::agronomy::chain::Draft;
use crate::agronomy::nutrient;
use crate::agronomy::seed_safe::{Answer, row_load_g_per_m, seedbed_utilisation_percent};
use crate::job::{Job, Nutrient, row_spacing_m};
use crate::texts::Words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What one limit beside the seed says about the land of one row of the rate table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeedSafeCheck {
    /// Title of the table.
    pub table: String,
    /// Who publishes it.
    pub source: String,
    /// Conditions that the publisher states.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// How the rate stands to its limit.
    pub verdict: Verdict,
    /// What the table adds up: "N", "N + K2O", or "product".
    pub counts: String,
    /// Of that, what would lie with the seed before the cap, kg/ha.
    pub wanted_kg_per_ha: f64,
    /// The same as it is sown, kg/ha.
    pub placed_kg_per_ha: f64,
    /// The limit, kg/ha; none where the table does not cover the case.
    pub limit_kg_per_ha: Option<f64>,
    /// What is left to the limit, kg/ha; none where the table does not cover the case.
    pub margin_kg_per_ha: Option<f64>,
    /// The cell, in words, or why the table does not cover the case.
    pub cell: String,
    /// True where the land is outside the table on the safe side: the true limit is higher.
    pub conservative_bound: bool,
    /// Width of the row by the spacing of rows, percent.
    pub seedbed_utilisation_percent: f64,
    /// As sown, all fertiliser in the air stream: kg/ha of N, P2O5, K2O, and N + K2O.
    pub laid: Laid,
    /// As sown: g of fertiliser in a metre of row.
    pub row_load_g_per_m: f64,
}

impl SeedSafeCheck {
    /// What the table adds up, as a sentence says it: symbols of nutrients, or the word for product.
    pub(in crate::agronomy) fn counts_said(&self, words: Words) -> String {
        match self.counts == Counted::PRODUCT {
            true => words.text(&Why::CountsProduct).to_owned(),
            false => self.counts.clone(),
        }
    }
}

/// Nutrients laid in the row, kg/ha.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Laid {
    /// N.
    pub n: f64,
    /// P2O5.
    pub p2o5: f64,
    /// K2O.
    pub k2o: f64,
    /// N and K2O together.
    pub n_and_k2o: f64,
}

/// How a row stands to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    Within,
    /// The rate was cut.
    Capped,
    /// More than the table allows, as the job lets it be.
    Above,
    /// Nothing that is published covers the case, and nobody has signed a number: none of it lies there.
    NotCovered,
    /// The job names the table and it is not for this case; another one holds.
    NotUsed,
}

/// One limit on its way: the check without what is known only after rounding.
pub(super) struct Open {
    pub check: SeedSafeCheck,
    pub counted: Counted,
    /// The products that it holds; none for all.
    pub only: Option<String>,
}

/// A check before anything is known of it.
pub(super) fn blank(job: &Job, spread_m: f64) -> SeedSafeCheck {
    let row_m = row_spacing_m(job).unwrap_or(0.0);
    let utilisation = match row_m > 0.0 {
        true => seedbed_utilisation_percent(spread_m, row_m),
        false => 0.0,
    };
    SeedSafeCheck {
        table: String::new(),
        source: String::new(),
        note: String::new(),
        verdict: Verdict::NotUsed,
        counts: Counted::Product.words(),
        wanted_kg_per_ha: 0.0,
        placed_kg_per_ha: 0.0,
        limit_kg_per_ha: None,
        margin_kg_per_ha: None,
        cell: String::new(),
        conservative_bound: false,
        seedbed_utilisation_percent: utilisation,
        laid: Laid::default(),
        row_load_g_per_m: 0.0,
    }
}

pub(super) fn opened(job: &Job, said: &Said) -> Open {
    let (cell, conservative_bound) = match &said.answer {
        Answer::Limit(limit) => (limit.cell.clone(), limit.conservative_bound),
        Answer::NotCovered(of) if of.ceiling_kg_per_ha.is_some() => {
            (format!("{}; a milder case is its ceiling", of.why), false)
        }
        Answer::NotCovered(of) => (of.why.clone(), false),
    };
    Open {
        check: SeedSafeCheck {
            table: said.title().to_owned(),
            source: said.published(),
            note: said.note().to_owned(),
            counts: said.counted.words(),
            wanted_kg_per_ha: said.wanted_kg_per_ha,
            limit_kg_per_ha: said.most_kg_per_ha(),
            cell,
            conservative_bound,
            ..blank(job, said.spread_m)
        },
        counted: said.counted.clone(),
        only: None,
    }
}

/// Fills in what is known once the rates are final.
pub(super) fn close(job: &Job, open: Open, drafts: &[Draft]) -> SeedSafeCheck {
    let mut check = open.check;
    let placed = || {
        drafts
            .iter()
            .filter(|draft| is_placed(draft.product))
            .map(|draft| Part {
                product: draft.product,
                grade: draft.product.grade.unwrap_or_default(),
                form: draft.product.form,
                kg_per_ha: draft.sown(),
            })
    };
    let held = |part: &Part| {
        open.only
            .as_ref()
            .is_none_or(|only| part.product.id == *only)
    };
    check.placed_kg_per_ha = placed()
        .filter(held)
        .map(|part| open.counted.of(&part))
        .sum();
    let laid = |of: Nutrient| -> f64 {
        placed()
            .map(|part| nutrient::supply_kg_per_ha(part.kg_per_ha, &part.grade, of))
            .sum()
    };
    let (n, p2o5, k2o) = (laid(Nutrient::N), laid(Nutrient::P2o5), laid(Nutrient::K2o));
    check.laid = Laid {
        n,
        p2o5,
        k2o,
        n_and_k2o: n + k2o,
    };
    let kg_per_ha = placed().map(|part| part.kg_per_ha).sum();
    check.row_load_g_per_m = row_load_g_per_m(kg_per_ha, row_spacing_m(job).unwrap_or(0.0));
    if let Some(limit) = check.limit_kg_per_ha {
        check.margin_kg_per_ha = Some(limit - check.placed_kg_per_ha);
        check.verdict = if check.placed_kg_per_ha > limit * (1.0 + 1e-9) {
            Verdict::Above
        } else if check.wanted_kg_per_ha > limit * (1.0 + 1e-12) {
            Verdict::Capped
        } else {
            Verdict::Within
        };
    }
    check
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Language;

    #[test]
    fn what_a_limit_counts_is_said_in_the_language_of_the_reason() {
        let text = std::fs::read_to_string("examples/demo/job.toml").expect("a job");
        let job = Job::parse(&text, std::path::Path::new("job.toml")).expect("a job");
        let mut check = blank(&job, 0.03);
        let french = Words {
            language: Language::Fr,
            ..Words::default()
        };
        assert_eq!(check.counts_said(french), "de produit");
        check.counts = "N + K2O".to_owned();
        assert_eq!(check.counts_said(french), "N + K2O");
    }
}
