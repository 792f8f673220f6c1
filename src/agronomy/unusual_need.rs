//! Fertiliser far beyond every recommendation that is built in: a slip of the decimal point, or the whole field's kilograms.
//! What cannot lie beside the seed of it would be ordered for broadcasting all the same.

use super::chain::job_file;
use super::{nutrient, tables, text};
use crate::findings::{Decision, Extent, Finding};
use crate::job::{Job, Lookup, Nutrient, Product, numbers_of};

/// Beyond the highest recommendation by this factor somebody is asked: soils and yields beyond a table's last class are
/// allowed for. Our own choice, no source.
const FAR: f64 = 1.5;

/// A decision for each fertiliser that brings more of a nutrient than any built-in table recommends, by far.
pub(super) fn check(job: &Job) -> Vec<Finding> {
    let each = job.products.iter();
    each.filter_map(|product| of_product(job, product))
        .collect()
}

fn of_product(job: &Job, product: &Product) -> Option<Finding> {
    let grade = product.grade?;
    let rule = &product.rate;
    let most_of = |lookup: &Option<Lookup>| {
        let values = lookup.iter().flat_map(numbers_of);
        values.reduce(f64::max)
    };
    // What a trial asks for is what is placed.
    let whole = 100.0 / rule.placed_percent.filter(|of| *of > 0.0).unwrap_or(100.0);
    let of_trials = job.trials.iter().flat_map(|trial| {
        let own = trial.kg_per_ha_of(product).into_iter();
        own.map(move |rate| (rate * whole, Some(trial)))
    });
    let of_rule = most_of(&rule.kg_per_ha).map(|rate| (rate, None));
    let rate = of_rule.into_iter().chain(of_trials);
    let rate = rate.reduce(|a, b| if b.0 > a.0 { b } else { a });
    let need = most_of(&rule.need_kg_per_ha).zip(rule.nutrient);
    let found = nutrient::NUTRIENTS.into_iter().filter_map(|of| {
        let by_rate =
            rate.map(|(rate, trial)| (nutrient::supply_kg_per_ha(rate, &grade, of), trial));
        let by_need = need.filter(|(_, wanted)| *wanted == of);
        let by_need = by_need.map(|need| (need.0, None));
        let each = by_rate.into_iter().chain(by_need);
        let (given, trial) = each.reduce(|a, b| if b.0 > a.0 { b } else { a })?;
        let (most, table) = highest(of)?;
        (given > FAR * most).then_some((of, given, most, table, trial))
    });
    let (of, given, most, table, trial) =
        found.max_by(|a, b| (a.1 / a.2).total_cmp(&(b.1 / b.2)))?;
    let within = trial.map(|trial| format!(" in the trial '{}'", trial.name));
    let message = format!(
        "'{}' is to bring up to {} {}{}: the highest that a table here recommends is {} ({table}). Is the decimal point right, and is it for one hectare? Correct the number, or let somebody who knows the soil stand for it.",
        product.id,
        text::rate_in(job.report.units, given),
        nutrient::symbol(of),
        within.unwrap_or_default(),
        text::rate_in(job.report.units, most)
    );
    let mut finding = Finding::decision(Decision::UnusualNeed, job_file(job), message);
    finding.place = finding.place.feature(&product.id);
    let finding = finding.of_products([product.id.as_str()]);
    Some(finding.extent(Extent::KgPerHa(given)))
}

/// The highest recommendation of a nutrient in the built-in tables, kg/ha, and the title of its table.
fn highest(of: Nutrient) -> Option<(f64, String)> {
    let most = tables::all().ok()?.iter().filter_map(|(_, table)| {
        let crops = table.crops.iter().flat_map(|crop| &crop.amounts);
        let of_it = crops.filter(|(nutrient, _)| *nutrient == of);
        let values = of_it.flat_map(|(_, amounts)| amounts.kg_per_ha.iter().copied());
        Some((values.reduce(f64::max)?, table.title.clone()))
    });
    most.max_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// AHDB RB209 section 4 (June 2023), table 4.14, page 22: winter triticale at index 0, straw removed, takes 130 kg/ha
    /// P2O5, more than any other cereal there.
    #[test]
    fn the_highest_recommendation_is_that_of_the_published_tables() {
        let (most, table) = highest(Nutrient::P2o5).expect("a table");
        assert_eq!(most, 130.0, "{table}");
    }
}
