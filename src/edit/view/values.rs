//! The job file as it is written, as values of JSON, and which key stands on which line.

use super::super::key::{KeyPath, Step};
use serde_json::{Map, Value};
use std::ops::Range;
use toml_edit::{Document, Item, Value as Toml};

/// The values of a job file, "?" and all, and the line of each key; nothing of a text that is not TOML.
pub(super) fn of(text: &str) -> (Value, Vec<(usize, KeyPath)>) {
    let Ok(document) = Document::parse(text) else {
        return (Value::Object(Map::new()), Vec::new());
    };
    let starts: Vec<usize> = text.match_indices('\n').map(|(at, _)| at + 1).collect();
    let mut walk = Walk {
        starts,
        lines: Vec::new(),
    };
    let value = walk.item(document.as_item(), &KeyPath(Vec::new()));
    (value, walk.lines)
}

struct Walk {
    starts: Vec<usize>,
    lines: Vec<(usize, KeyPath)>,
}

impl Walk {
    fn note(&mut self, span: Option<Range<usize>>, path: &KeyPath) {
        if let Some(span) = span
            && matches!(path.0.last(), Some(Step::Key(_)))
        {
            let line = 1 + self.starts.partition_point(|start| *start <= span.start);
            self.lines.push((line, path.clone()));
        }
    }

    fn item(&mut self, item: &Item, path: &KeyPath) -> Value {
        match item {
            Item::None => Value::Null,
            Item::Value(value) => self.value(value, path),
            Item::Table(table) => {
                let entries = table.iter();
                Value::Object(
                    entries
                        .map(|(key, item)| (key.to_owned(), self.item(item, &path.key(key))))
                        .collect(),
                )
            }
            Item::ArrayOfTables(tables) => {
                let mut all = Vec::new();
                for (nth, table) in tables.iter().enumerate() {
                    let path = path.nth(nth);
                    let entries = table.iter();
                    all.push(Value::Object(
                        entries
                            .map(|(key, item)| (key.to_owned(), self.item(item, &path.key(key))))
                            .collect(),
                    ));
                }
                Value::Array(all)
            }
        }
    }

    fn value(&mut self, value: &Toml, path: &KeyPath) -> Value {
        self.note(value.span(), path);
        match value {
            Toml::String(text) => Value::from(text.value().as_str()),
            Toml::Integer(number) => Value::from(*number.value()),
            Toml::Float(number) => Value::from(*number.value()),
            Toml::Boolean(flag) => Value::from(*flag.value()),
            Toml::Datetime(date) => Value::from(date.value().to_string()),
            Toml::Array(items) => {
                let items = items.iter().enumerate();
                Value::Array(
                    items
                        .map(|(nth, item)| self.value(item, &path.nth(nth)))
                        .collect(),
                )
            }
            Toml::InlineTable(table) => {
                let entries = table.iter();
                Value::Object(
                    entries
                        .map(|(key, item)| (key.to_owned(), self.value(item, &path.key(key))))
                        .collect(),
                )
            }
        }
    }
}
