//! Geometries.
//!
//! That of the crate `geojson` finds out from the coordinates how deep they are nested: it refuses a multi-polygon that
//! begins with an empty part, and keeps members that nobody asks for. Here the type says how deep they are.

use super::super::{Path, Xy};
use super::once;
use crate::codec::wkb::Shape;
use serde::de::value::Error as ValueError;
use serde::de::{
    Deserialize, DeserializeSeed, Deserializer, Error, IgnoredAny, IntoDeserializer, MapAccess,
    SeqAccess, Visitor,
};
use serde_json::value::RawValue;
use std::fmt;

/// A geometry of a file.
#[derive(Debug)]
pub(super) struct Drawn {
    pub(super) shape: Shape,
    /// A position had more than two numbers.
    pub(super) heights: bool,
}

impl Drawn {
    pub(super) const NOTHING: Self = Self {
        shape: Shape::Empty,
        heights: false,
    };
}

/// The types of RFC 7946, section 3.1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
enum Kind {
    Point,
    MultiPoint,
    LineString,
    MultiLineString,
    Polygon,
    MultiPolygon,
    GeometryCollection,
}

impl Kind {
    fn named(name: &str) -> Result<Self, String> {
        let known: Result<Self, ValueError> = Self::deserialize(name.into_deserializer());
        known.map_err(|_| format!("'{name}' is no type of a geometry"))
    }
}

impl<'de> Deserialize<'de> for Drawn {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_map(Members)
    }
}

/// Members of a geometry in any order; those that mean nothing are skipped.
struct Members;

impl<'de> Visitor<'de> for Members {
    type Value = Drawn;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a geometry")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Drawn, A::Error> {
        let mut kind: Option<Kind> = None;
        let mut drawn = None;
        // Coordinates that stand before the type.
        let mut before: Option<&RawValue> = None;
        let mut parts: Option<Vec<Drawn>> = None;
        while let Some(name) = members.next_key::<String>()? {
            match (name.as_str(), kind) {
                ("type", _) => {
                    let own: String = members.next_value()?;
                    once(
                        &name,
                        &mut kind,
                        Kind::named(&own).map_err(A::Error::custom)?,
                    )?;
                }
                ("coordinates", None) => once(&name, &mut before, members.next_value()?)?,
                ("coordinates", Some(kind)) => {
                    let own = members.next_value_seed(Coordinates(kind))?;
                    once(&name, &mut drawn, own)?;
                }
                ("geometries", _) => once(&name, &mut parts, members.next_value()?)?,
                _ => {
                    members.next_value::<IgnoredAny>()?;
                }
            }
        }
        let kind = kind.ok_or_else(|| A::Error::custom("an object has no member `type`"))?;
        if let Some(text) = before {
            let own = Coordinates(kind).deserialize(text);
            once("coordinates", &mut drawn, own.map_err(A::Error::custom)?)?;
        }
        if kind != Kind::GeometryCollection {
            return drawn
                .ok_or_else(|| A::Error::custom(format!("a {kind:?} has no `coordinates`")));
        }
        let parts =
            parts.ok_or_else(|| A::Error::custom("a GeometryCollection has no `geometries`"))?;
        let joined = parts.into_iter().try_fold(Drawn::NOTHING, joined);
        joined.map_err(A::Error::custom)
    }
}

/// Reads the coordinates of a geometry of this type. `null` is how some programs write an empty one.
struct Coordinates(Kind);

impl<'de> DeserializeSeed<'de> for Coordinates {
    type Value = Drawn;

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<Drawn, D::Error> {
        let mut heights = false;
        let mut path = |line: Line| {
            heights |= line.heights;
            line.path
        };
        let shape = match self.0 {
            Kind::GeometryCollection => {
                IgnoredAny::deserialize(from)?;
                None
            }
            Kind::Point => match Option::<Position>::deserialize(from)? {
                Some(own) => {
                    let mut line = Line::default();
                    line.push(own).map_err(D::Error::custom)?;
                    Some(Shape::Points(path(line)))
                }
                None => None,
            },
            Kind::MultiPoint => {
                Option::<Line>::deserialize(from)?.map(|own| Shape::Points(path(own)))
            }
            Kind::LineString => {
                Option::<Line>::deserialize(from)?.map(|own| Shape::Lines(vec![path(own)]))
            }
            Kind::MultiLineString => Option::<Vec<Line>>::deserialize(from)?
                .map(|own| Shape::Lines(own.into_iter().map(path).collect())),
            Kind::Polygon => Option::<Vec<Line>>::deserialize(from)?
                .map(|own| Shape::Polygons(vec![own.into_iter().map(path).collect()])),
            Kind::MultiPolygon => Option::<Vec<Vec<Line>>>::deserialize(from)?.map(|own| {
                let rings = |own: Vec<Line>| own.into_iter().map(&mut path).collect();
                Shape::Polygons(own.into_iter().map(rings).collect())
            }),
        };
        Ok(Drawn {
            shape: shape.unwrap_or(Shape::Empty),
            heights,
        })
    }
}

/// A line or a ring; also the points of a multi-point. Each position becomes a point as it is read: a list of positions takes
/// half as much memory again.
#[derive(Default)]
struct Line {
    path: Path,
    /// A position had more than two numbers.
    heights: bool,
}

impl Line {
    fn push(&mut self, position: Position) -> Result<(), &'static str> {
        match position.numbers {
            0 => {}
            1 => return Err("a position has only one number"),
            numbers => {
                self.heights |= numbers > 2;
                self.path.push(position.xy);
            }
        }
        Ok(())
    }
}

/// A position: of a list of numbers the first two, and how many there are. Most of a file is positions, so no list is made.
#[derive(Default)]
struct Position {
    xy: Xy,
    numbers: usize,
}

impl<'de> Deserialize<'de> for Position {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_seq(Numbers)
    }
}

struct Numbers;

impl<'de> Visitor<'de> for Numbers {
    type Value = Position;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a sequence")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Position, A::Error> {
        let mut position = Position::default();
        while let Some(number) = items.next_element::<f64>()? {
            if let Some(own) = position.xy.get_mut(position.numbers) {
                *own = number;
            }
            position.numbers += 1;
        }
        Ok(position)
    }
}

impl<'de> Deserialize<'de> for Line {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_seq(Positions)
    }
}

struct Positions;

impl<'de> Visitor<'de> for Positions {
    type Value = Line;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an array of positions such as [11.5, 55.3]")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Line, A::Error> {
        let mut line = Line::default();
        let mut count = 0;
        while let Some(own) = items.next_element()? {
            line.push(own).map_err(A::Error::custom)?;
            count += 1;
        }
        line.path.shrink_to_fit();
        // A list of nothing but empty positions is an empty one.
        match line.path.len() {
            points if points == 0 || points == count => Ok(line),
            _ => Err(A::Error::custom("a position has no numbers")),
        }
    }
}

/// Two geometries of one kind as one.
fn joined(whole: Drawn, part: Drawn) -> Result<Drawn, &'static str> {
    let shape = match (whole.shape, part.shape) {
        (Shape::Empty, other) | (other, Shape::Empty) => other,
        (Shape::Points(all), Shape::Points(more)) => Shape::Points(both(all, more)),
        (Shape::Lines(all), Shape::Lines(more)) => Shape::Lines(both(all, more)),
        (Shape::Polygons(all), Shape::Polygons(more)) => Shape::Polygons(both(all, more)),
        _ => {
            return Err(
                "a GeometryCollection holds more than one of points, lines and polygons; \
                 split it into one feature for each",
            );
        }
    };
    Ok(Drawn {
        shape,
        heights: whole.heights || part.heights,
    })
}

fn both<T>(mut all: Vec<T>, more: Vec<T>) -> Vec<T> {
    all.extend(more);
    all
}
