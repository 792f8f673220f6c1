//! Rules in a job: reasons, order, zero, limits, messages, properties.

use super::*;
use crate::job::{Joined, LandPart};
use crate::units;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// A job with barley by population on soil, and a starter by phosphate need on bands.
const JOB: &str = r#"
name = "test"
field = { name = "test", boundary = { file = "b.geojson" } }

[[setback]]
name = "brook"
source = { file = "w.geojson" }
distance_m = 6
products = ["starter"]

[[special_area]]
name = "entrance"
source = { file = "s.geojson" }
percent = { barley = 120 }

[[special_area]]
name = "wet hole"
source = { file = "s.geojson" }
percent = { barley = 50, starter = 0 }

[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "texture"

[[layer]]
name = "phosphate"
source = { file = "p.geojson" }
class_attribute = "index"

[drill]
working_width_m = 6

[[product]]
id = "barley"
name = "Spring barley"
kind = "seed"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
rate = { plants_per_m2 = 300, establishment_percent = { layer = "soil", by_class = { sand = 90, clay = 65 } } }

[[product.adjust]]
because = "late sowing"
percent = 110

[[product.adjust]]
because = "slugs"
percent = { layer = "soil", by_class = { clay = 105 }, otherwise = 100 }
land_part = "headland"

[[product]]
id = "starter"
name = "Starter 12-52"
kind = "fertiliser"
hopper = "rear"
grade = { n_percent = 12, p2o5_percent = 52 }
rate = { nutrient = "p2o5", need_kg_per_ha = { layer = "phosphate", by_class = { 0 = 90, 1 = 60, 3 = 0 }, otherwise = 30 } }
limits = { min_kg_per_ha = 60, max_kg_per_ha = 150, step_kg_per_ha = 5 }
"#;

fn job(text: &str) -> Job {
    toml::from_str(text).expect("a job")
}

fn facts(part: LandPart, soil: &str, phosphate: &str) -> Facts {
    Facts {
        part,
        classes: vec![soil.to_owned(), phosphate.to_owned()],
        special_areas: Vec::new(),
        setbacks: Vec::new(),
    }
}

fn inside(soil: &str, phosphate: &str) -> Facts {
    facts(LandPart::Interior, soil, phosphate)
}

fn rules(rate: &Rate) -> Vec<&'static str> {
    rate.reasons.iter().map(|reason| reason.rule).collect()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0)
}

#[test]
fn a_rate_says_how_it_came_about() {
    let (rates, findings) = rates(&job(JOB), &inside("clay", "1")).expect("rates");
    // 300 x 48 / (0.96 x 0.65) / 100 = 230.769; the worked example of docs/methods/seed-rate.md.
    assert_eq!(
        rates[0].reasons[0].text,
        "300 plants/m2 x 48 g per thousand / (96 % germination x 65 % establishment) = 230.8 kg/ha on soil 'clay'"
    );
    assert!(close(
        rates[0].reasons[0].kg_per_ha,
        300.0 * 48.0 / (0.96 * 0.65) / 100.0
    ));
    assert_eq!(
        rates[0].reasons[1].text,
        "late sowing: 110 % of 230.8 = 253.8 kg/ha"
    );
    assert_eq!(rules(&rates[0]), ["seed.population", "adjust.percent"]);
    // 60 / 0.52 = 115.4, rounded to 115; the worked example of docs/methods/nutrients.md.
    assert_eq!(
        rates[1].reasons[0].text,
        "60 kg/ha P2O5 on phosphate '1' / 52 % P2O5 in the grade = 115.4 kg/ha; it brings 13.8 kg/ha N as well"
    );
    assert_eq!(rules(&rates[1]), ["nutrient.grade", "limit.step"]);
    assert_eq!(rates[1].kg_per_ha, 115.0);
    assert!(findings.is_empty());
    assert!(
        rates
            .iter()
            .flat_map(|rate| &rate.reasons)
            .all(|reason| !reason.inputs.is_empty())
    );
    for rate in &rates {
        assert_eq!(
            rate.reasons.last().map(|reason| reason.kg_per_ha),
            Some(rate.kg_per_ha)
        );
    }
}

#[test]
fn establishment_by_soil_needs_the_published_ratio_of_seed() {
    // Sand 90 % against clay 65 % (HGCA, The wheat growth guide, 2008, page 8): 1.38 x the seed.
    let rate = |soil| rates(&job(JOB), &inside(soil, "1")).expect("rates").0[0].kg_per_ha;
    assert!((rate("clay") / rate("sand") - 1.38).abs() < 0.005);
}

#[test]
fn the_three_ways_to_join_and_seeds_and_direct_rates_are_told_apart() {
    let first = |text: &str| {
        rates(&job(text), &inside("clay", "1"))
            .expect("rates")
            .0
            .swap_remove(0)
    };
    let subtract = first(&JOB.replace(
        "rate = { plants",
        "rate = { germination_joined = \"subtract\", plants",
    ));
    assert!(close(
        subtract.reasons[0].kg_per_ha,
        300.0 * 48.0 / 0.61 / 100.0
    ));
    assert!(
        subtract.reasons[0]
            .text
            .contains("(96 % germination - 35 points lost in the field)")
    );
    let included = first(&JOB.replace(
        "rate = { plants",
        "rate = { germination_joined = \"included\", plants",
    ));
    assert!(close(
        included.reasons[0].kg_per_ha,
        300.0 * 48.0 / 0.65 / 100.0
    ));
    assert!(
        included.reasons[0]
            .text
            .contains("/ 65 % establishment, germination included =")
    );

    let table = "{ plants_per_m2 = 300, establishment_percent = { layer = \"soil\", by_class = { sand = 90, clay = 65 } } }";
    assert!(JOB.contains(table));
    let seeds = first(&JOB.replace(table, "{ seeds_per_m2 = 350 }"));
    assert_eq!(
        seeds.reasons[0].text,
        "350 seeds/m2 x 48 g per thousand = 168 kg/ha"
    );
    assert_eq!(seeds.reasons[0].rule, "seed.seeds");
    let direct = first(&JOB.replace(
        table,
        "{ kg_per_ha = { layer = \"soil\", by_class = { clay = 200 } } }",
    ));
    assert_eq!(direct.reasons[0].text, "200 kg/ha as set on soil 'clay'");
    assert_eq!(direct.reasons[0].rule, "rate.direct");
    let several = rates(
        &job(&JOB.replace(table, "{ kg_per_ha = 1, seeds_per_m2 = 2 }")),
        &inside("clay", "1"),
    );
    assert_eq!(several.expect_err("two rules").code, "agronomy.rate_rule");
}

#[test]
fn adjustments_and_special_areas_multiply_in_order() {
    let mut facts = facts(LandPart::Headland, "clay", "1");
    facts.special_areas = vec![0, 1];
    let (rates, _) = rates(&job(JOB), &facts).expect("rates");
    assert_eq!(
        rules(&rates[0]),
        [
            "seed.population",
            "adjust.percent",
            "adjust.percent",
            "special_area.percent",
            "special_area.percent"
        ]
    );
    assert!(
        rates[0].reasons[2]
            .text
            .starts_with("slugs on the headland on soil 'clay': 105 % of")
    );
    assert!(close(
        rates[0].kg_per_ha,
        300.0 * 48.0 / (0.96 * 0.65) / 100.0 * 1.1 * 1.05 * 1.2 * 0.5
    ));
    // 0 % is off, and the least rate of 60 does not raise it.
    assert_eq!(rates[1].kg_per_ha, 0.0);
    assert_eq!(
        rules(&rates[1]),
        ["nutrient.grade", "special_area.percent", "limit.zero"]
    );
}

#[test]
fn limits_cap_raise_and_say_so() {
    let (rates, findings) = rates(&job(JOB), &inside("sand", "0")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 150.0);
    assert_eq!(rules(&rates[1]), ["nutrient.grade", "limit.max"]);
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].code, "agronomy.capped");
    assert_eq!(
        findings[0].message,
        "product 'starter' (interior, soil 'sand', phosphate '0'): 173.1 is more than the most allowed: 150 kg/ha"
    );
    let (rates, findings) = super::rates(&job(JOB), &inside("sand", "2")).expect("rates");
    assert_eq!(
        (rates[1].kg_per_ha, findings[0].code),
        (60.0, "agronomy.raised")
    );
}

#[test]
fn zero_stays_zero_and_a_setback_is_the_last_word() {
    let (rates, findings) = rates(&job(JOB), &inside("sand", "3")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 0.0);
    assert_eq!(rules(&rates[1]), ["nutrient.grade", "limit.zero"]);
    assert!(findings.is_empty());

    let mut facts = inside("sand", "0");
    facts.setbacks = vec![0];
    let (rates, findings) = super::rates(&job(JOB), &facts).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 0.0);
    assert_eq!(rules(&rates[1]).last(), Some(&"setback.off"));
    assert!(
        rates[1]
            .reasons
            .last()
            .is_some_and(|reason| reason.text.contains("'brook' (6 m)"))
    );
    assert!(rates[0].kg_per_ha > 0.0, "the other product goes on");
    assert!(
        findings.is_empty(),
        "what a setback switches off needs no talk of caps"
    );
}

#[test]
fn land_that_wants_no_plants_needs_no_establishment() {
    let text = JOB.replace(
        "plants_per_m2 = 300",
        "plants_per_m2 = { layer = \"soil\", by_class = { rock = 0, clay = 300 } }",
    );
    let (rates, _) = rates(&job(&text), &inside("rock", "1")).expect("rates");
    assert_eq!(rates[0].kg_per_ha, 0.0);
}

#[test]
fn a_rate_above_zero_is_not_rounded_to_zero_and_that_is_said() {
    let text = JOB
        .replace("step_kg_per_ha = 5", "step_kg_per_ha = 150")
        .replace("min_kg_per_ha = 60, ", "");
    let (rates, findings) = rates(&job(&text), &inside("sand", "2")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 150.0);
    assert_eq!(findings[0].code, "agronomy.coarse_step");
}

#[test]
fn numbers_that_cannot_be_are_refused_with_product_and_class() {
    for (good, bad, code, words) in [
        (
            "plants_per_m2 = 300",
            "plants_per_m2 = -300",
            "agronomy.number",
            "rate.plants_per_m2 is -300",
        ),
        (
            "plants_per_m2 = 300",
            "plants_per_m2 = nan",
            "agronomy.number",
            "NaN",
        ),
        (
            "plants_per_m2 = 300",
            "plants_per_m2 = inf",
            "agronomy.number",
            "inf",
        ),
        (
            "plants_per_m2 = 300",
            "plants_per_m2 = 3000000",
            "agronomy.absurd_rate",
            "plants/m2 = 3000000",
        ),
        (
            "clay = 65",
            "clay = 0",
            "agronomy.percent",
            "establishment of 0 %",
        ),
        (
            "clay = 65",
            "clay = 0.65",
            "agronomy.percent",
            "establishment of 0.65 %",
        ),
        (
            "germination_percent = 96",
            "germination_percent = 101",
            "agronomy.percent",
            "germination of 101 %",
        ),
        (
            "germination_percent = 96",
            "",
            "agronomy.no_germination",
            "germination",
        ),
        (
            "thousand_grain_weight_g = 48",
            "thousand_grain_weight_g = 0",
            "agronomy.grain_weight",
            "0 g",
        ),
        (
            "thousand_grain_weight_g = 48",
            "thousand_grain_weight_g = 0.048",
            "agronomy.grain_weight",
            "0.048 g",
        ),
        (
            "thousand_grain_weight_g = 48",
            "",
            "agronomy.no_grain_weight",
            "none is given",
        ),
        (
            "percent = 110",
            "percent = 1.1",
            "agronomy.percent",
            "late sowing is set to 1.1 %",
        ),
        (
            "percent = 110",
            "percent = -5",
            "agronomy.number",
            "adjust[1].percent is -5",
        ),
        (
            "p2o5_percent = 52",
            "p2o5_percent = 0",
            "agronomy.grade",
            "0 % P2O5",
        ),
        (
            "nutrient = \"p2o5\", ",
            "",
            "agronomy.no_grade",
            "lacks the nutrient",
        ),
        (
            "min_kg_per_ha = 60",
            "min_kg_per_ha = 160",
            "agronomy.limit",
            "160",
        ),
        (
            "step_kg_per_ha = 5",
            "step_kg_per_ha = 0",
            "agronomy.limit",
            "step_kg_per_ha is 0",
        ),
        (
            "min_kg_per_ha = 60, max_kg_per_ha = 150, step_kg_per_ha = 5",
            "min_kg_per_ha = 61, max_kg_per_ha = 64, step_kg_per_ha = 5",
            "agronomy.limit",
            "no multiple",
        ),
        (
            "layer = \"phosphate\"",
            "layer = \"phospate\"",
            "agronomy.no_layer",
            "phospate",
        ),
        (
            "sand = 90, clay = 65",
            "sand = 90",
            "agronomy.class_without_value",
            "class 'clay'",
        ),
        (
            "{ 0 = 90, 1 = 60,",
            "{ 0 = 90, 1 = 60, \"1.0\" = 61,",
            "agronomy.class_twice",
            "'1' and as '1.0'",
        ),
    ] {
        assert!(JOB.contains(good), "{good}");
        let fault = rates(&job(&JOB.replacen(good, bad, 1)), &inside("clay", "1")).expect_err(bad);
        assert_eq!(fault.code, code, "{bad}: {fault}");
        let text = fault.to_string();
        assert!(text.contains(words), "{bad}: {text}");
        assert!(
            text.contains("product '") && text.contains("soil 'clay'"),
            "{bad}: {text}"
        );
    }
}

#[test]
fn limits_are_checked_without_land() {
    assert!(check_limits(&job(JOB)).is_ok());
    let fault = check_limits(&job(
        &JOB.replace("max_kg_per_ha = 150", "max_kg_per_ha = -1")
    ))
    .expect_err("negative");
    assert!(
        fault
            .found
            .starts_with("product 'starter': limits.max_kg_per_ha is -1"),
        "{fault}"
    );
    // A most of 0 switches a product off, whatever the step.
    let off = JOB.replace(
        "min_kg_per_ha = 60, max_kg_per_ha = 150",
        "max_kg_per_ha = 0",
    );
    let (rates, _) = rates(&job(&off), &inside("clay", "1")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 0.0);
}

#[test]
fn classes_compare_as_trimmed_text_and_numbers_as_numbers() {
    for (class, key) in [
        (" clay ", "clay"),
        ("Clay", "Clay"),
        ("2", "2"),
        ("2.0", "2"),
        ("2.50", "2.5"),
        ("-0.0", "0"),
        ("-1.0", "-1"),
        ("02", "02"),
        ("2.", "2."),
        ("1e3", "1e3"),
        ("", ""),
        ("-", "-"),
        ("2a", "2a"),
    ] {
        assert_eq!(class_key(class), key);
    }
    let (rates, _) = rates(&job(JOB), &inside("sand ", "1.0")).expect("rates");
    assert_eq!(rates[1].reasons[0].inputs[0].1, 60.0);
}

#[test]
fn classes_without_a_number_are_listed_with_hectares_and_spelling() {
    let list = |classes: &[(&str, f64)]| -> Vec<(String, f64)> {
        classes
            .iter()
            .map(|(class, area)| ((*class).to_owned(), *area))
            .collect()
    };
    let found = [
        list(&[
            ("Clay", 32_000.0),
            ("sand", 101_000.0),
            ("peat", 4_000.0),
            ("sand ", 1_000.0),
        ]),
        list(&[("1", 1.0), ("2.0", 2.0)]),
    ];
    let fault = check_classes(&job(JOB), &found).expect_err("unknown classes");
    assert_eq!(
        fault.found,
        "product 'barley', rate.establishment_percent has no value for class 'Clay' (3.20 ha, did you mean 'clay'?), 'peat' (0.40 ha) of layer 'soil'"
    );
    assert_eq!(
        fault.allowed,
        "product 'barley', rate.establishment_percent knows 'clay', 'sand'"
    );
    assert!(
        fault.next.ends_with(
            "Layer 'soil' has on the field: 'Clay' 3.20 ha, 'peat' 0.40 ha, 'sand' 10.20 ha."
        ),
        "{}",
        fault.next
    );

    let found = [list(&[("clay", 1.0)]), list(&[("1.0", 1.0)])];
    let findings = check_classes(&job(JOB), &found).expect("all classes known");
    let messages: Vec<&str> = findings
        .iter()
        .map(|finding| finding.message.as_str())
        .collect();
    assert_eq!(messages.len(), 2, "{messages:?}");
    assert!(
        messages[0].contains("rate.establishment_percent has numbers for 'sand' of layer 'soil'")
    );
    assert!(
        messages[1].contains("rate.need_kg_per_ha has numbers for '0', '3' of layer 'phosphate'")
    );
}

#[test]
fn the_base_rate_is_the_mean_by_area_on_the_step() {
    let job = job(JOB);
    assert!(close(
        base_rate(&job, 0, &[(30_000.0, 200.0), (10_000.0, 160.0)]),
        190.0
    ));
    assert_eq!(
        base_rate(&job, 1, &[(30_000.0, 117.0), (10_000.0, 100.0)]),
        115.0
    );
    assert_eq!(
        base_rate(&job, 1, &[(1.0, 10.0)]),
        60.0,
        "inside the limits"
    );
    assert_eq!(base_rate(&job, 1, &[(1.0, 0.0)]), 0.0, "zero stays zero");
    assert_eq!(base_rate(&job, 1, &[]), 0.0);
    assert_eq!(base_rate(&job, 9, &[(1.0, 1.0)]), 0.0);
}

/// Seeded and thousands of cases; the same ones on every run.
fn thousands() -> ProptestConfig {
    ProptestConfig {
        cases: 4_000,
        rng_seed: RngSeed::Fixed(20_260_301),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// A job with a direct rate and these limits for its second product.
fn limited(need: f64, percent: f64, min: f64, max: f64, step: f64) -> Job {
    let mut job = job(JOB);
    let product = &mut job.products[1];
    product.rate = crate::job::RateRule {
        kg_per_ha: Some(crate::job::Lookup::Same(need)),
        ..Default::default()
    };
    product.limits = crate::job::Limits {
        min_kg_per_ha: Some(min),
        max_kg_per_ha: Some(max),
        step_kg_per_ha: Some(step),
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
        match rates(&job, &facts) {
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
        let grade = crate::job::Grade { n_percent: 0.0, p2o5_percent: percent, k2o_percent: 0.0 };
        let nutrient = crate::job::Nutrient::P2o5;
        let product = nutrient::product_kg_per_ha(need, &grade, nutrient).expect("a product");
        prop_assert!(close(nutrient::supply_kg_per_ha(product, &grade, nutrient), need));
    }
}
