//! Needs from tables, fertiliser beside the seed and the balance, through a whole job.

use super::{close, inside, rules};
use crate::agronomy::{Rate, Rule, Tables, Verdict, rates};
use crate::findings::{Finding, Outcome, Severity};
use crate::job::Job;
use crate::units;
use proptest::prelude::*;
use std::path::Path;
use std::sync::LazyLock;

/// Wheat with triple superphosphate by table, and a limit.
const JOB: &str = r#"
name = "test"
field = { name = "test", boundary = { file = "b.geojson" } }

[[setback]]
name = "brook"
source = { file = "w.geojson" }
distance_m = 6
products = ["starter"]

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
row_spacing_m = 0.1524
hopper = [{ name = "front", usable_l = 900 }, { name = "rear", usable_l = 900 }]

[[product]]
id = "wheat"
name = "Winter wheat"
kind = "seed"
hopper = "front"
rate = { kg_per_ha = 180 }

[[product]]
id = "starter"
name = "Starter"
kind = "fertiliser"
hopper = "rear"
grade = { n_percent = 12, p2o5_percent = 52 }
form = "monoammonium_phosphate"
#PRODUCT
[product.rate]
nutrient = "p2o5"
#RATE
[product.rate.need_from_table]
table = "uk_rb209_arable_2023"
crop = "winter wheat"
straw = "incorporated"
layer = "phosphate"
#NEED
#TAIL
"#;

pub(super) const LIMIT: &str = r#"[[seed_safe]]
table = "manitoba_phosphate"
crop = "cereals"
spread_m = 0.0254
"#;

/// A signed limit that limits nothing.
const OWN: &str = r#"[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000
crop = "wheat"
row_spacing_m = 0.1524
form = "monoammonium_phosphate"
grade = { n_percent = 12, p2o5_percent = 52 }
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#;

/// The text of the job with lines put in at the marks.
pub(super) fn text(lines: &[(&str, &str)]) -> String {
    lines.iter().fold(JOB.to_owned(), |text, (mark, line)| {
        assert!(text.contains(mark), "{mark}");
        text.replacen(mark, line, 1)
    })
}

/// The job with lines put in at the marks.
pub(super) fn with(lines: &[(&str, &str)]) -> Job {
    Job::parse(&text(lines), Path::new("job.toml"))
        .map_err(|fault| fault.to_string())
        .expect("a right job")
}

pub(super) fn no_file(path: &Path) -> Outcome<String> {
    panic!("{} is not asked for", path.display())
}

/// The rate of the starter on land with this phosphate class.
pub(super) fn starter(job: &Job, phosphate: &str) -> (Rate, Vec<Finding>) {
    let tables = Tables::read(job, no_file).expect("tables");
    let (rates, findings) = rates(job, &tables, &inside("clay", phosphate)).expect("rates");
    (rates[1].clone(), findings)
}

/// AHDB RB209 section 4 (June 2023), example 4.8, page 21: winter wheat, straw incorporated, P index 1, 10 t/ha:
/// 93 kg P2O5/ha.
#[test]
fn a_published_example_becomes_a_product_rate() {
    let job = with(&[("#NEED", "yield_t_per_ha = 10"), ("#TAIL", OWN)]);
    let (rate, _) = starter(&job, "1");
    assert_eq!(
        rules(&rate),
        [
            "nutrient.recommendation",
            "nutrient.grade",
            "seed_safe.check"
        ]
    );
    assert!(close(rate.kg_per_ha, 93.0 / 0.52), "{rate:?}");
    assert_eq!(
        rate.reasons[0].text,
        "80 kg/ha P2O5 for winter wheat at index 1 + 2 t/ha of yield x 6.5 kg/t = 93 kg/ha"
    );
    let source = rate.reasons[0].source.as_deref().expect("a source");
    assert!(
        source.contains("RB209") && source.contains("4.13"),
        "{source}"
    );
    assert_eq!(rate.balance, None, "no balance was asked for");
}

/// RB209 table 4.11, page 17: Olsen P index 1 is 10 to 15 mg/l.
#[test]
fn laboratory_values_find_their_index_and_say_the_rule() {
    let job = with(&[("#NEED", "laboratory_unit = \"mg/l\"")]);
    for (value, index) in [("9.4", "0"), ("9.6", "1"), ("15", "1"), ("16.0", "2")] {
        let text = starter(&job, value).0.reasons[0].text.clone();
        assert!(
            text.contains(&format!("is index {index} (")),
            "{value}: {text}"
        );
        assert!(
            text.contains("rounded to the nearest whole number first: common practice, no source"),
            "{text}"
        );
    }
    let tables = Tables::read(&job, no_file).expect("tables");
    let fault = rates(&job, &tables, &inside("clay", "low")).expect_err("no number");
    assert_eq!(fault.code, "agronomy.laboratory_value");
    let job = with(&[("#NEED", "laboratory_unit = \"ppm\"")]);
    let tables = Tables::read(&job, no_file).expect("tables");
    let fault = rates(&job, &tables, &inside("clay", "12")).expect_err("another unit");
    assert_eq!(fault.code, "agronomy.laboratory_unit");
}

#[test]
fn a_class_the_table_does_not_know_is_named() {
    let job = with(&[]);
    let tables = Tables::read(&job, no_file).expect("tables");
    let fault = rates(&job, &tables, &inside("clay", "high")).expect_err("no such index");
    assert!(
        fault.found.contains("'high'") && fault.found.contains("starter"),
        "{fault}"
    );
}

/// Manitoba Agriculture, safe rates of seed-placed phosphorus: cereals 50 lb/ac of P2O5 as monoammonium phosphate,
/// 1 inch of spread, rows of 6 to 7 inches.
#[test]
fn a_limit_cuts_the_rate_and_the_rest_is_the_balance() {
    let limits = "[product.limits]\nmin_kg_per_ha = 40\nstep_kg_per_ha = 5";
    let job = with(&[("#TAIL", &format!("{limits}\n{LIMIT}"))]);
    let (rate, findings) = starter(&job, "0");
    let limit = units::kg_per_ha_from_lb_per_acre(50.0);
    // 110 kg/ha P2O5 are 211.5 kg/ha of product, the limit 107.8, the step below it 105.
    assert_eq!(rate.kg_per_ha, 105.0);
    let check = &rate.seed_safe[0];
    assert_eq!(
        (check.verdict, check.counts.as_str()),
        (Verdict::Capped, "P2O5")
    );
    assert!(close(check.limit_kg_per_ha.expect("a limit"), limit));
    assert!(close(check.placed_kg_per_ha, 54.6));
    assert!(close(
        check.margin_kg_per_ha.expect("a margin"),
        limit - 54.6
    ));
    assert!(close(check.laid.n_and_k2o, 12.6), "{check:?}");
    // 105 kg/ha x 0.1524 m / 10.
    assert!(close(check.row_load_g_per_m, 1.6002));
    let balance = rate.balance.clone().expect("a balance");
    assert_eq!(balance.nutrient.as_deref(), Some("P2O5"));
    assert!(close(
        balance.nutrient_kg_per_ha.expect("P2O5"),
        110.0 - 54.6
    ));
    assert!(close(balance.kg_per_ha, 110.0 / 0.52 - 105.0));
    assert_eq!(
        rules(&rate),
        [
            "nutrient.recommendation",
            "nutrient.grade",
            "seed_safe.cap",
            "limit.step_down",
            "seed_safe.check",
            "balance.broadcast"
        ]
    );
    let capped = findings
        .iter()
        .find(|finding| finding.code == "seed_safe.capped");
    assert_eq!(capped.expect("told").severity, Severity::Warning);
    // Index 2 asks for 50 kg/ha, which is within; rounding is no balance.
    let (rate, findings) = starter(&job, "2");
    assert_eq!(
        (rate.kg_per_ha, rate.seed_safe[0].verdict),
        (95.0, Verdict::Within)
    );
    assert_eq!(rate.balance.map(|balance| balance.kg_per_ha), Some(0.0));
    assert!(findings.is_empty(), "{findings:?}");
}

#[test]
fn the_balance_may_be_another_product() {
    let other = "balance = { name = \"TSP\", grade = { p2o5_percent = 46 } }";
    let job = with(&[("#PRODUCT", other), ("#TAIL", LIMIT)]);
    let (rate, _) = starter(&job, "0");
    let limit = units::kg_per_ha_from_lb_per_acre(50.0);
    assert!(close(rate.kg_per_ha, limit / 0.52), "{rate:?}");
    let balance = rate.balance.expect("a balance");
    assert!(
        close(balance.kg_per_ha, (110.0 - limit) / 0.46),
        "{balance:?}"
    );
}

#[test]
fn a_cap_below_what_the_drill_sows_at_least_places_nothing() {
    let limits = "[product.limits]\nmin_kg_per_ha = 120\nstep_kg_per_ha = 5";
    let job = with(&[("#TAIL", &format!("{limits}\n{LIMIT}"))]);
    let (rate, findings) = starter(&job, "0");
    assert_eq!(rate.kg_per_ha, 0.0);
    let balance = rate.balance.expect("a balance");
    assert!(close(balance.nutrient_kg_per_ha.expect("P2O5"), 110.0));
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "seed_safe.below_least")
    );
}

#[test]
fn the_job_may_only_be_warned() {
    let job = with(&[("#TAIL", &format!("{LIMIT}above = \"warn\""))]);
    let (rate, findings) = starter(&job, "0");
    assert!(close(rate.kg_per_ha, 110.0 / 0.52));
    assert_eq!(rate.seed_safe[0].verdict, Verdict::Above);
    assert!(rate.seed_safe[0].margin_kg_per_ha.expect("a margin") < 0.0);
    assert_eq!(findings[0].code, "seed_safe.above");
    assert_eq!(findings[0].severity, Severity::Decision);
    let left = rate.balance.map(|left| left.kg_per_ha);
    assert_eq!(left, Some(0.0), "nothing was left out");
}

/// Kansas State University: N + K2O with wheat seed, rows of 6 to 8 inches: 30 lb/ac on medium and fine soil, 21 on
/// coarse or dry soil. Naming a second table takes the stricter one.
#[test]
fn of_several_tables_the_strictest_counts() {
    let kansas = LIMIT.replace("manitoba_phosphate", "kansas_n_k2o_wheat");
    let kansas = kansas.replace(
        "\"cereals\"",
        "\"wheat\"\ntexture_by_class = { layer = \"soil\", by_class = { clay = \"medium\" } }",
    );
    let both = format!("{LIMIT}{kansas}");
    let with_grade = |grade: &str| {
        let job = with(&[("#TAIL", &both)]).clone();
        let mut job = job;
        job.products[1].grade = toml::from_str(grade).ok();
        starter(&job, "0").0
    };
    let phosphate = with_grade("n_percent = 12\np2o5_percent = 52");
    let limit = units::kg_per_ha_from_lb_per_acre(50.0);
    assert!(close(phosphate.kg_per_ha, limit / 0.52), "{phosphate:?}");
    let verdicts: Vec<Verdict> = phosphate
        .seed_safe
        .iter()
        .map(|check| check.verdict)
        .collect();
    assert_eq!(verdicts, [Verdict::Capped, Verdict::Within]);
    // With as much K2O as P2O5 the other table is the stricter one: all N of the stream counts with it.
    let potash = with_grade("n_percent = 10\np2o5_percent = 20\nk2o_percent = 20");
    let limit = units::kg_per_ha_from_lb_per_acre(30.0);
    assert!(close(potash.kg_per_ha, limit / 0.30), "{potash:?}");
}

/// South Dakota stand-loss equation; the check value of `testdata/published/seed_safe.txt` is in its own test, here
/// the product's rate: F = 30 x S x T / (C x R x MX) lb/ac, C 1.436 for spring wheat and urea.
#[test]
fn the_equation_counts_the_product_itself() {
    let equation = LIMIT
        .replace("manitoba_phosphate", "south_dakota_stand_loss")
        .replace("\"cereals\"", "\"spring wheat\"\nstand_loss_percent = 10");
    let mut job = with(&[("#TAIL", &equation)]);
    job.products[1].form = Some(crate::job::FertiliserForm::Urea);
    let (rate, _) = starter(&job, "0");
    let limit = units::kg_per_ha_from_lb_per_acre(30.0 * (1.0 / 6.0) * 10.0 / 1.436);
    assert!(close(rate.kg_per_ha, limit), "{rate:?}");
    assert_eq!(rate.seed_safe[0].counts, "product");
}

#[test]
fn a_share_is_placed_and_the_rest_spread() {
    let job = with(&[("#RATE", "placed_percent = 40"), ("#TAIL", OWN)]);
    let (rate, _) = starter(&job, "0");
    assert!(close(rate.kg_per_ha, 0.4 * 110.0 / 0.52));
    let balance = rate.balance.expect("a balance");
    assert!(close(balance.nutrient_kg_per_ha.expect("P2O5"), 66.0));
    // A flat starter with the rest spread is the most rate together with a product for the balance.
    let flat = "[product.limits]\nmax_kg_per_ha = 60\n[product.balance]\nname = \"TSP\"";
    let flat = format!("{flat}\n{OWN}");
    let (rate, _) = starter(&with(&[("#TAIL", &flat)]), "0");
    assert_eq!(rate.kg_per_ha, 60.0);
    let balance = rate.balance.expect("a balance");
    assert!(close(
        balance.nutrient_kg_per_ha.expect("P2O5"),
        110.0 - 31.2
    ));
}

#[test]
fn in_a_setback_nothing_is_placed_or_left() {
    let job = with(&[("#TAIL", LIMIT)]);
    let mut facts = inside("clay", "0");
    facts.setbacks = vec![0];
    let tables = Tables::read(&job, no_file).expect("tables");
    let (rates, findings) = rates(&job, &tables, &facts).expect("rates");
    assert_eq!(rates[1].kg_per_ha, 0.0);
    assert_eq!(
        rates[1].balance.as_ref().map(|left| left.kg_per_ha),
        Some(0.0)
    );
    assert!(
        rates[1].seed_safe.is_empty() && findings.is_empty(),
        "{findings:?}"
    );
}

/// RB209 table 4.13: winter wheat at P index 0 needs 110 kg P2O5/ha and at K index 0 105 kg K2O/ha.
#[test]
fn other_needs_are_compared_or_decide() {
    let also = "also = [{ nutrient = \"k2o\", layer = \"soil\" }]";
    let grade = "grade = { p2o5_percent = 30, k2o_percent = 10 }";
    let product = ("grade = { n_percent = 12, p2o5_percent = 52 }", grade);
    let on = |job: &Job| {
        let tables = Tables::read(job, no_file).expect("tables");
        rates(job, &tables, &inside("0", "0")).expect("rates")
    };
    let form = ("\"monoammonium_phosphate\"", "\"without_urea\"");
    let own = OWN
        .replace("grade = { n_percent = 12, p2o5_percent = 52 }", grade)
        .replace(form.0, form.1);
    let own = ("#TAIL", own.as_str());
    let (rates, findings) = on(&with(&[product, form, own, ("#NEED", also)]));
    assert!(close(rates[1].kg_per_ha, 110.0 / 0.30));
    let reasons = rates[1].reasons.iter();
    let mut others = reasons.filter(|reason| reason.rule == Rule::NutrientOthers);
    let last = others.next().expect("other nutrients");
    assert!(
        last.text.contains("K2O: 36.7 of 105 kg/ha, 68.3 short"),
        "{}",
        last.text
    );
    assert_eq!(findings[0].code, "nutrient.short");
    let (rates, findings) = on(&with(&[
        product,
        form,
        own,
        ("#NEED", &format!("{also}\ndecides = \"largest_need\"")),
    ]));
    assert!(close(rates[1].kg_per_ha, 105.0 / 0.10));
    assert!(
        rates[1].reasons[0]
            .text
            .contains("of 2 needs that of K2O decides")
    );
    assert_eq!(findings[0].code, "nutrient.oversupplied");
}

/// A table of the user's own is read like a built-in one; a wrong one is refused with file, line and cause.
#[test]
fn a_table_of_ones_own() {
    let own = include_str!("../tables/us_north_dakota_barley_2023.toml");
    let job = with(&[
        ("table = \"uk_rb209_arable_2023\"", "file = \"mine.toml\""),
        ("\"winter wheat\"", "\"barley\""),
        ("\"incorporated\"", "\"any\""),
    ]);
    let read = |text: &str| Tables::read(&job, |_| Ok(text.to_owned()));
    let tables = read(own)
        .map_err(|fault| fault.to_string())
        .expect("a table");
    assert!(rates(&job, &tables, &inside("clay", "4-7")).is_ok());
    let wrong = own.replacen("unit = \"lb/ac\"", "unit = \"lb\"", 1);
    assert_ne!(wrong, own);
    let line = 1 + own
        .lines()
        .position(|line| line.contains("unit = \"lb/ac\""))
        .expect("it");
    let fault = read(&wrong).expect_err("a unit that is not known");
    assert!(
        fault
            .to_string()
            .starts_with(&format!("mine.toml:{line}: ")),
        "{fault}"
    );
    let fault = read(&own.replace("\"barley\"", "\"oats\"")).expect_err("another crop");
    assert_eq!(fault.code, "tables.no_crop");
}

/// The job with the limit, read once for thousands of cases.
static LIMITED: LazyLock<Job> = LazyLock::new(|| with(&[("#TAIL", LIMIT)]));

proptest! {
    #![proptest_config(super::properties::thousands())]

    /// Never more with the seed than the table allows, and nothing of the need is lost.
    #[test]
    fn placed_and_balance_make_the_need(
        need in 1.0..240.0_f64,
        percent in 5.0..60.0_f64,
        step in prop::option::of(0.5..20.0_f64),
        min in 0.0..60.0_f64,
    ) {
        let mut job = LIMITED.clone();
        let starter = &mut job.products[1];
        starter.rate.need_from_table = None;
        starter.rate.need_kg_per_ha = Some(crate::job::Lookup::Same(need));
        starter.grade = Some(crate::job::Grade { p2o5_percent: percent, ..Default::default() });
        starter.limits.step_kg_per_ha = step;
        starter.limits.min_kg_per_ha = Some(min);
        let tables = Tables::read(&job, no_file).expect("tables");
        let (rates, _) = rates(&job, &tables, &inside("clay", "0")).expect("rates");
        let rate = &rates[1];
        let placed = rate.kg_per_ha * percent / 100.0;
        let limit = units::kg_per_ha_from_lb_per_acre(50.0);
        prop_assert!(placed <= limit * (1.0 + 1e-9), "{placed} of {limit}");
        let left = rate.balance.as_ref().and_then(|left| left.nutrient_kg_per_ha);
        if rate.seed_safe[0].verdict == Verdict::Capped {
            prop_assert!(rate.kg_per_ha == 0.0 || rate.kg_per_ha >= min);
            // Where the least rate lifted a small need above the limit, nothing is lost either.
            let kept = placed + left.unwrap_or(0.0);
            prop_assert!((kept - need.max(placed)).abs() < 1e-6, "{kept} of {need}");
        } else {
            prop_assert_eq!(left, Some(0.0));
        }
    }
}
