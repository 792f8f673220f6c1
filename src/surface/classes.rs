//! Classes of values, as a job asks for them.

use super::breaks::{Sample, class_of};
use super::counted::CHUNK;
use super::ground::Ground;
use super::regions::NO_CLASS;
use super::spans::Spans;
use crate::findings::{Fault, Finding, Outcome, Place, without_zeros};
use crate::job::{ClassMethod, Values};
use crate::read::{Code, Stored, StoredValues};
use rayon::prelude::*;

/// Most classes that whole numbers may be; their numbers and [`NO_CLASS`] fit into a byte.
const MOST_CLASSES: usize = 200;
/// Numbers of classes for which the variance explained is printed.
const SHOWN: usize = 7;

/// Values sorted into classes.
pub(super) struct Classes {
    /// From low to high.
    pub names: Vec<String>,
    /// Per value: its class, or [`NO_CLASS`].
    pub of: Vec<u8>,
    /// Edges between the classes, and what they explain. Nothing for whole numbers.
    pub finding: Option<Finding>,
}

/// Sorts the values near the field into classes. Those on the field alone decide where the edges
/// are. `what` is the layer in words, for messages.
///
/// # Errors
/// No value on the field; values that are not whole numbers, or too many, where they should be
/// classes; fewer different values than classes.
pub(super) fn classes(
    values: &Stored,
    ground: &Ground,
    job: &Values,
    what: &str,
    place: &Place,
) -> Outcome<Classes> {
    let near = &ground.near;
    let sample = Sample::of(values, &ground.inside);
    if sample.values.is_empty() {
        return Err(Fault::input(
            "surface.no_values",
            place.clone(),
            format!("{what} has no value on the field"),
            "values on the field, other than the one that stands for none",
            "check band and CRS, and which value the file says stands for none",
        ));
    }
    let count = job.classes.unwrap_or(0) as usize;
    let edges = match job.method {
        ClassMethod::AsTheyAre => return as_they_are(values, near, &sample, what, place),
        ClassMethod::Edges => job.edges.clone(),
        ClassMethod::Quantiles => sample.quantiles(count),
        ClassMethod::EqualInterval => sample.equal_interval(count),
        // Of one layer, k-means has an exact answer.
        ClassMethod::NaturalBreaks | ClassMethod::KMeans => sample.natural_breaks(count),
    };
    let rising = edges.windows(2).all(|pair| pair[0] < pair[1]);
    let wanted = if job.method == ClassMethod::Edges {
        edges.len()
    } else {
        count.saturating_sub(1)
    };
    if edges.len() != wanted
        || !rising
        || sample.low() == sample.high() && job.method != ClassMethod::Edges
    {
        return Err(Fault::input(
            "surface.too_alike",
            place.clone(),
            format!(
                "{what} has {} different values on the field, from {} to {}; {count} classes by {} cannot be told apart",
                sample.values.len(),
                short(sample.low()),
                short(sample.high()),
                job.method.word()
            ),
            "fewer classes than different values; quantiles also need no value on more land than a class has",
            "ask for fewer classes, use natural_breaks, or give the edges",
        ));
    }
    let names: Vec<String> = match job.class_names.is_empty() {
        true => (1..=edges.len() + 1).map(|n| n.to_string()).collect(),
        false => job
            .class_names
            .iter()
            .map(|name| name.trim().to_owned())
            .collect(),
    };
    // A job names 12 classes at most.
    let class = |value| class_of(value, &edges).min(usize::from(NO_CLASS - 1)) as u8;
    let of = each(values, near, |value: f64| match value.is_finite() {
        true => class(value),
        false => NO_CLASS,
    });
    Ok(Classes {
        finding: Some(Finding::note(
            "surface.classes",
            place.clone(),
            said(&sample, &edges, &names, what),
        )),
        names,
        of,
    })
}

/// What each value near the field becomes.
fn each(values: &Stored, near: &Spans, class: impl Fn(f64) -> u8 + Sync) -> Vec<u8> {
    match &values.values {
        StoredValues::Bytes(codes, table) => by_code(codes, table, near, class),
        StoredValues::Words(codes, table) => by_code(codes, table, near, class),
        _ => in_rows(values.len(), near, |first, of| {
            // A value like the one before it becomes the same.
            let mut before = (f64::NAN.to_bits(), class(f64::NAN));
            for (of, place) in of.iter_mut().zip(first..) {
                let value = values.at(place);
                if value.to_bits() != before.0 {
                    before = (value.to_bits(), class(value));
                }
                *of = before.1;
            }
        }),
    }
}

/// The same for codes, whose classes are known once for all.
fn by_code<C: Code>(
    codes: &[C],
    table: &[f64],
    near: &Spans,
    class: impl Fn(f64) -> u8 + Sync,
) -> Vec<u8> {
    let classes: Vec<u8> = table.iter().map(|value| class(*value)).collect();
    in_rows(codes.len(), near, |first, of| {
        let mut codes = codes.get(first..).unwrap_or_default();
        let mut of = of;
        while let Some(code) = codes.first()
            && !of.is_empty()
        {
            let (same, rest) = of.split_at_mut(C::alike(&codes[..of.len().min(codes.len())]));
            same.fill(classes.get((*code).into()).copied().unwrap_or(NO_CLASS));
            (codes, of) = (&codes[same.len()..], rest);
        }
    })
}

/// Classes of a grid, span by span of what is near: `fill` gets a span's first place and its classes.
fn in_rows(pixels: usize, near: &Spans, fill: impl Fn(usize, &mut [u8]) + Sync) -> Vec<u8> {
    let mut of = vec![NO_CLASS; pixels];
    let columns = near.columns().max(1);
    let rows = (CHUNK / columns).max(1);
    let parts = of.par_chunks_mut(rows * columns).enumerate();
    parts.for_each(|(nth, part)| {
        let start = nth * rows * columns;
        for range in near.ranges(nth * rows..(nth + 1) * rows) {
            fill(
                range.start,
                &mut part[range.start - start..range.end - start],
            );
        }
    });
    of
}

fn as_they_are(
    values: &Stored,
    near: &Spans,
    sample: &Sample,
    what: &str,
    place: &Place,
) -> Outcome<Classes> {
    let odd = sample
        .values
        .iter()
        .find(|value| value.fract() != 0.0 || value.abs() > 9e15);
    if let Some(odd) = odd {
        return Err(Fault::input(
            "surface.no_classes",
            place.clone(),
            format!("{what} holds the value {odd}, which is no class"),
            "whole numbers, with method = \"as_they_are\"",
            "choose how to make classes of them: method = \"natural_breaks\" and classes = 4, say",
        ));
    }
    let mut all = Sample::of(values, near).values;
    all.retain(|value| value.fract() == 0.0);
    if all.len() > MOST_CLASSES {
        return Err(Fault::input(
            "surface.no_classes",
            place.clone(),
            format!("{what} has {} different values around the field", all.len()),
            format!("up to {MOST_CLASSES} classes with method = \"as_they_are\""),
            "if they are measurements, choose how to make classes of them: method = \"natural_breaks\" and classes = 4, say",
        ));
    }
    let of = each(values, near, |value: f64| {
        all.binary_search_by(|own| own.total_cmp(&value))
            .map_or(NO_CLASS, |n| n as u8)
    });
    Ok(Classes {
        names: all.iter().map(|value| format!("{value:.0}")).collect(),
        of,
        finding: None,
    })
}

/// The edges in words, and how much of the variance other numbers of classes would explain.
fn said(sample: &Sample, edges: &[f64], names: &[String], what: &str) -> String {
    let mut parts = Vec::new();
    for (n, name) in names.iter().enumerate() {
        parts.push(match (n.checked_sub(1).map(|n| edges[n]), edges.get(n)) {
            (None, Some(high)) => format!("'{name}' up to {}", short(*high)),
            (Some(low), Some(high)) => format!("'{name}' above {} to {}", short(low), short(*high)),
            (Some(low), None) => format!("'{name}' above {}", short(low)),
            (None, None) => format!("'{name}' for all"),
        });
    }
    let percent = |edges: &[f64]| format!("{:.1} %", 100.0 * sample.explained(edges));
    let best: Vec<String> = sample
        .natural_breaks_up_to(SHOWN)
        .iter()
        .map(|edges| format!("{} by {}", percent(edges), edges.len() + 1))
        .collect();
    format!(
        "classes of {what} (values on the field from {} to {}): {}; they explain {} of the variance (the most that classes can explain: {})",
        short(sample.low()),
        short(sample.high()),
        parts.join(", "),
        percent(edges),
        best.join(", ")
    )
}

/// Six digits are enough to say a value.
pub(super) fn short(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return value.to_string();
    }
    let digits = (5.0 - value.abs().log10().floor()).clamp(0.0, 300.0) as usize;
    let text = format!("{value:.digits$}");
    without_zeros(&text).to_owned()
}
