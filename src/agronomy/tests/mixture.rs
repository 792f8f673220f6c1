//! Two species at once: shares of full rates, tied on every piece of land.

use super::{close, inside, job, rates, rules};
use crate::agronomy::{Rate, Tables};
use crate::job::Job;

/// Peas with oats, on two layers so that facts of the other tests fit.
const PEAS_AND_OATS: &str = r#"
name = "test"
field = { name = "test", boundary = { file = "b.geojson" } }
setback = [{ name = "brook", source = { file = "w.geojson" }, distance_m = 6, products = ["oats"] }]
layer = [
    { name = "soil", source = { file = "soil.geojson" }, class_attribute = "texture" },
    { name = "phosphate", source = { file = "p.geojson" }, class_attribute = "index" },
]
drill = { working_width_m = 6 }
[mixture]
main = "peas"
companion = "oats"
series = "additive"
companion_percent = { layer = "soil", by_class = { sand = 30, clay = 0 } }
[[product]]
id = "peas"
name = "Peas"
kind = "seed"
hopper = "front"
thousand_grain_weight_g = 250
rate = { plants_per_m2 = 80, establishment_percent = 88, germination_joined = "included" }
[[product]]
id = "oats"
name = "Oats"
kind = "seed"
hopper = "rear"
thousand_grain_weight_g = 40
rate = { plants_per_m2 = 250, establishment_percent = 85, germination_joined = "included" }
"#;

fn on(job: &Job, soil: &str) -> Vec<Rate> {
    rates(job, &Tables::default(), &inside(soil, "1"))
        .expect("rates")
        .0
}

fn shares(rates: &[Rate]) -> Vec<[f64; 3]> {
    let shares = rates.iter().filter_map(|rate| rate.share.as_ref());
    shares
        .map(|of| [of.wanted_percent, of.sown_percent, of.together_percent])
        .collect()
}

/// The figures of producer.com (pea 100 % + cereal 30 %) on the plants of the Saskatchewan trial.
#[test]
fn peas_in_full_with_oats_at_three_tenths() {
    let rates = on(&job(PEAS_AND_OATS), "sand");
    assert!(close(rates[0].kg_per_ha, 80.0 * 250.0 / 88.0));
    // 30 % of 250 plants are the 75 plants/m2 of the trial.
    assert!(close(rates[1].kg_per_ha, 75.0 * 40.0 / 85.0));
    let plants = rates[1].stand.as_ref().and_then(|of| of.plants_per_m2);
    assert!(close(plants.expect("plants"), 75.0));
    for ([wanted, sown, together], share) in shares(&rates).into_iter().zip([100.0, 30.0]) {
        assert!(close(wanted, share) && close(sown, share) && close(together, 130.0));
    }
    assert!(rules(&rates[0]).contains(&"mixture.main".to_owned()));
    assert_eq!(
        &rules(&rates[1])[1..],
        ["mixture.companion", "mixture.sown", "seed.stand"]
    );
    let text = &rates[1].reasons[1].text;
    assert!(
        text.contains("30 % of its full rate of 117.6 kg/ha on soil 'sand'"),
        "{text}"
    );
}

#[test]
fn in_the_replacement_series_the_main_crop_gives_up_what_the_companion_takes() {
    let job = job(&PEAS_AND_OATS.replace("\"additive\"", "\"replacement\""));
    let rates = on(&job, "sand");
    assert!(close(rates[0].kg_per_ha, 80.0 * 250.0 / 88.0 * 0.7));
    assert!(close(rates[1].kg_per_ha, 250.0 * 40.0 / 85.0 * 0.3));
    assert!(shares(&rates).iter().all(|of| close(of[2], 100.0)));
}

#[test]
fn without_the_companion_the_main_crop_keeps_its_whole_rate() {
    for series in ["additive", "replacement"] {
        let text = PEAS_AND_OATS.replace("\"additive\"", &format!("\"{series}\""));
        let job = job(&text);
        // A share of 0 on clay, and a setback on sand.
        let mut beside_brook = inside("sand", "1");
        beside_brook.setbacks = vec![0];
        for facts in [inside("clay", "1"), beside_brook] {
            let rates = rates(&job, &Tables::default(), &facts).expect("rates").0;
            assert!(close(rates[0].kg_per_ha, 80.0 * 250.0 / 88.0), "{series}");
            assert_eq!(rates[1].kg_per_ha, 0.0, "{series}");
            assert!(shares(&rates).iter().all(|of| close(of[2], 100.0)));
        }
    }
}

/// Cereal over clover cut by one third: AHDB knowledge library, Undersowing clover. Limits come after the share.
#[test]
fn limits_come_after_the_share_and_the_share_sown_says_so() {
    let text = PEAS_AND_OATS
        .replace(
            "series = \"additive\"",
            "series = \"additive\"\nmain_percent = 66.7",
        )
        .replacen(
            "hopper = \"front\"",
            "hopper = \"front\"\nlimits = { max_kg_per_ha = 100 }",
            1,
        );
    let rates = on(&job(&text), "sand");
    assert_eq!(rates[0].kg_per_ha, 100.0);
    let [wanted, sown, together] = shares(&rates)[0];
    assert!(close(wanted, 66.7) && close(sown, 44.0) && close(together, 74.0));
}
