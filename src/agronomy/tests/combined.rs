//! Several layers together: the first rule that fits, a sum of adjustments, a product of factors.

use super::{JOB, close, facts, inside, job};
use crate::agronomy::{Tables, check_rules, rates};
use crate::findings::{Outcome, Severity};
use crate::job::{Job, LandPart};

/// The job of the other tests with another number of plants.
fn with_plants(plants: &str) -> Job {
    let text = JOB.replace("plants_per_m2 = 300", &format!("plants_per_m2 = {plants}"));
    assert_ne!(text, JOB);
    job(&text.replace(
        "[[product.adjust]]\nbecause = \"late sowing\"\npercent = 110\n",
        "",
    ))
}

/// Plants wanted on this land, and the words of the first reason.
fn plants(job: &Job, soil: &str, phosphate: &str) -> Outcome<(f64, String)> {
    let (rates, _) = rates(job, &Tables::default(), &inside(soil, phosphate))?;
    let reason = &rates[0].reasons[0];
    Ok((reason.inputs[0].1, reason.text.clone()))
}

const FIRST: &str = "{ first = [
    { when = { soil = [\"clay\"], phosphate = [\"0\", \"1\"] }, value = 350 },
    { when = { soil = [\"clay\"] }, value = 320 },
    { value = 280 } ] }";

/// The example of docs/methods/several-layers.md.
#[test]
fn the_first_rule_that_fits_gives_the_number() {
    let job = with_plants(FIRST);
    for (soil, phosphate, wanted, words) in [
        ("clay", "1", 350.0, "350 plants/m2 x 48 g"),
        ("clay", "2", 320.0, "by rule 2 (soil 'clay')"),
        ("sand", "1", 280.0, "by rule 3 (everywhere)"),
    ] {
        let (number, text) = plants(&job, soil, phosphate).expect("a rate");
        assert_eq!(number, wanted);
        assert!(text.contains(words), "{text}");
    }
}

/// The example of docs/methods/several-layers.md.
#[test]
fn a_sum_starts_somewhere_and_each_layer_adds_or_takes_off() {
    let job = with_plants(
        "{ sum = [280, { layer = \"soil\", by_class = { clay = 40, sand = 0 } }, { layer = \"phosphate\", by_class = { 0 = 20 }, otherwise = -10 }] }",
    );
    assert_eq!(plants(&job, "clay", "0").expect("a rate").0, 340.0);
    let (number, text) = plants(&job, "clay", "2").expect("a rate");
    assert_eq!(number, 310.0);
    let words = "(280 + 40 on soil 'clay' - 10 on phosphate '2')";
    assert!(text.contains(words), "{text}");
    assert_eq!(plants(&job, "sand", "2").expect("a rate").0, 270.0);
}

/// The example of docs/methods/several-layers.md.
#[test]
fn a_product_multiplies_a_start_by_a_factor_of_each_layer() {
    let job = with_plants(
        "{ product = [280, { layer = \"soil\", by_class = { clay = 1.2, sand = 1 } }, { layer = \"phosphate\", curve = [{ at = 0, value = 1.1 }, { at = 2, value = 1 }] }] }",
    );
    let (number, text) = plants(&job, "clay", "1").expect("a rate");
    assert!(close(number, 280.0 * 1.2 * 1.05), "{number}");
    let words = "(280 x 1.2 on soil 'clay' x 1.05 on phosphate '1' by its curve)";
    assert!(text.contains(words), "{text}");
    assert!(close(plants(&job, "sand", "3").expect("a rate").0, 280.0));
}

#[test]
fn a_sum_below_zero_is_refused() {
    let job = with_plants("{ sum = [10, { layer = \"soil\", by_class = { clay = -40 } }] }");
    let fault = plants(&job, "clay", "0").expect_err("below 0");
    assert!(fault.found.contains("-30"), "{}", fault.found);
}

#[test]
fn rules_that_decide_nothing_and_classes_that_no_rule_names_are_told() {
    let rules = "{ first = [
        { when = { soil = [\"clay\"] }, value = 320 },
        { when = { soil = [\"clay\"], phosphate = [\"1\"] }, value = 350 },
        { when = { soil = [\"loam\"] }, value = 300 } ], otherwise = 280 }";
    let [clay, sand] = [inside("clay", "1"), facts(LandPart::Headland, "sand", "1")];
    let land = [(&clay, 10_000.0), (&sand, 5_000.0)];
    let found = check_rules(&with_plants(rules), &land).expect("land with numbers");
    let told: Vec<(&str, Severity)> = found
        .iter()
        .map(|of| (of.code.as_ref(), of.severity))
        .collect();
    assert_eq!(
        told,
        [
            ("agronomy.rule_never_matched", Severity::Warning),
            ("agronomy.rule_never_matched", Severity::Warning),
            ("agronomy.class_without_rule", Severity::Note),
        ]
    );
    assert!(found[0].message.contains("rule 2") && found[0].message.contains("a rule before it"));
    assert!(found[1].message.contains("rule 3") && found[1].message.contains("no land"));
    assert!(found[2].message.contains("'sand' of layer 'soil'"));
    assert_eq!(found[2].area_m2, Some(5_000.0));
    // A list in which every rule decides something says nothing.
    let other = inside("clay", "2");
    let land = [(&clay, 1.0), (&other, 1.0), (&sand, 1.0)];
    assert!(
        check_rules(&with_plants(FIRST), &land)
            .expect("land")
            .is_empty()
    );
}

#[test]
fn land_that_no_rule_fits_is_one_fault_with_classes_and_hectares() {
    let rules = "{ first = [{ when = { soil = [\"clay\"] }, value = 320 }] }";
    let [clay, sand] = [inside("clay", "1"), inside("sand", "1")];
    let land = [(&clay, 10_000.0), (&sand, 5_000.0)];
    let fault = check_rules(&with_plants(rules), &land).expect_err("sand has no rule");
    assert_eq!(fault.code, "agronomy.no_rule_fits");
    assert!(
        fault.found.contains("soil 'sand' (0.50 ha)"),
        "{}",
        fault.found
    );
}
