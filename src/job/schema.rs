//! The JSON Schema of the job file, and reading it.

use super::types::Job;
use serde_json::Value;
use std::sync::LazyLock;

/// The schema, made once: every job that is read is held against it.
pub(super) fn shared() -> &'static Value {
    static SCHEMA: LazyLock<Value> = LazyLock::new(of_job);
    &SCHEMA
}

/// The schema made from the types (draft 2020-12): without `null`, which TOML does not have, and
/// with 0 as the lowest number wherever the types name no other, since nothing here is negative.
pub(super) fn of_job() -> Value {
    let mut schema = schemars::schema_for!(Job).to_value();
    tidy(&mut schema);
    schema
}

fn tidy(schema: &mut Value) {
    match schema {
        Value::Array(items) => items.iter_mut().for_each(tidy),
        Value::Object(object) => {
            if object.get("default") == Some(&Value::Null) {
                object.remove("default");
            }
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|name| name != "null");
                if let [only] = types.as_slice() {
                    object["type"] = only.clone();
                }
            }
            if let Some(Value::Array(choices)) = object.get_mut("anyOf") {
                choices.retain(|choice| choice.get("type") != Some(&Value::from("null")));
                if let [Value::Object(only)] = choices.as_slice() {
                    let only = only.clone();
                    object.remove("anyOf");
                    object.extend(only);
                }
            }
            let number = matches!(
                object.get("type").and_then(Value::as_str),
                Some("number" | "integer")
            );
            if number && !object.contains_key("minimum") && !object.contains_key("exclusiveMinimum")
            {
                object.insert("minimum".to_owned(), Value::from(0));
            }
            object.values_mut().for_each(tidy);
        }
        _ => {}
    }
}

/// The schema itself, or the one that it refers to.
pub(super) fn resolve<'a>(schema: &'a Value, root: &'a Value) -> &'a Value {
    let target = schema
        .get("$ref")
        .and_then(Value::as_str)
        .and_then(|reference| root.pointer(reference.trim_start_matches('#')));
    target.unwrap_or(schema)
}

/// The words that a schema of an enum allows; empty for any other schema.
pub(super) fn words(schema: &Value) -> Vec<&str> {
    let mut words = Vec::new();
    for word in schema
        .get("enum")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        words.extend(word.as_str());
    }
    for choice in schema
        .get("oneOf")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        words.extend(choice.get("const").and_then(Value::as_str));
        words.extend(self::words(choice));
    }
    words
}

/// Known keys of a table, in the order of the types; empty where keys are free.
pub(super) fn keys(schema: &Value) -> Vec<&str> {
    let properties = schema.get("properties").and_then(Value::as_object);
    properties
        .into_iter()
        .flatten()
        .map(|(key, _)| key.as_str())
        .collect()
}

/// Every table of the file with its keys, as (`product.rate`, key), in the order of the types.
pub(super) fn all_keys(root: &Value) -> Vec<(String, String)> {
    let mut found = Vec::new();
    gather(root, root, "", &mut found);
    found
}

fn gather(schema: &Value, root: &Value, table: &str, found: &mut Vec<(String, String)>) {
    let schema = resolve(schema, root);
    if let Some(items) = schema.get("items") {
        gather(items, root, table, found);
    }
    for choice in schema
        .get("anyOf")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        gather(choice, root, table, found);
    }
    for (key, value) in schema
        .get("properties")
        .and_then(Value::as_object)
        .into_iter()
        .flatten()
    {
        found.push((table.to_owned(), key.clone()));
        let below = if table.is_empty() {
            key.clone()
        } else {
            format!("{table}.{key}")
        };
        gather(value, root, &below, found);
    }
}
