//! Lots: each its own way from the map to its own order.

use super::Step;
use super::count::{Counted, sown};
use crate::drive::as_driven::DrivenProduct;
use crate::job::{Job, Product};
use serde::Serialize;

/// One lot's way from the map to the order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LotTally {
    pub lot: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variety: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dressing: Option<String>,
    /// Classes of the layer of the lots on whose land it is sown.
    pub classes: Vec<String>,
    /// Land with a rate above zero, m2.
    pub sown_m2: f64,
    pub lowest_kg_per_ha: f64,
    pub highest_kg_per_ha: f64,
    /// The one rate that sows the same total on its land outside the product's setbacks.
    pub flat_kg_per_ha: f64,
    /// From the map total to the order, each step a line.
    pub steps: Vec<Step>,
    /// What leaves the outlets, kg: the map with its corrections, before reserve and residue.
    pub as_driven_kg: f64,
    pub order_kg: f64,
    pub packs: Option<u64>,
    pub fills: Option<f64>,
    pub kg_per_fill: Option<f64>,
    pub ha_per_fill: Option<f64>,
    /// Seeds that the map sows, where the grain weight is known.
    pub seeds: Option<f64>,
}

impl LotTally {
    /// What the polygon map sows of it, kg.
    pub fn map_kg(&self) -> f64 {
        let map = self.steps.iter().find(|step| step.step == "map");
        map.map_or(0.0, |step| step.kg)
    }
}

/// The lots of a product, in job order; a lot on several classes is one. Lots without land are left out.
pub(super) fn lots(counted: &Counted, job: &Job, product: &Product, nth: usize) -> Vec<LotTally> {
    let each = product.each_lot();
    let firsts = each
        .iter()
        .enumerate()
        .filter(|(at, lot)| each.iter().position(|other| other.lot == lot.lot) == Some(*at));
    let tallies = firsts.filter_map(|(_, lot)| {
        let is_sown = |row: usize| {
            let (_, rates) = counted.rows.get(row)?;
            each.get(rates.get(nth)?.lot?)
        };
        let on = |row: usize| is_sown(row).is_some_and(|sown| sown.lot == lot.lot);
        (0..counted.rows.len()).any(on).then(|| {
            let same = each.iter().filter(|other| other.lot == lot.lot);
            LotTally {
                variety: lot.variety.clone(),
                classes: same.map(|other| other.class.clone()).collect(),
                ..sown(counted, job, &product.as_lot(lot), nth, &on)
            }
        })
    });
    tallies.collect()
}

/// The whole product with the steps of its lots summed.
pub(super) fn summed(whole: LotTally, lots: &[LotTally]) -> LotTally {
    let mut steps: Vec<Step> = Vec::new();
    for step in lots.iter().flat_map(|lot| &lot.steps) {
        match steps.iter_mut().find(|known| known.step == step.step) {
            Some(known) => known.kg += step.kg,
            None => steps.push(Step {
                text: match step.step {
                    "packs" => "rounded up to packs, lot by lot".to_owned(),
                    _ => step.text.clone(),
                },
                ..step.clone()
            }),
        }
    }
    // The rounding stands last, also where only some of the lots come in packs.
    steps.sort_by_key(|step| step.step == "packs");
    LotTally {
        steps,
        as_driven_kg: lots.iter().map(|lot| lot.as_driven_kg).sum(),
        order_kg: lots.iter().map(|lot| lot.order_kg).sum(),
        packs: lots.iter().map(|lot| lot.packs).sum(),
        fills: lots.iter().map(|lot| lot.fills).sum(),
        kg_per_fill: None,
        ha_per_fill: None,
        seeds: lots.iter().map(|lot| lot.seeds).sum(),
        ..whole
    }
}

/// What the drive changes, for as much of the product as the map has here.
pub(super) fn shared(driven: &DrivenProduct, map_kg: f64) -> DrivenProduct {
    let share = match driven.map_kg > 0.0 {
        true => map_kg / driven.map_kg,
        false => 0.0,
    };
    // The whole product keeps its figures to the last bit.
    if (share - 1.0).abs() < 1e-9 {
        return driven.clone();
    }
    DrivenProduct {
        map_kg,
        tramlines_kg: driven.tramlines_kg * share,
        sections_kg: driven.sections_kg * share,
        overlap_kg: driven.overlap_kg * share,
        missed_kg: driven.missed_kg * share,
        following_kg: driven.following_kg * share,
        as_driven_kg: driven.as_driven_kg * share,
        metered_kg: driven.metered_kg * share,
        returned_kg: driven.returned_kg * share,
        ..driven.clone()
    }
}
