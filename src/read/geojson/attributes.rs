//! Properties of features: names in the order in which the file first uses them.

use super::super::Value;
use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value as Json};
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
    pub(super) fn column(&mut self, name: &str) -> usize {
        if let Some(&column) = self.columns.get(name) {
            return column;
        }
        let column = self.names.len();
        self.names.push(name.to_string());
        self.columns.insert(name.to_string(), column);
        column
    }

    pub(super) fn len(&self) -> usize {
        self.names.len()
    }

    pub(super) fn into_names(self) -> Vec<String> {
        self.names
    }
}

/// The value of one property. Objects and arrays become their own JSON text.
pub(super) struct Property(pub(super) Value);

impl<'de> Deserialize<'de> for Property {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(AnyValue).map(Self)
    }
}

struct AnyValue;

impl<'de> Visitor<'de> for AnyValue {
    type Value = Value;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("the value of a property")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Missing)
    }

    fn visit_bool<E: Error>(self, flag: bool) -> Result<Value, E> {
        Ok(Value::Flag(flag))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Value, E> {
        Ok(Value::Integer(number))
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Value, E> {
        // Beyond 64 signed bits it is an identifier rather than an amount: keep every digit.
        Ok(i64::try_from(number).map_or_else(|_| Value::Text(number.to_string()), Value::Integer))
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<Value, E> {
        Ok(Value::Number(number))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Value, E> {
        Ok(Value::Text(text.to_string()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut all = Vec::new();
        while let Some(item) = items.next_element::<Json>()? {
            all.push(item);
        }
        Ok(Value::Text(Json::Array(all).to_string()))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let mut all = Map::new();
        while let Some((name, value)) = members.next_entry::<String, Json>()? {
            all.insert(name, value);
        }
        Ok(Value::Text(Json::Object(all).to_string()))
    }
}
