//! What a trial can see, before it is sown.

use crate::trial::power;
use crate::units::{KG_PER_LB, M_PER_FOOT, M2_PER_ACRE, M2_PER_HA};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The chance that a trial is to have, of seeing a difference that is there.
const CHANCE: f64 = 0.8;

/// Nobody lays out more blocks.
const MOST_BLOCKS: usize = 400;

/// Where the published variation comes from.
const PUBLISHED: &str = "derived from least significant differences by length of plot, after Wuest 1994 (Washington State University); its fields were even";

/// What a trial can see.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "TrialSight")]
pub struct Sight {
    /// Standard deviation of the yields of equal plots beside each other, kg/ha.
    pub plot_variation_kg_per_ha: f64,
    /// Where it comes from; null where the job gives it.
    pub variation_from: Option<String>,
    /// The least difference between two means that 8 of 10 such trials show at 5 %, kg/ha.
    pub sees_kg_per_ha: f64,
    /// The difference that the job wants to see, kg/ha.
    pub should_see_kg_per_ha: f64,
    /// Blocks that it has.
    pub blocks: usize,
    /// Blocks that would see it; null where 400 do not.
    pub blocks_needed: Option<usize>,
}

/// A trial as far as it matters here.
pub(super) struct Size {
    pub treatments: usize,
    pub blocks: usize,
    /// Plots behind a mean, per block.
    pub plots_per_mean: usize,
    /// Length of a plot that is harvested, m.
    pub harvested_m: f64,
}

impl Sight {
    /// `given`: the variation that the job gives, kg/ha.
    pub(super) fn of(size: &Size, given: Option<f64>, should_see_kg_per_ha: f64) -> Self {
        // Nobody knows it to less than a kilogram.
        let variation = given.unwrap_or_else(|| published(size.harvested_m).round());
        let sees = |blocks: usize| least(size, blocks, variation);
        let enough =
            |blocks: &usize| sees(*blocks).is_some_and(|least| least <= should_see_kg_per_ha);
        Self {
            plot_variation_kg_per_ha: variation,
            variation_from: given.is_none().then(|| PUBLISHED.to_owned()),
            sees_kg_per_ha: sees(size.blocks).map_or(f64::MAX, f64::ceil),
            should_see_kg_per_ha,
            blocks: size.blocks,
            blocks_needed: (2..=MOST_BLOCKS).find(enough),
        }
    }
}

/// Published variation of plots so long, kg/ha. With 3 replications the least significant difference of wheat went from 10 to 5 bu/ac as
/// plots went from 250 to 1000 ft, so it falls with the root of the length; of two treatments it is t(0.975, 2) s sqrt(2 / 3), and t is 4.3027.
fn published(length_m: f64) -> f64 {
    const BUSHEL_LB: f64 = 60.0;
    let lsd_kg_per_ha = 10.0 * BUSHEL_LB * KG_PER_LB / M2_PER_ACRE * M2_PER_HA;
    let at_250_ft = lsd_kg_per_ha / (4.3027 * (2.0_f64 / 3.0).sqrt());
    at_250_ft * (250.0 * M_PER_FOOT / length_m.max(1.0)).sqrt()
}

/// The least difference between two means that is seen with the chance, kg/ha; `None` for a trial with nothing left to judge it by.
fn least(size: &Size, blocks: usize, variation: f64) -> Option<f64> {
    let free = size.treatments.checked_sub(1)? * blocks.checked_sub(1)?;
    if free == 0 {
        return None;
    }
    let plots = (blocks * size.plots_per_mean) as f64;
    let standard_error = variation * (2.0 / plots).sqrt();
    let chance = |difference: f64| power(difference, standard_error, free as f64);
    let (mut low, mut high) = (0.0, standard_error);
    while chance(high)? < CHANCE {
        high *= 2.0;
        if !high.is_finite() {
            return None;
        }
    }
    for _ in 0..40 {
        let middle = (low + high) / 2.0;
        match chance(middle)? < CHANCE {
            true => low = middle,
            false => high = middle,
        }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::{least_difference, pairs_needed};

    fn pairs(blocks: usize) -> Size {
        Size {
            treatments: 2,
            blocks,
            plots_per_mean: 1,
            harvested_m: 60.0,
        }
    }

    /// Two treatments in blocks are pairs, whose power is held against general statistics software in `src/trial/power.rs`.
    #[test]
    fn pairs_see_what_pairs_see() {
        for blocks in [3, 6, 16] {
            let sight = Sight::of(&pairs(blocks), Some(190.0), 200.0);
            let deviation = 190.0 * 2.0_f64.sqrt();
            let other = least_difference(blocks, deviation, 0.8).unwrap();
            assert_eq!(sight.sees_kg_per_ha, other.ceil());
            assert_eq!(sight.blocks_needed, pairs_needed(200.0, deviation, 0.8));
        }
    }

    #[test]
    fn the_published_variation_gives_the_published_differences() {
        // Washington State University, on-farm test design, 1994, after Wuest 1994: 3 replications, 250 ft: about 10 bu/ac; 1000 ft: 5.
        for (feet, bushels) in [(250.0, 10.0), (1000.0, 5.0)] {
            let lsd = 4.3027 * published(feet * 0.3048) * (2.0_f64 / 3.0).sqrt();
            // A bushel of wheat to the acre is 67.25 kg/ha.
            assert!((lsd / 67.25 - bushels).abs() < 0.01, "{lsd}");
        }
    }

    #[test]
    fn four_plots_behind_a_mean_see_more_than_two() {
        let size = |plots_per_mean| Size {
            treatments: 4,
            blocks: 4,
            plots_per_mean,
            harvested_m: 60.0,
        };
        let [one, two] = [1, 2].map(|plots| least(&size(plots), 4, 100.0).unwrap());
        assert!((one / two - 2.0_f64.sqrt()).abs() < 1e-9);
    }
}
