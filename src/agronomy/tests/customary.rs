//! Settings in pounds, acres and feet.

use super::close;
use crate::agronomy::{Rate, Tables, rates};
use crate::findings::Outcome;
use crate::job::{Job, LandPart};
use crate::units::lb_per_acre_from_kg_per_ha;
use crate::zones::Facts;
use std::path::Path;

/// A job file with one seed of these settings.
fn job(own: &str, rate: &str) -> Outcome<Job> {
    let text = format!(
        "name = \"t\"\nfield = {{ name = \"t\", boundary = {{ file = \"b.geojson\" }} }}\n\
         sowing_date = \"2026-10-10\"\n\
         drill = {{ working_width_m = 6, hopper = [{{ name = \"front\", usable_l = 1000 }}] }}\n\
         [[layer]]\nname = \"soil\"\nsource = {{ file = \"s.geojson\" }}\nclass_attribute = \"c\"\n\
         [[product]]\nid = \"seed\"\nname = \"seed\"\nkind = \"seed\"\nhopper = \"front\"\n{own}\n\
         [product.rate]\n{rate}\n"
    );
    Job::parse(&text, Path::new("job.toml"))
}

fn on(own: &str, rate: &str, soil: &str) -> Rate {
    let job = job(own, rate).expect("a right job");
    let facts = Facts {
        part: LandPart::Interior,
        classes: vec![soil.to_owned()],
        special_areas: Vec::new(),
        setbacks: Vec::new(),
    };
    let (mut rates, _) = rates(&job, &Tables::default(), &facts).expect("rates");
    rates.remove(0)
}

/// Rye: 20 plants/ft2, germination 93 %, mortality 3 points, 33 g: 22 kernels/ft2, 70 lb/ac (NDSU, Winter rye: seeding
/// rate). 33 g are 13 745.2 seeds/lb.
#[test]
fn plants_per_square_foot_and_seeds_per_pound_give_the_published_pounds() {
    let own = "seeds_per_lb = 13745.2\ngermination_percent = 93";
    let rate = "plants_per_ft2 = 20\nestablishment_percent = 97\ngermination_joined = \"subtract\"";
    let rate = on(own, rate, "clay");
    let lb = lb_per_acre_from_kg_per_ha(rate.kg_per_ha);
    assert!((lb - 70.0).abs() <= 0.5, "{lb}");
    let stand = rate.stand.expect("a stand");
    assert!((stand.seeds_per_ft2 - 22.0).abs() <= 0.5);
    assert!((stand.plants_per_ft2.expect("plants") - 20.0).abs() < 1e-9);
}

/// Wheat: 35 seeds/ft2 of 12 000 seeds/lb are 127 lb/ac (University of Kentucky, wheat seeding rate).
#[test]
fn seeds_per_square_foot_come_by_class_as_well() {
    let by_class = "{ layer = \"soil\", by_class = { clay = 35 }, otherwise = 30 }";
    for (rate, soil, wanted) in [
        (format!("seeds_per_ft2 = {by_class}"), "clay", 127.0),
        (format!("seeds_per_ft2 = {by_class}"), "sand", 109.0),
        (
            "seeds_per_ft2 = { product = [7, 5] }".to_owned(),
            "sand",
            127.0,
        ),
        (
            "seeds_per_ft2 = { sum = [40, { layer = \"soil\", by_class = { sand = -5 } }] }"
                .to_owned(),
            "sand",
            127.0,
        ),
    ] {
        let lb = lb_per_acre_from_kg_per_ha(on("seeds_per_lb = 12000", &rate, soil).kg_per_ha);
        assert!((lb - wanted).abs() <= 0.5, "{rate}: {lb}");
    }
}

#[test]
fn pounds_per_acre_their_limits_and_dates_per_square_foot() {
    let own = "limits_lb_per_acre = { min = 60, max = 100, label_max = 120, step = 5 }";
    let pounds = |rate: &str| lb_per_acre_from_kg_per_ha(on(own, rate, "clay").kg_per_ha);
    for (rate, wanted) in [
        ("lb_per_acre = 110", 100.0),
        ("lb_per_acre = 50", 60.0),
        ("lb_per_acre = 82", 80.0),
    ] {
        let lb = pounds(rate);
        assert!((lb - wanted).abs() < 1e-6, "{rate}: {lb}");
    }
    let dates = |more: &str| {
        let rate = format!("seeds_per_m2 = 300\nby_date = [{{ date = \"2026-10-01\", {more} }}]");
        on("thousand_grain_weight_g = 40", &rate, "clay").kg_per_ha
    };
    assert!(close(
        dates("more_per_ft2 = 1"),
        (300.0 + 1.0 / 0.09290304) * 0.4
    ));
    assert!(close(dates("more_per_m2 = 0"), 120.0));
}

#[test]
fn a_setting_in_both_is_refused_with_its_line() {
    for (own, rate, says) in [
        (
            "",
            "lb_per_acre = 90\nkg_per_ha = 100",
            "both 'lb_per_acre' and 'kg_per_ha'",
        ),
        (
            "seeds_per_lb = 12000\nthousand_grain_weight_g = 38",
            "kg_per_ha = 100",
            "both 'seeds_per_lb'",
        ),
        (
            "limits = { max_kg_per_ha = 90 }\nlimits_lb_per_acre = { max = 80 }",
            "kg_per_ha = 70",
            "both 'max'",
        ),
        (
            "thousand_grain_weight_g = 40",
            "seeds_per_m2 = 300\nby_date = [{ date = \"2026-10-01\" }]",
            "nothing is said to change",
        ),
    ] {
        let fault = job(own, rate).expect_err(says).to_string();
        assert!(
            fault.contains(says) && fault.contains("job.toml:"),
            "{fault}"
        );
    }
}
