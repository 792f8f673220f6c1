//! Trials in the report: for the adviser what is tried, what it sees and costs and every plot; for the operator that there is nothing to do.

use super::canvas::Canvas;
use super::number::Numbers;
use crate::agronomy::balance_name;
use crate::plan::{LaidTrial, Plan, TrialPlot};
use serde_json::{Value, json};

/// All trials; empty without.
pub(super) fn all(plan: &Plan, numbers: &Numbers, canvas: &Canvas) -> Vec<Value> {
    let trials = plan.trials.iter().enumerate();
    trials
        .map(|(nth, trial)| one(plan, nth, trial, numbers, canvas))
        .collect()
}

fn one(plan: &Plan, nth: usize, trial: &LaidTrial, numbers: &Numbers, canvas: &Canvas) -> Value {
    let from = |key: &str| format!("/trials/{nth}/{key}");
    let tried: Vec<(usize, &str)> = plan
        .job
        .products
        .iter()
        .enumerate()
        .filter(|(_, product)| trial.products.contains(&product.id))
        .map(|(at, product)| (at, product.name.as_str()))
        .collect();
    let plot = |(at, plot): (usize, &TrialPlot)| {
        let rates = tried.iter().map(|(product, _)| {
            let of = |rates: &[f64], key: &str| {
                let rate = rates.get(*product).copied();
                rate.map(|rate| numbers.rate(rate, from(&format!("plots/{at}/{key}/{product}"))))
            };
            json!({
                "asked": of(&plot.asked_kg_per_ha, "asked_kg_per_ha"),
                "map": of(&plot.kg_per_ha, "kg_per_ha"),
                "sown": of(&plot.sown_kg_per_ha, "sown_kg_per_ha"),
            })
        });
        let treatments = trial.treatments.iter();
        let mut numbered = treatments.enumerate();
        let treatment = numbered.find(|(_, of)| of.name == plot.treatment);
        json!({
            "id": plot.id,
            "treatment": plot.treatment,
            "nth": treatment.map(|(nth, _)| nth),
            "block": plot.block,
            "length": numbers.length(plot.length_m, from(&format!("plots/{at}/length_m"))),
            "rates": rates.collect::<Vec<Value>>(),
            "path": canvas.path(std::iter::once(&crate::read::Polygon {
                exterior: plot.outline_lon_lat.clone(),
                holes: Vec::new(),
            })),
        })
    };
    let costs = trial.costs.iter().enumerate().map(|(at, cost)| {
        let product = plan.job.products.iter().find(|product| product.id == cost.product);
        json!({
            "name": product.map(|product| &product.name),
            "more": numbers.mass(cost.more_kg, from(&format!("costs/{at}/more_kg"))),
            "money": cost.more_money.map(|money| numbers.plain(money, 2, from(&format!("costs/{at}/more_money")))),
            "broadcast": cost.changes_balance().then(|| json!({
                "name": product.map(balance_name),
                "more": numbers.mass(cost.more_balance_kg, from(&format!("costs/{at}/more_balance_kg"))),
                "money": cost.more_balance_money.map(|money| numbers.plain(money, 2, from(&format!("costs/{at}/more_balance_money")))),
            })),
        })
    });
    let flat_in_all = trial.flat_in_all.iter().enumerate().map(|(at, flat)| {
        let product = plan
            .job
            .products
            .iter()
            .find(|product| product.id == flat.product);
        let rate =
            |rate: f64, key: &str| numbers.rate(rate, from(&format!("flat_in_all/{at}/{key}")));
        json!({
            "name": product.map(|product| &product.name),
            "broadcast_name": product.map(balance_name),
            "in_all": rate(flat.in_all_kg_per_ha, "in_all_kg_per_ha"),
            "drilled": rate(flat.drilled_kg_per_ha, "drilled_kg_per_ha"),
            "broadcast": rate(flat.broadcast_kg_per_ha, "broadcast_kg_per_ha"),
        })
    });
    let sight = &trial.sight;
    json!({
        "name": trial.name,
        "products": tried.iter().map(|(_, name)| *name).collect::<Vec<&str>>(),
        "treatments": trial.treatments.iter().map(|of| &of.name).collect::<Vec<&String>>(),
        "width": numbers.length(trial.strip_width_m, from("strip_width_m")),
        "bouts": trial.strip_bouts,
        "chessboard": trial.chessboard,
        "wheelings": trial.wheelings,
        "header": numbers.length(trial.header_width_m, from("header_width_m")),
        "ends": numbers.length(trial.ends_m, from("ends_m")),
        "sees": numbers.rate(sight.sees_kg_per_ha, from("sight/sees_kg_per_ha")),
        "should_see": numbers.rate(sight.should_see_kg_per_ha, from("sight/should_see_kg_per_ha")),
        "variation": numbers.rate(sight.plot_variation_kg_per_ha, from("sight/plot_variation_kg_per_ha")),
        "variation_from": sight.variation_from,
        "blocks": sight.blocks,
        "needed": sight.blocks_needed,
        "flat_in_all": flat_in_all.collect::<Vec<Value>>(),
        "costs": costs.collect::<Vec<Value>>(),
        "plots": trial.plots.iter().enumerate().map(plot).collect::<Vec<Value>>(),
    })
}
