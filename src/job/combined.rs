//! A number from several layers together: the first rule that matches, a sum, or a product.

use super::product::{ByClass, Lookup};
use super::rates;
use super::rules::{Check, at};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One number from several layers. Exactly one of `first`, `sum` and `product` is given.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Combined {
    /// Rules in order: the first one whose classes all fit gives the number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub first: Vec<ClassRule>,
    /// Parts that are added up: a start and what each layer adds or takes off.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sum: Vec<Part>,
    /// Parts that are multiplied: a start and a factor by each layer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub product: Vec<Part>,
    /// With `first`: the number of land that no rule fits. Without it such land is an error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub otherwise: Option<f64>,
}

/// A rule of `first`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassRule {
    /// Classes by layer, such as { soil = ["clay", "clay loam"], weeds = ["many"] }: one of each layer named. Without it the rule fits everywhere.
    #[serde(default)]
    pub when: BTreeMap<String, Vec<String>>,
    /// The number that holds there.
    pub value: f64,
}

/// A part of a sum or a product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
#[allow(missing_docs)] // Words of the job file.
pub enum Part {
    Same(#[schemars(extend("minimum" = -100_000, "maximum" = 100_000))] f64),
    ByClass(ByClass),
}

impl Combined {
    /// The tables of its parts, with the key that leads to each.
    pub fn tables(&self) -> Vec<(String, &ByClass)> {
        let mut tables = Vec::new();
        for (key, parts) in [("sum", &self.sum), ("product", &self.product)] {
            for (n, part) in parts.iter().enumerate() {
                if let Part::ByClass(table) = part {
                    tables.push((format!("{key}[{}]", n + 1), table));
                }
            }
        }
        tables
    }
}

/// One way of combining, layers that exist, rules that name something.
pub(super) fn check(check: &mut Check<'_>, path: &[String], combined: &Combined) {
    let given = [
        !combined.first.is_empty(),
        !combined.sum.is_empty(),
        !combined.product.is_empty(),
    ];
    if given.iter().filter(|given| **given).count() != 1 {
        check.add(
            path,
            "several layers are combined in no way, or in several",
            "exactly one of 'first', 'sum' and 'product'",
            "keep the one that is meant",
        );
    }
    if combined.otherwise.is_some() && combined.first.is_empty() {
        check.add(
            &[path, at!["otherwise"]].concat(),
            "'otherwise' is given beside 'sum' or 'product'",
            "'otherwise' with 'first'; the parts of a sum or a product have their own",
            "move it into the part that lacks a class",
        );
    }
    for (key, parts) in [("sum", &combined.sum), ("product", &combined.product)] {
        for (n, part) in parts.iter().enumerate() {
            if let Part::ByClass(table) = part {
                let path = [path, at![key, n]].concat();
                rates::table(check, &path, &Lookup::ByClass(table.clone()));
            }
        }
    }
    for (n, rule) in combined.first.iter().enumerate() {
        for (layer, classes) in &rule.when {
            let path = [path, at!["first", n, "when", layer]].concat();
            rates::known_layer(check, &path, layer);
            if classes.is_empty() {
                check.add(
                    &path,
                    format!("a rule names no class of layer '{layer}'"),
                    "one or more classes in brackets: [\"clay\"]",
                    "add a class, or leave the layer out of the rule",
                );
            }
        }
    }
}
