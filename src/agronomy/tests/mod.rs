//! Rules in a job: reasons, order, zero, limits.

mod beside;
mod combined;
mod customary;
mod dated;
mod messages;
mod mixture;
mod place;
mod placing;
mod properties;

use super::*;
use crate::job::LandPart;

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

[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000
crop = "barley"
grade = { n_percent = 12, p2o5_percent = 52 }
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
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

fn rules(rate: &Rate) -> Vec<String> {
    let reasons = rate.reasons.iter();
    reasons.map(|reason| reason.rule.to_string()).collect()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0)
}

#[test]
fn a_rate_says_how_it_came_about() {
    let (rates, findings) =
        rates(&job(JOB), &Tables::default(), &inside("clay", "1")).expect("rates");
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
    assert_eq!(
        rules(&rates[0]),
        ["seed.population", "adjust.percent", "seed.stand"]
    );
    // 60 / 0.52 = 115.4, rounded to 115; the worked example of docs/methods/nutrients.md.
    assert_eq!(
        rates[1].reasons[0].text,
        "60 kg/ha P2O5 on phosphate '1' / 52 % P2O5 in the grade = 115.4 kg/ha; it brings 13.8 kg/ha N as well"
    );
    assert_eq!(
        rules(&rates[1]),
        ["nutrient.grade", "limit.step", "seed_safe.check"]
    );
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
    let rate = |soil| {
        rates(&job(JOB), &Tables::default(), &inside(soil, "1"))
            .expect("rates")
            .0[0]
            .kg_per_ha
    };
    assert!((rate("clay") / rate("sand") - 1.38).abs() < 0.005);
}

#[test]
fn the_three_ways_to_join_and_seeds_and_direct_rates_are_told_apart() {
    let first = |text: &str| {
        rates(&job(text), &Tables::default(), &inside("clay", "1"))
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
    assert_eq!(seeds.reasons[0].rule, Rule::SeedSeeds);
    let direct = first(&JOB.replace(
        table,
        "{ kg_per_ha = { layer = \"soil\", by_class = { clay = 200 } } }",
    ));
    assert_eq!(direct.reasons[0].text, "200 kg/ha as set on soil 'clay'");
    assert_eq!(direct.reasons[0].rule, Rule::RateDirect);
    let several = rates(
        &job(&JOB.replace(table, "{ kg_per_ha = 1, seeds_per_m2 = 2 }")),
        &Tables::default(),
        &inside("clay", "1"),
    );
    assert_eq!(several.expect_err("two rules").code, "agronomy.rate_rule");
}

#[test]
fn adjustments_and_special_areas_multiply_in_order() {
    let mut facts = facts(LandPart::Headland, "clay", "1");
    facts.special_areas = vec![0, 1];
    let (rates, _) = rates(&job(JOB), &Tables::default(), &facts).expect("rates");
    assert_eq!(
        rules(&rates[0]),
        [
            "seed.population",
            "adjust.percent",
            "adjust.percent",
            "special_area.percent",
            "special_area.percent",
            "seed.stand"
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
    let (rates, findings) =
        rates(&job(JOB), &Tables::default(), &inside("sand", "0")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 150.0);
    assert_eq!(
        rules(&rates[1]),
        ["nutrient.grade", "limit.max", "seed_safe.check"]
    );
    assert_eq!(findings.len(), 1);
    assert_eq!(findings[0].code, "agronomy.capped");
    assert_eq!(
        findings[0].message,
        "product 'starter' (interior, soil 'sand', phosphate '0'): 173.1 kg/ha is more than the most allowed: 150 kg/ha"
    );
    let (rates, findings) =
        super::rates(&job(JOB), &Tables::default(), &inside("sand", "2")).expect("rates");
    assert_eq!(
        (rates[1].kg_per_ha, findings[0].code.as_ref()),
        (60.0, "agronomy.raised")
    );
}

#[test]
fn zero_stays_zero_and_a_setback_is_the_last_word() {
    let (rates, findings) =
        rates(&job(JOB), &Tables::default(), &inside("sand", "3")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 0.0);
    assert_eq!(rules(&rates[1]), ["nutrient.grade", "limit.zero"]);
    assert!(findings.is_empty());

    let mut facts = inside("sand", "0");
    facts.setbacks = vec![0];
    let (rates, findings) = super::rates(&job(JOB), &Tables::default(), &facts).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 0.0);
    assert_eq!(rules(&rates[1]).last().unwrap(), "setback.off");
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
    let (rates, _) = rates(&job(&text), &Tables::default(), &inside("rock", "1")).expect("rates");
    assert_eq!(rates[0].kg_per_ha, 0.0);
}

#[test]
fn a_rate_above_zero_is_not_rounded_to_zero_and_that_is_said() {
    let text = JOB
        .replace("step_kg_per_ha = 5", "step_kg_per_ha = 150")
        .replace("min_kg_per_ha = 60, ", "");
    let (rates, findings) =
        rates(&job(&text), &Tables::default(), &inside("sand", "2")).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 150.0);
    assert_eq!(findings[0].code, "agronomy.coarse_step");
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
