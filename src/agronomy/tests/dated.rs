//! Rates by sowing date, by a curve, and under a label's most.

use super::{JOB, close, inside, job, rules};
use crate::agronomy::{Rate, Tables, check_classes, rates};
use crate::job::Job;

fn barley(job: &Job, soil: &str) -> Rate {
    let (rates, _) = rates(job, &Tables::default(), &inside(soil, "1")).expect("rates");
    rates[0].clone()
}

/// HGCA, The wheat growth guide (2008), page 9: sowing a month later, +50 plants/m2. 300 plants/m2, 48 g, 96 % and 65 %,
/// late sowing 110 %, as in the other tests.
#[test]
fn a_later_date_wants_more_plants() {
    let dates = "by_date = [{ date = \"2026-09-25\", more_per_m2 = 0 }, { date = \"2026-10-25\", more_per_m2 = 50 }]";
    let text = JOB.replacen("rate = { plants", &format!("rate = {{ {dates}, plants"), 1);
    let on = |date: &str| {
        let text = text.replacen(
            "name = \"test\"",
            &format!("name = \"test\"\nsowing_date = \"{date}\""),
            1,
        );
        barley(&job(&text), "clay")
    };
    for (date, plants) in [
        ("2026-08-01", 300.0),
        ("2026-09-25", 300.0),
        ("2026-10-10", 325.0),
        ("2026-10-25", 350.0),
        ("2026-12-24", 350.0),
    ] {
        let wanted = plants * 48.0 / 100.0 / (0.96 * 0.65) * 1.10;
        let rate = on(date);
        assert!(close(rate.kg_per_ha, wanted), "{date}: {rate:?}");
    }
    let said = &on("2026-10-10").reasons[0].text;
    assert!(
        said.contains("(300 + 25 per m2 for sowing on 2026-10-10)"),
        "{said}"
    );
}

#[test]
fn a_curve_takes_numbers_from_values() {
    let table = "{ layer = \"soil\", by_class = { sand = 90, clay = 65 } }";
    let curve = "{ layer = \"soil\", curve = [{ at = 10, value = 90 }, { at = 30, value = 65 }] }";
    assert!(JOB.contains(table));
    let job = job(&JOB.replacen(table, curve, 1));
    for (clay, percent) in [
        ("2", 90.0),
        ("10", 90.0),
        ("18", 80.0),
        ("30.0", 65.0),
        ("55", 65.0),
    ] {
        let wanted = 300.0 * 48.0 / 100.0 / (0.96 * percent / 100.0) * 1.10;
        let rate = barley(&job, clay);
        assert!(close(rate.kg_per_ha, wanted), "{clay}: {rate:?}");
    }
    let said = &barley(&job, "18").reasons[0].text;
    assert!(said.contains("on soil '18' by its curve"), "{said}");
    let found = [
        vec![("rock".to_owned(), 5_000.0)],
        vec![("1".to_owned(), 5_000.0)],
    ];
    let fault = check_classes(&job, &found).expect_err("no number");
    assert!(
        fault.found.contains("'rock' (0.50 ha)") && fault.allowed.contains("by its curve"),
        "{fault}"
    );
}

#[test]
fn nothing_exceeds_what_the_label_allows() {
    let limits = "limits = { min_kg_per_ha = 60, max_kg_per_ha = 150, step_kg_per_ha = 5 }";
    let label = "limits = { max_kg_per_ha = 150, label_max_kg_per_ha = 112, step_kg_per_ha = 5 }";
    assert!(JOB.contains(limits));
    let job = job(&JOB.replacen(limits, label, 1));
    let (rates, findings) = rates(&job, &Tables::default(), &inside("sand", "0")).expect("rates");
    // 90 kg/ha P2O5 are 173.1 kg/ha; the step below 112 is 110.
    assert_eq!(rates[1].kg_per_ha, 110.0);
    assert_eq!(
        rules(&rates[1]),
        [
            "nutrient.grade",
            "limit.label",
            "limit.step",
            "seed_safe.check"
        ]
    );
    assert!(
        findings[0]
            .message
            .contains("more than the label allows: 112"),
        "{findings:?}"
    );
}
