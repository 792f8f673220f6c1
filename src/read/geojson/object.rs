//! The objects of GeoJSON: collection, feature and geometry, members in any order.

use super::super::Value;
use super::attributes::{Attributes, Property};
use super::coordinates::{AnyDepth, Coordinates};
use crate::codec::wkb::Shape;
use serde::de::{DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::Value as Json;
use std::cell::{Cell, RefCell};
use std::fmt;

/// Every feature gets a value for every name that any feature uses. A file in which each feature
/// has names of its own would fill the memory: the table takes 100 MB and ten times the file at most.
fn most_values(bytes: usize) -> usize {
    100_000_000_usize.saturating_add(bytes.saturating_mul(10)) / size_of::<Value>()
}

fn too_many_values(most: usize) -> String {
    format!(
        "the features with all their different properties make a table of more than {most} values, the most that a file of this size may have"
    )
}

/// What the parser has come to.
#[derive(Debug, Default)]
pub(super) struct State {
    /// Most values of all features together.
    most_values: usize,
    /// Number of the feature being parsed, from 1.
    pub(super) feature: Cell<Option<usize>>,
    /// A position of this feature had more than two numbers.
    pub(super) heights: Cell<bool>,
    pub(super) attributes: RefCell<Attributes>,
}

impl State {
    /// For a file of this many bytes.
    pub(super) fn with_room_for(bytes: usize) -> Self {
        Self {
            most_values: most_values(bytes),
            ..Self::default()
        }
    }
}

/// A feature before its attributes are complete.
#[derive(Debug)]
pub(super) struct Raw {
    pub(super) id: Option<String>,
    pub(super) shape: Shape,
    pub(super) heights: bool,
    pub(super) values: Vec<Value>,
}

/// Where an object stands, which decides which members it may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Top,
    Feature,
    Geometry,
}

/// The members of an object that mean something; all others are skipped.
#[derive(Debug, Default)]
pub(super) struct Object {
    kind: Option<String>,
    coordinates: Option<Coordinates>,
    geometries: Option<Vec<Shape>>,
    geometry: Option<Shape>,
    properties: Option<Vec<Value>>,
    id: Option<Option<String>>,
    features: Option<Vec<Raw>>,
    pub(super) crs: Option<Json>,
    /// A position in it had more than two numbers.
    pub(super) heights: bool,
}

/// The features of all texts of a file: one text, or a sequence of features.
///
/// # Errors
/// A sentence saying why this is no GeoJSON.
pub(super) fn features(texts: Vec<Object>, state: &State) -> Result<Vec<Raw>, String> {
    let sequence = texts.len() > 1;
    let mut all = Vec::new();
    for (at, text) in texts.into_iter().enumerate() {
        if sequence && !text.is_feature() {
            let number = at + 1;
            return Err(format!(
                "Features follow each other, but the text {number} is none"
            ));
        }
        all.extend(text.into_features()?);
    }
    let width = state.attributes.borrow().len();
    match all.len().saturating_mul(width) > state.most_values {
        true => Err(too_many_values(state.most_values)),
        false => Ok(all),
    }
}

impl Object {
    /// Whether it is one feature by its type.
    pub(super) fn is_feature(&self) -> bool {
        self.kind.as_deref() == Some("Feature")
    }

    /// The features of one text.
    fn into_features(self) -> Result<Vec<Raw>, String> {
        let heights = self.heights;
        match self.kind.as_deref() {
            Some("FeatureCollection") => {
                let features = self.features;
                Ok(features.ok_or("The FeatureCollection has no `features`")?)
            }
            Some("Feature") => Ok(vec![self.into_feature(heights)?]),
            Some("Topology") => Err("This is TopoJSON, not GeoJSON".to_string()),
            _ => {
                let shape = self.into_shape()?;
                Ok(vec![Raw {
                    id: None,
                    shape,
                    heights,
                    values: Vec::new(),
                }])
            }
        }
    }

    fn into_feature(self, heights: bool) -> Result<Raw, String> {
        match self.kind.as_deref() {
            Some("Feature") => Ok(Raw {
                id: self.id.flatten(),
                shape: self
                    .geometry
                    .ok_or("the feature has no member `geometry`")?,
                heights,
                values: self.properties.unwrap_or_default(),
            }),
            Some(other) => Err(format!(
                "a feature has the type '{other}' instead of 'Feature'"
            )),
            None => Err("a feature has no member `type`".to_string()),
        }
    }

    fn into_shape(self) -> Result<Shape, String> {
        let kind = self.kind.ok_or("an object has no member `type`")?;
        match kind.as_str() {
            "GeometryCollection" => {
                let parts = self
                    .geometries
                    .ok_or("a GeometryCollection has no `geometries`")?;
                parts.into_iter().try_fold(Shape::Empty, joined)
            }
            "Point" | "MultiPoint" | "LineString" | "MultiLineString" | "Polygon"
            | "MultiPolygon" => self
                .coordinates
                .ok_or_else(|| format!("a {kind} has no `coordinates`"))?
                .shape(&kind)
                .ok_or_else(|| {
                    format!("the arrays of the coordinates are not nested as in a {kind}")
                }),
            other => Err(format!("'{other}' is no type of a geometry")),
        }
    }
}

/// Two shapes of one kind as one.
fn joined(whole: Shape, part: Shape) -> Result<Shape, String> {
    Ok(match (whole, part) {
        (Shape::Empty, other) | (other, Shape::Empty) => other,
        (Shape::Points(mut all), Shape::Points(more)) => {
            all.extend(more);
            Shape::Points(all)
        }
        (Shape::Lines(mut all), Shape::Lines(more)) => {
            all.extend(more);
            Shape::Lines(all)
        }
        (Shape::Polygons(mut all), Shape::Polygons(more)) => {
            all.extend(more);
            Shape::Polygons(all)
        }
        _ => {
            return Err(
                "a GeometryCollection holds more than one of points, lines and polygons; \
                        split it into one feature for each"
                    .to_string(),
            );
        }
    })
}

/// Parses one object.
#[derive(Clone, Copy)]
pub(super) struct Seed<'a> {
    pub(super) role: Role,
    pub(super) state: &'a State,
}

impl<'de> DeserializeSeed<'de> for Seed<'_> {
    type Value = Object;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Object, D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for Seed<'_> {
    type Value = Object;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self.role {
            Role::Top => "a GeoJSON object",
            Role::Feature => "a feature",
            Role::Geometry => "a geometry",
        })
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Object, A::Error> {
        use Role::{Feature, Geometry, Top};
        let state = self.state;
        let geometry = Seed {
            role: Geometry,
            state,
        };
        let mut object = Object::default();
        while let Some(name) = members.next_key::<String>()? {
            match (name.as_str(), self.role) {
                ("type", _) => once(&name, &mut object.kind, members.next_value()?)?,
                ("coordinates", Top | Geometry) => {
                    let seed = AnyDepth {
                        heights: &state.heights,
                    };
                    once(
                        &name,
                        &mut object.coordinates,
                        members.next_value_seed(seed)?,
                    )?;
                }
                ("geometries", Top | Geometry) => {
                    let seed = Members(geometry);
                    once(
                        &name,
                        &mut object.geometries,
                        members.next_value_seed(seed)?,
                    )?;
                }
                ("geometry", Top | Feature) => {
                    let seed = OrNull(geometry);
                    once(&name, &mut object.geometry, members.next_value_seed(seed)?)?;
                }
                ("properties", Top | Feature) => {
                    let seed = Properties(state);
                    once(
                        &name,
                        &mut object.properties,
                        members.next_value_seed(seed)?,
                    )?;
                }
                ("id", Top | Feature) => {
                    let id = id(members.next_value()?).map_err(A::Error::custom)?;
                    once(&name, &mut object.id, id)?;
                }
                ("features", Top) => {
                    once(
                        &name,
                        &mut object.features,
                        members.next_value_seed(Features(state))?,
                    )?;
                }
                ("crs", Top) => once(&name, &mut object.crs, members.next_value()?)?,
                _ => {
                    members.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(object)
    }
}

/// JSON leaves open which of two members of one name counts, so two are refused.
fn once<T, E: Error>(name: &str, place: &mut Option<T>, value: T) -> Result<(), E> {
    match place.replace(value) {
        None => Ok(()),
        Some(_) => Err(E::custom(format!(
            "the member `{name}` stands twice in one object"
        ))),
    }
}

fn id(id: Json) -> Result<Option<String>, String> {
    match id {
        Json::Null => Ok(None),
        Json::String(text) => Ok(Some(text)),
        Json::Number(number) => Ok(Some(number.to_string())),
        other => Err(format!(
            "the `id` of a feature is {other}, not a text or a number"
        )),
    }
}

/// A geometry or null.
struct OrNull<'a>(Seed<'a>);

impl<'de> DeserializeSeed<'de> for OrNull<'_> {
    type Value = Shape;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Shape, D::Error> {
        deserializer.deserialize_option(self)
    }
}

impl<'de> Visitor<'de> for OrNull<'_> {
    type Value = Shape;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a geometry or null")
    }

    fn visit_none<E: Error>(self) -> Result<Shape, E> {
        Ok(Shape::Empty)
    }

    fn visit_unit<E: Error>(self) -> Result<Shape, E> {
        Ok(Shape::Empty)
    }

    fn visit_some<D: Deserializer<'de>>(self, deserializer: D) -> Result<Shape, D::Error> {
        self.0
            .deserialize(deserializer)?
            .into_shape()
            .map_err(D::Error::custom)
    }
}

/// The members of a GeometryCollection.
struct Members<'a>(Seed<'a>);

impl<'de> DeserializeSeed<'de> for Members<'_> {
    type Value = Vec<Shape>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Vec<Shape>, D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Members<'_> {
    type Value = Vec<Shape>;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an array of geometries")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Vec<Shape>, A::Error> {
        let mut shapes = Vec::new();
        while let Some(object) = items.next_element_seed(self.0)? {
            shapes.push(object.into_shape().map_err(A::Error::custom)?);
        }
        Ok(shapes)
    }
}

/// The features of a collection.
struct Features<'a>(&'a State);

impl<'de> DeserializeSeed<'de> for Features<'_> {
    type Value = Vec<Raw>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Vec<Raw>, D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Features<'_> {
    type Value = Vec<Raw>;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an array of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Vec<Raw>, A::Error> {
        let state = self.0;
        let mut features = Vec::new();
        let mut values = 0;
        loop {
            state.feature.set(Some(features.len() + 1));
            state.heights.set(false);
            let Some(object) = items.next_element_seed(Seed {
                role: Role::Feature,
                state,
            })?
            else {
                break;
            };
            let heights = state.heights.get();
            let feature = object.into_feature(heights).map_err(A::Error::custom)?;
            values += feature.values.len();
            if values > state.most_values {
                return Err(A::Error::custom(too_many_values(state.most_values)));
            }
            features.push(feature);
        }
        state.feature.set(None);
        Ok(features)
    }
}

/// The properties of one feature, each in the column of its name.
struct Properties<'a>(&'a State);

impl<'de> DeserializeSeed<'de> for Properties<'_> {
    type Value = Vec<Value>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Vec<Value>, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Properties<'_> {
    type Value = Vec<Value>;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("properties: an object or null")
    }

    fn visit_unit<E: Error>(self) -> Result<Vec<Value>, E> {
        Ok(Vec::new())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Vec<Value>, A::Error> {
        let mut values: Vec<Option<Value>> = Vec::new();
        while let Some(name) = members.next_key::<String>()? {
            let column = self.0.attributes.borrow_mut().column(&name);
            let Property(value) = members.next_value()?;
            if values.len() <= column {
                values.resize(column + 1, None);
            }
            once(&name, &mut values[column], value)?;
        }
        Ok(values
            .into_iter()
            .map(|value| value.unwrap_or(Value::Missing))
            .collect())
    }
}
