//! What the rate of a product needs and excludes.

use super::product::{Joined, Kind, Lookup, Nutrient, Product, RateRule};
use super::rules::{Check, at, listed};

/// Highest rate in kg/ha that goes through an air stream; what is spread on the surface may have
/// more. Common practice, no source: dense seed and fertiliser stay below half of it.
const MOST_IN_AIR_STREAM: f64 = 2000.0;

/// Checks one product.
pub(super) fn check(check: &mut Check<'_>, n: usize, product: &Product) {
    kind(check, n, product);
    sources(check, n, product);
    needs(check, n, product);
    limits(check, n, product);
    let rate = &product.rate;
    for (key, lookup) in lookups(rate) {
        table(check, at!["product", n, "rate", key], lookup);
    }
    for (m, adjustment) in product.adjustments.iter().enumerate() {
        table(
            check,
            at!["product", n, "adjust", m, "percent"],
            &adjustment.percent,
        );
    }
    if let (Some(lookup), false) = (&rate.kg_per_ha, product.surface_applied) {
        let highest = values(lookup).fold(0.0, f64::max);
        if highest > MOST_IN_AIR_STREAM {
            check.add(
                at!["product", n, "rate", "kg_per_ha"],
                format!("kg_per_ha = {highest} looks like the kilograms for a whole field"),
                format!("up to {MOST_IN_AIR_STREAM} kg/ha through the air stream"),
                "write kilograms per hectare",
            );
        }
    }
}

/// The lookups of a rate rule with their keys.
fn lookups(rate: &RateRule) -> Vec<(&'static str, &Lookup)> {
    let all = [
        ("kg_per_ha", &rate.kg_per_ha),
        ("seeds_per_m2", &rate.seeds_per_m2),
        ("plants_per_m2", &rate.plants_per_m2),
        ("need_kg_per_ha", &rate.need_kg_per_ha),
        ("establishment_percent", &rate.establishment_percent),
    ];
    all.into_iter()
        .filter_map(|(key, lookup)| lookup.as_ref().map(|lookup| (key, lookup)))
        .collect()
}

/// Every number that a lookup can give; none for sums and products, which are known on land only.
pub(crate) fn values(lookup: &Lookup) -> impl Iterator<Item = f64> + '_ {
    let (otherwise, numbers): (Option<f64>, Vec<f64>) = match lookup {
        Lookup::Same(number) => (Some(*number), Vec::new()),
        Lookup::ByClass(table) => {
            let curve = table.curve.iter().map(|point| point.value);
            let all = table.by_class.values().copied().chain(curve);
            (table.otherwise, all.collect())
        }
        Lookup::Combined(combined) => {
            let rules = combined.first.iter().map(|rule| rule.value);
            (combined.otherwise, rules.collect())
        }
    };
    otherwise.into_iter().chain(numbers)
}

/// Settings that belong to the other kind of product.
fn kind(check: &mut Check<'_>, n: usize, product: &Product) {
    let seed_only = [
        (
            "thousand_grain_weight_g",
            product.thousand_grain_weight_g.is_some(),
        ),
        ("germination_percent", product.germination_percent.is_some()),
    ];
    let seed_rate = [
        ("seeds_per_m2", product.rate.seeds_per_m2.is_some()),
        ("plants_per_m2", product.rate.plants_per_m2.is_some()),
        (
            "establishment_percent",
            product.rate.establishment_percent.is_some(),
        ),
    ];
    let advice = "remove it, or correct 'kind'";
    match product.kind {
        Kind::Fertiliser => {
            for (key, _) in seed_only.iter().filter(|(_, given)| *given) {
                let found = format!("'{key}' is given for the fertiliser '{}'", product.id);
                check.add(
                    at!["product", n, key],
                    found,
                    "this key for seed only",
                    advice,
                );
            }
            for (key, _) in seed_rate.iter().filter(|(_, given)| *given) {
                let found = format!("'{key}' is given for the fertiliser '{}'", product.id);
                check.add(
                    at!["product", n, "rate", key],
                    found,
                    "this key for seed only",
                    advice,
                );
            }
        }
        Kind::Seed => {
            if product.grade.is_some() {
                let found = format!("'grade' is given for the seed '{}'", product.id);
                check.add(
                    at!["product", n, "grade"],
                    found,
                    "a grade for fertiliser only",
                    advice,
                );
            }
            if let Some(key) = need_key(product) {
                let found = format!("'{key}' is given for the seed '{}'", product.id);
                let path = at!["product", n, "rate", key];
                check.add(path, found, "a nutrient need for fertiliser only", advice);
            }
        }
    }
    if let Some(grade) = product.grade {
        let sum = grade.n_percent
            + grade.p2o5_percent
            + grade.k2o_percent
            + grade.s_percent.unwrap_or_default()
            + grade.boron_percent;
        let path = at!["product", n, "grade"];
        if sum > 100.0 {
            let found = format!("the grade of '{}' adds up to {sum} percent", product.id);
            check.add(
                path,
                found,
                "up to 100 percent",
                "write percent of weight as on the label",
            );
        } else if sum > 0.0 && sum <= 1.0 {
            let found = format!("the grade of '{}' adds up to {sum} percent", product.id);
            let allowed = "percent of weight, such as n_percent = 12";
            check.add(
                path,
                found,
                allowed,
                "write percent, not fractions: 12, not 0.12",
            );
        }
    }
}

/// Exactly one source of the rate.
fn sources(check: &mut Check<'_>, n: usize, product: &Product) {
    let given: Vec<&str> = lookups(&product.rate)
        .into_iter()
        .map(|(key, _)| key)
        .filter(|key| *key != "establishment_percent")
        .chain(
            product
                .rate
                .need_from_table
                .is_some()
                .then_some("need_from_table"),
        )
        .collect();
    let allowed = match product.kind {
        Kind::Seed => "exactly one of kg_per_ha, seeds_per_m2, plants_per_m2",
        Kind::Fertiliser => "exactly one of kg_per_ha, need_kg_per_ha, need_from_table",
    };
    match given.as_slice() {
        [_] => {}
        [] => {
            let found = format!("product '{}' has no rate", product.id);
            check.add(
                at!["product", n, "rate"],
                found,
                allowed,
                "add one of them to [product.rate]",
            );
        }
        [.., last] => {
            let keys = listed(given.iter().copied(), "");
            let found = format!("product '{}' has {} rates: {keys}", product.id, given.len());
            check.add(
                at!["product", n, "rate", last],
                found,
                allowed,
                "keep the one that counts",
            );
        }
    }
}

/// What each source of a rate needs.
fn needs(check: &mut Check<'_>, n: usize, product: &Product) {
    let rate = &product.rate;
    let id = &product.id;
    let by_plants = rate.plants_per_m2.is_some();
    if product.kind == Kind::Seed && (by_plants || rate.seeds_per_m2.is_some()) {
        let key = if by_plants {
            "plants_per_m2"
        } else {
            "seeds_per_m2"
        };
        let mut missing = Vec::new();
        let every = product.every();
        let heavy = every
            .iter()
            .all(|own| own.thousand_grain_weight_g.is_some());
        if !heavy && !product.label_pending {
            missing.push("thousand_grain_weight_g in [[product]]");
        }
        if by_plants
            && every.iter().any(|own| own.germination_percent.is_none())
            && rate.germination_joined != Joined::Included
        {
            missing.push("germination_percent in [[product]]");
        }
        if by_plants && rate.establishment_percent.is_none() {
            missing.push("establishment_percent in [product.rate]");
        }
        for what in missing {
            check.add(
                at!["product", n, "rate", key],
                format!("'{key}' of '{id}' cannot be turned into kg/ha without {what}"),
                format!("'{key}' together with {what}"),
                format!("add {what}; take it from the label or from your own counts"),
            );
        }
    }
    if rate.establishment_percent.is_some() && !by_plants && product.kind == Kind::Seed {
        expected(check, n, product);
    }
    joined(check, n, product);
    match (need_key(product), rate.nutrient) {
        (Some(key), None) => check.add(
            at!["product", n, "rate", key],
            format!("'{key}' of '{id}' does not say of which nutrient"),
            "nutrient = \"n\", \"p2o5\" or \"k2o\" beside it",
            "add 'nutrient' to [product.rate]",
        ),
        (None, Some(_)) => check.add(
            at!["product", n, "rate", "nutrient"],
            format!("'nutrient' of '{id}' counts only with 'need_kg_per_ha' or 'need_from_table'"),
            "a nutrient together with its need",
            "remove it, or give its need",
        ),
        (Some(need), Some(nutrient)) if product.kind == Kind::Fertiliser => {
            let (key, percent) = in_grade(product, nutrient);
            if percent <= 0.0 {
                check.add(
                    at!["product", n, "rate", need],
                    format!("'{id}' holds nothing of the nutrient that is needed: {key} is 0 or not given"),
                    format!("a grade with {key} above 0"),
                    format!("add grade = {{ {key} = ... }} to the product, from its label"),
                );
            }
        }
        _ => {}
    }
}

/// What it takes to tell the plants that a rate in kilograms or seeds gives.
fn expected(check: &mut Check<'_>, n: usize, product: &Product) {
    let every = product.every();
    let mut missing = Vec::new();
    let heavy = every
        .iter()
        .all(|own| own.thousand_grain_weight_g.is_some());
    if !heavy && product.rate.seeds_per_m2.is_none() {
        missing.push("thousand_grain_weight_g");
    }
    if every.iter().any(|own| own.germination_percent.is_none())
        && product.rate.germination_joined != Joined::Included
    {
        missing.push("germination_percent");
    }
    for key in missing {
        check.add(
            at!["product", n, "rate", "establishment_percent"],
            format!(
                "the plants to expect of '{}' cannot be told without {key}",
                product.id
            ),
            format!("'establishment_percent' together with {key} in [[product]]"),
            format!("add {key}, or remove establishment_percent"),
        );
    }
}

/// The key of the product's need of a nutrient, if it has one.
fn need_key(product: &Product) -> Option<&'static str> {
    let rate = &product.rate;
    let direct = rate.need_kg_per_ha.as_ref().map(|_| "need_kg_per_ha");
    direct.or(rate.need_from_table.as_ref().map(|_| "need_from_table"))
}

fn in_grade(product: &Product, nutrient: Nutrient) -> (&'static str, f64) {
    let grade = product.grade.unwrap_or_default();
    match nutrient {
        Nutrient::N => ("n_percent", grade.n_percent),
        Nutrient::P2o5 => ("p2o5_percent", grade.p2o5_percent),
        Nutrient::K2o => ("k2o_percent", grade.k2o_percent),
    }
}

/// Points taken off must leave something.
fn joined(check: &mut Check<'_>, n: usize, product: &Product) {
    let rate = &product.rate;
    let (Some(establishment), Some(germination)) =
        (&rate.establishment_percent, product.germination_percent)
    else {
        return;
    };
    if rate.germination_joined != Joined::Subtract {
        return;
    }
    if let Some(lowest) = values(establishment).reduce(f64::min)
        && germination - (100.0 - lowest) <= 0.0
    {
        check.add(
            at!["product", n, "rate", "establishment_percent"],
            format!(
                "of {germination} percent germination nothing is left after losing {} points",
                100.0 - lowest
            ),
            "germination above the points lost in the field",
            "correct germination_percent or establishment_percent, or set germination_joined = \"multiply\"",
        );
    }
}

fn limits(check: &mut Check<'_>, n: usize, product: &Product) {
    let limits = &product.limits;
    if let (Some(min), Some(max)) = (limits.min_kg_per_ha, limits.max_kg_per_ha)
        && min > max
    {
        check.add(
            at!["product", n, "limits", "min_kg_per_ha"],
            format!(
                "the lowest rate of '{}', {min} kg/ha, is above the highest, {max} kg/ha",
                product.id
            ),
            "min_kg_per_ha up to max_kg_per_ha",
            "correct one of the two",
        );
    }
    if let (Some(step), Some(max)) = (limits.step_kg_per_ha, limits.max_kg_per_ha)
        && step > max
    {
        check.add(
            at!["product", n, "limits", "step_kg_per_ha"],
            format!(
                "the step of '{}', {step} kg/ha, is above its highest rate, {max} kg/ha",
                product.id
            ),
            "a step up to max_kg_per_ha",
            "correct one of the two",
        );
    }
    if let Some(label) = limits.label_max_kg_per_ha {
        let others = [
            (
                at!["product", n, "limits", "min_kg_per_ha"].to_vec(),
                limits.min_kg_per_ha,
            ),
            (
                at!["product", n, "fallback_kg_per_ha"].to_vec(),
                product.fallback_kg_per_ha,
            ),
        ];
        for (path, rate) in others {
            if rate.is_some_and(|rate| rate > label) {
                check.add(
                    &path,
                    format!(
                        "a rate of '{}' is set above what its label allows, {label} kg/ha",
                        product.id
                    ),
                    "rates up to label_max_kg_per_ha",
                    "lower it, or correct label_max_kg_per_ha",
                );
            }
        }
    }
    if let (Some(fallback), Some(max)) = (product.fallback_kg_per_ha, limits.max_kg_per_ha)
        && fallback > max
    {
        check.add(
            at!["product", n, "fallback_kg_per_ha"],
            format!(
                "the fallback of '{}', {fallback} kg/ha, is above its highest rate, {max} kg/ha",
                product.id
            ),
            "a fallback up to max_kg_per_ha",
            "correct one of the two",
        );
    }
}

/// A lookup by class: its layer exists, and it names a class.
pub(super) fn table(check: &mut Check<'_>, path: &[String], lookup: &Lookup) {
    let table = match lookup {
        Lookup::Same(_) => return,
        Lookup::Combined(combined) => return super::combined::check(check, path, combined),
        Lookup::ByClass(table) => table,
    };
    known_layer(check, &[path, at!["layer"]].concat(), &table.layer);
    let ascending = |pair: &[super::CurvePoint]| match pair {
        [low, high] => low.at < high.at,
        _ => true,
    };
    let descends = !table.curve.windows(2).all(ascending);
    if !table.curve.is_empty() && (descends || !table.by_class.is_empty()) {
        let path = [path, at!["curve"]].concat();
        check.add(
            &path,
            "a curve stands beside by_class, or its points do not ascend",
            "by_class or a curve, the points in order of 'at', each place once",
            "keep one of the two, or put the points in order",
        );
    }
    if table.by_class.is_empty() && table.curve.is_empty() && table.otherwise.is_none() {
        check.add(
            path,
            "the table names no class",
            "by_class = { \"class\" = number }, or 'otherwise'",
            "add the classes of the layer; 'twinsow describe' lists them",
        );
    }
}

/// A name of a layer that the job has to have.
pub(super) fn known_layer(check: &mut Check<'_>, path: &[String], layer: &str) {
    let job = check.job;
    if job.layers.iter().any(|known| known.name == layer) {
        return;
    }
    let names: Vec<&str> = job.layers.iter().map(|layer| layer.name.as_str()).collect();
    let next = match super::keys::meant(layer, &names) {
        Some(meant) => format!("did you mean '{meant}'?"),
        None => "use the name of a layer, or add a [[layer]]".to_owned(),
    };
    let known = listed(names.into_iter(), "no [[layer]] is given");
    check.add(path, format!("no layer is called '{layer}'"), known, next);
}
