//! The example with three kinds of input: polygons, points and a raster lead to one plan.

use std::path::Path;
use twinsow::job::Job;
use twinsow::plan::{self, Plan};

fn example() -> Plan {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/three-inputs/job.toml");
    let job = Job::load(&file).unwrap_or_else(|fault| panic!("{fault}"));
    plan::run(&job).unwrap_or_else(|fault| panic!("{fault}"))
}

#[test]
fn polygons_points_and_a_raster_lead_to_one_plan() {
    let plan = example();
    let [soil, phosphate, harvest] = [0, 1, 2].map(|layer| {
        let rows = plan.combinations.iter();
        let mut all: Vec<&str> = rows.map(|row| row.facts.classes[layer].as_str()).collect();
        all.sort_unstable();
        all.dedup();
        all
    });
    assert_eq!(soil, ["clay", "loam", "sandy loam"]);
    assert_eq!(phosphate, ["1", "2", "3"]);
    // A number for each of the four soil polygons, two of them of one soil.
    assert_eq!(harvest.len(), 4, "{harvest:?}");
    for row in &plan.combinations {
        let reasons = |product: usize, rule: &str| {
            let reasons = &row.rates[product].reasons;
            reasons.iter().any(|reason| reason.rule == rule)
        };
        assert!(reasons(0, "seed.population"), "{:?}", row.rates[0].reasons);
        let seed = &row.rates[0].reasons;
        assert!(
            seed.iter()
                .any(|reason| reason.text.contains("by its curve")),
            "{seed:?}"
        );
        let starter = row.rates[1].kg_per_ha;
        assert_eq!(starter == 0.0, row.facts.classes[1] == "3", "{starter}");
    }
    // Every value has its land: nothing of the field is left over.
    let area: f64 = plan.combinations.iter().map(|row| row.area_m2).sum();
    assert!((area - plan.tally.mapped_m2).abs() < 1e-6 * area);
    let said = |code: &str| {
        let mut findings = plan.findings.iter();
        findings.any(|finding| finding.code == code)
    };
    assert!(
        said("surface.zonal") && said("surface.fit"),
        "{:?}",
        plan.findings
    );
}
