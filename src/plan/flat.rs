//! The flat rate, for the day the map will not load, against what may lie beside the seed.

use super::{Combination, Plan};
use crate::agronomy::{SeedSafeCheck, Verdict};
use crate::findings::{Finding, Place};
use crate::job::Job;
use crate::tally::ProductTally;

/// A limit beside the seed that the flat rate of a product breaks somewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatLimit {
    /// The most of the product, kg/ha, that all land with a limit bears.
    pub kg_per_ha: f64,
    /// Title of the table that says so.
    pub table: String,
    /// Land where the flat rate is above its limit, m2.
    pub area_m2: f64,
}

impl Plan {
    /// Where the flat rate of a product (job order) is above a limit beside the seed; `None` if nowhere.
    pub fn flat_limit(&self, nth: usize) -> Option<FlatLimit> {
        limit(&self.rates.rows, nth, self.tally.planned.products.get(nth)?)
    }
}

/// A warning per product whose flat rate is above a limit.
pub(super) fn findings(rows: &[Combination], products: &[ProductTally], job: &Job) -> Vec<Finding> {
    let units = job.report.units;
    let broken = products
        .iter()
        .enumerate()
        .filter_map(|(nth, product)| Some((product, limit(rows, nth, product)?)));
    broken
        .map(|(product, limit)| {
            Finding::warning(
                "seed_safe.flat_rate",
                Place::file(&job.file),
                format!(
                    "'{}': the flat rate for the day the map will not load, {}, is more beside the seed than '{}' bears on some land; up to {} keeps within it everywhere",
                    product.id,
                    units.rate(product.flat_kg_per_ha, 2),
                    limit.table,
                    units.rate(limit.kg_per_ha, 2)
                ),
            )
            .area(limit.area_m2)
        })
        .collect()
}

/// The flat rate lays as much more of everything counted than the map does there, as it is higher. Where
/// another product brings a part, that overstates it: to the safe side.
fn limit(rows: &[Combination], nth: usize, product: &ProductTally) -> Option<FlatLimit> {
    let flat = product.flat_kg_per_ha;
    let mut found: Option<FlatLimit> = None;
    for row in rows {
        let rate = &row.rates[nth];
        let bearable = rate
            .seed_safe
            .iter()
            .filter_map(|check| Some((most(rate.kg_per_ha, check)?, &check.table)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((most, table)) = bearable.filter(|(most, _)| *most < flat) else {
            continue;
        };
        let area_m2 = row.area_m2 + found.as_ref().map_or(0.0, |found| found.area_m2);
        found = match found {
            Some(lower) if lower.kg_per_ha <= most => Some(FlatLimit { area_m2, ..lower }),
            _ => Some(FlatLimit {
                kg_per_ha: most,
                table: table.clone(),
                area_m2,
            }),
        };
    }
    found
}

/// The most of a product that keeps within one check where the map gives it `kg_per_ha`; none where it says nothing.
pub(super) fn most(kg_per_ha: f64, check: &SeedSafeCheck) -> Option<f64> {
    match check.verdict {
        // Nothing covers the case, so nothing may lie there by hand either.
        Verdict::NotCovered => Some(0.0),
        // What the job lets be above its limit by the map is said already.
        Verdict::Above | Verdict::NotUsed => None,
        Verdict::Within | Verdict::Capped if check.placed_kg_per_ha > 0.0 => {
            Some(kg_per_ha * check.limit_kg_per_ha? / check.placed_kg_per_ha)
        }
        // A limit of 0 that took all of it is one for the flat rate too.
        Verdict::Capped => Some(0.0).filter(|_| check.limit_kg_per_ha == Some(0.0)),
        Verdict::Within => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::plan::{Disk, Options, plan};
    use std::path::Path;

    /// What no limit covers is laid neither by the flat rate nor where the position is lost, also where it is some land only.
    #[test]
    fn what_nothing_covers_has_no_flat_rate_and_no_fallback() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
        let scenario = include_str!("../../examples/demo/job.toml");
        let with = |key: &str, value: &str| {
            let text = scenario
                .replace(
                    "above = \"cap\"",
                    &format!("above = \"cap\"\n{key} = {value}"),
                )
                .replace(
                    "n_percent = 12.0, p2o5_percent = 52.0",
                    "n_percent = 18.0, p2o5_percent = 46.0",
                )
                .replace("name = \"Granular starter 12-52-0\"", "name = \"Starter\"")
                .replace("monoammonium_phosphate", "diammonium_phosphate");
            let mut job = crate::job::Job::parse(&text, &file).expect("the scenario");
            job.products[1].fallback_kg_per_ha = Some(60.0);
            plan(&job, &Disk, &Options::default()).expect("a plan")
        };
        let nowhere = with("soil_ph", "7.8");
        assert_eq!(nowhere.tally.planned.products[1].flat_kg_per_ha, 0.0);
        assert_eq!(nowhere.rates.position_lost_kg_per_ha[1], 0.0);
        let not_on_clay = with(
            "soil_ph",
            "{ layer = \"soil\", by_class = { clay = 7.8 }, otherwise = 6.5 }",
        );
        assert!(not_on_clay.tally.planned.products[1].flat_kg_per_ha > 0.0);
        assert_eq!(
            not_on_clay.flat_limit(1).map(|most| most.kg_per_ha),
            Some(0.0)
        );
        assert_eq!(not_on_clay.rates.position_lost_kg_per_ha[1], 0.0);
        let decision =
            |finding: &&crate::findings::Finding| finding.code == "seed_safe.not_covered";
        assert!(
            not_on_clay
                .findings
                .iter()
                .any(|of| decision(&of) && of.area_m2 > Some(0.0))
        );
    }

    /// The scenario: 56.04 kg/ha of P2O5 at most beside the seed, 52 % of it in the starter.
    #[test]
    fn a_flat_rate_above_the_limit_is_found_with_the_most_that_is_not() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
        let job = crate::job::Job::parse(include_str!("../../examples/demo/job.toml"), &file);
        let mut plan =
            plan(&job.expect("the scenario"), &Disk, &Options::default()).expect("a plan");
        assert_eq!(plan.flat_limit(1), None);
        plan.tally.planned.products[1].flat_kg_per_ha = 120.0;
        let limit = plan.flat_limit(1).expect("a limit");
        assert!((limit.kg_per_ha - 56.04 / 0.52).abs() < 0.01, "{limit:?}");
        let sown_m2 = plan.tally.planned.products[1].sown_m2;
        assert!((limit.area_m2 - sown_m2).abs() < 1.0, "{limit:?} {sown_m2}");
        let findings = super::findings(&plan.rates.rows, &plan.tally.planned.products, &plan.job);
        assert_eq!(findings.len(), 1, "seed has no such limit");
    }
}
