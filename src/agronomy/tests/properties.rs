//! Properties that hold for thousands of seeded cases.

use super::{JOB, close, inside, job};
use crate::agronomy::{nutrient, rates, seed};
use crate::job::{Job, Joined};
use crate::units;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::sync::LazyLock;

/// Seeded and thousands of cases; the same ones on every run.
pub(super) fn thousands() -> ProptestConfig {
    ProptestConfig {
        cases: 4_000,
        rng_seed: RngSeed::Fixed(20_260_301),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// The job, read once for thousands of cases.
static PLAIN: LazyLock<Job> = LazyLock::new(|| job(JOB));

/// A job with a direct rate and these limits for its second product.
fn limited(need: f64, percent: f64, min: f64, max: f64, step: f64) -> Job {
    let mut job = PLAIN.clone();
    let product = &mut job.products[1];
    product.rate = crate::job::RateRule {
        kg_per_ha: Some(crate::job::Lookup::Same(need)),
        ..Default::default()
    };
    product.limits = crate::job::Limits {
        min_kg_per_ha: Some(min),
        max_kg_per_ha: Some(max),
        step_kg_per_ha: Some(step),
        label_max_kg_per_ha: None,
        label_max_seeds_per_ha: None,
    };
    job.special_areas[1]
        .percent
        .insert("starter".to_owned(), percent);
    job
}

proptest! {
    #![proptest_config(thousands())]

    #[test]
    fn a_rate_is_zero_or_a_multiple_of_the_step_inside_the_limits(
        wanted in prop_oneof![Just(0.0), 0.001..400.0_f64],
        percent in prop_oneof![Just(0.0), Just(100.0), 5.0..300.0_f64],
        min in 0.0..200.0_f64,
        width in 0.0..200.0_f64,
        step in prop_oneof![Just(0.1), Just(0.5), Just(1.0), Just(5.0), 0.001..60.0_f64],
        special: bool,
        setback: bool,
    ) {
        let max = min + width;
        let job = limited(wanted, percent, min, max, step);
        let mut facts = inside("clay", "1");
        if special { facts.special_areas = vec![1]; }
        if setback { facts.setbacks = vec![0]; }
        let multiple_exists = ((min / step).ceil().max(1.0)) * step <= max;
        match rates(&job, &crate::agronomy::Tables::default(), &facts) {
            Err(fault) => prop_assert!(fault.code == "agronomy.limit" && !multiple_exists, "{}", fault),
            Ok((rates, _)) => {
                let rate = rates[1].kg_per_ha;
                if wanted == 0.0 || setback || (special && percent == 0.0) {
                    prop_assert_eq!(rate, 0.0);
                } else {
                    prop_assert!(rate >= min && rate <= max && rate > 0.0, "{} outside {}..{}", rate, min, max);
                    let multiple = rate / step;
                    // Rates are kept to 1e-9 kg/ha.
                    prop_assert!((multiple - multiple.round()).abs() * step <= 2e-9, "{} is no multiple of {}", rate, step);
                    // No other allowed multiple is nearer.
                    let before = (wanted * if special { percent / 100.0 } else { 1.0 }).clamp(min, max);
                    for other in [rate - step, rate + step] {
                        let allowed = other >= min && other <= max && other > step / 2.0;
                        prop_assert!(!allowed || (other - before).abs() >= (rate - before).abs() - 1e-6);
                    }
                }
                let reasons = &rates[1].reasons;
                prop_assert_eq!(reasons.last().map(|reason| reason.kg_per_ha), Some(rate));
                // Once 0, always 0.
                let mut zero = false;
                for reason in reasons {
                    prop_assert!(!zero || reason.kg_per_ha == 0.0);
                    zero = reason.kg_per_ha == 0.0;
                }
            }
        }
    }

    #[test]
    fn more_plants_never_need_less_seed(
        fewer in 0.0..600.0_f64, more in 0.0..600.0_f64, weight in 0.5..900.0_f64,
        germination in 50.0..100.0_f64, establishment in 55.0..100.0_f64,
    ) {
        let (fewer, more) = if fewer <= more { (fewer, more) } else { (more, fewer) };
        for joined in [Joined::Multiply, Joined::Subtract, Joined::Included] {
            let share = seed::plants_per_seed(Some(germination), establishment, joined).expect("a share");
            prop_assert!(share > 0.0 && share <= 1.0);
            prop_assert!(seed::kg_per_ha_of_plants(fewer, weight, share) <= seed::kg_per_ha_of_plants(more, weight, share));
        }
        // Points taken off leave fewer plants than factors multiplied: g + e - 1 <= g x e up to 1.
        let multiply = seed::plants_per_seed(Some(germination), establishment, Joined::Multiply).expect("a share");
        let subtract = seed::plants_per_seed(Some(germination), establishment, Joined::Subtract).expect("a share");
        prop_assert!(subtract <= multiply + 1e-12);
    }

    #[test]
    fn the_ways_to_join_agree_when_every_seed_germinates(establishment in 1.0..100.0_f64) {
        let share = |joined| seed::plants_per_seed(Some(100.0), establishment, joined).expect("a share");
        prop_assert!(close(share(Joined::Multiply), share(Joined::Subtract)));
        prop_assert!(close(share(Joined::Multiply), share(Joined::Included)));
    }

    #[test]
    fn plants_come_back_from_kilograms_and_from_pounds(
        plants in 0.0..600.0_f64, weight in 0.5..900.0_f64,
        germination in 50.0..100.0_f64, establishment in 55.0..100.0_f64,
    ) {
        let share = seed::plants_per_seed(Some(germination), establishment, Joined::Multiply).expect("a share");
        let kg = seed::kg_per_ha_of_plants(plants, weight, share);
        prop_assert!(close(seed::seeds_per_m2_of_kg(kg, weight), seed::seeds_per_m2(plants, share)));
        prop_assert!(close(seed::plants_per_m2_of_kg(kg, weight, share), plants));
        let there_and_back = units::kg_per_ha_from_lb_per_acre(units::lb_per_acre_from_kg_per_ha(kg));
        prop_assert!(close(there_and_back, kg));
    }

    #[test]
    fn a_product_brings_the_need_it_was_taken_for(need in 0.0..300.0_f64, percent in 0.5..100.0_f64) {
        let grade = crate::job::Grade { p2o5_percent: percent, ..Default::default() };
        let nutrient = crate::job::Nutrient::P2o5;
        let product = nutrient::product_kg_per_ha(need, &grade, nutrient).expect("a product");
        prop_assert!(close(nutrient::supply_kg_per_ha(product, &grade, nutrient), need));
    }
}
