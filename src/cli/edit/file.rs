//! What a file holds, as values for the page: what `twinsow describe` says of it, with its outlines.

use super::super::describe_raster;
use super::super::survey::{self, Attribute, Survey};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::read::{Feature, Geometry, Raster};
use crate::report::number::Numbers;
use serde_json::{Value, json};
use std::path::Path;

/// Outlines of layers with more points than this are not drawn before they are part of the job.
const MOST_POINTS: usize = 400_000;

/// Everything about a file that the page shows.
///
/// # Errors
/// A file that cannot be read.
pub(super) fn described(file: &Path) -> Outcome<Value> {
    if Raster::is(file) {
        let (text, fault) = describe_raster::described(file, None)?;
        return Ok(json!({
            "layers": [],
            "raster": { "text": text, "fault": fault.as_deref().map(told) },
        }));
    }
    let mut layers = Vec::new();
    for table in survey::tables(file)? {
        let found = survey::survey(file, table.as_deref(), None)?;
        layers.push(layer(&found));
    }
    Ok(json!({ "layers": layers, "raster": null }))
}

fn layer(found: &Survey) -> Value {
    let layer = &found.layer;
    let numbers = Numbers::METRIC;
    let ground = found.ground.as_ref().ok();
    let features = ground.map_or(&[][..], |ground| &ground.lon_lat.features);
    let count = |kind: &str| {
        let own = found.kinds.iter().find(|(known, _)| *known == kind);
        own.map_or(0, |(_, count)| *count)
    };
    let suggest = match (count("polygon"), count("point")) {
        (0, 0) => None,
        (0, _) => Some("values"),
        _ if found.attributes.iter().any(is_class) => Some("layer"),
        _ => Some("boundary"),
    };
    let area = |m2: f64| format!("{}\u{a0}{}", numbers.area_text(m2), numbers.area_unit());
    json!({
        "table": layer.table,
        "format": layer.format.to_string(),
        "crs": ground.map(|ground| &ground.crs),
        "features": layer.features.len(),
        "kinds": found.kinds,
        "area_text": ground.map(|ground| area(ground.area_m2)),
        "extent": ground.and_then(|ground| ground.extent).map(|[low, high]| [low[0], low[1], high[0], high[1]]),
        "rings": outlines(features),
        "points": points(features),
        "attributes": found.attributes.iter().map(|of| attribute(of, &area)).collect::<Vec<_>>(),
        "findings": layer.findings,
        "fault": found.ground.as_ref().err().map(|fault| told(fault)),
        "suggest": suggest,
    })
}

fn told(fault: &crate::findings::Fault) -> Value {
    json!({
        "code": fault.code,
        "found": fault.found,
        "allowed": fault.allowed,
        "next": fault.next,
        "text": fault.to_string(),
    })
}

/// An attribute with a few values that more than one feature has.
fn is_class(attribute: &Attribute) -> bool {
    let several = attribute.classes.iter().any(|class| class.features > 1);
    !attribute.classes.is_empty() && (several || attribute.distinct > 1)
}

fn attribute(of: &Attribute, area: &dyn Fn(f64) -> String) -> Value {
    let classes = of.classes.iter().map(|class| {
        json!({ "value": class.value, "features": class.features, "area_text": area(class.area_m2) })
    });
    json!({
        "name": of.name,
        "kind": of.kind.words(),
        "distinct": of.distinct,
        "missing": of.missing,
        "lowest": of.range.map(|[lowest, ..]| lowest),
        "mean": of.range.map(|[_, mean, _]| mean),
        "highest": of.range.map(|[.., highest]| highest),
        "classes": classes.collect::<Vec<_>>(),
    })
}

/// Rings and lines, degrees; none of a layer with too many points.
fn outlines(features: &[Feature<LonLat>]) -> Vec<&Vec<LonLat>> {
    let lines = features.iter().flat_map(|feature| match &feature.geometry {
        Geometry::Lines(lines) => lines.iter().collect(),
        Geometry::Polygons(polygons) => polygons
            .iter()
            .flat_map(|polygon| std::iter::once(&polygon.exterior).chain(&polygon.holes))
            .collect(),
        Geometry::Empty | Geometry::Points(_) => Vec::new(),
    });
    let lines: Vec<&Vec<LonLat>> = lines.collect();
    match lines.iter().map(|line| line.len()).sum::<usize>() > MOST_POINTS {
        true => Vec::new(),
        false => lines,
    }
}

/// Points, degrees, as one line.
fn points(features: &[Feature<LonLat>]) -> Vec<Vec<LonLat>> {
    let all = features.iter().flat_map(|feature| match &feature.geometry {
        Geometry::Points(points) => points.clone(),
        _ => Vec::new(),
    });
    let all: Vec<LonLat> = all.take(MOST_POINTS).collect();
    match all.is_empty() {
        true => Vec::new(),
        false => vec![all],
    }
}
