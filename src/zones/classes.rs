//! Classes of a zone layer: the text of an attribute's value, numbered.

use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::job::ZoneLayer;
use crate::read::{Layer, Value};

/// The class of each feature of a layer.
pub(super) struct Classes {
    /// All classes, ascending.
    pub(super) names: Vec<String>,
    /// Per feature of the layer: the number of its class; features without a value have none.
    of_feature: Vec<Option<u32>>,
}

impl Classes {
    /// Reads the class attribute of a layer.
    ///
    /// # Errors
    /// The layer does not have the attribute.
    pub(super) fn of(layer: &Layer<PlaneXy>, zone: &ZoneLayer) -> Outcome<(Self, Option<Finding>)> {
        let Some(column) = layer
            .attributes
            .iter()
            .position(|name| name == zone.class_attribute())
        else {
            let known = match layer.attributes.len() {
                0 => "none; the layer has no attributes".to_owned(),
                _ => layer.attributes.join(", "),
            };
            return Err(Fault::input(
                "zones.no_attribute",
                layer.place(),
                format!(
                    "layer '{}' has no attribute '{}'",
                    zone.name,
                    zone.class_attribute()
                ),
                format!("attributes of this file: {known}"),
                "set class_attribute to one of them",
            ));
        };
        let texts: Vec<Option<String>> = layer
            .features
            .iter()
            .map(|feature| feature.values.get(column).and_then(text))
            .collect();
        let mut names: Vec<String> = texts.iter().flatten().cloned().collect();
        names.extend(zone.class_of_gaps().map(str::to_owned));
        names.sort();
        names.dedup();
        let mut of_feature = Vec::new();
        let mut missing = Vec::new();
        for (feature, class) in layer.features.iter().zip(&texts) {
            let number = class
                .as_ref()
                .and_then(|class| names.binary_search(class).ok());
            if number.is_none() {
                missing.push(feature.name.as_str());
            }
            of_feature.push(number.map(|number| number as u32));
        }
        let finding = missing.first().map(|first| {
            Finding::warning(
                "zones.class_missing",
                layer.place().feature(first),
                format!(
                    "{} features of layer '{}' have no value in '{}'; their land counts as a gap",
                    missing.len(),
                    zone.name,
                    zone.class_attribute()
                ),
            )
        });
        Ok((Self { names, of_feature }, finding))
    }

    /// The class of a feature, by its number in the layer: two features of a file may have one name.
    pub(super) fn of_feature(&self, feature: usize) -> Option<u32> {
        self.of_feature.get(feature).copied().flatten()
    }

    /// The number of a class.
    pub(super) fn number(&self, class: &str) -> Option<u32> {
        self.names
            .binary_search_by(|name| name.as_str().cmp(class))
            .ok()
            .map(|nth| nth as u32)
    }
}

/// A value as the text of a class; whole numbers without a decimal point.
fn text(value: &Value) -> Option<String> {
    let text = match value {
        Value::Missing => return None,
        Value::Text(text) => text.trim().to_owned(),
        Value::Integer(number) => number.to_string(),
        Value::Number(number) if number.is_nan() => return None,
        Value::Number(number) => number.to_string(),
        Value::Flag(flag) => flag.to_string(),
    };
    (!text.is_empty()).then_some(text)
}
