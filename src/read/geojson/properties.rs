//! Properties of features: names in the order in which the file first uses them.

use super::super::Value;
use super::twice;
use geojson::JsonValue;
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use std::collections::HashMap;
use std::fmt;

/// The attribute names so far.
#[derive(Debug, Default)]
pub(super) struct Attributes {
    names: Vec<String>,
    /// Only looked up, never walked: the order is that of `names`.
    columns: HashMap<String, usize>,
}

impl Attributes {
    /// The column of this name; a new one if the name is new.
    fn column(&mut self, name: &str) -> usize {
        if let Some(&column) = self.columns.get(name) {
            return column;
        }
        let column = self.names.len();
        self.names.push(name.to_string());
        self.columns.insert(name.to_string(), column);
        column
    }

    /// The values of one feature, each in the column of its name; columns that it lacks at the end are left out.
    ///
    /// # Errors
    /// A name that stands twice.
    pub(super) fn row(&mut self, properties: Properties) -> Result<Vec<Value>, String> {
        let mut values: Vec<Option<Value>> = Vec::new();
        for (name, value) in properties.0 {
            let column = self.column(&name);
            if values.len() <= column {
                values.resize(column + 1, None);
            }
            if values[column].replace(attribute(value)).is_some() {
                return Err(twice(&name));
            }
        }
        let filled = |value: Option<Value>| value.unwrap_or(Value::Missing);
        Ok(values.into_iter().map(filled).collect())
    }

    pub(super) fn len(&self) -> usize {
        self.names.len()
    }

    pub(super) fn into_names(self) -> Vec<String> {
        self.names
    }
}

/// The properties of one feature, as they stand: a map would pass over a name that stands twice.
#[derive(Debug, Default)]
pub(super) struct Properties(Vec<(String, JsonValue)>);

impl<'de> Deserialize<'de> for Properties {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_map(Members)
    }
}

struct Members;

impl<'de> Visitor<'de> for Members {
    type Value = Properties;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("properties: an object or null")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Properties, A::Error> {
        let mut all = Vec::new();
        while let Some(own) = members.next_entry()? {
            all.push(own);
        }
        Ok(Properties(all))
    }
}

/// The value of one property. Objects and arrays become their own JSON text.
fn attribute(value: JsonValue) -> Value {
    match value {
        JsonValue::Null => Value::Missing,
        JsonValue::Bool(flag) => Value::Flag(flag),
        JsonValue::String(text) => Value::Text(text),
        JsonValue::Number(number) => match (number.as_i64(), number.as_f64()) {
            (Some(whole), _) => Value::Integer(whole),
            // Beyond 64 signed bits it is an identifier rather than an amount: keep every digit.
            (None, Some(value)) if number.is_f64() => Value::Number(value),
            (None, _) => Value::Text(number.to_string()),
        },
        JsonValue::Array(_) | JsonValue::Object(_) => Value::Text(value.to_string()),
    }
}
