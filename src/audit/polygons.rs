//! Polygon maps held against the plan: by the land that each set of rates has. A map may be the plan's own or
//! one with fewer points, as terminals get them.

use super::facts::{PlanFacts, PlanProduct};
use super::rated_land::{RatedLand, by_rates};
use crate::audit::Delivered;
use crate::units::M2_PER_HA;

/// What a file is held against.
pub(super) struct Wanted {
    /// Rates (in the file's order of products) and the land that has them.
    pub land: Vec<RatedLand>,
    pub extent: Option<[f64; 4]>,
    /// What fewer points add, kg, in the file's order of products; empty for the plan's own map.
    pub change_kg: Vec<f64>,
    /// What steps of 0.01 kg/ha add, kg, in the file's order of products; empty for a file that holds more.
    pub integers_kg: Vec<f64>,
}

/// The map of the plan that the file is nearest to; `matched` are the plan's products in the file's order.
pub(super) fn wanted(file: &Delivered, plan: &PlanFacts, matched: &[usize]) -> Wanted {
    let picked = |rates: &[f64]| -> Vec<f64> {
        let rates = matched
            .iter()
            .map(|at| rates.get(*at).copied().unwrap_or(f64::NAN));
        rates.collect()
    };
    let own = plan.land.iter().map(|own| RatedLand {
        rates: picked(&own.rates),
        outline: own.outline.clone(),
    });
    let own = Wanted {
        land: by_rates(own.collect()),
        extent: plan.extent,
        change_kg: Vec::new(),
        integers_kg: Vec::new(),
    };
    let own = stepped(own, file.hundredths);
    let ids: Vec<&str> = matched
        .iter()
        .filter_map(|at| plan.products.get(*at))
        .map(|product: &PlanProduct| product.id.as_str())
        .collect();
    let fewer = plan.polygons.iter().find(|map| map.products == ids);
    // A file with its two products swapped is still nearest to the map that it was made of.
    let off = |land: &[RatedLand]| -> f64 {
        let sum = |is: &dyn Fn(&[f64], &[f64]) -> bool| -> f64 {
            let found = |rates: &[f64]| file.land.iter().find(|own| is(&own.rates, rates));
            land.iter()
                .map(|own| {
                    let found = found(&own.rates).map_or(0.0, |found| found.outline.area_m2);
                    (found - own.outline.area_m2).abs()
                })
                .sum()
        };
        let swapped = |own: &[f64], rates: &[f64]| own.iter().rev().eq(rates);
        sum(&|own, rates| own == rates).min(sum(&swapped))
    };
    let fewer = fewer.map(|map| Wanted {
        land: map.land.clone(),
        extent: map.extent,
        change_kg: map.change_kg.clone(),
        integers_kg: Vec::new(),
    });
    // Nearest by the number of points, and then by the land.
    let points =
        |land: &[RatedLand]| -> u64 { land.iter().map(|own| own.outline.points.count).sum() };
    let away = |land: &[RatedLand]| (points(land) != points(&file.land), off(land));
    match fewer.map(|map| stepped(map, file.hundredths)) {
        Some(map) if away(&map.land) < away(&own.land) => map,
        _ => own,
    }
}

/// The same in steps of 0.01 kg/ha, if the file holds no more.
fn stepped(mut map: Wanted, hundredths: bool) -> Wanted {
    if !hundredths {
        return map;
    }
    let rounded = |rate: f64| (rate * 100.0).round() / 100.0;
    let products = map.land.first().map_or(0, |own| own.rates.len());
    map.integers_kg = vec![0.0; products];
    for own in &mut map.land {
        for (rate, sum) in own.rates.iter_mut().zip(&mut map.integers_kg) {
            let step = rounded(*rate);
            *sum += (step - *rate) * own.outline.area_m2 / M2_PER_HA;
            *rate = step;
        }
    }
    map.land = by_rates(map.land);
    map
}
