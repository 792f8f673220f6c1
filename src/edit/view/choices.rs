//! What forms offer: crops with what is published about them, built-in tables, and what the schema of the job says of keys.

use crate::agronomy::crops::{Published, Quantity, Range, Usual, published};
use crate::agronomy::{crop_list, seed_safe, tables};
use crate::findings::Outcome;
use crate::job::Job;
use serde_json::{Map, Value, json};

/// All choices. They do not depend on a job.
///
/// # Errors
/// Built-in tables that cannot be read.
pub fn all() -> Outcome<Value> {
    let known = published()?;
    let crops = known.crops.iter().map(|crop| {
        let usual = Quantity::ALL.map(|quantity| {
            let ranges = crop
                .of(quantity)
                .map(|range| one(range, known.source(range)));
            (key(quantity).to_owned(), Value::Array(ranges.collect()))
        });
        json!({
            "name": crop.name(),
            "names": words_for(crop, known),
            "group": crop.group,
            "usual": Map::from_iter(usual),
        })
    });
    let schema = Job::schema();
    let mut fields = Map::new();
    let mut seen = Vec::new();
    gather(&schema, &schema, "", &mut seen, &mut fields);
    Ok(json!({
        "crops": crops.collect::<Vec<_>>(),
        "seed_safe_tables": seed_safe::names(),
        "need_tables": tables::names(),
        "fields": fields,
    }))
}

/// Every word by which somebody finds these ranges: those of the crop, and of its kinds that have none of their own.
fn words_for(usual: &Usual, known: &Published) -> Vec<&'static str> {
    let finds = |word: &&str| known.crop(word).map(|found| found.crop) == Some(usual.crop);
    crop_list::words().filter(finds).collect()
}

/// The key of a product, or of its rate, that a quantity stands in.
fn key(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::ThousandGrainWeight => "thousand_grain_weight_g",
        Quantity::Plants => "plants_per_m2",
        Quantity::Seeds => "seeds_per_m2",
        Quantity::Rate => "kg_per_ha",
        Quantity::Depth => "depth_mm",
        Quantity::Germination => "germination_percent",
    }
}

fn one(range: &Range, source: Option<&crate::agronomy::crops::Source>) -> Value {
    let [from, to] = range.span();
    let source = source.map(|of| {
        format!(
            "{}, {} ({}, {}), {}",
            of.publisher, of.title, of.year, of.country, range.at
        )
    });
    json!({ "from": from, "to": to, "text": range.as_printed(), "source": source })
}

/// Every key with its sentence, its range and its words; entries of lists and classes left out of its path.
fn gather<'a>(
    schema: &'a Value,
    root: &'a Value,
    path: &str,
    seen: &mut Vec<&'a str>,
    found: &mut Map<String, Value>,
) {
    if let Some(reference) = schema.get("$ref").and_then(Value::as_str) {
        // A type that holds itself is told once.
        if seen.contains(&reference) {
            return;
        }
        seen.push(reference);
        if let Some(target) = root.pointer(reference.trim_start_matches('#')) {
            gather(target, root, path, seen, found);
        }
        seen.pop();
    }
    if let Some(items) = schema.get("items") {
        gather(items, root, path, seen, found);
    }
    for choice in schema
        .get("anyOf")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
    {
        gather(choice, root, path, seen, found);
    }
    let properties = schema.get("properties").and_then(Value::as_object);
    for (key, value) in properties.into_iter().flatten() {
        let below = match path {
            "" => key.clone(),
            path => format!("{path}.{key}"),
        };
        let entry = field(value, root);
        found.entry(below.clone()).or_insert(entry);
        gather(value, root, &below, seen, found);
    }
}

fn field(schema: &Value, root: &Value) -> Value {
    let target = schema.get("$ref").and_then(Value::as_str);
    let target = target.and_then(|to| root.pointer(to.trim_start_matches('#')));
    let own = |key: &str| schema.get(key).or_else(|| target?.get(key));
    let mut words = Vec::new();
    choices(target.unwrap_or(schema), &mut words);
    json!({
        "what": own("description"),
        "type": own("type"),
        "least": own("minimum"),
        "above": own("exclusiveMinimum"),
        "most": own("maximum"),
        "default": own("default"),
        "choices": words,
    })
}

/// The words that a key may be, each with its sentence.
fn choices(schema: &Value, words: &mut Vec<[Value; 2]>) {
    let plain = schema.get("enum").and_then(Value::as_array);
    for word in plain.into_iter().flatten() {
        words.push([word.clone(), Value::Null]);
    }
    let told = schema.get("oneOf").and_then(Value::as_array);
    for choice in told.into_iter().flatten() {
        match choice.get("const") {
            Some(word) => {
                let what = choice.get("description").cloned().unwrap_or_default();
                words.push([word.clone(), what]);
            }
            None => choices(choice, words),
        }
    }
}
