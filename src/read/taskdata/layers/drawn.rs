//! What is drawn in a set: outlines, obstacles, other areas, guidance lines, treatment zones.

use super::super::{Partfield, TaskSet};
use super::{factor, feature, feature_bytes, said, task_values, too_wide};
use crate::codec::room;
use crate::codec::taskdata::known;
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::read::{Geometry, Layer, Polygon, Value};

fn names(layer: &mut Layer, names: &[&str]) {
    layer.attributes = names.iter().map(ToString::to_string).collect();
}

pub(super) fn boundary(set: &TaskSet, layer: &mut Layer) {
    names(
        layer,
        &["field", "partfield", "farm", "customer", "area_m2"],
    );
    for field in set.partfields.iter().filter(|f| !f.boundary.is_empty()) {
        let values = vec![
            said(&field.name),
            said(&field.id),
            said(&field.farm),
            said(&field.customer),
            field.area_m2.map_or(Value::Missing, Value::Number),
        ];
        let geometry = Geometry::Polygons(field.boundary.clone());
        layer
            .features
            .push(feature(field.id.clone(), geometry, values));
    }
}

pub(super) fn obstacles(set: &TaskSet, layer: &mut Layer) {
    names(layer, &["field", "partfield", "kind", "name"]);
    for field in &set.partfields {
        let kinds = field.obstacles.iter().zip(&field.obstacle_kinds);
        for (at, (polygon, (kind, name))) in kinds.enumerate() {
            piece(layer, field, at, kind, name, polygon);
        }
    }
}

pub(super) fn areas(set: &TaskSet, layer: &mut Layer) {
    names(layer, &["field", "partfield", "kind", "name"]);
    for field in &set.partfields {
        for (at, (kind, name, polygon)) in field.areas.iter().enumerate() {
            piece(layer, field, at, kind, name, polygon);
        }
    }
}

fn piece(
    layer: &mut Layer,
    field: &Partfield,
    at: usize,
    kind: &str,
    name: &str,
    of: &Polygon<LonLat>,
) {
    let values = vec![said(&field.name), said(&field.id), said(kind), said(name)];
    let geometry = Geometry::Polygons(vec![of.clone()]);
    let name = format!("{}.{}", field.id, at + 1);
    layer.features.push(feature(name, geometry, values));
}

pub(super) fn guidance(set: &TaskSet, layer: &mut Layer) {
    names(layer, &["field", "partfield", "name", "kind", "swath_m"]);
    for field in &set.partfields {
        for (at, line) in field.guidance.iter().enumerate() {
            let values = vec![
                said(&field.name),
                said(&field.id),
                said(&line.name),
                said(line.kind),
                line.swath_m.map_or(Value::Missing, Value::Number),
            ];
            let geometry = Geometry::Lines(vec![line.line.clone()]);
            let name = format!("{}.{}", field.id, at + 1);
            layer.features.push(feature(name, geometry, values));
        }
    }
}

/// Zones with polygons; a column for each kind of value, in order of first appearance.
pub(super) fn zones(set: &TaskSet, layer: &mut Layer) -> Outcome<()> {
    names(layer, &["task", "task_name", "field", "zone", "name"]);
    let fixed = layer.attributes.len();
    let product = |id: Option<&str>| {
        let known = set
            .products
            .iter()
            .find(|(own, _)| Some(own.as_str()) == id);
        let name = known.map_or(id.unwrap_or("zone"), |(_, name)| name.as_str());
        name.replace(char::is_whitespace, "_")
    };
    for task in &set.tasks {
        for zone in task.zones.iter().filter(|zone| !zone.polygons.is_empty()) {
            let mut values: Vec<Value> = task_values(set, task)
                .into_iter()
                .map(|(_, value)| value)
                .collect();
            values.push(Value::Integer(i64::from(zone.code)));
            values.push(said(&zone.name));
            values.resize(layer.attributes.len(), Value::Missing);
            for variable in &zone.variables {
                let what = match known(variable.ddi) {
                    Some(known) => known.name.trim_start_matches("setpoint_").to_string(),
                    None => format!("ddi_{:04X}", variable.ddi),
                };
                let column = format!("{}_{what}", product(variable.product.as_deref()));
                let known_columns = layer.attributes.iter().skip(fixed);
                let at = match known_columns.clone().position(|own| *own == column) {
                    Some(at) => fixed + at,
                    // A broken file must not make a table without end.
                    None if layer.attributes.len() >= 200 => continue,
                    None => {
                        layer.attributes.push(column);
                        values.push(Value::Missing);
                        layer.attributes.len() - 1
                    }
                };
                values[at] = Value::Number(f64::from(variable.value) * factor(variable.ddi));
            }
            // All features have all columns in the end.
            let each = feature_bytes(&values, layer.attributes.len() - values.len());
            if (layer.features.len() + 1).saturating_mul(each) > room::most(set.bytes) {
                return Err(too_wide(set, layer, &task.id));
            }
            let geometry = Geometry::Polygons(zone.polygons.clone());
            let name = format!("{}.{}", task.id, zone.code);
            layer.features.push(feature(name, geometry, values));
        }
    }
    let columns = layer.attributes.len();
    for feature in &mut layer.features {
        feature.values.resize(columns, Value::Missing);
    }
    Ok(())
}
