//! Seed: plants, seeds and kilograms, in both directions.
//!
//! Plain arithmetic, no job. Rates are kg/ha, populations and seeds are per m2, grain weights are grams
//! per thousand seeds, germination and establishment are percent.
//!
//! Published guides join germination and field establishment in two ways that disagree, see
//! [`Joined`]; `docs/methods/seed-rate.md` has both, with examples.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Joined;

/// Source of the formula with the two factors multiplied.
pub const SOURCE_MULTIPLY: &str =
    "PGG Wrightson Grain, Cereal seed sowing rates; PGRO, Crop update 15 March 2013";
/// Source of the formula with the points subtracted.
pub const SOURCE_SUBTRACT: &str = "Teagasc, Spring cereals: sowing; NDSU, Winter rye: seeding rate";
/// Source of the formula with one establishment figure that counts everything.
pub const SOURCE_INCLUDED: &str = "HGCA, The wheat growth guide, 2nd ed. (2008), page 9";
/// Source of seeds to kilograms.
pub const SOURCE_SEEDS: &str = "Perennia, Cereal Crops Production Guide, Table 2";

/// Lightest and heaviest thousand grains that are believed, in g: timothy has 0.4, broad beans have up to
/// 2 000. Outside, the weight is in the wrong unit. From memory, no source.
pub const GRAIN_WEIGHT_G: [f64; 2] = [0.1, 2_500.0];

/// The share of sown seeds that become plants, as a fraction above 0 and up to 1.
///
/// `germination_percent` is from the label; `establishment_percent` is, for [`Joined::Multiply`] and
/// [`Joined::Subtract`], the percent of good seeds that become plants (100 less the field loss), and for
/// [`Joined::Included`] the percent of all seeds, with germination counted already.
///
/// # Errors
/// No germination where the rule needs it; a percentage outside 1 to 100 (0.85 is a fraction, not a
/// percentage); a share of 0 or less.
pub fn plants_per_seed(
    germination_percent: Option<f64>,
    establishment_percent: f64,
    joined: Joined,
) -> Outcome<f64> {
    let establishment = percent("establishment", establishment_percent)?;
    let germination = || match germination_percent {
        Some(value) => percent("germination", value),
        None => Err(no_germination()),
    };
    let share = match joined {
        Joined::Multiply => germination()? / 100.0 * (establishment / 100.0),
        Joined::Subtract => (germination()? - (100.0 - establishment)) / 100.0,
        Joined::Included => establishment / 100.0,
    };
    if share <= 0.0 {
        return Err(Fault::input(
            "agronomy.no_plants",
            Place::nowhere(),
            format!(
                "germination {} % less {} points lost in the field leaves no plants",
                germination_percent.unwrap_or(0.0),
                100.0 - establishment
            ),
            "germination above the points lost",
            "Correct germination or establishment, or join them with germination_joined = \"multiply\".",
        ));
    }
    Ok(share)
}

/// Seeds to sow per m2 for this many plants per m2. 0 plants need 0 seeds.
///
/// `plants_per_seed` is the fraction from [`plants_per_seed`](fn@plants_per_seed), above 0.
pub fn seeds_per_m2(plants_per_m2: f64, plants_per_seed: f64) -> f64 {
    plants_per_m2 / plants_per_seed
}

/// kg/ha for this many seeds per m2 of this thousand-grain weight in g.
///
/// seeds/m2 x 10 000 m2/ha x g/1000 seeds / 1000 g/kg, which is seeds x weight / 100.
pub fn kg_per_ha_of_seeds(seeds_per_m2: f64, thousand_grain_weight_g: f64) -> f64 {
    seeds_per_m2 * thousand_grain_weight_g / 100.0
}

/// kg/ha for this many plants per m2: plants x weight / share / 100.
///
/// # Example
/// Teagasc: 280 plants/m2 of barley with 50.9 g, 95 % germination less 10 points, published 168 kg/ha.
/// ```
/// use twinsow::agronomy::seed::{kg_per_ha_of_plants, plants_per_seed};
/// use twinsow::job::Joined;
/// let share = plants_per_seed(Some(95.0), 90.0, Joined::Subtract).unwrap();
/// assert_eq!(kg_per_ha_of_plants(280.0, 50.9, share).round(), 168.0);
/// ```
pub fn kg_per_ha_of_plants(
    plants_per_m2: f64,
    thousand_grain_weight_g: f64,
    plants_per_seed: f64,
) -> f64 {
    kg_per_ha_of_seeds(
        seeds_per_m2(plants_per_m2, plants_per_seed),
        thousand_grain_weight_g,
    )
}

/// Seeds per m2 that this rate in kg/ha sows: the inverse of [`kg_per_ha_of_seeds`].
///
/// The weight must be above 0; see [`grain_weight`].
pub fn seeds_per_m2_of_kg(kg_per_ha: f64, thousand_grain_weight_g: f64) -> f64 {
    kg_per_ha * 100.0 / thousand_grain_weight_g
}

/// Plants per m2 to expect from this rate in kg/ha: the inverse of [`kg_per_ha_of_plants`].
pub fn plants_per_m2_of_kg(
    kg_per_ha: f64,
    thousand_grain_weight_g: f64,
    plants_per_seed: f64,
) -> f64 {
    seeds_per_m2_of_kg(kg_per_ha, thousand_grain_weight_g) * plants_per_seed
}

/// Plants per m2 of this many plants per metre of row: divided by the row spacing in m, above 0.
///
/// # Example
/// 32.5 plants per metre of rows 12.5 cm apart:
/// ```
/// use twinsow::agronomy::seed::plants_per_m2_of_row;
/// assert_eq!(plants_per_m2_of_row(32.5, 0.125), 260.0);
/// ```
pub fn plants_per_m2_of_row(plants_per_m: f64, row_spacing_m: f64) -> f64 {
    plants_per_m / row_spacing_m
}

/// The establishment in percent that makes this share of seeds (a fraction) into plants: the inverse of
/// [`plants_per_seed`](fn@plants_per_seed). A count may give 0, or more than 100.
///
/// # Errors
/// No germination where the rule needs it; a germination outside 1 to 100.
pub fn establishment_of(
    plants_per_seed: f64,
    germination_percent: Option<f64>,
    joined: Joined,
) -> Outcome<f64> {
    let all = 100.0 * plants_per_seed;
    let germination = || match germination_percent {
        Some(value) => percent("germination", value),
        None => Err(no_germination()),
    };
    Ok(match joined {
        Joined::Multiply => 100.0 * all / germination()?,
        Joined::Subtract => 100.0 - (germination()? - all),
        Joined::Included => all,
    })
}

fn no_germination() -> Box<Fault> {
    Fault::input(
        "agronomy.no_germination",
        Place::nowhere(),
        "a rate from plants/m2 needs the germination, and none is given",
        "'germination_percent' of the product, from the label of the lot",
        "Add germination_percent, or set germination_joined = \"included\" if the establishment counts it already.",
    )
}

/// The thousand-grain weight in g, if there is one and it can be in grams.
///
/// # Errors
/// No weight, or one outside [`GRAIN_WEIGHT_G`].
pub fn grain_weight(thousand_grain_weight_g: Option<f64>) -> Outcome<f64> {
    let [least, most] = GRAIN_WEIGHT_G;
    let next = "Set thousand_grain_weight_g from the label or weigh 1000 seeds; it is in grams per thousand seeds. Before the label is there, 'twinsow order' counts the seeds of a product with label_pending = true.";
    match thousand_grain_weight_g {
        Some(weight) if (least..=most).contains(&weight) => Ok(weight),
        Some(weight) => Err(Fault::input(
            "agronomy.grain_weight",
            Place::nowhere(),
            format!("a thousand-grain weight of {weight} g"),
            format!("{least} to {most} g per thousand seeds"),
            next,
        )),
        None => Err(Fault::input(
            "agronomy.no_grain_weight",
            Place::nowhere(),
            "a rate from plants or seeds per m2 needs the thousand-grain weight, and none is given",
            "'thousand_grain_weight_g' of the product",
            next,
        )),
    }
}

/// A percentage from 1 to 100.
fn percent(name: &str, value: f64) -> Outcome<f64> {
    if (1.0..=100.0).contains(&value) {
        return Ok(value);
    }
    let next = if value > 0.0 && value < 1.0 {
        format!("Write {} if a share of {value} is meant.", value * 100.0)
    } else {
        format!("Correct the {name}.")
    };
    Err(Fault::input(
        "agronomy.percent",
        Place::nowhere(),
        format!("a {name} of {value} %"),
        "1 to 100 percent",
        next,
    ))
}
