//! Decisions that somebody has signed for. What each of them may be is a property of the decision
//! ([`Decision::settled`]); whether an entry holds for a plan is found where the findings are (`plan::decisions`).

use super::date;
use super::rules::{Check, at};
use crate::findings::{Decision, Settled};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A decision that a person signs for: without it, a plan in which the decision is open has no files for the terminal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Accepted {
    /// Code of the finding, as the plan names it.
    pub finding: Decision,
    /// Ids of the products that the finding concerns; none where it concerns the field.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 3))]
    pub products: Vec<String>,
    /// Name of the layer or the special area that the finding is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub place: Option<String>,
    /// Hectares that the finding is about. It holds for up to 5 % more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100_000.0), extend("exclusiveMinimum" = 0.0))]
    pub hectares: Option<f64>,
    /// Percent beyond what rotor or air stream can do. It holds for no more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1_000_000.0), extend("exclusiveMinimum" = 0.0))]
    pub percent: Option<f64>,
    /// Fertiliser with the seed that no table judges. It holds for no more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 5000.0), extend("exclusiveMinimum" = 0.0))]
    pub kg_per_ha: Option<f64>,
    /// What is sown, in the words of the plan: its products, and crops of seed-safe limits.
    #[schemars(length(min = 1))]
    pub sown: String,
    /// The drill, in the words of the plan.
    #[schemars(length(min = 1))]
    pub drill: String,
    /// Year of sowing; needed where the job has a sowing date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1900, max = 2999))]
    pub season: Option<u32>,
    /// With `split_by`: which fields it is for, by the value of that attribute.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<String>,
    /// Why it is right all the same.
    #[schemars(length(min = 1))]
    pub why: String,
    /// Who says so.
    #[schemars(length(min = 1))]
    pub by: String,
    /// On what day, YYYY-MM-DD.
    #[schemars(length(min = 10, max = 10))]
    pub on: String,
}

/// Decisions that may be signed for, products that exist, days that do; fields where there are several.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    for (n, entry) in job.accepted.iter().enumerate() {
        if entry.finding.settled() == Settled::ByChange {
            let may = Decision::ALL.into_iter();
            let may = may.filter(|known| known.settled() == Settled::ByChangeOrSignature);
            let may: Vec<&str> = may.map(Decision::code).collect();
            check.add(
                at!["accepted", n, "finding"],
                format!("'{}' is not one to sign for", entry.finding.code()),
                may.join(", "),
                "change the job as the finding says, and remove this entry",
            );
        }
        for (m, id) in entry.products.iter().enumerate() {
            check.known_product_or_spread(at!["accepted", n, "products", m], id);
        }
        if date::day_number(&entry.on).is_none() {
            check.add(
                at!["accepted", n, "on"],
                format!("'{}' is no date", entry.on),
                "YYYY-MM-DD, such as 2026-03-20",
                "correct the date",
            );
        }
        if job.sowing_date.is_some() && entry.season.is_none() {
            check.add(
                at!["accepted", n],
                format!("key 'season' is missing in [[accepted]] number {}", n + 1),
                "the year of sowing, since the job has a sowing_date: a signature is for one season",
                format!("add 'season' to [[accepted]] number {}", n + 1),
            );
        }
        match (&job.field.split_by, entry.fields.is_empty()) {
            (Some(attribute), true) => check.add(
                at!["accepted", n],
                format!("key 'fields' is missing in [[accepted]] number {}", n + 1),
                format!("values of '{attribute}', since the job is for many fields: a signature is for fields that it names"),
                format!("add 'fields' to [[accepted]] number {}", n + 1),
            ),
            (None, false) => check.add(
                at!["accepted", n, "fields"],
                "'fields' is given, and the job is for one field",
                "'fields' with split_by only",
                "remove it",
            ),
            _ => {}
        }
    }
}
