//! The numbers of a job that are held against what is published about a crop.

use super::published::Quantity;
use crate::agronomy::base::more_on;
use crate::agronomy::{seed, text};
use crate::job::{ByClass, Combined, Job, Lookup, Part, Product, Trial};

/// A number of the job with where it stands.
pub(super) struct Given {
    pub value: f64,
    /// To follow the number: nothing, or ` for 'clay'`.
    pub of: String,
}

/// A number of each lot, or of the product where there are none.
pub(super) fn of_lots(product: &Product, number: fn(&Product) -> Option<f64>) -> Vec<Given> {
    let given = |own: &Product, of: String| number(own).map(|value| Given { value, of });
    match product.each_lot() {
        [] => given(product, String::new()).into_iter().collect(),
        lots => lots
            .iter()
            .filter_map(|lot| given(&product.as_lot(lot), format!(" of lot '{}'", lot.lot)))
            .collect(),
    }
}

/// The same numbers in another unit of measure.
pub(super) fn converted(given: Vec<Given>, turned: impl Fn(f64) -> f64) -> Vec<Given> {
    let each = given.into_iter();
    each.map(|own| Given {
        value: turned(own.value),
        of: own.of,
    })
    .collect()
}

/// Depth of a seed: its own, or that of another product that falls from the same outlets.
pub(super) fn depth(job: &Job, product: &Product) -> Vec<Given> {
    let mut stream = job.products.iter().filter(|own| !own.surface_applied);
    let shared = match product.surface_applied {
        true => None,
        false => stream.find_map(|own| own.depth_mm),
    };
    let depth = product.depth_mm.or(shared);
    let given = depth.map(|value| Given {
        value,
        of: String::new(),
    });
    given.into_iter().collect()
}

/// The numbers that name the rate of a seed, those of trials among them.
pub(super) fn rate(job: &Job, product: &Product) -> (Quantity, Vec<Given>) {
    let (quantity, mut given) = by_rule(job, product);
    let of_trials: Vec<Given> = job
        .trials
        .iter()
        .flat_map(|trial| of_trial(job, product, trial, quantity, &given))
        .collect();
    given.extend(of_trials);
    (quantity, given)
}

/// What a trial asks for of a seed, in the measure of its rule; `map` are the numbers of the rule.
fn of_trial(
    job: &Job,
    product: &Product,
    trial: &Trial,
    quantity: Quantity,
    map: &[Given],
) -> Vec<Given> {
    let within = |value: f64, of: &str| Given {
        value,
        of: format!("{of} in the trial '{}'", trial.name),
    };
    let times = trial.times_map_of(job, product).into_iter().flatten();
    let mut given: Vec<Given> = times
        .flat_map(|times| map.iter().map(move |own| (own.value * times, &own.of)))
        .map(|(value, of)| within(value, of))
        .collect();
    for kg_per_ha in trial.kg_per_ha_of(product) {
        if quantity == Quantity::Rate {
            given.push(within(kg_per_ha, ""));
        }
        for own in product.every() {
            let Some(weight) = own.thousand_grain_weight_g else {
                continue;
            };
            let seeds = seed::seeds_per_m2_of_kg(kg_per_ha, weight);
            match quantity {
                Quantity::Seeds => given.push(within(seeds, "")),
                Quantity::Plants => {
                    let each = plants_of_each_seed(product, &own).into_iter();
                    given.extend(each.map(|(each, of)| within(seeds * each, &of)));
                }
                _ => {}
            }
        }
    }
    given
}

/// Plants that come of a seed of a lot, by each establishment of the rule, above 0.
fn plants_of_each_seed(product: &Product, lot: &Product) -> Vec<(f64, String)> {
    let rule = &product.rate;
    let established = rule.establishment_percent.as_ref().map(of_lookup);
    let each = established.unwrap_or_default().into_iter();
    let each = each.filter_map(|share| {
        let joined = rule.germination_joined;
        let each = seed::plants_per_seed(lot.germination_percent, share.value, joined);
        Some((each.ok().filter(|each| *each > 0.0)?, share.of))
    });
    each.collect()
}

/// The numbers of the rule itself.
fn by_rule(job: &Job, product: &Product) -> (Quantity, Vec<Given>) {
    let rule = &product.rate;
    let more = more_on(job, product);
    let numbers = |lookup: &Option<Lookup>, more: f64| {
        let mut given = lookup.as_ref().map(of_lookup).unwrap_or_default();
        given.retain(|own| own.value != 0.0);
        given.iter_mut().for_each(|own| own.value += more);
        given
    };
    if rule.plants_per_m2.is_some() {
        (Quantity::Plants, numbers(&rule.plants_per_m2, more))
    } else if rule.seeds_per_m2.is_some() {
        (Quantity::Seeds, numbers(&rule.seeds_per_m2, more))
    } else {
        (Quantity::Rate, numbers(&rule.kg_per_ha, 0.0))
    }
}

/// What comes of plants, germination and establishment, kg/ha. Plants and establishment that both differ by class go
/// together where the class is the same.
pub(super) fn of_plants(job: &Job, product: &Product) -> Vec<Given> {
    let rule = &product.rate;
    let (Quantity::Plants, plants) = by_rule(job, product) else {
        return Vec::new();
    };
    let established = rule
        .establishment_percent
        .as_ref()
        .map(of_lookup)
        .unwrap_or_default();
    let mut given = Vec::new();
    for own in product.every() {
        let Some(weight) = own.thousand_grain_weight_g else {
            continue;
        };
        for plants in &plants {
            for share in &established {
                let both = !plants.of.is_empty() && !share.of.is_empty();
                if both && plants.of != share.of {
                    continue;
                }
                let of = match share.of.is_empty() {
                    true => plants.of.clone(),
                    false => share.of.clone(),
                };
                let joined = rule.germination_joined;
                let each = seed::plants_per_seed(own.germination_percent, share.value, joined);
                if let Some(each) = each.ok().filter(|each| *each > 0.0) {
                    let value = seed::kg_per_ha_of_plants(plants.value, weight, each);
                    given.push(Given { value, of });
                }
            }
        }
    }
    given
}

/// Every number that a lookup can give: of sums and products the least and the most.
fn of_lookup(lookup: &Lookup) -> Vec<Given> {
    let one = |value, of: &str| Given {
        value,
        of: of.to_owned(),
    };
    match lookup {
        Lookup::Same(value) => vec![one(*value, "")],
        Lookup::ByClass(table) => of_table(table),
        Lookup::Combined(Combined {
            first,
            sum,
            product,
            otherwise,
        }) => {
            let rules = first.iter().map(|rule| rule.value).chain(*otherwise);
            let mut given: Vec<Given> = rules.map(|value| one(value, "")).collect();
            let ends = |parts: &[Part], join: fn(f64, f64) -> f64, start: f64| {
                let least = parts
                    .iter()
                    .map(|part| part_ends(part)[0])
                    .fold(start, join);
                let most = parts
                    .iter()
                    .map(|part| part_ends(part)[1])
                    .fold(start, join);
                [one(least, " at the least"), one(most, " at the most")]
            };
            if !sum.is_empty() {
                given.extend(ends(sum, |a, b| a + b, 0.0));
            }
            if !product.is_empty() {
                given.extend(ends(product, |a, b| a * b, 1.0));
            }
            given
        }
    }
}

fn of_table(table: &ByClass) -> Vec<Given> {
    let classes = table.by_class.iter();
    let classes = classes.map(|(class, value)| Given {
        value: *value,
        of: format!(" for '{class}'"),
    });
    let points = table.curve.iter();
    let points = points.map(|point| Given {
        value: point.value,
        of: format!(" at {}", text::given(point.at)),
    });
    let rest = table.otherwise.map(|value| Given {
        value,
        of: " otherwise".to_owned(),
    });
    classes.chain(points).chain(rest).collect()
}

fn part_ends(part: &Part) -> [f64; 2] {
    match part {
        Part::Same(value) => [*value, *value],
        Part::ByClass(table) => {
            let values = of_table(table).into_iter().map(|own| own.value);
            let start = [f64::INFINITY, f64::NEG_INFINITY];
            values.fold(start, |[least, most], value| {
                [least.min(value), most.max(value)]
            })
        }
    }
}
