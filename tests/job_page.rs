//! The page about the job file lists every key, as the schema has it. To write the list anew:
//! `TWINSOW_BLESS=1 cargo test --test job_page`.

use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use twinsow::findings::number;
use twinsow::job::Job;

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/job-file.md");
const MARK: &str = "<!-- The rest of this page is made from the schema by tests/job_page.rs. -->\n";

#[test]
fn the_page_lists_every_key() {
    let page = fs::read_to_string(PAGE)
        .expect("docs/job-file.md")
        .replace("\r\n", "\n");
    let (words, keys) = page.split_once(MARK).expect("the mark");
    let schema = Job::schema();
    let mut wanted = String::new();
    table(&schema, &schema, "", &mut wanted);
    if std::env::var_os("TWINSOW_BLESS").is_some() {
        fs::write(PAGE, format!("{words}{MARK}{wanted}")).expect("the page is written");
        return;
    }
    assert!(
        keys == wanted,
        "docs/job-file.md is out of date; run with TWINSOW_BLESS=1"
    );
}

/// Writes a table of keys, then the tables below it.
fn table(schema: &Value, root: &Value, name: &str, page: &mut String) {
    let Some(properties) = schema["properties"].as_object() else {
        return;
    };
    let title = if name.is_empty() {
        "The top of the file".to_owned()
    } else {
        format!("`{name}`")
    };
    let _ = writeln!(
        page,
        "\n## {title}\n\n| key | what | value | without it |\n| --- | --- | --- | --- |"
    );
    let mut below = Vec::new();
    for (key, property) in properties {
        let required = schema["required"]
            .as_array()
            .is_some_and(|keys| keys.contains(&Value::from(key.as_str())));
        let what = text(&property["description"]);
        let value = value_of(property, root);
        let without = match (required, &property["default"]) {
            (true, _) => "must be given".to_owned(),
            (false, Value::Null) => "not set".to_owned(),
            (false, Value::Array(items)) if items.is_empty() => "none".to_owned(),
            (false, Value::Object(_)) => "its defaults".to_owned(),
            (false, default) => format!("`{default}`"),
        };
        let _ = writeln!(page, "| `{key}` | {what} | {value} | {without} |");
        let target = resolved(property, root);
        let (inner, list) = match target.get("items") {
            Some(items) => (resolved(items, root), true),
            None => (target, false),
        };
        let path = if name.is_empty() {
            key.clone()
        } else {
            format!("{}.{key}", name.trim_matches(['[', ']']))
        };
        let label = if list {
            format!("[[{path}]]")
        } else {
            format!("[{path}]")
        };
        // One description of a table that several keys hold is enough.
        let is_source = property["$ref"] == "#/$defs/Source" && key != "boundary";
        if inner.get("properties").is_some() && !is_source {
            below.push((label, inner));
        }
        if key == "kg_per_ha" && name == "[product.rate]" {
            below.push((
                "[product.rate.kg_per_ha]".to_owned(),
                &root["$defs"]["ByClass"],
            ));
            below.push((
                "[product.rate.kg_per_ha] from several layers".to_owned(),
                &root["$defs"]["Combined"],
            ));
        }
    }
    for (label, inner) in below {
        table(inner, root, &label, page);
    }
}

fn resolved<'a>(schema: &'a Value, root: &'a Value) -> &'a Value {
    match schema["$ref"].as_str() {
        Some(target) => root
            .pointer(target.trim_start_matches('#'))
            .expect("a target"),
        None => schema,
    }
}

fn text(value: &Value) -> String {
    value
        .as_str()
        .unwrap_or("")
        .replace('\n', " ")
        .replace('|', "\\|")
}

fn value_of(schema: &Value, root: &Value) -> String {
    let target = resolved(schema, root);
    let range = range(schema, target);
    let words = words(target);
    if !words.is_empty() {
        return words.join(", ");
    }
    if target.get("anyOf").is_some() {
        return format!("number{range}, or a table by class");
    }
    match target["type"].as_str().unwrap_or("") {
        "array" => match resolved(&target["items"], root)["type"].as_str() {
            Some("object") => "tables".to_owned(),
            Some("number" | "integer") => format!(
                "list of numbers{}",
                self::range(&target["items"], &target["items"])
            ),
            _ => "list of texts".to_owned(),
        },
        "object" => match &target["additionalProperties"] {
            Value::Object(_) => {
                let each = &target["additionalProperties"];
                format!(
                    "table of {}s{}",
                    if each["type"] == "number" {
                        "number"
                    } else {
                        "text"
                    },
                    self::range(each, each)
                )
            }
            _ => "table".to_owned(),
        },
        "number" => format!("number{range}"),
        "integer" => format!("whole number{range}"),
        "boolean" => "`true`, `false`".to_owned(),
        _ => match target["pattern"].as_str().or(schema["pattern"].as_str()) {
            Some(pattern) => format!("text, `{pattern}`"),
            None => "text".to_owned(),
        },
    }
}

fn words(schema: &Value) -> Vec<String> {
    let choices = schema["oneOf"].as_array().into_iter().flatten();
    let constants = choices.flat_map(|choice| {
        let own = choice["const"]
            .as_str()
            .map(|word| match choice["description"].as_str() {
                Some(what) => format!(
                    "`\"{word}\"` ({})",
                    what.trim_end_matches('.').replace('\n', " ")
                ),
                None => format!("`\"{word}\"`"),
            });
        let listed = words(choice);
        own.into_iter().chain(listed)
    });
    let listed = schema["enum"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str);
    listed
        .map(|word| format!("`\"{word}\"`"))
        .chain(constants)
        .collect()
}

fn range(schema: &Value, target: &Value) -> String {
    let get = |key: &str| schema.get(key).or(target.get(key)).and_then(Value::as_f64);
    let low = match (get("exclusiveMinimum"), get("minimum")) {
        (Some(above), _) => format!(" above {}", number(above)),
        (None, Some(least)) => format!(" from {}", number(least)),
        (None, None) => String::new(),
    };
    let high = get("maximum").map_or(String::new(), |most| format!(" to {}", number(most)));
    format!("{low}{high}")
}
