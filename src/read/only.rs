//! Keeping only the features a job asks for.

use super::file::{closest, listed};
use super::{Feature, Layer};
use crate::findings::{Fault, Outcome};
use std::collections::{BTreeMap, BTreeSet};

/// Keeps the features whose attributes have all the wanted values.
pub(super) fn keep(layer: &mut Layer, only: &BTreeMap<String, String>) -> Outcome<()> {
    for (attribute, wanted) in only {
        let column = column(layer, attribute)?;
        let found = |feature: &Feature| feature.values.get(column).map(ToString::to_string);
        let values: BTreeSet<String> = layer
            .features
            .iter()
            .filter_map(found)
            .filter(|value| !value.is_empty())
            .collect();
        layer.features.retain(|feature| {
            feature
                .values
                .get(column)
                .is_some_and(|value| value.matches(wanted))
        });
        if layer.features.is_empty() {
            return Err(Fault::input(
                "read.nothing_left",
                layer.place(),
                format!("No feature is left with {attribute} = '{wanted}'"),
                match values.len() {
                    0 => format!("{attribute} has no values here"),
                    _ => format!(
                        "values found: {}",
                        listed(values.iter().map(String::as_str))
                    ),
                },
                match closest(wanted, values.iter().map(String::as_str)) {
                    Some(near) => format!("Correct `only` in the job; did you mean '{near}'?"),
                    None => "Correct `only` in the job.".to_string(),
                },
            ));
        }
    }
    Ok(())
}

fn column(layer: &Layer, attribute: &str) -> Outcome<usize> {
    let names = || layer.attributes.iter().map(String::as_str);
    names().position(|name| name == attribute).ok_or_else(|| {
        Fault::input(
            "read.unknown_attribute",
            layer.place(),
            format!("There is no attribute '{attribute}', which `only` names"),
            match layer.attributes.is_empty() {
                true => "this file has no attributes".to_string(),
                false => format!("one of {}", listed(names())),
            },
            match closest(attribute, names()) {
                Some(near) => format!("Correct `only` in the job; did you mean '{near}'?"),
                None => "Correct `only` in the job.".to_string(),
            },
        )
    })
}
