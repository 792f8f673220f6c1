//! The table as a whole, and numbers of jobs held against it.

use super::{Quantity, Range, Usual, check, published};
use crate::findings::{Fault, Finding, Severity};
use crate::job::{Country, Job};
use std::collections::BTreeSet;

/// A job with one seed: lines of the product, its rate, lines at the top.
fn job(id: &str, product: &str, rate: &str) -> Job {
    let text = format!(
        "name = \"t\"\nfield = {{ name = \"t\", boundary = {{ file = \"b.geojson\" }} }}\n[drill]\nworking_width_m = 6\nrow_spacing_m = 0.125\n[[product]]\nid = \"{id}\"\nname = \"A seed\"\nkind = \"seed\"\nhopper = \"front\"\n{product}\nrate = {{ {rate} }}\n"
    );
    toml::from_str(&text).unwrap_or_else(|wrong| panic!("{wrong}\n{text}"))
}

fn found(id: &str, product: &str, rate: &str) -> Vec<Finding> {
    check(&job(id, product, rate)).unwrap_or_else(|fault| panic!("{fault}"))
}

#[track_caller]
fn refused(id: &str, product: &str, rate: &str) -> Box<Fault> {
    match check(&job(id, product, rate)) {
        Ok(findings) => panic!("not refused: {findings:?}"),
        Err(fault) => fault,
    }
}

/// The one finding, a decision, with all of these words.
#[track_caller]
fn asked(id: &str, product: &str, rate: &str, code: &str, words: &[&str]) {
    let found = found(id, product, rate);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].code, code, "{found:?}");
    assert_eq!(found[0].severity, Severity::Decision, "{found:?}");
    for word in words {
        assert!(
            found[0].message.contains(word),
            "{word}: {}",
            found[0].message
        );
    }
}

const WHEAT: &str = "thousand_grain_weight_g = 46\ngermination_percent = 95";
const PLANTS: &str = "plants_per_m2 = 260, establishment_percent = 85";

#[test]
fn every_range_has_a_source_and_there_are_enough_of_them() {
    let all = published().unwrap();
    let with_ranges = all.crops.iter().filter(|crop| !crop.ranges.is_empty());
    assert!(with_ranges.count() >= 25);
    let groups: BTreeSet<&str> = all.crops.iter().map(|crop| crop.group.as_str()).collect();
    let wanted = [
        "cereals",
        "clovers and forage legumes",
        "cover crops",
        "grasses",
        "oilseeds",
        "pulses",
        "root crops",
    ];
    assert_eq!(groups.into_iter().collect::<Vec<_>>(), wanted);
    let ranges: Vec<(&Usual, &Range)> = all
        .crops
        .iter()
        .flat_map(|crop| crop.ranges.iter().map(move |range| (crop, range)))
        .collect();
    assert!(ranges.len() >= 60, "{}", ranges.len());
    for (crop, range) in &ranges {
        let name = &crop.name();
        assert!(all.source(range).is_some(), "{name}: {range:?}");
        assert!(!range.as_printed().is_empty(), "{name}: {range:?}");
    }
    for crop in &all.crops {
        for quantity in Quantity::ALL {
            // Two publishers who are ten times apart cannot both be right: one number is in another unit.
            let spans = crop.of(quantity).map(Range::span);
            let ends = spans.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
            if let Some([least, most]) = ends {
                assert!(
                    most / least < 10.0,
                    "{} {quantity:?}: {least} to {most}",
                    crop.name()
                );
            }
        }
    }
}

/// The factors are those of NIST Handbook 44, worked out by hand.
#[test]
fn printed_units_become_those_of_the_program() {
    let all = published().unwrap();
    let span = |crop: &str, of: Quantity, source: &str| {
        let crop = all.crop(crop).unwrap();
        crop.of(of)
            .find(|range| range.source == source)
            .unwrap()
            .span()
    };
    let near = |[a, b]: [f64; 2], [c, d]: [f64; 2]| {
        assert!(
            (a / c - 1.0).abs() < 1e-3 && (b / d - 1.0).abs() < 1e-3,
            "{a} {b}"
        );
    };
    let weight = span("wheat", Quantity::ThousandGrainWeight, "sdsu_wheat");
    near(weight, [453_592.37 / 26_374.0, 453_592.37 / 12_812.0]);
    near(span("flax", Quantity::Plants, "ndsu_flax"), [322.9, 753.5]);
    near(span("flax", Quantity::Rate, "ndsu_flax"), [28.02, 50.44]);
    near(span("flax", Quantity::Depth, "ndsu_flax"), [19.05, 38.1]);
    near(
        span("maize", Quantity::Plants, "crop_chatter"),
        [6.425, 7.413],
    );
    near(
        span("lentils", Quantity::Depth, "sask_pulse_tips"),
        [25.0, 75.0],
    );
    near(
        span("oats", Quantity::Germination, "uk_certified"),
        [85.0, 100.0],
    );
}

#[test]
fn an_ordinary_seed_is_asked_nothing() {
    for (id, product, rate) in [
        ("wheat", WHEAT, PLANTS),
        ("winter-wheat", WHEAT, "kg_per_ha = 180"),
        (
            "seed",
            "crop = \"Spring_Barley\"\nthousand_grain_weight_g = 48\ngermination_percent = 96",
            "plants_per_m2 = 280, establishment_percent = 80",
        ),
        (
            "rape",
            "thousand_grain_weight_g = 5\ngermination_percent = 90",
            "seeds_per_m2 = 60",
        ),
        (
            "peas",
            "thousand_grain_weight_g = 250\ngermination_percent = 88",
            "plants_per_m2 = 70, establishment_percent = 85",
        ),
        (
            "beans",
            "thousand_grain_weight_g = 550",
            "seeds_per_m2 = 24",
        ),
        (
            "oats",
            "thousand_grain_weight_g = 40\ndepth_mm = 40",
            "kg_per_ha = 140",
        ),
        ("linseed", "thousand_grain_weight_g = 6", "kg_per_ha = 45"),
        ("clover", "crop = \"white clover\"", "kg_per_ha = 4"),
        ("grass", "crop = \"perennial ryegrass\"", "kg_per_ha = 30"),
    ] {
        let found = found(id, product, rate);
        assert!(found.is_empty(), "{id}: {found:?}");
    }
}

#[test]
fn a_number_outside_all_that_is_published_is_asked_about() {
    asked(
        "wheat",
        "thousand_grain_weight_g = 75\ngermination_percent = 95",
        PLANTS,
        "crops.thousand_grain_weight",
        &[
            "of 'wheat' (wheat), in g, is 75",
            "17.2 to 64 g",
            "44 to 54 g (Revive Agronomy",
            "United Kingdom)",
            "12812 to 26374 seeds/lb (AgProfessional",
        ],
    );
    asked(
        "wheat",
        "germination_percent = 60",
        "kg_per_ha = 180",
        "crops.germination",
        &["is 60", "80 to 100 %", "at least 85 %"],
    );
    asked(
        "wheat",
        WHEAT,
        "plants_per_m2 = { layer = \"soil\", by_class = { sand = 260, clay = 460 } }, establishment_percent = 85",
        "crops.plants",
        &["460 for 'clay':"],
    );
    // 22.4 kg/ha, 35 kg/ha and 10 to 12 lb/ac are published of grasses; 60 is none of them.
    asked(
        "grass",
        "crop = \"perennial ryegrass\"",
        "kg_per_ha = 60",
        "crops.rate",
        &["is 60", "35 kg/ha (Teagasc"],
    );
    asked(
        "wheat",
        "depth_mm = 90",
        "kg_per_ha = 180",
        "crops.depth",
        &["is 90", "1 to 1.5 in (Cornell"],
    );
    // Half to double where one figure alone is published: 24 g and 67 g lie outside of 33 g.
    assert!(found("rye", "thousand_grain_weight_g = 24", "kg_per_ha = 110").is_empty());
    asked(
        "rye",
        "thousand_grain_weight_g = 70",
        "kg_per_ha = 110",
        "crops.thousand_grain_weight",
        &["33 g (North Dakota"],
    );
}

#[test]
fn what_only_one_publisher_says_is_noted() {
    let found = found(
        "wheat",
        "thousand_grain_weight_g = 60\ngermination_percent = 95",
        PLANTS,
    );
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].code.as_ref(), found[0].severity),
        ("crops.far", Severity::Note)
    );
    assert!(
        found[0]
            .message
            .contains("only one publisher goes so far, 52 to 64 g (Midland Farmer"),
        "{found:?}"
    );
}

#[test]
fn a_slip_of_the_unit_is_refused_and_named() {
    for (id, product, rate, words) in [
        (
            "wheat",
            "thousand_grain_weight_g = 460",
            "kg_per_ha = 180",
            [
                "(wheat) is 460 g",
                "decimal point a place too far right, which is 46 g",
            ],
        ),
        (
            "flax",
            "depth_mm = 2.5",
            "kg_per_ha = 45",
            ["is 2.5 mm", "read as centimetres, which is 25 mm"],
        ),
        (
            "canola",
            "",
            "plants_per_m2 = 7",
            [
                "(oilseed rape) is 7 per m2",
                "a count per square foot (keys plants_per_ft2, seeds_per_ft2), which is 75.3 per m2",
            ],
        ),
        (
            "barley",
            "",
            "plants_per_m2 = 35",
            [
                "(barley) is 35 per m2",
                "a count per metre of row, which is 280 per m2",
            ],
        ),
        (
            "barley",
            "",
            "plants_per_m2 = 2.8",
            ["is 2.8 per m2", "millions per hectare, which is 280 per m2"],
        ),
        (
            "wheat",
            "",
            "kg_per_ha = 18",
            ["is 18 kg/ha", "grams per square metre, which is 180 kg/ha"],
        ),
        (
            "rape",
            "",
            "kg_per_ha = 160",
            ["is 160 kg/ha", "3 kg/ha (Agriland"],
        ),
        (
            "oats",
            "germination_percent = 9.5",
            "kg_per_ha = 140",
            ["is 9.5 %", "too far left, which is 95 %"],
        ),
        (
            "barley",
            "thousand_grain_weight_g = 48",
            "seeds_per_m2 = 3500",
            ["is 3500 per m2", "too far right, which is 350 per m2"],
        ),
    ] {
        let fault = refused(id, product, rate);
        assert_eq!(fault.code, "crops.impossible", "{fault}");
        let text = fault.to_string();
        for word in words {
            assert!(text.contains(word), "{word}: {text}");
        }
    }
    // 9860 seeds per pound as grams: the job file's own reading refuses it before a crop is looked at.
    let told = Job::parse(
        "name = \"t\"\nfield = { name = \"t\", boundary = { file = \"b.geojson\" } }\n[drill]\nworking_width_m = 6\n[[drill.hopper]]\nname = \"front\"\nusable_l = 1000\n[[product]]\nid = \"wheat\"\nname = \"w\"\nkind = \"seed\"\nhopper = \"front\"\nthousand_grain_weight_g = 9860\nrate = { kg_per_ha = 180 }\n",
        std::path::Path::new("job.toml"),
    );
    let told = told.expect_err("refused").to_string();
    assert!(told.contains("seeds in a pound"), "{told}");
    assert!(
        told.contains("write seeds_per_lb = 9860 instead of it"),
        "{told}"
    );
}

#[test]
fn lots_are_looked_at_one_by_one() {
    let lots = "thousand_grain_weight_g = 46\nlots = { layer = \"lots\", lot = [{ class = \"a\", lot = \"A1\" }, { class = \"b\", lot = \"B2\", thousand_grain_weight_g = 80 }] }";
    asked(
        "wheat",
        lots,
        "kg_per_ha = 180",
        "crops.thousand_grain_weight",
        &["80 of lot 'B2':"],
    );
}

#[test]
fn sums_and_products_are_held_at_both_ends() {
    let sum = "plants_per_m2 = { sum = [280, { layer = \"soil\", by_class = { clay = 400 }, otherwise = 0 }] }, establishment_percent = 85";
    asked("barley", "", sum, "crops.plants", &["680 at the most"]);
    let product = "plants_per_m2 = { product = [280, { layer = \"soil\", by_class = { clay = 0.2 }, otherwise = 1 }] }, establishment_percent = 85";
    asked("barley", "", product, "crops.plants", &["56 at the least"]);
}

#[test]
fn what_a_later_date_adds_counts() {
    let mut job = job(
        "barley",
        "",
        "plants_per_m2 = 420, establishment_percent = 85, by_date = [{ date = \"2026-09-25\", more_per_m2 = 0 }, { date = \"2026-10-25\", more_per_m2 = 50 }]",
    );
    job.sowing_date = Some("2026-09-25".to_owned());
    assert!(
        check(&job)
            .unwrap()
            .iter()
            .all(|own| own.severity < Severity::Decision)
    );
    job.sowing_date = Some("2026-10-25".to_owned());
    let found = check(&job).unwrap();
    assert!(
        found
            .iter()
            .any(|own| own.code == "crops.plants" && own.message.contains("470")),
        "{found:?}"
    );
}

#[test]
fn a_seed_that_nothing_can_be_held_against_is_a_decision() {
    asked(
        "seed",
        "",
        "kg_per_ha = 180",
        "crops.not_named",
        &["crop = \"wheat\""],
    );
    asked(
        "seed",
        "crop = \"quinoa\"",
        "kg_per_ha = 8",
        "crops.no_range",
        &["does not have 'quinoa'"],
    );
    asked(
        "seed",
        "crop = \"weat\"",
        "kg_per_ha = 180",
        "crops.no_range",
        &["Is 'wheat' meant?"],
    );
    asked(
        "mustard",
        "",
        "kg_per_ha = 8",
        "crops.no_range",
        &["Nothing is published here about the seed rate of mustard"],
    );
    // Triticale has seeds per m2 and no rate: with its grain weight, 100 kg/ha are 222 seeds, 180 are 400.
    let weight = "thousand_grain_weight_g = 45";
    assert!(found("triticale", weight, "kg_per_ha = 100").is_empty());
    asked(
        "triticale",
        weight,
        "kg_per_ha = 180",
        "crops.seeds",
        &["is 400"],
    );
    asked(
        "triticale",
        "",
        "kg_per_ha = 100",
        "crops.no_range",
        &["the seed rate of triticale"],
    );
}

#[test]
fn two_seeds_whose_depths_do_not_meet_are_told() {
    let both = |one: &str, other: &str, more: &str| {
        let mut first = job(one, more, "kg_per_ha = 180");
        let second = job(other, &format!("crop = \"{other}\""), "kg_per_ha = 4");
        first.products.extend(second.products);
        first.products[1].id = "second".to_owned();
        let found = check(&first).unwrap_or_else(|fault| panic!("{fault}"));
        let mut apart = found
            .into_iter()
            .filter(|own| own.code == "crops.depths_apart");
        apart.next().map(|own| own.message)
    };
    let said = both("peas", "white clover", "").expect("apart");
    assert!(said.contains("25.4 to 80 mm and 6.35 to 12.7 mm"), "{said}");
    assert_eq!(both("wheat", "white clover", ""), None);
    // At 40 mm of the wheat the clover, which falls to the same depth, is lost.
    let deep = job("wheat", "depth_mm = 40", "kg_per_ha = 180");
    let mut with_clover = job("clover", "crop = \"white clover\"", "kg_per_ha = 4");
    with_clover.products.extend(deep.products);
    let found = check(&with_clover).unwrap();
    let codes: Vec<&str> = found.iter().map(|own| own.code.as_ref()).collect();
    assert_eq!(codes, ["crops.depth", "crops.depths_apart"], "{found:?}");
    with_clover.products[0].surface_applied = true;
    assert!(check(&with_clover).unwrap().is_empty());
}

/// Teagasc (Ireland) prints 280 to 300 plants of barley per m2, Alberta Agriculture (Canada) up to 40 per ft2, which is 431. A job
/// that names its country is told, and nothing waits for it.
#[test]
fn what_only_other_countries_print_is_a_note() {
    let all = published().unwrap();
    let crop = all.crop("barley").expect("a crop");
    let of = |country: Option<Country>| {
        let ranges = crop.of(Quantity::Plants).filter(move |range| {
            country.is_none() || all.source(range).and_then(|of| of.country()) == country
        });
        let most = ranges.map(|range| range.span()[1]);
        most.reduce(f64::max)
    };
    let (here, anywhere) = (of(Some(Country::Ireland)).unwrap(), of(None).unwrap());
    assert!(here < anywhere, "{here} {anywhere}");
    // More than Ireland prints, and not the most that one publisher alone prints.
    let plants = format!("plants_per_m2 = {}, establishment_percent = 85", here + 5.0);
    let mut job = job(
        "barley",
        "thousand_grain_weight_g = 44\ngermination_percent = 95",
        &plants,
    );
    let codes = |job: &Job| -> Vec<String> {
        let found = check(job).unwrap_or_else(|fault| panic!("{fault}"));
        assert!(found.iter().all(|of| of.severity == Severity::Note));
        found.iter().map(|of| of.code.to_string()).collect()
    };
    assert!(!codes(&job).contains(&"crops.outside_country".to_owned()));
    job.field.country = Some(Country::Ireland);
    assert!(codes(&job).contains(&"crops.outside_country".to_owned()));
    job.field.country = Some(Country::Canada);
    assert!(!codes(&job).contains(&"crops.outside_country".to_owned()));
}
