//! Zones from values on the cells of a field's plane: of one layer, or of several together.

use super::cells::{CellValues, PlaneCells};
use super::classes::{Classes, classes, short};
use super::k_means::{Clusters, clusters};
use super::regions::NO_CLASS;
use super::spans::Spans;
use super::zones::{Cleaned, Grid, zones};
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{ClassMethod, Values};
use crate::read::{Layer, Stored};

/// Numbers of classes for which the variance explained is printed.
const SHOWN: usize = 7;

/// Makes the polygon layer of values on cells: one feature for each connected piece of a class, in the
/// field's plane, with its class in [`Values::CLASS_ATTRIBUTE`]. File and format are those of `like`.
/// Several layers are for the method [`ClassMethod::KMeans`]; the first one gives the classes their
/// order.
///
/// # Errors
/// Values that do not fit the classes asked for.
pub fn cell_zones(
    cells: &PlaneCells,
    layers: &[CellValues],
    like: &Layer<PlaneXy>,
    job: &Values,
) -> Outcome<(Layer<PlaneXy>, Vec<Cleaned>)> {
    let place = like.place();
    let no_value = || Vec::new();
    let (what, values) = match layers {
        [first, ..] => (first.what.as_str(), first.values.clone()),
        [] => ("the layer", no_value()),
    };
    let values = Stored::doubles(cells.ground.window, values);
    let grid = Grid {
        ground: &cells.ground,
        values: &values,
        at: &|corner| PlaneXy::of_pair(cells.at(corner)),
        place: place.clone(),
        what,
    };
    let classes = match job.method {
        ClassMethod::KMeans => together(layers, &cells.ground.inside, job, what, &place)?,
        _ => classes(&values, &cells.ground, job, what, &place)?,
    };
    let mut zones = zones(&grid, classes, job).map_err(|pieces| {
        Fault::input(
            "surface.too_many_pieces",
            place.clone(),
            format!(
                "{what} falls into {} pieces of one class or more",
                pieces.found
            ),
            format!("up to {} pieces on one field", pieces.most),
            "set a larger surface_cell_m or smallest_zone_m2; a drill cannot follow such detail",
        )
    })?;
    let read = layers.iter().flat_map(|layer| layer.findings.clone());
    zones.findings.splice(0..0, read);
    Ok(zones.into_layer(like.clone()))
}

/// Classes of several layers, numbered by the mean of the first one, from low to high.
fn together(
    layers: &[CellValues],
    inside: &Spans,
    job: &Values,
    what: &str,
    place: &Place,
) -> Outcome<Classes> {
    let count = job.classes.unwrap_or(0) as usize;
    let whole = |at: usize| layers.iter().all(|layer| layer.values[at].is_finite());
    let on_field: Vec<usize> = inside.places().filter(|&at| whole(at)).collect();
    let fault = |found: String, next: &str| {
        Fault::input(
            "surface.too_alike",
            place.clone(),
            found,
            "several layers with values on the same land, with more different values than classes",
            next,
        )
    };
    if on_field.len() < count.max(2) {
        return Err(fault(
            format!(
                "{} cells of the field have a value in every layer of {what}",
                on_field.len()
            ),
            "check where the layers lie and what leaves points out",
        ));
    }
    // Each layer in its own standard deviations from its mean, so that all count alike.
    let mut scales = Vec::new();
    for layer in layers {
        let values = || on_field.iter().map(|&at| layer.values[at]);
        let mean = values().sum::<f64>() / on_field.len() as f64;
        let variance =
            values().map(|value| (value - mean).powi(2)).sum::<f64>() / on_field.len() as f64;
        if variance <= 0.0 {
            return Err(fault(
                format!("{} has one value all over the field", layer.what),
                "leave that layer out",
            ));
        }
        scales.push((mean, variance.sqrt()));
    }
    let point = |at: usize| -> Vec<f64> {
        let layers = layers.iter().zip(&scales);
        layers
            .map(|(layer, (mean, deviation))| (layer.values[at] - mean) / deviation)
            .collect()
    };
    let points: Vec<Vec<f64>> = on_field.iter().map(|&at| point(at)).collect();
    let found = clusters(&points, count).ok_or_else(|| {
        fault(
            format!("fewer than {count} different combinations of values lie on the field"),
            "ask for fewer classes",
        )
    })?;
    let all = 0..layers.first().map_or(0, |layer| layer.values.len());
    let of = all
        .map(|at| match whole(at) {
            true => found.nearest(&point(at)) as u8,
            false => NO_CLASS,
        })
        .collect();
    let names: Vec<String> = match job.class_names.is_empty() {
        true => (1..=count).map(|n| n.to_string()).collect(),
        false => job
            .class_names
            .iter()
            .map(|name| name.trim().to_owned())
            .collect(),
    };
    let said = said(&found, &points, layers, &scales, &names, what);
    Ok(Classes {
        finding: Some(Finding::note("surface.classes", place.clone(), said)),
        names,
        of,
    })
}

/// The classes in words: their means, and how much of the variance other numbers would explain.
fn said(
    found: &Clusters,
    points: &[Vec<f64>],
    layers: &[CellValues],
    scales: &[(f64, f64)],
    names: &[String],
    what: &str,
) -> String {
    let middles = found.centres.iter().zip(names).map(|(centre, name)| {
        let means: Vec<String> = layers
            .iter()
            .zip(centre.iter().zip(scales))
            .map(|(layer, (at, (mean, deviation)))| {
                format!("{} {}", layer.what, short(mean + at * deviation))
            })
            .collect();
        format!("'{name}' with {}", means.join(" and "))
    });
    let middles: Vec<String> = middles.collect();
    let others: Vec<String> = (2..=SHOWN)
        .filter_map(|count| Some((count, clusters(points, count)?)))
        .map(|(count, other)| format!("{:.1} % by {count}", 100.0 * other.explained(points)))
        .collect();
    format!(
        "classes of {what} and {} more together, by their means: {}; they explain {:.1} % of the variance, each layer in its own standard deviations ({})",
        layers.len() - 1,
        middles.join(", "),
        100.0 * found.explained(points),
        others.join(", ")
    )
}
