//! Maps of the land itself: the zones of each layer by class, or the bare field. They need no rate.

use super::super::work::Shown;
use super::area;
use crate::map::Scale;
use crate::report::number::Numbers;
use serde_json::{Value, json};

/// Light colours that people with colour-blindness tell apart: those of M. Okabe and K. Ito, "Color Universal Design", 2008,
/// mixed with white so that the name of a class can be read on them. Beyond eight they come again; the names stand on the land.
const CLASSES: [&str; 8] = [
    "#f2d391", "#a9d6ee", "#8fcdb9", "#f7f0a0", "#8fb8d8", "#e9ae80", "#e3bcd3", "#c9ccc8",
];

/// A field without zones.
const BARE: &str = "#e4eef0";

/// A map for each layer, or one of the bare field.
pub(super) fn maps(shown: &Shown, numbers: &Numbers) -> Vec<Value> {
    let layers = shown.job.layers.iter().enumerate();
    let maps: Vec<Value> = layers
        .map(|(nth, layer)| {
            let class_of = |row: usize| {
                let row = shown.rows.get(row);
                row.and_then(|row| row.facts.classes.get(nth)).cloned()
            };
            let ordered = layer.values.as_ref().map(|values| &values.class_names);
            let mut map = by_class(shown, &class_of, ordered.map(Vec::as_slice), numbers);
            map["name"] = json!(layer.name);
            map["nth"] = json!(nth);
            map["samples"] = json!(layer.values.is_some());
            map
        })
        .collect();
    if !maps.is_empty() {
        return maps;
    }
    let mut map = by_class(shown, &|_| Some(String::new()), None, numbers);
    map["name"] = json!(shown.job.field.name);
    map["samples"] = json!(false);
    vec![map]
}

/// The rows by class: colours, names, and a line of the legend for each.
fn by_class(
    shown: &Shown,
    class_of: &dyn Fn(usize) -> Option<String>,
    ordered: Option<&[String]>,
    numbers: &Numbers,
) -> Value {
    let of_rows: Vec<String> = (0..shown.rows.len())
        .map(|row| class_of(row).unwrap_or_default())
        .collect();
    let mut classes = of_rows.clone();
    classes.sort();
    classes.dedup();
    if let Some(ordered) = ordered {
        let place = |class: &String| ordered.iter().position(|own| own == class);
        classes.sort_by_key(|class| (place(class).unwrap_or(usize::MAX), class.clone()));
    }
    let last = classes.len().saturating_sub(1).max(1) as f64;
    let colour = |nth: usize| match ordered {
        _ if classes == [""] => BARE.to_owned(),
        // Classes of values go from light to dark.
        Some(_) => Scale::of_balance(1.0, 2.2).colour(1.0 + nth as f64 / last),
        None => CLASSES
            .get(nth % CLASSES.len())
            .copied()
            .unwrap_or(BARE)
            .to_owned(),
    };
    let place = |class: &String| classes.iter().position(|own| own == class).unwrap_or(0);
    let bars = classes.iter().enumerate().map(|(nth, class)| {
        let own = of_rows.iter().enumerate().filter(|(_, of)| *of == class);
        let rows: Vec<usize> = own.map(|(row, _)| row + 1).collect();
        let m2: f64 = rows
            .iter()
            .filter_map(|row| shown.rows.get(row - 1))
            .map(|row| row.area_m2)
            .sum();
        json!({ "text": class, "colour": colour(nth), "rows": rows, "m2": m2, "area_text": area(numbers, m2) })
    });
    json!({
        "colour": of_rows.iter().map(|class| colour(place(class))).collect::<Vec<_>>(),
        "text": of_rows,
        "bars": bars.collect::<Vec<_>>(),
    })
}
