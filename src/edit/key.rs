//! A place in a job file, and changes there that leave all else as it stands: comments, order, blank lines.

use crate::findings::{Fault, Outcome, Place};
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;
use std::fmt;
use std::path::Path;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value};

/// A step from a table to a key of it, or from a list to an entry of it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Step {
    /// An entry of a list, from 0.
    Nth(usize),
    /// A key of a table.
    Key(String),
}

/// Steps from the top of a job file.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct KeyPath(pub Vec<Step>);

impl fmt::Display for KeyPath {
    /// As in messages about a job: `product.1.limits.max_kg_per_ha`, entries from 1.
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        let steps = self.0.iter().map(|step| match step {
            Step::Nth(nth) => (nth + 1).to_string(),
            Step::Key(key) => key.clone(),
        });
        to.write_str(&steps.collect::<Vec<_>>().join("."))
    }
}

impl KeyPath {
    /// From words, those that are numbers being entries of lists, from 0.
    pub fn of(steps: &[&str]) -> Self {
        let step = |step: &&str| match step.parse() {
            Ok(nth) => Step::Nth(nth),
            Err(_) => Step::Key((*step).to_owned()),
        };
        Self(steps.iter().map(step).collect())
    }

    /// A step further, to a key.
    pub fn key(&self, key: &str) -> Self {
        let mut steps = self.0.clone();
        steps.push(Step::Key(key.to_owned()));
        Self(steps)
    }

    /// A step further, to an entry.
    pub fn nth(&self, nth: usize) -> Self {
        let mut steps = self.0.clone();
        steps.push(Step::Nth(nth));
        Self(steps)
    }

    /// The keys alone.
    pub fn keys(&self) -> Vec<&str> {
        let keys = self.0.iter().filter_map(|step| match step {
            Step::Key(key) => Some(key.as_str()),
            Step::Nth(_) => None,
        });
        keys.collect()
    }
}

/// The document of a text.
pub(super) fn document(text: &str, file: &Path) -> Outcome<DocumentMut> {
    text.parse().map_err(|error: toml_edit::TomlError| {
        let message = error
            .message()
            .lines()
            .next()
            .unwrap_or_default()
            .to_owned();
        Fault::input(
            "edit.not_toml",
            Place::file(file),
            format!("the job file is not TOML: {message}"),
            "a job file in TOML",
            "correct it in a text editor first",
        )
    })
}

/// What stands at a place; none where nothing does.
pub(super) fn at<'a>(document: &'a DocumentMut, path: &KeyPath) -> Option<&'a Item> {
    let mut item = document.as_item();
    for step in &path.0 {
        item = match step {
            Step::Nth(nth) => item.get(*nth)?,
            Step::Key(key) => item.get(key.as_str())?,
        };
    }
    Some(item)
}

/// Puts a value where a path leads; tables on the way are made.
///
/// # Errors
/// A path that leads through a number or a text, or past the end of a list; a value that TOML cannot hold.
pub(super) fn set(document: &mut DocumentMut, path: &KeyPath, value: &Json) -> Outcome<()> {
    let Some((last, way)) = path.0.split_last() else {
        return Err(no_place(path));
    };
    let parent = walk(document.as_item_mut(), way, path)?;
    let slot: &mut Item = match last {
        Step::Nth(nth) => parent.get_mut(*nth).ok_or_else(|| no_place(path))?,
        Step::Key(key) => {
            let table = parent.as_table_like_mut().ok_or_else(|| no_place(path))?;
            table.entry(key).or_insert(Item::None)
        }
    };
    // At the top of a job a table stands under a heading of its own, as people write it.
    if let (Json::Object(entry), 1) = (value, path.0.len()) {
        *slot = Item::Table(table_of(entry).ok_or_else(|| no_value(path))?);
        return Ok(());
    }
    let mut new = of_json(value, slot.as_float().is_some()).ok_or_else(|| no_value(path))?;
    // What stood around the old value, a comment behind it above all, stands around the new one.
    if let Some(old) = slot.as_value() {
        *new.decor_mut() = old.decor().clone();
    }
    *slot = Item::Value(new);
    Ok(())
}

/// Takes a key or an entry away.
///
/// # Errors
/// Nothing stands there.
pub(super) fn remove(document: &mut DocumentMut, path: &KeyPath) -> Outcome<()> {
    if at(document, path).is_none() {
        return Err(no_place(path));
    }
    let Some((last, way)) = path.0.split_last() else {
        return Err(no_place(path));
    };
    let parent = walk(document.as_item_mut(), way, path)?;
    let emptied = match (last, parent) {
        (Step::Key(key), parent) => {
            let table = parent.as_table_like_mut().ok_or_else(|| no_place(path))?;
            table.remove(key);
            false
        }
        (Step::Nth(nth), Item::ArrayOfTables(tables)) => {
            tables.remove(*nth);
            tables.is_empty()
        }
        (Step::Nth(nth), Item::Value(Value::Array(array))) => {
            array.remove(*nth);
            array.is_empty()
        }
        _ => return Err(no_place(path)),
    };
    // A list without entries is no list that anybody wrote.
    match emptied && !way.is_empty() {
        true => remove(document, &KeyPath(way.to_vec())),
        false => Ok(()),
    }
}

/// Puts an entry at the end of a list of tables, which is made if it is not there.
///
/// # Errors
/// As [`set`].
pub(super) fn push(
    document: &mut DocumentMut,
    path: &KeyPath,
    entry: &serde_json::Map<String, Json>,
) -> Outcome<()> {
    let Some((Step::Key(key), way)) = path.0.split_last() else {
        return Err(no_place(path));
    };
    let parent = walk(document.as_item_mut(), way, path)?;
    let table = parent.as_table_like_mut().ok_or_else(|| no_place(path))?;
    let list = table
        .entry(key)
        .or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    match list {
        Item::ArrayOfTables(tables) => {
            tables.push(table_of(entry).ok_or_else(|| no_value(path))?);
            Ok(())
        }
        Item::Value(Value::Array(array)) => {
            let value = Json::Object(entry.clone());
            array.push(of_json(&value, false).ok_or_else(|| no_value(path))?);
            Ok(())
        }
        _ => Err(no_place(path)),
    }
}

/// A table with these entries; none where TOML cannot hold one of them.
fn table_of(entry: &serde_json::Map<String, Json>) -> Option<Table> {
    let mut table = Table::new();
    for (key, value) in entry {
        table.insert(key, Item::Value(of_json(value, false)?));
    }
    Some(table)
}

fn walk<'a>(mut item: &'a mut Item, way: &[Step], path: &KeyPath) -> Outcome<&'a mut Item> {
    for step in way {
        item = match step {
            Step::Nth(nth) => item.get_mut(*nth).ok_or_else(|| no_place(path))?,
            Step::Key(key) => {
                let inline = item.is_inline_table();
                let table = item.as_table_like_mut().ok_or_else(|| no_place(path))?;
                table.entry(key).or_insert_with(|| match inline {
                    true => Item::Value(Value::InlineTable(InlineTable::new())),
                    false => Item::Table(Table::new()),
                })
            }
        };
    }
    Ok(item)
}

/// A value of JSON as one of TOML; none for what TOML does not hold. `float`: a whole number is written with a point, as
/// the number before it was.
fn of_json(value: &Json, float: bool) -> Option<Value> {
    Some(match value {
        Json::Null => return None,
        Json::Bool(flag) => Value::from(*flag),
        Json::Number(number) => match (number.as_i64(), number.as_f64()) {
            (Some(whole), _) if !float => Value::from(whole),
            (_, Some(number)) if number.is_finite() => Value::from(number),
            _ => return None,
        },
        Json::String(text) => Value::from(text.as_str()),
        Json::Array(items) => {
            let items = items.iter().map(|item| of_json(item, false));
            Value::Array(items.collect::<Option<Array>>()?)
        }
        Json::Object(entries) => {
            let mut table = InlineTable::new();
            for (key, value) in entries {
                table.insert(key, of_json(value, false)?);
            }
            Value::InlineTable(table)
        }
    })
}

fn no_place(path: &KeyPath) -> Box<Fault> {
    Fault::input(
        "edit.no_place",
        Place::nowhere(),
        format!("nothing can be put at '{path}' of this job"),
        "a key of a table, or an entry that is there",
        "look at the job file; 'twinsow schema' prints every key",
    )
}

fn no_value(path: &KeyPath) -> Box<Fault> {
    Fault::input(
        "edit.no_value",
        Place::nowhere(),
        format!("the value for '{path}' is none that a job file can hold"),
        "a text, a finite number, true or false, a list or a table of these",
        "send another value; 'unset' takes a key away",
    )
}
