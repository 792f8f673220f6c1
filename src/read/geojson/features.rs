//! Features: of a collection, one after the other, or one alone.

use super::super::Value;
use super::geometry::Drawn;
use super::once;
use super::properties::{Attributes, Properties};
use crate::codec::room;
use geojson::feature::Id;
use serde::de::{
    Deserialize, DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor,
};
use serde_json::Value as Json;
use std::fmt;

/// Every feature gets a value for every name that any feature uses. A file in which each feature
/// has names of its own would fill the memory.
fn most_values(bytes: usize) -> usize {
    room::most(bytes) / size_of::<Value>()
}

/// A feature before its attributes are complete.
#[derive(Debug)]
pub(super) struct Raw {
    pub(super) id: Option<String>,
    pub(super) drawn: Drawn,
    pub(super) values: Vec<Value>,
}

/// The features of a file so far.
#[derive(Debug, Default)]
pub(super) struct Features {
    all: Vec<Raw>,
    attributes: Attributes,
    /// Values of the features so far; columns that a feature lacks at the end are not counted.
    values: usize,
    /// Most values of all features together.
    most_values: usize,
    /// Number of the feature being parsed, from 1.
    pub(super) number: Option<usize>,
}

impl Features {
    /// For a file of this many bytes.
    pub(super) fn with_room_for(bytes: usize) -> Self {
        Self {
            most_values: most_values(bytes),
            ..Self::default()
        }
    }

    /// Takes one feature.
    ///
    /// # Errors
    /// A sentence saying why it is none, or that there are too many values.
    pub(super) fn take(&mut self, feature: Feature) -> Result<(), String> {
        match feature.kind.as_deref() {
            Some("Feature") => {}
            Some(other) => {
                return Err(format!(
                    "a feature has the type '{other}' instead of 'Feature'"
                ));
            }
            None => return Err("a feature has no member `type`".to_string()),
        }
        let drawn = feature
            .geometry
            .ok_or("the feature has no member `geometry`")?;
        let values = self
            .attributes
            .row(feature.properties.flatten().unwrap_or_default())?;
        self.values += values.len();
        self.all.push(Raw {
            id: feature.id.flatten().map(|id| match id {
                Id::String(text) => text,
                Id::Number(number) => number.to_string(),
            }),
            drawn: drawn.unwrap_or(Drawn::NOTHING),
            values,
        });
        self.room(self.values)
    }

    /// Takes a geometry that is no part of a feature.
    pub(super) fn take_bare(&mut self, drawn: Drawn) {
        self.all.push(Raw {
            id: None,
            drawn,
            values: Vec::new(),
        });
    }

    fn room(&self, values: usize) -> Result<(), String> {
        match values > self.most_values {
            true => Err(format!(
                "the features with all their different properties make a table of more than {} values, the most that a file of this size may have",
                self.most_values
            )),
            false => Ok(()),
        }
    }

    /// All features, and the names of their values.
    ///
    /// # Errors
    /// A sentence saying that their table is too large.
    pub(super) fn all(self) -> Result<(Vec<Raw>, Vec<String>), String> {
        self.room(self.all.len().saturating_mul(self.attributes.len()))?;
        Ok((self.all, self.attributes.into_names()))
    }
}

/// The members of a feature that mean something; all others are skipped. `None` where one is not there at all.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(expecting = "a feature")]
pub(super) struct Feature {
    #[serde(rename = "type")]
    pub(super) kind: Option<String>,
    #[serde(default, deserialize_with = "stated")]
    id: Option<Option<Id>>,
    #[serde(default, deserialize_with = "stated")]
    geometry: Option<Option<Drawn>>,
    #[serde(default, deserialize_with = "stated")]
    properties: Option<Option<Properties>>,
    /// Only looked at in a feature that is no part of a collection.
    #[serde(default, deserialize_with = "stated")]
    pub(super) crs: Option<Json>,
}

/// A member that is there, `null` or not.
fn stated<'de, T: Deserialize<'de>, D: Deserializer<'de>>(from: D) -> Result<Option<T>, D::Error> {
    T::deserialize(from).map(Some)
}

/// The first text of a file, with what it holds of a feature. The features of a collection have been taken.
#[derive(Debug)]
pub(super) struct Top {
    pub(super) own: Feature,
    pub(super) has_features: bool,
}

/// Reads a text; the features of a collection go into `Features`.
pub(super) struct Text<'a>(pub(super) &'a mut Features);

impl<'de> DeserializeSeed<'de> for Text<'_> {
    type Value = Top;

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<Top, D::Error> {
        from.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for Text<'_> {
    type Value = Top;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a GeoJSON object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Top, A::Error> {
        let mut own = Feature::default();
        let mut features = None;
        while let Some(name) = members.next_key::<String>()? {
            match name.as_str() {
                "type" => once(&name, &mut own.kind, members.next_value()?)?,
                "id" => once(&name, &mut own.id, members.next_value()?)?,
                "geometry" => once(&name, &mut own.geometry, members.next_value()?)?,
                "properties" => once(&name, &mut own.properties, members.next_value()?)?,
                "crs" => once(&name, &mut own.crs, members.next_value()?)?,
                "features" => {
                    members.next_value_seed(List(&mut *self.0))?;
                    once(&name, &mut features, ())?;
                }
                _ => {
                    members.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(Top {
            own,
            has_features: features.is_some(),
        })
    }
}

/// The features of a collection.
struct List<'a>(&'a mut Features);

impl<'de> DeserializeSeed<'de> for List<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<(), D::Error> {
        from.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for List<'_> {
    type Value = ();

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an array of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        let features = self.0;
        features.number = Some(1);
        while let Some(feature) = items.next_element()? {
            features.take(feature).map_err(A::Error::custom)?;
            features.number = Some(features.all.len() + 1);
        }
        features.number = None;
        Ok(())
    }
}
