//! The base of a rate: the one rule that a product names.

use super::class::{Found, look_up};
use super::library::Tables;
use super::reasons::{RateSoFar, Step};
use super::recommend::{self, Recommended};
use super::{Rule, Why, nutrient, placed, seed, stand};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{ByDate, FromTable, Job, Joined, Lookup, Nutrient, Product, day_number};
use crate::texts::Words;
use crate::texts::quantity::{
    Given, GivenDensity, GivenRate, GrainWeight, Rate, TenthDensity, TenthRate,
};
use crate::zones::Facts;

/// The nutrients that a rate answers for.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Needed {
    /// The one that decided the rate.
    pub deciding: Option<Nutrient>,
    /// All needs that are known, kg/ha.
    pub all: Vec<(Nutrient, f64)>,
}

/// Takes the first step of a rate.
///
/// # Errors
/// None or several of the ways to name a rate; a number that is missing or cannot be.
pub(super) fn begin(
    job: &Job,
    tables: &Tables,
    product: &Product,
    facts: &Facts,
    so_far: &mut RateSoFar,
) -> Outcome<Needed> {
    let rule = &product.rate;
    let words = Words::of(job);
    let look = |lookup: &Lookup, key: &str| look_up(job, lookup, key, facts);
    if let (Some(from), None, None, None, None) = (
        &rule.need_from_table,
        &rule.kg_per_ha,
        &rule.seeds_per_m2,
        &rule.plants_per_m2,
        &rule.need_kg_per_ha,
    ) {
        return from_table(job, tables, product, from, facts, so_far);
    }
    match (
        &rule.kg_per_ha,
        &rule.seeds_per_m2,
        &rule.plants_per_m2,
        &rule.need_kg_per_ha,
    ) {
        (Some(lookup), None, None, None) => direct(&look(lookup, "rate.kg_per_ha")?, words, so_far),
        (None, Some(lookup), None, None) => {
            let wanted = dated(job, product, look(lookup, "rate.seeds_per_m2")?);
            seeds(product, &wanted, so_far)
        }
        (None, None, Some(lookup), None) => {
            let plants = dated(job, product, look(lookup, "rate.plants_per_m2")?);
            if plants.value == 0.0 {
                // Land that wants no plants needs no establishment either.
                nothing_wanted(&plants, words, so_far)?;
                return Ok(Needed::default());
            }
            let establishment = match &rule.establishment_percent {
                Some(lookup) => look(lookup, "rate.establishment_percent")?,
                None => return Err(no_establishment()),
            };
            population(product, &plants, &establishment, words, so_far)
        }
        (None, None, None, Some(lookup)) => {
            let mut found = look(lookup, "rate.need_kg_per_ha")?;
            if let (Some(of), Some(grade)) = (rule.nutrient, &product.grade)
                && let Some(left) = placed::left(job, facts, of, found.value)?
            {
                left.say(grade, so_far)?;
                found.value = left.left_kg_per_ha;
            }
            need(product, rule.nutrient, &found, words, so_far)?;
            return Ok(Needed {
                deciding: rule.nutrient,
                all: rule
                    .nutrient
                    .map(|of| (of, found.value))
                    .into_iter()
                    .collect(),
            });
        }
        _ => Err(Fault::input(
            "agronomy.rate_rule",
            Place::nowhere(),
            "the rate is named in no way, or in several",
            "exactly one of kg_per_ha, seeds_per_m2, plants_per_m2, need_kg_per_ha and need_from_table",
            "Keep the one that is meant.",
        )),
    }?;
    Ok(Needed::default())
}

/// A population with what the sowing date adds to it. Where none is wanted, the date changes nothing.
fn dated(job: &Job, product: &Product, found: Found) -> Found {
    let more = more_on(job, product);
    if more == 0.0 || found.value == 0.0 {
        return found;
    }
    let date = job.sowing_date.as_deref().unwrap_or_default();
    Found {
        value: found.value + more,
        on: Words::of(job).say(&Why::OnDate {
            on: found.on,
            before: GivenDensity(found.value),
            more: TenthDensity(more),
            date: date.to_owned(),
        }),
    }
}

/// What the sowing date adds to the population of a product, per m2.
pub(super) fn more_on(job: &Job, product: &Product) -> f64 {
    let day = job.sowing_date.as_deref().and_then(day_number);
    day.map_or(0.0, |day| more_per_m2(&product.rate.by_date, day))
}

/// What a day adds: on a straight line between two dates, as on the first before it and as on the last after it.
fn more_per_m2(dates: &[ByDate], day: i64) -> f64 {
    let points: Vec<(i64, f64)> = dates
        .iter()
        .filter_map(|entry| Some((day_number(&entry.date)?, entry.more_per_m2?)))
        .collect();
    let before = points.iter().rfind(|(at, _)| *at <= day);
    let after = points.iter().find(|(at, _)| *at > day);
    match (before, after) {
        (Some((from, low)), Some((to, high))) => {
            low + (high - low) * (day - from) as f64 / (to - from) as f64
        }
        (Some((_, only)), None) | (None, Some((_, only))) => *only,
        (None, None) => 0.0,
    }
}

fn direct(rate: &Found, words: Words, so_far: &mut RateSoFar) -> Outcome<()> {
    so_far.take(Step {
        rule: Rule::RateDirect,
        why: Why::RateDirect {
            rate: GivenRate(rate.value),
            place: place(rate, words),
        },
        inputs: &[("kg/ha", rate.value)],
        kg_per_ha: rate.value,
        source: None,
    })
}

fn seeds(product: &Product, seeds: &Found, so_far: &mut RateSoFar) -> Outcome<()> {
    let weight = seed::grain_weight(product.thousand_grain_weight_g)?;
    let kg_per_ha = seed::kg_per_ha_of_seeds(seeds.value, weight);
    so_far.take(Step {
        rule: Rule::SeedSeeds,
        why: Why::SeedSeeds {
            seeds: GivenDensity(seeds.value),
            on: seeds.on.clone(),
            weight: GrainWeight(weight),
            rate: Rate(kg_per_ha),
        },
        inputs: &[
            ("seeds/m2", seeds.value),
            ("thousand-grain weight g", weight),
        ],
        kg_per_ha,
        source: Some(seed::SOURCE_SEEDS.into()),
    })
}

fn population(
    product: &Product,
    plants: &Found,
    establishment: &Found,
    words: Words,
    so_far: &mut RateSoFar,
) -> Outcome<()> {
    let weight = seed::grain_weight(product.thousand_grain_weight_g)?;
    let joined = product.rate.germination_joined;
    let share = seed::plants_per_seed(product.germination_percent, establishment.value, joined)?;
    let kg_per_ha = seed::kg_per_ha_of_plants(plants.value, weight, share);
    let germination = product.germination_percent.unwrap_or(100.0);
    let per_seed = words.say(&stand::per_seed(product, establishment.value));
    let bracketed = |share| words.say(&Why::InBrackets { share });
    let (per_seed, source) = match joined {
        Joined::Multiply => (bracketed(per_seed), seed::SOURCE_MULTIPLY),
        Joined::Subtract => (bracketed(per_seed), seed::SOURCE_SUBTRACT),
        Joined::Included => (per_seed, seed::SOURCE_INCLUDED),
    };
    // Plants and establishment may come from different layers; one that both name is said once.
    let on = match plants.on == establishment.on {
        true => plants.on.clone(),
        false => format!("{}{}", plants.on, establishment.on),
    };
    let mut inputs = vec![
        ("plants/m2", plants.value),
        ("thousand-grain weight g", weight),
        ("establishment %", establishment.value),
        ("plants per seed", share),
    ];
    if joined != Joined::Included {
        inputs.insert(2, ("germination %", germination));
    }
    so_far.take(Step {
        rule: Rule::SeedPopulation,
        why: Why::SeedPopulation {
            plants: GivenDensity(plants.value),
            weight: GrainWeight(weight),
            per_seed,
            rate: Rate(kg_per_ha),
            on,
        },
        inputs: &inputs,
        kg_per_ha,
        source: Some(source.into()),
    })
}

fn nothing_wanted(plants: &Found, words: Words, so_far: &mut RateSoFar) -> Outcome<()> {
    so_far.take(Step {
        rule: Rule::SeedPopulation,
        why: Why::NoPlants {
            plants: GivenDensity(0.0),
            place: place(plants, words),
            rate: Rate(0.0),
        },
        inputs: &[("plants/m2", 0.0)],
        kg_per_ha: 0.0,
        source: None,
    })
}

fn need(
    product: &Product,
    nutrient: Option<Nutrient>,
    need: &Found,
    words: Words,
    so_far: &mut RateSoFar,
) -> Outcome<()> {
    let (Some(nutrient), Some(grade)) = (nutrient, &product.grade) else {
        return Err(no_grade());
    };
    let kg_per_ha = nutrient::product_kg_per_ha(need.value, grade, nutrient)?;
    let percent = nutrient::percent_of(grade, nutrient);
    let also: Vec<String> = nutrient::NUTRIENTS
        .into_iter()
        .filter(|other| {
            *other != nutrient && nutrient::percent_of(grade, *other) > 0.0 && kg_per_ha > 0.0
        })
        .map(|other| {
            let supply = nutrient::supply_kg_per_ha(kg_per_ha, grade, other);
            words.say(&Why::Brought {
                supply: TenthRate(supply),
                symbol: nutrient::symbol(other),
            })
        })
        .collect();
    let also = match also.is_empty() {
        true => String::new(),
        false => words.say(&Why::Also {
            brought: also.join(words.text(&Why::And)),
        }),
    };
    so_far.take(Step {
        rule: Rule::NutrientGrade,
        why: Why::Grade {
            need: GivenRate(need.value),
            symbol: nutrient::symbol(nutrient),
            on: need.on.clone(),
            percent: Given(percent),
            rate: Rate(kg_per_ha),
            also,
        },
        inputs: &[("need kg/ha", need.value), ("grade %", percent)],
        kg_per_ha,
        source: Some(nutrient::SOURCE_GRADE.into()),
    })
}

/// The need of a table, and the product that meets it.
fn from_table(
    job: &Job,
    tables: &Tables,
    product: &Product,
    from: &FromTable,
    facts: &Facts,
    so_far: &mut RateSoFar,
) -> Outcome<Needed> {
    let (Some(own), Some(grade)) = (product.rate.nutrient, &product.grade) else {
        return Err(no_grade());
    };
    let mut needs = recommend::needs(job, tables, from, own, facts)?;
    let wanted: Vec<f64> = needs.iter().map(|of| of.need.kg_per_ha).collect();
    let mut less = Vec::new();
    for known in &mut needs {
        let left = placed::left(job, facts, known.nutrient, known.need.kg_per_ha)?;
        if let Some(left) = &left {
            known.need.kg_per_ha = left.left_kg_per_ha;
        }
        less.push(left);
    }
    let place = recommend::deciding(&needs, from.decides, grade)?;
    let (
        Some(Recommended {
            nutrient: of,
            need: found,
            index,
            value,
            on,
        }),
        Some(wanted),
    ) = (needs.get(place), wanted.get(place))
    else {
        return Err(no_grade());
    };
    let words = Words::of(job);
    let decided = match needs.len() > 1 && from.decides == crate::job::Decides::LargestNeed {
        true => words.say(&Why::Decided {
            count: needs.len(),
            symbol: nutrient::symbol(*of),
        }),
        false => String::new(),
    };
    let mut inputs = vec![
        ("table kg/ha", found.table_kg_per_ha),
        ("need kg/ha", *wanted),
    ];
    if let Some((name, value)) = value {
        inputs.insert(0, (name.as_str(), *value));
    }
    so_far.take(Step {
        rule: Rule::NutrientRecommendation,
        why: Why::Recommendation {
            index: index.clone(),
            need: words.say(&found.said),
            decided,
        },
        inputs: &inputs,
        // A step that only finds the need already carries the rate it leads to.
        kg_per_ha: nutrient::product_kg_per_ha(*wanted, grade, *of)?,
        source: Some(found.source.clone().into()),
    })?;
    if let Some(Some(left)) = less.get(place) {
        left.say(grade, so_far)?;
    }
    let step = Found {
        value: found.kg_per_ha,
        on: on.clone(),
    };
    need(product, Some(*of), &step, words, so_far)?;
    Ok(Needed {
        deciding: Some(*of),
        all: needs
            .iter()
            .map(|known| (known.nutrient, known.need.kg_per_ha))
            .collect(),
    })
}

fn no_grade() -> Box<Fault> {
    Fault::input(
        "agronomy.no_grade",
        Place::nowhere(),
        "a rate from a need lacks the nutrient or the product's grade",
        "'rate.nutrient' (n, p2o5 or k2o) and the product's 'grade'",
        "Add what is missing.",
    )
}

fn no_establishment() -> Box<Fault> {
    Fault::input(
        "agronomy.no_establishment",
        Place::nowhere(),
        "a rate from plants/m2 needs the establishment, and none is given",
        "'rate.establishment_percent', one number or one by class",
        "Add it. A published guide has 90 % on sands and 65 % on loams and clays for wheat (HGCA, The wheat growth guide, 2008, page 8).",
    )
}

/// Where a number holds, for the end of a sentence.
fn place(found: &Found, words: Words) -> String {
    match found.on.is_empty() {
        true => words.say(&Why::WholeField),
        false => found.on.clone(),
    }
}
