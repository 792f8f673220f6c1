//! What a file holds, as values for the page: what `twinsow describe` says of it, with its outlines.

use super::super::new::fields::Fields;
use super::super::new::values::columns;
use super::super::survey::{self, Attribute, Survey};
use super::raster;
use crate::coordinates::LonLat;
use crate::edit::view::shades::Shades;
use crate::findings::{Fault, Outcome};
use crate::frame::Near;
use crate::job::{Language, Source};
use crate::read::{self, Feature, Geometry, Raster};
use crate::report::number::Numbers;
use serde_json::{Value, json};

/// Outlines of layers with more points than this are not drawn before they are part of the job.
const MOST_POINTS: usize = 400_000;

/// Of so many points each is drawn, with its value; of more every so many.
const MOST_DRAWN: usize = 20_000;

/// Fields of a file with more than this are not told apart on the map.
const MOST_FIELDS: usize = 3_000;

/// Everything about a file that the page shows; `source` is the file with what it does not say itself, `near` the field, where
/// it is known.
///
/// # Errors
/// A file that cannot be read. One of points that does not say which columns place them is asked about instead.
pub(super) fn described(
    source: &Source,
    near: Option<&Near>,
    language: Language,
) -> Outcome<Value> {
    let file = &source.file;
    if Raster::is(file) {
        return Ok(json!({ "layers": [], "raster": raster::described(source, near)? }));
    }
    let asked = source.x_column.is_some() || source.decimal_comma.is_some();
    let tables = match asked || source.table.is_some() {
        true if source.table.is_some() => vec![source.table.clone()],
        // A CSV file that says not where its points lie has one table all the same; a workbook names its sheets.
        true => survey::tables(file).unwrap_or_else(|_| vec![None]),
        false => match survey::tables(file) {
            Ok(tables) => tables,
            Err(fault) => {
                return Ok(json!({ "layers": [asked_about(source, fault)?], "raster": null }));
            }
        },
    };
    let mut layers = Vec::new();
    for table in tables {
        let named = Source {
            table,
            ..source.clone()
        };
        match survey::survey_of(&named, near) {
            Ok(found) => layers.push(layer(&found, language)),
            // Other tables are shown all the same.
            Err(fault) => layers.push(asked_about(&named, fault)?),
        }
    }
    Ok(json!({ "layers": layers, "raster": null }))
}

/// A table of points that cannot be read before somebody says which columns place them, or what a comma is, as a layer; of any
/// other file the fault.
fn asked_about(source: &Source, fault: Box<Fault>) -> Outcome<Value> {
    let is_table = fault.code == read::CSV_FAULT && !Raster::is(&source.file);
    let columns = match is_table {
        true => read::csv_columns(&source.file, source.table.as_deref()).unwrap_or_default(),
        false => Vec::new(),
    };
    if columns.is_empty() {
        return Err(fault);
    }
    let end = source.file.extension().unwrap_or_default();
    Ok(json!({
        "table": source.table,
        "format": end.to_string_lossy().to_uppercase(),
        "features": 0,
        "kinds": [],
        "attributes": [],
        "columns": columns,
        "fault": told(&fault),
        "suggest": "values",
    }))
}

fn layer(found: &Survey, language: Language) -> Value {
    let layer = &found.layer;
    let numbers = Numbers::METRIC.in_language(language);
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
        "m2": ground.map(|ground| ground.area_m2),
        "area_text": ground.map(|ground| area(ground.area_m2)),
        "extent": ground.and_then(|ground| ground.extent).map(|[low, high]| [low[0], low[1], high[0], high[1]]),
        "rings": outlines(features),
        "points": points(features),
        "attributes": found.attributes.iter().map(|of| attribute(of, &area)).collect::<Vec<_>>(),
        "fields": fields(found, features, &area),
        "values": values(found),
        "findings": layer.findings,
        "fault": found.ground.as_ref().err().map(|fault| told(fault)),
        "suggest": suggest,
    })
}

pub(super) fn told(fault: &Fault) -> Value {
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

/// Points, degrees, as one line: those that are drawn.
fn points(features: &[Feature<LonLat>]) -> Vec<Vec<LonLat>> {
    let all: Vec<LonLat> = placed(features).map(|(_, at)| at).collect();
    match all.is_empty() {
        true => Vec::new(),
        false => vec![all],
    }
}

/// Features that are points, by their place in the file: all, or every so many of very many.
fn placed<S: Copy>(features: &[Feature<S>]) -> impl Iterator<Item = (usize, S)> + '_ {
    let every = features.len().div_ceil(MOST_DRAWN).max(1);
    let each = features.iter().enumerate().step_by(every);
    each.filter_map(|(nth, feature)| match &feature.geometry {
        Geometry::Points(points) => Some((nth, *points.first()?)),
        _ => None,
    })
}

/// For each column of numbers of points the step of each drawn point, and the legend of the steps.
fn values(found: &Survey) -> Vec<Value> {
    let features = &found.layer.features;
    let of = |name: String| {
        let column = found.layer.attributes.iter().position(|own| *own == name)?;
        let number = |nth: usize| -> f64 {
            let value = features.get(nth).and_then(|of| of.values.get(column));
            match value {
                Some(read::Value::Integer(number)) => *number as f64,
                Some(read::Value::Number(number)) => *number,
                _ => f64::NAN,
            }
        };
        let drawn: Vec<usize> = placed(features).map(|(nth, _)| nth).collect();
        let numbers = drawn.iter().map(|nth| number(*nth));
        let shades = Shades::of(numbers.clone())?;
        let steps: Vec<Option<usize>> = numbers.map(|value| shades.nth(value)).collect();
        Some(json!({ "name": name, "steps": steps, "legend": shades.legend() }))
    };
    let is_points = features
        .iter()
        .any(|feature| matches!(feature.geometry, Geometry::Points(_)));
    match is_points {
        true => columns(found).into_iter().filter_map(of).collect(),
        false => Vec::new(),
    }
}

/// The fields of a boundary file, each with its outlines; null where nothing tells them apart.
fn fields(found: &Survey, features: &[Feature<LonLat>], area: &dyn Fn(f64) -> String) -> Value {
    let polygons = |feature: &Feature<LonLat>| matches!(feature.geometry, Geometry::Polygons(_));
    let fields = match features.iter().any(polygons) {
        true => Fields::of(found).filter(|fields| fields.all.len() <= MOST_FIELDS),
        false => None,
    };
    let Some(fields) = fields else {
        return Value::Null;
    };
    let one = |field: &super::super::new::fields::FieldIn| {
        let own = field.features.iter().filter_map(|nth| features.get(*nth));
        let own: Vec<Feature<LonLat>> = own.cloned().collect();
        json!({
            "value": field.name(),
            "values": field.values,
            "m2": field.area_m2,
            "area_text": area(field.area_m2),
            "rings": outlines(&own),
        })
    };
    json!({
        "attributes": fields.attributes,
        "all": fields.all.iter().map(one).collect::<Vec<_>>(),
    })
}
