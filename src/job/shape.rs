//! Holds a job file against the schema: unknown and missing keys, types, words and ranges.

use super::confusions;
use super::keys;
use super::schema;
use super::tree::{Entry, Node, Value, short};
use crate::findings::{Fault, Place, number};
use serde_json::Value as Schema;
use std::path::Path;

/// Every fault of shape, in no particular order.
pub(super) fn faults(root: &Node, schema: &Schema, file: &Path) -> Vec<Fault> {
    let mut walk = Walk {
        root: schema,
        file,
        path: Vec::new(),
        faults: Vec::new(),
    };
    walk.node(root, schema, Range::default());
    walk.faults
}

/// Lowest and highest number allowed. A table of numbers by class has the range of the key that
/// it stands for, so a range is handed down until a schema names its own.
#[derive(Clone, Copy, Default)]
struct Range {
    min: Option<f64>,
    above: Option<f64>,
    max: Option<f64>,
}

/// What a part of a sum or a product may be.
const PARTS: Range = Range {
    min: Some(-100_000.0),
    above: None,
    max: Some(100_000.0),
};

impl Range {
    fn narrowed(self, schema: &Schema) -> Self {
        let get = |key: &str| schema.get(key).and_then(Schema::as_f64);
        let own = Self {
            min: get("minimum"),
            above: get("exclusiveMinimum"),
            max: get("maximum"),
        };
        let inherited = self.max.is_some();
        Self {
            min: if inherited { self.min } else { own.min },
            above: self.above.or(own.above),
            max: self.max.or(own.max),
        }
    }

    fn holds(self, number: f64) -> bool {
        number.is_finite()
            && self.min.is_none_or(|min| number >= min)
            && self.above.is_none_or(|above| number > above)
            && self.max.is_none_or(|max| number <= max)
    }

    fn described(self) -> String {
        let low = match (self.above, self.min) {
            (Some(above), _) => format!("above {}", number(above)),
            (None, Some(min)) => format!("from {}", number(min)),
            (None, None) => String::new(),
        };
        let high = self
            .max
            .map_or(String::new(), |max| format!("to {}", number(max)));
        [low, high]
            .iter()
            .filter(|part| !part.is_empty())
            .cloned()
            .collect::<Vec<_>>()
            .join(" ")
    }
}

struct Walk<'a> {
    root: &'a Schema,
    file: &'a Path,
    path: Vec<String>,
    faults: Vec<Fault>,
}

impl<'a> Walk<'a> {
    fn add(
        &mut self,
        code: &'static str,
        line: usize,
        found: String,
        allowed: String,
        next: String,
    ) {
        self.faults.push(*Fault::input(
            code,
            Place::file(self.file).line(line),
            found,
            allowed,
            next,
        ));
    }

    /// The key whose value is looked at, for messages.
    fn key(&self) -> &str {
        self.path
            .iter()
            .rev()
            .find(|step| step.parse::<usize>().is_err())
            .map_or("the file", String::as_str)
    }

    fn node(&mut self, node: &Node, schema: &'a Schema, range: Range) {
        let range = range.narrowed(schema);
        let resolved = schema::resolve(schema, self.root);
        if !std::ptr::eq(resolved, schema) {
            return self.node(node, resolved, range);
        }
        if let Some(choices) = schema.get("anyOf").and_then(Schema::as_array) {
            return self.choice(node, choices, range);
        }
        let words = schema::words(schema);
        if !words.is_empty() {
            return self.word(node, &words);
        }
        match (schema.get("type").and_then(Schema::as_str), &node.value) {
            (Some("object"), Value::Table(entries)) => self.table(node, entries, schema, range),
            (Some("array"), Value::List(items)) => self.list(node, items, schema, range),
            (Some("string"), Value::Text(text)) => self.text(node, text, schema),
            (Some("boolean"), Value::Flag(_)) => {}
            (Some("integer"), Value::Whole(number, written)) => {
                self.number(node, *number as f64, written, range);
            }
            (Some("number"), Value::Whole(number, written)) => {
                self.number(node, *number as f64, written, range);
            }
            (Some("number"), Value::Number(number, written)) => {
                self.number(node, *number, written, range)
            }
            (Some(kind), _) => self.wrong_type(node, kind, range),
            (None, _) => {}
        }
    }

    /// A number, or a table of numbers by class.
    fn choice(&mut self, node: &Node, choices: &'a [Schema], range: Range) {
        let entries = match &node.value {
            Value::Table(entries) => Some(entries),
            _ => None,
        };
        let mut fitting = choices.iter().filter(|choice| {
            let object = schema::resolve(choice, self.root)
                .get("type")
                .and_then(Schema::as_str);
            (object == Some("object")) == entries.is_some()
        });
        // Of several tables that may stand here, the one that has a key of this one.
        let has_key = |choice: &&'a Schema| {
            let known = schema::keys(schema::resolve(choice, self.root));
            let mut given = entries.into_iter().flatten();
            given.any(|entry| entry.key != "otherwise" && known.contains(&entry.key.as_str()))
        };
        let chosen = fitting.clone().find(has_key).or_else(|| fitting.next());
        match (chosen, &node.value) {
            (Some(choice), Value::Table(_) | Value::Whole(..) | Value::Number(..)) => {
                self.node(node, choice, range);
            }
            _ => {
                let key = self.key().to_owned();
                self.add(
                    "job.type",
                    node.line,
                    format!("'{key}' is {}", node.value.described()),
                    format!(
                        "a number {}, or {{ layer = \"...\", by_class = {{ \"class\" = number }} }}",
                        range.described()
                    ),
                    number_advice(&node.value, &key),
                );
            }
        }
    }

    fn table(&mut self, node: &Node, entries: &[Entry], schema: &'a Schema, range: Range) {
        let known = schema.get("properties").and_then(Schema::as_object);
        let free = schema
            .get("additionalProperties")
            .filter(|value| value.is_object());
        for entry in entries {
            let below = known.and_then(|known| known.get(&entry.key)).or(free);
            let Some(below) = below else {
                self.unknown_key(entry, schema);
                continue;
            };
            // The place on a curve is the layer's value, in a range of its own.
            // So are the parts of a sum or a product: only what they come to has the range of the key.
            let range = match entry.key.as_str() {
                "at" => Range::default(),
                "sum" | "product" if !self.path.is_empty() => PARTS,
                _ => range,
            };
            self.path.push(entry.key.clone());
            self.node(&entry.node, below, range);
            self.path.pop();
        }
        for required in schema
            .get("required")
            .and_then(Schema::as_array)
            .into_iter()
            .flatten()
        {
            let Some(required) = required.as_str() else {
                continue;
            };
            if entries.iter().any(|entry| entry.key == required) {
                continue;
            }
            // A misspelt key is one fault, not two.
            if entries
                .iter()
                .any(|entry| keys::meant(&entry.key, &[required]).is_some())
            {
                continue;
            }
            let what = known
                .and_then(|known| known.get(required))
                .map_or("", |below| description(below));
            let place = keys::table_label(&self.path);
            self.add(
                "job.missing_key",
                node.line,
                format!("key '{required}' is missing in {place}"),
                format!("'{required}' must be given: {}", what.trim_end_matches('.')),
                format!("add '{required}' to {place}"),
            );
        }
    }

    fn unknown_key(&mut self, entry: &Entry, schema: &Schema) {
        let known = schema::keys(schema);
        let place = keys::table_label(&self.path);
        self.add(
            "job.unknown_key",
            entry.line,
            format!("unknown key '{}' in {place}", short(&entry.key)),
            known.join(", "),
            keys::advice(&entry.key, &known, &self.path, &schema::all_keys(self.root)),
        );
    }

    fn list(&mut self, node: &Node, items: &[Node], schema: &'a Schema, range: Range) {
        let limit = |key: &str| schema.get(key).and_then(Schema::as_u64).map(|n| n as usize);
        let (least, most) = (
            limit("minItems").unwrap_or(0),
            limit("maxItems").unwrap_or(usize::MAX),
        );
        if items.len() < least || items.len() > most {
            let key = self.key().to_owned();
            let line = items
                .get(most.min(items.len()))
                .map_or(node.line, |item| item.line);
            self.add(
                "job.count",
                line,
                format!("{} entries of '{key}'", items.len()),
                format!("{least} to {most}"),
                format!("keep at most {most} [[{key}]] tables and at least {least}"),
            );
        }
        let Some(below) = schema.get("items") else {
            return;
        };
        for (number, item) in items.iter().enumerate() {
            self.path.push(number.to_string());
            self.node(item, below, range);
            self.path.pop();
        }
    }

    fn text(&mut self, node: &Node, text: &str, schema: &Schema) {
        let key = self.key().to_owned();
        let limit = |name: &str| {
            schema
                .get(name)
                .and_then(Schema::as_u64)
                .map(|n| n as usize)
        };
        let length = text.trim().chars().count();
        if let Some(least) = limit("minLength").filter(|least| 0 < length && length < *least) {
            let found = format!("'{key}' = '{}' is {length} characters long", text.trim());
            let allowed = match limit("maxLength") {
                Some(most) if most == least => format!("{least} characters"),
                _ => format!("{least} characters or more"),
            };
            self.add(
                "job.too_short",
                node.line,
                found,
                allowed,
                format!("write {key} in full"),
            );
        } else if limit("minLength").is_some_and(|least| length < least) {
            let allowed = "some text".to_owned();
            self.add(
                "job.empty",
                node.line,
                format!("'{key}' is empty"),
                allowed,
                format!("write {key}"),
            );
        } else if let Some(most) = limit("maxLength").filter(|most| text.chars().count() > *most) {
            let found = format!("'{key}' is {} characters long", text.chars().count());
            let allowed = format!("up to {most} characters");
            self.add(
                "job.too_long",
                node.line,
                found,
                allowed,
                format!("shorten {key}"),
            );
        } else if text.chars().any(char::is_control) {
            let found = format!("'{key}' holds a line break or another control character");
            self.add(
                "job.control_character",
                node.line,
                found,
                "text on one line; in \"...\" a backslash starts such a character".to_owned(),
                "use / in paths, or single quotes: 'folder\\file.shp'".to_owned(),
            );
        }
    }

    fn word(&mut self, node: &Node, words: &[&str]) {
        let key = self.key().to_owned();
        let allowed = words
            .iter()
            .map(|word| format!("\"{word}\""))
            .collect::<Vec<_>>()
            .join(", ");
        let found = match &node.value {
            Value::Text(text) if words.contains(&text.as_str()) => return,
            Value::Text(text) => format!("{key} = \"{}\"", short(text)),
            other => format!("'{key}' is {}", other.described()),
        };
        let meant = match &node.value {
            Value::Text(text) => keys::meant(&text.to_lowercase(), words),
            _ => None,
        };
        let next = match meant {
            Some(word) => format!("did you mean \"{word}\"?"),
            None => "write one of the allowed words, in quotes".to_owned(),
        };
        self.add("job.word", node.line, found, allowed, next);
    }

    fn number(&mut self, node: &Node, number: f64, written: &str, range: Range) {
        let names: Vec<&str> = self.path.iter().map(String::as_str).collect();
        if let Some(confused) = confusions::look(&names, number) {
            let found = format!(
                "{} = {written} looks like {}",
                self.key(),
                confused.looks_like
            );
            self.add(
                "job.unit_of_measure",
                node.line,
                found,
                range.described(),
                confused.next,
            );
        } else if !range.holds(number) {
            let key = self.key().to_owned();
            self.add(
                "job.range",
                node.line,
                format!("{key} = {written}"),
                format!("a number {}", range.described()),
                confusions::advice(&names, number).map_or(format!("correct {key}"), str::to_owned),
            );
        }
    }

    fn wrong_type(&mut self, node: &Node, kind: &str, range: Range) {
        let key = self.key().to_owned();
        let (allowed, next) = match kind {
            "number" => (
                format!("a number {}", range.described()),
                number_advice(&node.value, &key),
            ),
            "integer" => (
                format!("a whole number {}", range.described()),
                number_advice(&node.value, &key),
            ),
            "string" => (
                "text in quotes".to_owned(),
                format!("write {key} in quotes: {key} = \"...\""),
            ),
            "boolean" => (
                "true or false".to_owned(),
                format!("write {key} = true or {key} = false"),
            ),
            "array" => {
                let brackets = "a list: [ ... ], or one [[table]] per entry".to_owned();
                let advice = match &node.value {
                    Value::Table(_) => {
                        format!("write [[{key}]] with double brackets instead of [{key}]")
                    }
                    _ => format!("write {key} = [ ... ]"),
                };
                (brackets, advice)
            }
            _ => match key.as_str() {
                "boundary" | "source" => (
                    "a table: { file = \"...\" }".to_owned(),
                    format!("write {key} = {{ file = \"...\" }}"),
                ),
                _ => (
                    "a table: keys with values".to_owned(),
                    table_advice(&node.value, &key),
                ),
            },
        };
        self.add(
            "job.type",
            node.line,
            format!("'{key}' is {}", node.value.described()),
            allowed,
            next,
        );
    }
}

fn table_advice(value: &Value, key: &str) -> String {
    match value {
        Value::List(_) => format!("write [{key}] with single brackets: there is only one"),
        _ => format!("write {key} = {{ ... }}, or a [{key}] section"),
    }
}

/// What to do where a number should stand.
fn number_advice(value: &Value, key: &str) -> String {
    match value {
        Value::Text(text) if text.trim().replace(',', ".").parse::<f64>().is_ok() => {
            format!(
                "write it without quotes, with a point: {key} = {}",
                text.trim().replace(',', ".")
            )
        }
        Value::Text(_) => {
            format!("write {key} as a plain number; its unit of measure is in the key")
        }
        Value::Number(..) => format!("write {key} without decimals"),
        Value::List(_) => format!("write one number: {key} = ..."),
        _ => format!("write a number for {key}"),
    }
}

/// The description a schema carries, or that of the schema it refers to.
fn description(schema: &Schema) -> &str {
    schema
        .get("description")
        .and_then(Schema::as_str)
        .unwrap_or("needed")
}
