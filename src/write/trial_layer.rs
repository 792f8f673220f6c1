//! The plots of trials as a layer for a GIS.

use super::attributes::{Kind, Value};
use super::drive_layers::{Columns, Geometry, GeometryKind, Layer};
use crate::plan::{Plan, TrialPlot};
use crate::read::Polygon;
use crate::units::M2_PER_HA;

/// One feature per plot: what is tried on it, and per product what was asked for and what the map has. `None` without a trial.
pub(super) fn of(plan: &Plan) -> Option<Layer> {
    if plan.trials.is_empty() {
        return None;
    }
    let mut columns = Columns::new(&[
        ("id", Kind::Text),
        ("trial", Kind::Text),
        ("treatment", Kind::Text),
        ("block", Kind::Text),
        ("length_m", Kind::Number),
        ("area_ha", Kind::Number),
    ]);
    // Not the names of the rate map: these are means of plots.
    for product in &plan.job.products {
        columns.add(&format!("{}_asked", product.id), Kind::Number);
        columns.add(&format!("{}_map", product.id), Kind::Number);
    }
    columns.add("plan", Kind::Text);
    let row = |trial: &str, plot: &TrialPlot| {
        let mut row = vec![
            Value::Text(plot.id.clone()),
            Value::Text(trial.to_owned()),
            Value::Text(plot.treatment.clone()),
            Value::Text(plot.block.clone()),
            Value::Number(plot.length_m),
            Value::Number(plot.area_m2 / M2_PER_HA),
        ];
        for rates in plot.asked_kg_per_ha.iter().zip(&plot.kg_per_ha) {
            row.extend([*rates.0, *rates.1].map(Value::Number));
        }
        row.push(Value::Text(plan.id.clone()));
        let polygon = Polygon {
            exterior: plot.outline_lon_lat.clone(),
            holes: Vec::new(),
        };
        (Geometry::Polygons(vec![polygon]), row)
    };
    let plots = plan
        .trials
        .iter()
        .flat_map(|trial| trial.plots.iter().map(|plot| (trial.name.as_str(), plot)));
    Some(Layer {
        name: "trial_plots",
        what: "the plots of trials: what is tried where",
        about: format!(
            "Plots of trials with what is tried on them, kg/ha, plan {}",
            plan.id
        ),
        columns: columns.columns,
        geometry: GeometryKind::Polygons,
        rows: plots.map(|(trial, plot)| row(trial, plot)).collect(),
    })
}
