//! What a finished seed rate means on the ground: seeds, plants, and the units of the trade.

use super::class::look_up;
use super::reasons::{RateSoFar, Step};
use super::{Rule, Why, seed};
use crate::findings::Outcome;
use crate::job::{Job, Joined, Product};
use crate::texts::Words;
use crate::texts::quantity::{Density, Given, Number, Rate};
use crate::units::{
    lb_per_acre_from_kg_per_ha, per_ft2_from_per_m2, seeds_per_lb_from_thousand_grain_weight_g,
};
use crate::zones::Facts;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A seed rate in seeds and plants, per m2 and in the other units of the trade.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stand {
    /// Seeds per m2.
    pub seeds_per_m2: f64,
    /// To expect; none where the job gives no establishment.
    pub plants_per_m2: Option<f64>,
    /// Seeds per square foot.
    pub seeds_per_ft2: f64,
    /// Plants to expect per square foot; none where the job gives no establishment.
    pub plants_per_ft2: Option<f64>,
    /// The rate in pounds per acre.
    pub lb_per_acre: f64,
    /// Seeds in a pound.
    pub seeds_per_lb: f64,
}

/// What `kg_per_ha` of this seed sows; none where its grain weight is not known, or nothing is sown.
///
/// # Errors
/// An establishment that has no number for the land, or leaves no plants.
pub(super) fn of(
    job: &Job,
    sown: &Product,
    facts: &Facts,
    kg_per_ha: f64,
) -> Outcome<Option<Stand>> {
    // Land where nothing is sown needs no establishment.
    if sown.thousand_grain_weight_g.is_none() || kg_per_ha <= 0.0 {
        return Ok(None);
    }
    let weight = seed::grain_weight(sown.thousand_grain_weight_g)?;
    let seeds_per_m2 = seed::seeds_per_m2_of_kg(kg_per_ha, weight);
    let plants_per_m2 = share(job, sown, facts)?.map(|(share, _)| seeds_per_m2 * share);
    Ok(Some(Stand {
        seeds_per_m2,
        plants_per_m2,
        seeds_per_ft2: per_ft2_from_per_m2(seeds_per_m2),
        plants_per_ft2: plants_per_m2.map(per_ft2_from_per_m2),
        lb_per_acre: lb_per_acre_from_kg_per_ha(kg_per_ha),
        seeds_per_lb: seeds_per_lb_from_thousand_grain_weight_g(weight),
    }))
}

/// Writes the stand down as the last reason of a rate above zero.
///
/// # Errors
/// As [`of`].
pub(super) fn say(
    job: &Job,
    sown: &Product,
    facts: &Facts,
    stand: &Stand,
    so_far: &mut RateSoFar,
) -> Outcome<()> {
    let kg_per_ha = so_far.kg_per_ha();
    let mut inputs = vec![
        ("seeds/m2", stand.seeds_per_m2),
        ("seeds/ft2", stand.seeds_per_ft2),
        ("lb/ac", stand.lb_per_acre),
        ("seeds/lb", stand.seeds_per_lb),
    ];
    let words = Words::of(job);
    let mut why = Why::Stand {
        rate: Rate(kg_per_ha),
        lb_per_acre: Number(stand.lb_per_acre, 1),
        seeds: Density(stand.seeds_per_m2),
        per_ft2: Number(stand.seeds_per_ft2, 1),
        per_lb: Number(stand.seeds_per_lb, 0),
    };
    let mut source = seed::SOURCE_SEEDS;
    if let (Some(plants), Some(per_ft2), Some((share, by))) = (
        stand.plants_per_m2,
        stand.plants_per_ft2,
        share(job, sown, facts)?,
    ) {
        why = Why::StandPlants {
            seeds: words.say(&why),
            share: by,
            plants: Density(plants),
            per_ft2: Number(per_ft2, 1),
        };
        inputs.extend([
            ("plants per seed", share),
            ("plants/m2", plants),
            ("plants/ft2", per_ft2),
        ]);
        source = match sown.rate.germination_joined {
            Joined::Multiply => seed::SOURCE_MULTIPLY,
            Joined::Subtract => seed::SOURCE_SUBTRACT,
            Joined::Included => seed::SOURCE_INCLUDED,
        };
    }
    so_far.take(Step {
        rule: Rule::SeedStand,
        why,
        inputs: &inputs,
        kg_per_ha,
        source: Some(source.into()),
    })
}

/// How germination and establishment make the plants of a seed.
pub(super) fn per_seed(sown: &Product, establishment_percent: f64) -> Why {
    let germination = Given(sown.germination_percent.unwrap_or(100.0));
    let establishment = Given(establishment_percent);
    match sown.rate.germination_joined {
        Joined::Multiply => Why::Multiplied {
            germination,
            establishment,
        },
        Joined::Subtract => Why::Subtracted {
            germination,
            lost: Given(100.0 - establishment_percent),
        },
        Joined::Included => Why::Included { establishment },
    }
}

/// Plants per seed and the words for it, where the job gives an establishment.
fn share(job: &Job, sown: &Product, facts: &Facts) -> Outcome<Option<(f64, String)>> {
    let Some(lookup) = &sown.rate.establishment_percent else {
        return Ok(None);
    };
    let found = look_up(job, lookup, "rate.establishment_percent", facts)?;
    let joined = sown.rate.germination_joined;
    let share = seed::plants_per_seed(sown.germination_percent, found.value, joined)?;
    let words = Words::of(job);
    let by = words.say(&per_seed(sown, found.value));
    let by = match joined {
        Joined::Subtract => words.say(&Why::InBrackets { share: by }),
        Joined::Multiply | Joined::Included => by,
    };
    Ok(Some((share, by)))
}
