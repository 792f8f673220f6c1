//! A TOML file as a tree that knows its lines.

use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value and the line it stands on, from 1.
#[derive(Debug)]
pub(super) struct Node {
    pub line: usize,
    pub value: Value,
}

/// What a value is.
#[derive(Debug)]
pub(super) enum Value {
    Text(String),
    /// The number and how it is written.
    Number(f64, String),
    Whole(i64, String),
    Flag(bool),
    Date(String),
    List(Vec<Node>),
    /// Sorted by line.
    Table(Vec<Entry>),
}

/// A key with its value.
#[derive(Debug)]
pub(super) struct Entry {
    pub key: String,
    /// Line of the key, from 1.
    pub line: usize,
    pub node: Node,
}

impl Node {
    /// The entry of a table.
    pub(super) fn entry(&self, key: &str) -> Option<&Entry> {
        match &self.value {
            Value::Table(entries) => entries.iter().find(|entry| entry.key == key),
            _ => None,
        }
    }

    pub(super) fn entry_mut(&mut self, key: &str) -> Option<&mut Entry> {
        match &mut self.value {
            Value::Table(entries) => entries.iter_mut().find(|entry| entry.key == key),
            _ => None,
        }
    }

    pub(super) fn into_entry(self, key: &str) -> Option<Entry> {
        match self.value {
            Value::Table(entries) => entries.into_iter().find(|entry| entry.key == key),
            _ => None,
        }
    }
}

impl Value {
    /// What it is, with its value where that is short.
    pub(super) fn described(&self) -> String {
        match self {
            Self::Text(text) => format!("the text \"{}\"", short(text)),
            Self::Number(_, written) | Self::Whole(_, written) => format!("the number {written}"),
            Self::Flag(flag) => format!("{flag}"),
            Self::Date(written) => format!("the date {written}"),
            Self::List(items) => format!("a list of {}", items.len()),
            Self::Table(_) => "a table".to_owned(),
        }
    }
}

/// The first characters of a text that may be long, on one line.
pub(super) fn short(text: &str) -> String {
    let mut cut: String = text
        .chars()
        .take(60)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().count() > 60 {
        cut.push_str("...");
    }
    cut
}

/// A place where a text is not TOML.
pub(super) struct NotToml {
    /// Offset, if it is known.
    pub byte: Option<usize>,
    /// In the words of the toml crate.
    pub message: String,
    /// Whether a key is there twice.
    pub twice: bool,
}

impl NotToml {
    pub(super) fn of(error: &toml::de::Error) -> Self {
        Self {
            byte: error.span().map(|span| span.start),
            message: error.message().to_owned(),
            // The toml crate says what is wrong in English text alone, and a double key needs advice of its own. Nowhere
            // else is a text of it looked into; were it to change, the advice would be the general one (a test sees that).
            twice: error.message().starts_with("duplicate key"),
        }
    }
}

/// Reads TOML.
///
/// # Errors
/// Every place where it is not TOML.
pub(super) fn read(text: &str) -> Result<Node, Vec<NotToml>> {
    let (table, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(errors.iter().map(NotToml::of).collect());
    }
    let lines = LineStarts::of(text);
    Ok(Node {
        line: 1,
        value: Value::Table(entries(table.get_ref(), &lines)),
    })
}

/// The line that a byte offset lies on, from 1.
pub(super) struct LineStarts(Vec<usize>);

impl LineStarts {
    pub(super) fn of(text: &str) -> Self {
        Self(
            text.bytes()
                .enumerate()
                .filter(|(_, byte)| *byte == b'\n')
                .map(|(at, _)| at)
                .collect(),
        )
    }

    pub(super) fn line(&self, byte: usize) -> usize {
        self.0.partition_point(|&end| end < byte) + 1
    }
}

fn entries(table: &DeTable<'_>, lines: &LineStarts) -> Vec<Entry> {
    let mut entries: Vec<Entry> = table
        .iter()
        .map(|(key, value)| {
            let line = lines.line(key.span().start);
            Entry {
                key: key.get_ref().to_string(),
                line,
                node: node(value, line, lines),
            }
        })
        .collect();
    entries.sort_by_key(|entry| entry.line);
    entries
}

fn node(value: &Spanned<DeValue<'_>>, key_line: usize, lines: &LineStarts) -> Node {
    let Range { start, .. } = value.span();
    // An implied table ([a.b] implies a) has no place of its own.
    let line = lines.line(start).max(key_line);
    let value = match value.get_ref() {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(written) => match i64::from_str_radix(written.as_str(), written.radix()) {
            Ok(whole) => Value::Whole(whole, written.to_string()),
            Err(_) => Value::Number(
                written.as_str().parse().unwrap_or(f64::INFINITY),
                written.to_string(),
            ),
        },
        DeValue::Float(written) => Value::Number(
            written.as_str().parse().unwrap_or(f64::NAN),
            written.to_string(),
        ),
        DeValue::Boolean(flag) => Value::Flag(*flag),
        DeValue::Datetime(date) => Value::Date(date.to_string()),
        DeValue::Array(items) => Value::List(
            items
                .iter()
                .map(|item| node(item, key_line, lines))
                .collect(),
        ),
        DeValue::Table(table) => Value::Table(entries(table, lines)),
    };
    Node { line, value }
}

/// Lines by path: keys from the top, list items by number from 0.
pub(super) struct Lines(BTreeMap<Vec<String>, usize>);

impl Lines {
    pub(super) fn of(root: &Node) -> Self {
        let mut lines = BTreeMap::new();
        collect(root, &mut Vec::new(), &mut lines);
        Self(lines)
    }

    /// Whether the file has this very path.
    pub(super) fn has(&self, path: &[String]) -> bool {
        self.0.contains_key(path)
    }

    /// The line of the path, or of the nearest part above it that the file has.
    pub(super) fn at(&self, path: &[String]) -> usize {
        (0..=path.len())
            .rev()
            .find_map(|length| self.0.get(&path[..length]).copied())
            .unwrap_or(1)
    }
}

fn collect(node: &Node, path: &mut Vec<String>, lines: &mut BTreeMap<Vec<String>, usize>) {
    match &node.value {
        Value::Table(entries) => {
            for entry in entries {
                path.push(entry.key.clone());
                lines.insert(path.clone(), entry.line);
                collect(&entry.node, path, lines);
                path.pop();
            }
        }
        Value::List(items) => {
            for (number, item) in items.iter().enumerate() {
                path.push(number.to_string());
                lines.insert(path.clone(), item.line);
                collect(item, path, lines);
                path.pop();
            }
        }
        _ => {}
    }
}
