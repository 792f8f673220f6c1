//! Lots: each its own way from the map to its own order.

use super::count::{Counted, sown};
use super::order::OnePackLess;
use super::step::{self, Step, StepName};
use super::words::Line;
use crate::drive::as_driven::DrivenProduct;
use crate::job::{Job, Product};
use crate::texts::Words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One lot's way from the map to the order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LotTally {
    /// Lot on the label.
    pub lot: String,
    /// Its variety.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variety: Option<String>,
    /// Its dressing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dressing: Option<String>,
    /// Classes of the layer of the lots on whose land it is sown.
    pub classes: Vec<String>,
    /// Land with a rate above zero, m2.
    pub sown_m2: f64,
    /// Lowest rate above zero, kg/ha.
    pub lowest_kg_per_ha: f64,
    /// Highest rate, kg/ha.
    pub highest_kg_per_ha: f64,
    /// The one rate that sows the same total on its land outside the product's setbacks.
    pub flat_kg_per_ha: f64,
    /// From the map total to the order, each step a line.
    pub steps: Vec<Step>,
    /// What leaves the outlets, kg: the map with its corrections, before reserve and residue.
    pub as_driven_kg: f64,
    /// To order, kg.
    pub order_kg: f64,
    /// The same in packs, if the job gives a pack.
    pub packs: Option<u64>,
    /// What one pack less would leave of the reserve, where only the reserve asks for the last pack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub one_pack_less: Option<OnePackLess>,
    /// Fills of the hopper, if bulk density is known.
    pub fills: Option<f64>,
    /// What one fill holds, kg.
    pub kg_per_fill: Option<f64>,
    /// Land that one fill sows at the mean rate, ha.
    pub ha_per_fill: Option<f64>,
    /// Seeds that the map sows, where the grain weight is known.
    pub seeds: Option<f64>,
}

impl LotTally {
    /// What the polygon map sows of it, kg.
    pub fn map_kg(&self) -> f64 {
        step::map_kg(&self.steps)
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
            let (_, rates) = counted.rows[row];
            each.get(rates[nth].lot?)
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
pub(super) fn summed(whole: LotTally, lots: &[LotTally], words: Words) -> LotTally {
    let steps = steps_of_all(lots, words);
    LotTally {
        steps,
        as_driven_kg: lots.iter().map(|lot| lot.as_driven_kg).sum(),
        order_kg: lots.iter().map(|lot| lot.order_kg).sum(),
        packs: lots.iter().map(|lot| lot.packs).sum(),
        // Each lot has its own packs.
        one_pack_less: None,
        fills: lots.iter().map(|lot| lot.fills).sum(),
        kg_per_fill: None,
        ha_per_fill: None,
        seeds: lots.iter().map(|lot| lot.seeds).sum(),
        ..whole
    }
}

/// The steps of all lots, each step once.
pub(super) fn steps_of_all(lots: &[LotTally], words: Words) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    for step in lots.iter().flat_map(|lot| &lot.steps) {
        match steps.iter_mut().find(|known| known.step == step.step) {
            Some(known) => known.kg += step.kg,
            None => steps.push(Step {
                text: match step.step {
                    StepName::Packs => words.say(&Line::PacksByLot),
                    _ => step.text.clone(),
                },
                ..step.clone()
            }),
        }
    }
    // The rounding stands last, also where only some of the lots come in packs.
    steps.sort_by_key(|step| step.step == StepName::Packs);
    steps
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

#[cfg(test)]
mod tests {
    use super::StepName::*;
    use super::*;

    fn step(step: StepName, kg: f64) -> Step {
        Step {
            step,
            text: format!("the lot's {step}"),
            kg,
        }
    }

    /// A tally whose figures all differ, so that none can stand in for another.
    fn tally(lot: &str, times: f64, steps: Vec<Step>) -> LotTally {
        LotTally {
            lot: lot.to_owned(),
            variety: Some(format!("variety of {lot}")),
            dressing: Some(format!("dressing of {lot}")),
            classes: vec![format!("class of {lot}")],
            sown_m2: 1_000.0 * times,
            lowest_kg_per_ha: 11.0 * times,
            highest_kg_per_ha: 13.0 * times,
            flat_kg_per_ha: 12.0 * times,
            steps,
            as_driven_kg: 17.0 * times,
            order_kg: 25.0 * times,
            packs: Some(2 * times as u64),
            one_pack_less: OnePackLess::of(90.0, 0.0, 101.0, 100.0),
            fills: Some(0.25 * times),
            kg_per_fill: Some(70.0 * times),
            ha_per_fill: Some(6.0 * times),
            seeds: Some(5e6 * times),
        }
    }

    #[test]
    fn the_whole_product_has_the_sums_of_its_lots_and_the_rest_from_the_whole() {
        let west = vec![step(Map, 16.0), step(Reserve, 1.0), step(Packs, 8.0)];
        let east = vec![step(Map, 48.0), step(Residue, 2.0), step(Packs, 25.0)];
        let lots = [tally("west", 1.0, west), tally("east", 3.0, east)];
        let whole = tally("whole", 10.0, vec![step(Map, 64.0), step(Packs, 1.0)]);
        let all = summed(whole.clone(), &lots, Words::default());
        let steps: Vec<(StepName, f64)> = all.steps.iter().map(|of| (of.step, of.kg)).collect();
        // The rounding last, though the residue comes only with the second lot.
        assert_eq!(
            steps,
            [(Map, 64.0), (Reserve, 1.0), (Residue, 2.0), (Packs, 33.0)]
        );
        let texts: Vec<&str> = all.steps.iter().map(|of| of.text.as_str()).collect();
        assert_eq!(texts[0], "the lot's map");
        assert_eq!(texts[3], "rounded up to packs, lot by lot");
        assert_eq!(all.map_kg(), 64.0);
        let expected = LotTally {
            steps: all.steps.clone(),
            as_driven_kg: 17.0 * 4.0,
            order_kg: 25.0 * 4.0,
            packs: Some(8),
            one_pack_less: None,
            fills: Some(1.0),
            kg_per_fill: None,
            ha_per_fill: None,
            seeds: Some(2e7),
            ..whole
        };
        assert_eq!(all, expected);
    }

    #[test]
    fn where_one_lot_is_not_known_the_sum_is_not_known() {
        let mut lots = [tally("west", 1.0, vec![]), tally("east", 3.0, vec![])];
        lots[1].packs = None;
        lots[1].fills = None;
        lots[1].seeds = None;
        let all = summed(tally("whole", 10.0, vec![]), &lots, Words::default());
        assert_eq!((all.packs, all.fills, all.seeds), (None, None, None));
    }

    #[test]
    fn a_lot_without_a_map_step_has_nothing_on_the_map() {
        let lot = tally("west", 1.0, vec![step(Reserve, 3.0)]);
        assert_eq!(lot.map_kg(), 0.0);
    }

    #[test]
    fn a_lot_bears_its_share_of_everything_that_the_drive_changes() {
        let driven = DrivenProduct {
            id: "seed".to_owned(),
            map_kg: 100.0,
            tramlines_kg: -4.0,
            sections_kg: 1.0,
            overlap_kg: 8.0,
            missed_kg: -2.0,
            following_kg: 3.0,
            as_driven_kg: 106.0,
            metered_kg: 107.0,
            returned_kg: 5.0,
            within: Vec::new(),
            unwanted_m2: 9.0,
        };
        let quarter = DrivenProduct {
            map_kg: 25.0,
            tramlines_kg: -1.0,
            sections_kg: 0.25,
            overlap_kg: 2.0,
            missed_kg: -0.5,
            following_kg: 0.75,
            as_driven_kg: 26.5,
            metered_kg: 26.75,
            returned_kg: 1.25,
            ..driven.clone()
        };
        assert_eq!(shared(&driven, 25.0), quarter);
        // The whole keeps its figures to the last bit, and of nothing there is no share.
        assert_eq!(shared(&driven, 100.0 + 1e-12), driven);
        assert_eq!(shared(&driven, 100.001).map_kg, 100.001);
        let nothing = DrivenProduct {
            map_kg: 0.0,
            ..driven
        };
        assert_eq!(shared(&nothing, 25.0).overlap_kg, 0.0);
    }
}
