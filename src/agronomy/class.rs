//! Classes: how they compare, and the number a job's table has for one.

use super::{combined, text};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{ByClass, CurvePoint, Job, Lookup};
use crate::zones::Facts;

/// The form in which classes compare: trimmed, and a whole or decimal number without needless zeros, so
/// that `2`, `2.0` and ` 2.00 ` are one class. Codes such as `02` or `1e3` stay text, as does everything else.
pub fn class_key(class: &str) -> String {
    let class = class.trim();
    let digits = class.strip_prefix('-').unwrap_or(class);
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits =
        |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let leading_zero = whole.len() > 1 && whole.starts_with('0');
    if !all_digits(whole) || !all_digits(fraction) || leading_zero {
        return class.to_owned();
    }
    let fraction = fraction.trim_end_matches('0');
    let sign = if class.starts_with('-') && !(whole == "0" && fraction.is_empty()) {
        "-"
    } else {
        ""
    };
    match fraction.is_empty() {
        true => format!("{sign}{whole}"),
        false => format!("{sign}{whole}.{fraction}"),
    }
}

/// Which layer of the job a table speaks of, by its place in the job.
///
/// # Errors
/// No layer of that name.
pub(super) fn layer_index(job: &Job, table: &ByClass) -> Outcome<usize> {
    let names = || job.layers.iter().map(|layer| layer.name.as_str());
    names().position(|name| name == table.layer).ok_or_else(|| {
        let meant =
            text::nearest(&table.layer, names()).map(|name| format!("; did you mean '{name}'?"));
        Fault::input(
            "agronomy.no_layer",
            Place::nowhere(),
            format!(
                "a table by class names the layer '{}', which the job does not have",
                table.layer
            ),
            format!(
                "one of the job's layers: {}{}",
                text::list(names()),
                meant.unwrap_or_default()
            ),
            "Correct the layer's name in the table, or add the layer to the job.",
        )
    })
}

/// The number a table has for a class, or its `otherwise`; `None` if it has neither.
///
/// # Errors
/// The table names the class twice, in two spellings of one number.
pub(super) fn in_table(table: &ByClass, class: &str) -> Outcome<Option<f64>> {
    if !table.curve.is_empty() {
        let value = class
            .trim()
            .parse()
            .ok()
            .filter(|value: &f64| value.is_finite());
        return Ok(value
            .and_then(|value| on_curve(&table.curve, value))
            .or(table.otherwise));
    }
    let wanted = class_key(class);
    let mut hits = table
        .by_class
        .iter()
        .filter(|(key, _)| class_key(key) == wanted);
    match (hits.next(), hits.next()) {
        (Some((first, _)), Some((second, _))) => Err(Fault::input(
            "agronomy.class_twice",
            Place::nowhere(),
            format!(
                "a table for layer '{}' names one class twice, as '{first}' and as '{second}'",
                table.layer
            ),
            "one row per class",
            "Remove one of the two rows.",
        )),
        (Some((_, value)), None) => Ok(Some(*value)),
        _ => Ok(table.otherwise),
    }
}

/// The value of a curve: a straight line between the points on both sides, and the end points beyond them.
fn on_curve(points: &[CurvePoint], at: f64) -> Option<f64> {
    let before = points.iter().rfind(|point| point.at <= at);
    let after = points.iter().find(|point| point.at > at);
    match (before, after) {
        (Some(low), Some(high)) => {
            Some(low.value + (high.value - low.value) * (at - low.at) / (high.at - low.at))
        }
        (Some(only), None) | (None, Some(only)) => Some(only.value),
        (None, None) => None,
    }
}

/// A number that was looked up, and where it holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    pub value: f64,
    /// Layer and class, as " on soil 'clay'"; empty for the whole field.
    pub on: String,
}

/// The number that holds on land with these facts: finite and not negative.
///
/// `key` is the job's key for the number, for messages.
///
/// # Errors
/// No such layer; no value for the class; a value that is negative or not finite.
pub(super) fn look_up(job: &Job, lookup: &Lookup, key: &str, facts: &Facts) -> Outcome<Found> {
    let found = match lookup {
        Lookup::Same(value) => Found {
            value: *value,
            on: String::new(),
        },
        Lookup::ByClass(table) => combined::by_class(job, table, key, facts)?,
        Lookup::Combined(of) => combined::number(job, of, key, facts)?,
    };
    if found.value.is_finite() && found.value >= 0.0 {
        return Ok(found);
    }
    Err(Fault::input(
        "agronomy.number",
        Place::nowhere(),
        format!("{key} is {}{}", found.value, found.on),
        "a number of 0 or more",
        "Correct the number in the job.",
    ))
}

/// The fault of a class that a table does not know.
pub(super) fn no_value(table: &ByClass, key: &str, class: &str) -> Box<Fault> {
    let known = || table.by_class.keys().map(String::as_str);
    let meant = text::nearest(class, known()).map(|name| format!("; did you mean '{name}'?"));
    Fault::input(
        "agronomy.class_without_value",
        Place::nowhere(),
        format!(
            "{key} has no value for class '{}' of layer '{}'",
            class_key(class),
            table.layer
        ),
        format!(
            "the classes it knows: {}{}",
            text::list(known()),
            meant.unwrap_or_default()
        ),
        format!(
            "Add the class to {key}.by_class, or set {key}.otherwise for all classes not named."
        ),
    )
}
