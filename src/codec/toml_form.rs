//! Reads a TOML document into a type, and says in parts what is wrong with it and where: the `toml` crate hands its
//! own errors over as English text alone.

use serde::de::{
    self, DeserializeOwned, DeserializeSeed, Deserializer, IntoDeserializer, Unexpected, Visitor,
    value::StringDeserializer,
};
use serde_spanned::de::{SpannedDeserializer, is_spanned};
use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

/// What is wrong with a document, and at which byte.
#[derive(Debug, PartialEq)]
pub struct Wrong {
    pub at: usize,
    pub what: What,
}

/// What is wrong, in parts.
#[derive(Debug, PartialEq)]
pub enum What {
    MissingKey(&'static str),
    UnknownKey {
        found: String,
        allowed: &'static [&'static str],
    },
    UnknownWord {
        found: String,
        allowed: &'static [&'static str],
    },
    /// A value of another kind; `found` is such as ``integer `3` ``.
    Kind {
        found: String,
        wanted: Wanted,
    },
    /// Not TOML, or refused by a type for reasons of its own, in the words of whoever said so.
    Said(String),
}

/// What a form asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wanted {
    Number,
    Text,
    List,
    Table,
}

/// Reads a document.
///
/// # Errors
/// The first thing that is wrong.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, Wrong> {
    let root = DeTable::parse(text).map_err(|error| Wrong {
        at: error.span().map_or(0, |span| span.start),
        what: What::Said(error.message().to_owned()),
    })?;
    let root = Part {
        span: root.span(),
        value: DeValue::Table(root.into_inner()),
    };
    T::deserialize(root).map_err(|problem| Wrong {
        at: problem.at.unwrap_or(0),
        what: problem.what,
    })
}

/// What is wrong, before its place is known.
#[derive(Debug)]
struct Problem {
    at: Option<usize>,
    what: What,
}

impl Problem {
    fn new(what: What) -> Self {
        Self { at: None, what }
    }

    /// The innermost place counts.
    fn at(mut self, byte: usize) -> Self {
        self.at.get_or_insert(byte);
        self
    }
}

impl de::Error for Problem {
    fn custom<T: fmt::Display>(said: T) -> Self {
        Self::new(What::Said(said.to_string()))
    }

    fn missing_field(field: &'static str) -> Self {
        Self::new(What::MissingKey(field))
    }

    fn unknown_field(field: &str, allowed: &'static [&'static str]) -> Self {
        let found = field.to_owned();
        Self::new(What::UnknownKey { found, allowed })
    }

    fn unknown_variant(variant: &str, allowed: &'static [&'static str]) -> Self {
        let found = variant.to_owned();
        Self::new(What::UnknownWord { found, allowed })
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:?}", self.what)
    }
}

impl std::error::Error for Problem {}

/// A value and its place.
struct Part<'de> {
    span: Range<usize>,
    value: DeValue<'de>,
}

impl<'de> From<Spanned<DeValue<'de>>> for Part<'de> {
    fn from(value: Spanned<DeValue<'de>>) -> Self {
        Self {
            span: value.span(),
            value: value.into_inner(),
        }
    }
}

impl<'de> Part<'de> {
    fn visit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        let at = self.span.start;
        let value = match self.value {
            DeValue::String(text) => visitor.visit_string(text.into_owned()),
            DeValue::Integer(whole) => match i64::from_str_radix(whole.as_str(), whole.radix()) {
                Ok(whole) => visitor.visit_i64(whole),
                Err(error) => Err(de::Error::custom(error)),
            },
            DeValue::Float(number) => match number.as_str().parse() {
                Ok(number) => visitor.visit_f64(number),
                Err(error) => Err(de::Error::custom(error)),
            },
            DeValue::Boolean(flag) => visitor.visit_bool(flag),
            DeValue::Datetime(date) => visitor.visit_string(date.to_string()),
            DeValue::Array(items) => visitor.visit_seq(Items(items.into_iter())),
            DeValue::Table(table) => visitor.visit_map(Entries {
                entries: table.into_iter(),
                value: None,
            }),
        };
        value.map_err(|problem| problem.at(at))
    }

    /// The visit, where the value is of the kind that is wanted.
    fn visit_as<V: Visitor<'de>>(self, wanted: Wanted, visitor: V) -> Result<V::Value, Problem> {
        match (wanted, &self.value) {
            (Wanted::Number, DeValue::Integer(_) | DeValue::Float(_))
            | (Wanted::Text, DeValue::String(_))
            | (Wanted::List, DeValue::Array(_))
            | (Wanted::Table, DeValue::Table(_)) => self.visit(visitor),
            _ => Err(self.is_not(wanted)),
        }
    }

    fn is_not(&self, wanted: Wanted) -> Problem {
        let found = match &self.value {
            DeValue::String(text) => Unexpected::Str(text).to_string(),
            DeValue::Integer(whole) => format!("integer `{whole}`"),
            DeValue::Float(number) => format!("floating point `{number}`"),
            DeValue::Boolean(flag) => Unexpected::Bool(*flag).to_string(),
            DeValue::Datetime(date) => format!("date `{date}`"),
            DeValue::Array(_) => Unexpected::Seq.to_string(),
            DeValue::Table(_) => Unexpected::Map.to_string(),
        };
        Problem::new(What::Kind { found, wanted }).at(self.span.start)
    }
}

impl<'de> Deserializer<'de> for Part<'de> {
    type Error = Problem;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        self.visit(visitor)
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        self.visit_as(Wanted::Number, visitor)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        self.visit_as(Wanted::Text, visitor)
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        self.visit_as(Wanted::Text, visitor)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        self.visit_as(Wanted::List, visitor)
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        self.visit_as(Wanted::Table, visitor)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Problem> {
        if is_spanned(name) {
            let span = self.span.clone();
            return visitor.visit_map(SpannedDeserializer::new(self, span));
        }
        self.visit_as(Wanted::Table, visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Problem> {
        let at = self.span.start;
        match self.value {
            DeValue::String(word) => {
                let word: StringDeserializer<Problem> = word.into_owned().into_deserializer();
                let value = visitor.visit_enum(word);
                value.map_err(|problem| problem.at(at))
            }
            _ => Err(self.is_not(Wanted::Text)),
        }
    }

    // What is not there at all is none; what is there is some.
    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Problem> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Problem> {
        visitor.visit_newtype_struct(self)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 char bytes byte_buf unit unit_struct
        tuple tuple_struct identifier ignored_any
    }
}

impl<'de> IntoDeserializer<'de, Problem> for Part<'de> {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

struct Items<I>(I);

impl<'de, I: Iterator<Item = Spanned<DeValue<'de>>>> de::SeqAccess<'de> for Items<I> {
    type Error = Problem;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Problem> {
        let item = self.0.next();
        item.map(|item| seed.deserialize(Part::from(item)))
            .transpose()
    }
}

struct Entries<'de, I> {
    entries: I,
    /// Of the key that was given last.
    value: Option<Part<'de>>,
}

impl<'de, I> de::MapAccess<'de> for Entries<'de, I>
where
    I: Iterator<Item = (Spanned<DeString<'de>>, Spanned<DeValue<'de>>)>,
{
    type Error = Problem;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Problem> {
        let Some((key, value)) = self.entries.next() else {
            return Ok(None);
        };
        self.value = Some(Part::from(value));
        let at = key.span().start;
        let key: StringDeserializer<Problem> = key.into_inner().into_owned().into_deserializer();
        let key = seed.deserialize(key);
        key.map(Some).map_err(|problem| problem.at(at))
    }

    fn next_value_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<T::Value, Problem> {
        match self.value.take() {
            Some(value) => seed.deserialize(value),
            None => Err(de::Error::custom("a value without a key")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;
    use std::collections::BTreeMap;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Form {
        name: Spanned<String>,
        list: Vec<Spanned<f64>>,
        amounts: BTreeMap<Kind, f64>,
        kind: Kind,
        #[serde(default)]
        more: Option<Box<Form>>,
    }

    #[derive(Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Kind {
        Up,
        Down,
    }

    const GOOD: &str =
        "name = \"a\"\nlist = [1, 0x1F, -2.5e3, inf, 1_000]\namounts = { up = 1 }\nkind = \"up\"\n";

    /// What the reader of the toml crate makes of the same text, places included.
    #[test]
    fn a_document_is_read_as_the_toml_crate_reads_it() {
        let nested = GOOD.replace('\n', "\nmore.");
        let text = format!("{GOOD}more.{}", nested.trim_end_matches("more."));
        let own: Form = read(&text).expect("a form");
        let theirs: Form = toml::from_str(&text).expect("a form");
        assert_eq!(own, theirs);
        // Two values are the same wherever they stand.
        let spans = |form: &Form| {
            let list = form.list.iter().map(Spanned::span);
            let mut spans: Vec<_> = list.collect();
            spans.extend(form.more.as_ref().map(|more| more.name.span()));
            spans
        };
        assert_eq!(spans(&own), spans(&theirs));
        assert_eq!(spans(&own).len(), 6);
    }

    /// Each with the place that the toml crate gives.
    #[test]
    fn what_is_wrong_is_told_in_parts() {
        let kind = |found: &str, wanted| What::Kind {
            found: found.to_owned(),
            wanted,
        };
        for (part, by, what) in [
            ("name = \"a\"\n", "", What::MissingKey("name")),
            (
                "name = ",
                "nam = ",
                What::UnknownKey {
                    found: "nam".to_owned(),
                    allowed: &["name", "list", "amounts", "kind", "more"],
                },
            ),
            (
                "\"up\"",
                "\"left\"",
                What::UnknownWord {
                    found: "left".to_owned(),
                    allowed: &["up", "down"],
                },
            ),
            (
                "{ up ",
                "{ left ",
                What::UnknownWord {
                    found: "left".to_owned(),
                    allowed: &["up", "down"],
                },
            ),
            (
                "up = 1 ",
                "up = \"1\" ",
                kind("string \"1\"", Wanted::Number),
            ),
            ("\"a\"", "3", kind("integer `3`", Wanted::Text)),
            (
                "\"a\"",
                "2026-11-29",
                kind("date `2026-11-29`", Wanted::Text),
            ),
            ("\"up\"", "[]", kind("sequence", Wanted::Text)),
            (
                "{ up = 1 }",
                "1.5",
                kind("floating point `1.5`", Wanted::Table),
            ),
            ("[1, ", "true # [", kind("boolean `true`", Wanted::List)),
        ] {
            assert!(GOOD.contains(part), "{part}");
            let text = GOOD.replacen(part, by, 1);
            let wrong = read::<Form>(&text).expect_err(&text);
            assert_eq!(wrong.what, what, "{text}");
            let theirs = toml::from_str::<Form>(&text).expect_err(&text);
            assert_eq!(
                Some(wrong.at),
                theirs.span().map(|span| span.start),
                "{text}"
            );
        }
        let no_toml = read::<Form>("name = \n").expect_err("no value");
        assert!(matches!(no_toml.what, What::Said(_)) && no_toml.at == 7);
    }
}
