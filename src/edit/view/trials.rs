//! Trials as they are laid out: what each sees and takes, and its plots with what is on them.

use super::picture::steps;
use super::{area, mass, placed_lon_lat, rate};
use crate::plan::{LaidTrial, Plan, TrialPlot};
use crate::report::number::Numbers;
use serde_json::{Value, json};

/// All trials of a plan.
pub(super) fn of(plan: &Plan, numbers: &Numbers) -> Vec<Value> {
    let all = plan.trials.iter();
    all.map(|trial| one(trial, plan, numbers)).collect()
}

fn one(trial: &LaidTrial, plan: &Plan, numbers: &Numbers) -> Value {
    let plots = trial.plots.iter().map(|plot| {
        let mut value = told(trial, plot, plan, numbers);
        value["ring"] = json!(steps(ring(plot, plan).into_iter()));
        value
    });
    let costs = trial.costs.iter().map(|cost| {
        let mut products = plan.job.products.iter();
        let product = products.find(|product| product.id == cost.product);
        json!({
            "name": product.map(|product| &product.name),
            "kg": cost.more_kg,
            "text": mass(numbers, cost.more_kg),
            "money_text": cost.more_money.map(|money| crate::report::number::grouped(money, 2)),
        })
    });
    let sight = &trial.sight;
    json!({
        "name": trial.name,
        "treatments": trial.treatments.iter().map(|of| &of.name).collect::<Vec<_>>(),
        "strip_text": length(numbers, trial.strip_width_m),
        "bouts": trial.strip_bouts,
        "ends_text": length(numbers, trial.ends_m),
        "sees_text": rate(numbers, sight.sees_kg_per_ha),
        "should_see_text": rate(numbers, sight.should_see_kg_per_ha),
        "sees_enough": sight.sees_kg_per_ha <= sight.should_see_kg_per_ha,
        "variation_text": rate(numbers, sight.plot_variation_kg_per_ha),
        "variation_from": sight.variation_from,
        "blocks": sight.blocks,
        "needed": sight.blocks_needed,
        "costs": costs.collect::<Vec<_>>(),
        "plots": plots.collect::<Vec<_>>(),
    })
}

/// The plot at a place, in what travels; none outside all plots.
pub(super) fn at(plan: &Plan, numbers: &Numbers, place: [f64; 2]) -> Option<Value> {
    let all = plan.trials.iter();
    let mut plots = all.flat_map(|trial| trial.plots.iter().map(move |plot| (trial, plot)));
    let (trial, plot) = plots.find(|(_, plot)| holds(&ring(plot, plan), place))?;
    Some(told(trial, plot, plan, numbers))
}

/// What is on a plot.
fn told(trial: &LaidTrial, plot: &TrialPlot, plan: &Plan, numbers: &Numbers) -> Value {
    let products = plan.job.products.iter().enumerate();
    let tried = products.filter(|(_, product)| trial.products.contains(&product.id));
    let rates = tried.map(|(nth, product)| {
        let of = |rates: &[f64]| rates.get(nth).map(|kg_per_ha| rate(numbers, *kg_per_ha));
        json!({
            "id": product.id,
            "name": product.name,
            "asked_text": of(&plot.asked_kg_per_ha),
            "map_text": of(&plot.kg_per_ha),
            "sown_text": of(&plot.sown_kg_per_ha),
        })
    });
    let mut treatments = trial.treatments.iter();
    let by_the_map = treatments.any(|of| of.name == plot.treatment && of.by_the_map);
    json!({
        "trial": trial.name,
        "id": plot.id,
        "treatment": plot.treatment,
        "by_the_map": by_the_map,
        "block": plot.block,
        "length_text": length(numbers, plot.length_m),
        "area_text": area(numbers, plot.area_m2),
        "rates": rates.collect::<Vec<_>>(),
    })
}

fn length(numbers: &Numbers, metres: f64) -> String {
    format!(
        "{}\u{a0}{}",
        numbers.length_text(metres),
        numbers.length_unit()
    )
}

/// The outline of a plot as it travels, its first place not again at the end.
fn ring(plot: &TrialPlot, plan: &Plan) -> Vec<[i64; 2]> {
    let frame = &plan.land.frame;
    let places = plot.outline_lon_lat.iter();
    let mut ring: Vec<[i64; 2]> = places.map(|at| placed_lon_lat(*at, frame)).collect();
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    ring
}

/// Whether a place lies inside an outline: a ray to the east crosses it an odd number of times.
fn holds(ring: &[[i64; 2]], [x, y]: [f64; 2]) -> bool {
    let ends = ring.iter().cycle().skip(1);
    let crossed = ring.iter().zip(ends).filter(|(from, to)| {
        let ([from_x, from_y], [to_x, to_y]) = (from.map(|at| at as f64), to.map(|at| at as f64));
        (from_y > y) != (to_y > y) && x < (to_x - from_x) * (y - from_y) / (to_y - from_y) + from_x
    });
    crossed.count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::holds;

    #[test]
    fn a_place_lies_inside_its_plot_and_beside_the_next() {
        let square = [[0, 0], [1000, 0], [1000, 500], [0, 500]];
        for (place, inside) in [
            ([500.0, 250.0], true),
            ([999.0, 1.0], true),
            ([1001.0, 250.0], false),
            ([-1.0, 250.0], false),
            ([500.0, 501.0], false),
        ] {
            assert_eq!(holds(&square, place), inside, "{place:?}");
        }
    }
}
