//! What bad numbers, limits and classes get: one fault that names product, land and numbers.

use super::{JOB, inside, job};
use crate::agronomy::{check_classes, check_limits, class_key, rates};

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
        let fault = rates(
            &job(&JOB.replacen(good, bad, 1)),
            &crate::agronomy::Tables::default(),
            &inside("clay", "1"),
        )
        .expect_err(bad);
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
    let (rates, _) = rates(
        &job(&off),
        &crate::agronomy::Tables::default(),
        &inside("clay", "1"),
    )
    .expect("rates");
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
    let (rates, _) = rates(
        &job(JOB),
        &crate::agronomy::Tables::default(),
        &inside("sand ", "1.0"),
    )
    .expect("rates");
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
