//! Tables of seed-safe limits: what they cover, what they do not, wrong files. The published cells are in
//! `testdata/published/seed_safe.txt`.

use super::*;
use crate::units::{kg_per_ha_from_lb_per_acre, lb_per_acre_from_kg_per_ha, m_from_inches};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

fn wheat(spread_in: f64, row_in: f64, texture: &str, form: FertiliserForm) -> Situation<'_> {
    Situation {
        crop: "wheat",
        texture,
        dry: false,
        row_m: m_from_inches(row_in),
        spread_m: m_from_inches(spread_in),
        form,
        words: Some(crate::texts::Words::default()),
    }
}

fn limit(table: &str, of: &Situation) -> Limit {
    match built_in(table)
        .expect(table)
        .limit(of)
        .expect("sound widths")
    {
        Answer::Limit(limit) => limit,
        Answer::NotCovered(of) => panic!("{}", of.why),
    }
}

fn not_covered(table: &str, of: &Situation) -> String {
    match built_in(table)
        .expect(table)
        .limit(of)
        .expect("sound widths")
    {
        Answer::Limit(limit) => panic!("{limit:?}"),
        Answer::NotCovered(of) => of.why,
    }
}

#[test]
fn every_built_in_table_is_sound_and_rises_with_utilisation() {
    for name in names() {
        let table = built_in(name).expect(name);
        if table.by == By::SeedbedUtilisation {
            for column in 0..table.columns.len() {
                let mut points: Vec<(f64, f64)> = table
                    .rows
                    .iter()
                    .map(|row| {
                        (
                            seedbed_utilisation_percent(row.spread_m, row.row_m),
                            row.kg_per_ha[column],
                        )
                    })
                    .collect();
                points.sort_by(|a, b| a.0.total_cmp(&b.0));
                for pair in points.windows(2) {
                    assert!(pair[0].1 <= pair[1].1 + 1e-9, "{name}: {pair:?}");
                }
            }
        }
    }
    assert!(equation::Slopes::built_in().is_ok());
}

#[test]
fn interpolation_stays_inside_the_table() {
    // 1 in on 7.5 in is 13.3 %: between 11.1 % (15 lb) and 16.7 % (20 lb) on medium soil, 17 lb.
    let between = limit(
        "manitoba_urea_cereals",
        &wheat(1.0, 7.5, "medium", FertiliserForm::Urea),
    );
    assert!((lb_per_acre_from_kg_per_ha(between.kg_per_ha) - 17.0).abs() < 1e-9);
    assert!(
        !between.conservative_bound && between.cell.contains("between 11.1 and 16.7 %"),
        "{}",
        between.cell
    );
    // Above 50 % the last value is a bound, below 8.3 % nothing is said.
    let above = limit(
        "manitoba_urea_cereals",
        &wheat(4.0, 6.0, "medium", FertiliserForm::Urea),
    );
    assert!(above.conservative_bound);
    assert!((above.kg_per_ha - kg_per_ha_from_lb_per_acre(40.0)).abs() < 1e-9);
    assert!(
        not_covered(
            "manitoba_urea_cereals",
            &wheat(0.5, 12.0, "medium", FertiliserForm::Urea)
        )
        .contains("below any")
    );
    // By row spacing the wider row holds: 9 in takes the value of 10 in, 5 in the value of 6 to 8 in as a bound.
    let kansas = |row_in| {
        limit(
            "kansas_n_k2o_wheat",
            &wheat(1.0, row_in, "medium", FertiliserForm::WithoutUrea),
        )
    };
    assert!((kansas(9.0).kg_per_ha - kg_per_ha_from_lb_per_acre(24.0)).abs() < 1e-9);
    assert!(kansas(5.0).conservative_bound && !kansas(6.0).conservative_bound);
    assert!(
        not_covered(
            "kansas_n_k2o_wheat",
            &wheat(1.0, 16.0, "medium", FertiliserForm::WithoutUrea)
        )
        .contains("0.4064 m apart")
    );
}

#[test]
fn a_table_for_one_form_or_crop_never_governs_another() {
    let map = wheat(1.0, 6.0, "medium", FertiliserForm::MonoammoniumPhosphate);
    assert!(not_covered("manitoba_urea_cereals", &map).contains("another form"));
    assert!(
        not_covered(
            "kansas_n_k2o_wheat",
            &wheat(1.0, 6.0, "medium", FertiliserForm::Urea)
        )
        .contains("another form")
    );
    assert!(limit("kansas_n_k2o_wheat", &map).kg_per_ha > 0.0);
    let peas = Situation {
        crop: "peas",
        ..wheat(1.0, 6.0, "medium", FertiliserForm::Urea)
    };
    assert!(not_covered("manitoba_urea_cereals", &peas).contains("not for 'peas'"));
    assert!(
        not_covered(
            "manitoba_urea_cereals",
            &wheat(1.0, 6.0, "peat", FertiliserForm::Urea)
        )
        .contains("not 'peat'")
    );
    let narrow = Situation {
        crop: "canola",
        ..wheat(0.5, 6.0, "", FertiliserForm::MonoammoniumPhosphate)
    };
    assert!(not_covered("manitoba_phosphate", &narrow).contains("spread of at least 0.0254 m"));
}

#[test]
fn dry_soil_is_stricter_or_not_covered() {
    let dry = |form| Situation {
        dry: true,
        ..wheat(1.0, 6.0, "medium", form)
    };
    assert!(
        (limit("manitoba_urea_cereals", &dry(FertiliserForm::Urea)).kg_per_ha
            - kg_per_ha_from_lb_per_acre(10.0))
        .abs()
            < 1e-9
    );
    assert!(
        (limit("kansas_n_k2o_wheat", &dry(FertiliserForm::WithoutUrea)).kg_per_ha
            - kg_per_ha_from_lb_per_acre(21.0))
        .abs()
            < 1e-9
    );
    let cereals = Situation {
        crop: "cereals",
        ..dry(FertiliserForm::MonoammoniumPhosphate)
    };
    assert!(not_covered("manitoba_phosphate", &cereals).contains("dry soil"));
}

#[test]
fn widths_that_cannot_be_are_refused() {
    let table = built_in("manitoba_urea_cereals").expect("the table");
    for (spread, row) in [
        (0.0, 6.0),
        (7.0, 6.0),
        (1.0, 0.0),
        (f64::NAN, 6.0),
        (1.0, f64::INFINITY),
    ] {
        assert!(
            table
                .limit(&wheat(spread, row, "medium", FertiliserForm::Urea))
                .is_err(),
            "{spread} {row}"
        );
    }
    let slopes = equation::Slopes::built_in().expect("slopes");
    let urea = slopes.material("urea").expect("urea");
    assert!(urea.kg_per_ha("oats", 1.0, 6.0, 10.0, 1.0).is_err());
    assert!(urea.kg_per_ha("barley", 1.0, 0.0, 10.0, 1.0).is_err());
    assert!(slopes.material("ash").is_err());
}

#[test]
fn a_wrong_table_is_refused_with_its_line() {
    let text = BUILT_IN[1].1;
    for (good, bad, words) in [
        (
            "source = \"N + K2O with wheat seed\"",
            "source = \"\"",
            "'source' is empty",
        ),
        ("unit = \"lb/ac\"", "unit = \"lb\"", "the unit is 'lb'"),
        (
            "{ row_in = 10, limits = [24, 17] }",
            "{ row_in = 10, limits = [24] }",
            "1 limits for 2 columns",
        ),
        (
            "{ row_in = 10, limits = [24, 17] }",
            "{ row_in = 10, limits = [24, -1] }",
            "a limit of -1",
        ),
        (
            "{ row_in = 10, limits = [24, 17] }",
            "{ limits = [24, 17] }",
            "row spacing of 0 inches",
        ),
        (
            "dry_column = \"coarse\"",
            "dry_column = \"course\"",
            "no column 'course'",
        ),
        (
            "crops = [\"wheat\"]",
            "crop = [\"wheat\"]",
            "unknown key 'crop'",
        ),
    ] {
        let line = 1 + text
            .find(good)
            .map(|at| text[..at].matches('\n').count())
            .expect(good);
        let fault =
            Table::parse(&text.replacen(good, bad, 1), Path::new("my.toml")).expect_err(bad);
        assert!(fault.found.contains(words), "{bad}: {fault}");
        assert_eq!(fault.place.line, Some(line), "{bad}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4_000, rng_seed: RngSeed::Fixed(20_260_302), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_wider_spread_is_never_less_safe(row_in in 4.0..16.0_f64, narrow in 0.1..1.0_f64, wide in 0.1..1.0_f64) {
        let (narrow, wide) = if narrow <= wide { (narrow, wide) } else { (wide, narrow) };
        let table = built_in("manitoba_urea_cereals").expect("the table");
        for texture in ["light", "medium", "heavy"] {
            let at = |share: f64| table.limit(&wheat(share * row_in, row_in, texture, FertiliserForm::Urea)).expect("sound widths");
            match (at(narrow), at(wide)) {
                (Answer::Limit(narrow), Answer::Limit(wide)) => prop_assert!(narrow.kg_per_ha <= wide.kg_per_ha + 1e-9),
                (Answer::Limit(_), Answer::NotCovered(of)) => prop_assert!(false, "{}", of.why),
                (Answer::NotCovered(_), _) => {}
            }
        }
    }
}

#[test]
fn a_crop_without_tolerance_is_named_in_words() {
    for (table, crop) in [
        ("atlantic_canada_n_k2o", "buckwheat"),
        ("north_dakota_n_k2o_row_crops", "dry bean"),
    ] {
        let of = Situation {
            crop,
            ..wheat(1.0, 30.0, "", FertiliserForm::WithoutUrea)
        };
        let none = limit(table, &of);
        assert_eq!(none.kg_per_ha, 0.0);
        let words = format!("no tolerance, '{crop}' bears none with the seed");
        assert!(none.cell.contains(&words), "{}", none.cell);
    }
}

#[test]
fn wrong_crops_without_tolerance_and_wrong_factors_are_refused_with_their_line() {
    let text = include_str!("atlantic_canada_n_k2o.toml");
    for (good, bad, found) in [
        (
            "[\"soybean\",",
            "[\"wheat\",",
            "'wheat' has limits and bears none",
        ),
        ("urea = 0.5,", "urea = 1.5,", "the factor for urea is 1.5"),
        ("[\"any soil\"]", "[\"any soil\", \"sand\"]", "there are 2"),
    ] {
        assert!(text.contains(good), "{good}");
        let wrong = text.replacen(good, bad, 1);
        let line = 1 + text[..text.find(good).expect(good)].matches('\n').count();
        let fault = Table::parse(&wrong, Path::new("own.toml")).expect_err(bad);
        assert!(fault.found.contains(found), "{}", fault.found);
        assert_eq!(fault.place.line, Some(line), "{bad}");
    }
}
