//! Coordinates of any geometry, parsed before its type may be known: `type` can stand after them.

use super::super::{Path, Xy};
use crate::codec::wkb::Shape;
use serde::de::{DeserializeSeed, Deserializer, Error, SeqAccess, Visitor};
use std::cell::Cell;
use std::fmt;

/// A multi-polygon is four arrays deep; nothing is deeper.
const DEEPEST: usize = 4;

/// Coordinates by how deep their arrays are nested.
#[derive(Debug, PartialEq)]
pub(super) enum Coordinates {
    /// Arrays without any number.
    Empty,
    Position(Xy),
    Line(Path),
    Rings(Vec<Path>),
    Polygons(Vec<Vec<Path>>),
}

impl Coordinates {
    /// The shape that these coordinates have under a geometry type; `None` if they do not fit it.
    pub(super) fn shape(self, kind: &str) -> Option<Shape> {
        Some(match (kind, self) {
            (_, Self::Empty) => Shape::Empty,
            ("Point", Self::Position(point)) => Shape::Points(vec![point]),
            ("MultiPoint", Self::Line(points)) => Shape::Points(points),
            ("LineString", Self::Line(line)) => Shape::Lines(vec![line]),
            ("MultiLineString", Self::Rings(lines)) => Shape::Lines(lines),
            ("Polygon", Self::Rings(rings)) => Shape::Polygons(vec![rings]),
            ("MultiPolygon", Self::Polygons(polygons)) => Shape::Polygons(polygons),
            _ => return None,
        })
    }
}

/// Parses coordinates of any depth. `heights` is set when a position has more than two numbers.
pub(super) struct AnyDepth<'a> {
    pub(super) heights: &'a Cell<bool>,
}

impl<'de> DeserializeSeed<'de> for AnyDepth<'_> {
    type Value = Coordinates;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Coordinates, D::Error> {
        let nest = Nest {
            heights: self.heights,
            depth: 0,
        };
        match nest.deserialize(deserializer)? {
            Part::Number(_) => Err(D::Error::custom(
                "coordinates are a bare number, not an array",
            )),
            Part::Whole(coordinates) => Ok(coordinates),
        }
    }
}

/// A number, or a whole array.
enum Part {
    Number(f64),
    Whole(Coordinates),
}

/// Finds out how deep an array is from its first element, then reads the rest at that depth.
#[derive(Clone, Copy)]
struct Nest<'a> {
    heights: &'a Cell<bool>,
    depth: usize,
}

impl<'de> DeserializeSeed<'de> for Nest<'_> {
    type Value = Part;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Part, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Nest<'_> {
    type Value = Part;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an array of coordinates")
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<Part, E> {
        Ok(Part::Number(number))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Part, E> {
        Ok(Part::Number(number as f64))
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Part, E> {
        Ok(Part::Number(number as f64))
    }

    /// `"coordinates": null` is how some programs write an empty geometry.
    fn visit_unit<E: Error>(self) -> Result<Part, E> {
        match self.depth {
            0 => Ok(Part::Whole(Coordinates::Empty)),
            _ => Err(E::invalid_type(serde::de::Unexpected::Unit, &self)),
        }
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Part, A::Error> {
        if self.depth > DEEPEST {
            return Err(A::Error::custom(
                "coordinates are nested deeper than in any geometry",
            ));
        }
        let inner = Nest {
            heights: self.heights,
            depth: self.depth + 1,
        };
        let heights = self.heights;
        // Empty arrays before the first one with a number: empty lines, rings or polygons.
        let mut empty = 0;
        while let Some(first) = items.next_element_seed(inner)? {
            return Ok(Part::Whole(match first {
                Part::Whole(Coordinates::Empty) => {
                    empty += 1;
                    continue;
                }
                Part::Number(_) if empty > 0 => {
                    return Err(A::Error::custom(
                        "a number stands beside arrays in coordinates",
                    ));
                }
                Part::Number(x) => Coordinates::Position(rest_of_position(x, &mut items, heights)?),
                Part::Whole(Coordinates::Position(_)) if empty > 0 => {
                    return Err(A::Error::custom("a position has no numbers"));
                }
                Part::Whole(Coordinates::Position(point)) => {
                    Coordinates::Line(rest(vec![point], &mut items, Position { heights })?)
                }
                Part::Whole(Coordinates::Line(line)) => {
                    let lines = after_empty(empty, line);
                    Coordinates::Rings(rest(lines, &mut items, List(Position { heights }))?)
                }
                Part::Whole(Coordinates::Rings(rings)) => {
                    let polygons = after_empty(empty, rings);
                    let seed = List(List(Position { heights }));
                    Coordinates::Polygons(rest(polygons, &mut items, seed)?)
                }
                Part::Whole(Coordinates::Polygons(_)) => {
                    return Err(A::Error::custom(
                        "coordinates are nested deeper than in any geometry",
                    ));
                }
            }));
        }
        Ok(Part::Whole(Coordinates::Empty))
    }
}

fn after_empty<T>(empty: usize, first: Vec<T>) -> Vec<Vec<T>> {
    let mut all: Vec<Vec<T>> = (0..empty).map(|_| Vec::new()).collect();
    all.push(first);
    all
}

/// The elements that follow the ones already read.
fn rest<'de, A, S>(
    mut all: Vec<S::Value>,
    items: &mut A,
    seed: S,
) -> Result<Vec<S::Value>, A::Error>
where
    A: SeqAccess<'de>,
    S: DeserializeSeed<'de> + Copy,
{
    while let Some(item) = items.next_element_seed(seed)? {
        all.push(item);
    }
    Ok(all)
}

fn rest_of_position<'de, A: SeqAccess<'de>>(
    x: f64,
    items: &mut A,
    heights: &Cell<bool>,
) -> Result<Xy, A::Error> {
    let y = items
        .next_element::<f64>()?
        .ok_or_else(|| A::Error::custom("a position has only one number"))?;
    while items.next_element::<f64>()?.is_some() {
        heights.set(true);
    }
    Ok([x, y])
}

/// One position.
#[derive(Clone, Copy)]
struct Position<'a> {
    heights: &'a Cell<bool>,
}

impl<'de> DeserializeSeed<'de> for Position<'_> {
    type Value = Xy;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Xy, D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Position<'_> {
    type Value = Xy;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("a position such as [11.5, 55.3]")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Xy, A::Error> {
        let x = items
            .next_element::<f64>()?
            .ok_or_else(|| A::Error::custom("a position has no numbers"))?;
        rest_of_position(x, &mut items, self.heights)
    }
}

/// A list of whatever the inner seed reads.
#[derive(Clone, Copy)]
struct List<S>(S);

impl<'de, S: DeserializeSeed<'de> + Copy> DeserializeSeed<'de> for List<S> {
    type Value = Vec<S::Value>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de, S: DeserializeSeed<'de> + Copy> Visitor<'de> for List<S> {
    type Value = Vec<S::Value>;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("an array of coordinates")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Self::Value, A::Error> {
        rest(Vec::new(), &mut items, self.0)
    }
}
