//! Rules of the place: the most of a nutrient or a product, closed periods.

use super::{JOB, close, inside, job, rules};
use crate::agronomy::{Rate, Tables, rates};
use crate::findings::{Finding, Severity};
use crate::job::{ClosedPeriod, Job};

const LIMIT: &str = "place_limit = [{ name = \"nitrogen for the crop\", nutrient = \"n\", most_kg_per_ha = 120, already_kg_per_ha = 108, source = \"own rule\" }]\n";
const CLOSED: &str = "closed_period = [{ name = \"winter\", products = [\"starter\"], first_day = \"10-15\", last_day = \"01-31\", source = \"own rule\" }]\n";

/// The job of the other tests without limits of its own, with these lines at its top.
fn with(top: &str) -> Job {
    let text = JOB.replace(
        "limits = { min_kg_per_ha = 60, max_kg_per_ha = 150, step_kg_per_ha = 5 }",
        "",
    );
    job(&format!("{top}{text}"))
}

fn on(job: &Job, phosphate: &str) -> (Vec<Rate>, Vec<Finding>) {
    rates(job, &Tables::default(), &inside("sand", phosphate)).expect("rates")
}

/// The example of docs/methods/place-rules.md.
#[test]
fn what_the_place_allows_is_not_exceeded() {
    let job = with(LIMIT);
    // 90 kg/ha P2O5 from 12-52 would bring 20.8 kg/ha N, and 12 are left.
    let (rates, findings) = on(&job, "0");
    assert!(close(rates[1].kg_per_ha, 100.0), "{}", rates[1].kg_per_ha);
    assert!(rules(&rates[1]).contains(&"place.limit".to_owned()));
    let reason = &rates[1].reasons[1];
    assert_eq!(reason.source.as_deref(), Some("own rule"));
    assert!(
        reason.text.contains("down from 173.1 to 100 kg/ha"),
        "{}",
        reason.text
    );
    let told: Vec<_> = findings
        .iter()
        .map(|of| (of.code.as_ref(), of.severity))
        .collect();
    assert_eq!(told, [("place.limit", Severity::Warning)]);
    // 30 kg/ha P2O5 bring 6.9 kg/ha N: nothing to cut.
    let (rates, findings) = on(&job, "2");
    assert!(close(rates[1].kg_per_ha, 30.0 / 0.52) && findings.is_empty());
}

#[test]
fn rounding_and_least_do_not_pass_the_limit() {
    let steps = "\nlimits = { step_kg_per_ha = 7, min_kg_per_ha = 50 }\n";
    let text = format!("{LIMIT}{JOB}").replace(
        "\nlimits = { min_kg_per_ha = 60, max_kg_per_ha = 150, step_kg_per_ha = 5 }\n",
        steps,
    );
    assert!(text.contains(steps));
    assert_eq!(on(&job(&text), "0").0[1].kg_per_ha, 98.0);
    // Where no more than a least rate would go over it, nothing is given.
    let text = text.replace("already_kg_per_ha = 108", "already_kg_per_ha = 115");
    assert_eq!(on(&job(&text), "0").0[1].kg_per_ha, 0.0);
    let text = text.replace("already_kg_per_ha = 115", "already_kg_per_ha = 130");
    assert_eq!(on(&job(&text), "0").0[1].kg_per_ha, 0.0);
}

#[test]
fn the_kilograms_of_a_product_may_be_limited() {
    let top = LIMIT.replace("nutrient = \"n\"", "product = \"barley\"");
    let rate = on(&with(&top), "0").0[0].kg_per_ha;
    assert!(close(rate, 12.0), "{rate}");
}

/// What is cut off is not broadcast either, and a balance that brings more than allowed asks for a decision.
#[test]
fn the_balance_counts_too() {
    let starter = "kind = \"fertiliser\"\nhopper = \"rear\"";
    let shared = |balance: &str| {
        let text = format!("{LIMIT}{JOB}")
            .replace(starter, &format!("{starter}\n{balance}"))
            .replace(
                "rate = { nutrient",
                "rate = { placed_percent = 50, nutrient",
            )
            .replace(
                "max_kg_per_ha = 150, step_kg_per_ha = 5",
                "max_kg_per_ha = 150",
            );
        on(&job(&text.replace("min_kg_per_ha = 60, ", "")), "0")
    };
    let (rates, findings) = shared("");
    let left = rates[1].balance.as_ref().expect("a balance").kg_per_ha;
    assert!(close(rates[1].kg_per_ha, 50.0) && close(left, 50.0));
    assert!(findings.iter().all(|of| of.severity != Severity::Decision));
    let rich = "balance = { name = \"rich\", grade = { n_percent = 40, p2o5_percent = 20 } }";
    let (_, findings) = shared(rich);
    assert!(
        findings
            .iter()
            .any(|of| of.code == "place.above" && of.severity == Severity::Decision)
    );
}

#[test]
fn a_closed_product_is_not_planned_on_a_closed_day() {
    for (day, is_closed) in [
        ("2026-10-14", false),
        ("2026-10-15", true),
        ("2026-12-31", true),
        ("2027-01-31", true),
        ("2027-02-01", false),
    ] {
        let job = with(&format!("sowing_date = \"{day}\"\n{CLOSED}"));
        let (rates, findings) = on(&job, "0");
        assert_eq!(rates[1].kg_per_ha == 0.0, is_closed, "{day}");
        assert_eq!(
            rules(&rates[1]).contains(&"place.closed".to_owned()),
            is_closed,
            "{day}"
        );
        let decision = findings.iter().any(|of| of.code == "place.closed");
        assert_eq!(decision, is_closed, "{day}");
        assert!(rates[0].kg_per_ha > 0.0, "the seed is sown on {day}");
    }
    let (rates, findings) = on(&with(CLOSED), "0");
    assert!(rates[1].kg_per_ha > 0.0);
    assert_eq!(findings[0].code, "place.no_date");
}

#[test]
fn both_days_of_a_period_are_closed() {
    let period = |from: &str, to: &str| ClosedPeriod {
        name: String::new(),
        products: Vec::new(),
        first_day: from.to_owned(),
        last_day: to.to_owned(),
        source: String::new(),
    };
    let summer = period("06-01", "08-31");
    assert!(summer.holds("2026-06-01") && summer.holds("2026-08-31"));
    assert!(!summer.holds("2026-05-31") && !summer.holds("2026-09-01"));
}
