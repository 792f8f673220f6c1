//! The numbers that decide rates, each with its place in the job: what a table of rates lets one change.

use super::super::key::KeyPath;
use super::values;
use crate::job::{Job, Language};
use serde_json::{Value, json};

/// Keys of a product whose numbers decide its rate.
const OF_PRODUCT: [&str; 3] = ["rate", "adjust", "limits"];

/// All of them, in the order of the file; per product, then those of special areas.
pub(super) fn of(text: &str, job: &Job) -> Vec<Value> {
    let (root, _) = values::of(text);
    let mut all = Vec::new();
    let products = root.get("product").and_then(Value::as_array);
    for (nth, product) in products.into_iter().flatten().enumerate() {
        let id = product
            .get("id")
            .and_then(Value::as_str)
            .unwrap_or_default();
        let path = KeyPath::of(&["product"]).nth(nth);
        for group in OF_PRODUCT {
            if let Some(value) = product.get(group) {
                let about = About {
                    language: job.report.language,
                    product: id,
                    group,
                    ..About::default()
                };
                numbers(value, &path.key(group), &about, &mut all);
            }
        }
    }
    let areas = root.get("special_area").and_then(Value::as_array);
    for (nth, area) in areas.into_iter().flatten().enumerate() {
        let name = area.get("name").and_then(Value::as_str);
        let percent = area.get("percent").and_then(Value::as_object);
        for (id, value) in percent.into_iter().flatten() {
            if job.products.iter().any(|product| product.id == *id) {
                let about = About {
                    language: job.report.language,
                    product: id,
                    group: "special_area",
                    class: name,
                    ..About::default()
                };
                let path = KeyPath::of(&["special_area"]).nth(nth);
                numbers(value, &path.key("percent").key(id), &about, &mut all);
            }
        }
    }
    all
}

/// What is known of a number by what it stands in.
#[derive(Debug, Clone, Copy, Default)]
struct About<'a> {
    language: Language,
    product: &'a str,
    group: &'a str,
    label: &'a str,
    layer: Option<&'a str>,
    /// Numbers here are by class.
    by_class: bool,
    class: Option<&'a str>,
    part: Option<&'a str>,
    because: Option<&'a str>,
}

fn numbers(value: &Value, path: &KeyPath, about: &About, all: &mut Vec<Value>) {
    match value {
        Value::Number(number) => all.push(json!({
            "path": path,
            "product": about.product,
            "group": about.group,
            "label": label(path, about),
            "layer": about.layer,
            "class": about.class,
            "part": about.part,
            "because": about.because,
            "value": number,
            "text": number.to_string(),
            "unit": about.language.unit(unit(label(path, about))),
        })),
        Value::Array(items) => {
            for (nth, item) in items.iter().enumerate() {
                numbers(item, &path.nth(nth), about, all);
            }
        }
        Value::Object(entries) => {
            let text = |key: &str| entries.get(key).and_then(Value::as_str);
            let inner = About {
                layer: text("layer").or(about.layer),
                part: text("land_part").or(about.part),
                because: text("because").or(about.because),
                ..*about
            };
            for (key, value) in entries {
                let own = match key.as_str() {
                    class if about.by_class => About {
                        by_class: false,
                        class: Some(class),
                        ..inner
                    },
                    "by_class" => About {
                        by_class: true,
                        ..inner
                    },
                    // Words that say where a number holds, not what it is.
                    "first" | "curve" | "otherwise" | "value" => inner,
                    key => About {
                        label: key,
                        ..inner
                    },
                };
                numbers(value, &path.key(key), &own, all);
            }
        }
        _ => {}
    }
}

/// The key that a number is for: of a number by class, that of the table.
fn label<'a>(path: &'a KeyPath, about: &About<'a>) -> &'a str {
    match about.label {
        "" => path.keys().last().copied().unwrap_or_default(),
        label => label,
    }
}

/// The unit that a key carries at its end.
fn unit(key: &str) -> &'static str {
    const UNITS: [(&str, &str); 12] = [
        ("_kg_per_ha", "kg/ha"),
        ("kg_per_ha", "kg/ha"),
        ("lb_per_acre", "lb/ac"),
        ("seeds_per_m2", "seeds/m\u{b2}"),
        ("plants_per_m2", "plants/m\u{b2}"),
        ("seeds_per_ft2", "seeds/ft\u{b2}"),
        ("plants_per_ft2", "plants/ft\u{b2}"),
        ("percent", "%"),
        ("_t_per_ha", "t/ha"),
        ("_bu_per_acre", "bu/ac"),
        ("per_m2", "per m\u{b2}"),
        ("per_ft2", "per ft\u{b2}"),
    ];
    let known = UNITS.iter().find(|(ending, _)| key.ends_with(ending));
    known.map_or("", |(_, unit)| unit)
}
