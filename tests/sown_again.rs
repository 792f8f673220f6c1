//! Land that the drive sows more than once counts as often beside the seed: where rounds of a headland meet each other or the bouts of
//! the interior, as well as anywhere else.

mod plan_support;

use plan_support::{PLACE, Rings, collection, feature, plain, planned};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

/// A made field of four corners, and how it is driven.
#[derive(Debug, Clone)]
struct Driven {
    /// Metres that the eastern corners lie farther north than the western ones.
    slant_m: f64,
    /// Width of the headland, m: often no whole number of bouts.
    headland_m: f64,
    heading_deg: f64,
    last: bool,
    sections: u32,
    rule: &'static str,
    /// The starter, as a share of its limit.
    share: f64,
}

fn driven_fields() -> impl Strategy<Value = Driven> {
    let ways = (0.0..60.0, 0.0..26.0, 0.0..180.0, any::<bool>());
    let switched = (
        1_u32..=4,
        prop::sample::select(vec!["any_part_in", "half_in"]),
    );
    (
        ways,
        switched,
        prop::sample::select(vec![0.3, 0.49, 0.51, 0.8, 1.0]),
    )
        .prop_map(
            |((slant_m, headland_m, heading_deg, last), (sections, rule), share)| Driven {
                slant_m,
                headland_m,
                heading_deg,
                last,
                sections,
                rule,
                share,
            },
        )
}

/// The most that was signed for, kg/ha.
const LIMIT: f64 = 100.0;

/// With one rate of `share` times the limit, all land that is sown n times lies above it where n x share is more than 1, and none
/// else: the land of several passes is counted by the drive itself (its areas are held against the exact arrangement of all ground).
#[test]
fn all_land_that_is_sown_again_above_its_limit_is_told() {
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[41; 32]);
    let config = Config {
        cases: 40,
        failure_persistence: None,
        ..Config::default()
    };
    let told = std::cell::Cell::new(0);
    TestRunner::new_with_rng(config, rng)
        .run(&driven_fields(), |of| {
            let found = land_told(&of)?;
            told.set(told.get() + usize::from(found));
            Ok(())
        })
        .unwrap();
    let told = told.get();
    assert!(told > 5, "only {told} fields had land that is sown again");
}

fn land_told(of: &Driven) -> Result<bool, TestCaseError> {
    let made = plain("");
    let (headland, heading, rule) = (of.headland_m, of.heading_deg, of.rule);
    let turn = if of.last { "last" } else { "first" };
    let section = 6.0 / f64::from(of.sections);
    let sections = vec![section.to_string(); of.sections as usize].join(", ");
    let kg = LIMIT * of.share;
    let text = plan_support::job("")
        .replace("[drill]\n", &format!("[headland]\nwidth_m = {headland}\n[drive]\nheading_deg = {heading}\nheadland = \"{turn}\"\nswitch_rule = \"{rule}\"\n[drill]\nsections_m = [{sections}]\n"))
        .replace("{ layer = \"soil\", by_class = { a = 100.0, b = 0.0 } }", &kg.to_string())
        .replace("limits = { min_kg_per_ha = 40.0, max_kg_per_ha = 120.0 }\n", "")
        .replace("max_kg_per_ha = 5000.0", &format!("max_kg_per_ha = {LIMIT}"));
    let ring: Rings = vec![vec![
        [0.0, 0.0],
        [180.0, of.slant_m],
        [180.0, of.slant_m + 130.0],
        [0.0, 150.0],
    ]];
    made.write("boundary.geojson", collection(&[feature(PLACE, "", &ring)]));
    made.write("job.toml", text);
    let plan = planned(made.path()).map_err(|fault| TestCaseError::fail(fault.to_string()))?;
    let finding = plan
        .findings
        .iter()
        .find(|of| of.code == "seed_safe.sown_again");
    let driven = plan.drive.as_driven.as_ref().expect("a drive");
    // Passes that are allowed by the limit; one more is too many.
    let allowed = (1.0 / of.share).floor() as usize;
    let above = driven
        .patches
        .iter()
        .filter(|patch| patch.on_land && patch.passes > allowed);
    let wanted_m2: f64 = above.clone().map(|patch| patch.area_m2).sum();
    let most = above.map(|patch| patch.passes).max().unwrap_or(0);
    if allowed == 1 {
        // No patch of several passes is left out.
        prop_assert!(
            (wanted_m2 - driven.areas.twice_m2).abs() < 1e-6 * wanted_m2.max(1.0),
            "{of:?}"
        );
    }
    let told_m2 = finding.and_then(|of| of.area_m2).unwrap_or(0.0);
    if wanted_m2 < 10.5 {
        prop_assert!(told_m2 < 10.5, "{told_m2} m2 of {wanted_m2}: {of:?}");
        return Ok(false);
    }
    // Pieces below 1 m2 do not say what most of it gets; without a larger one nothing is told.
    let large = driven
        .patches
        .iter()
        .any(|patch| patch.on_land && patch.passes > allowed && patch.area_m2 >= 1.0);
    prop_assert_eq!(finding.is_some(), large, "{:?}", of);
    if large {
        prop_assert!(
            (told_m2 - wanted_m2).abs() < 1e-6 * wanted_m2,
            "{told_m2} m2 of {wanted_m2}: {of:?}"
        );
        prop_assert!(most >= 2);
    }
    Ok(large)
}
