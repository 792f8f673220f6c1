//! In every built-in table a stricter case never gets more: moisture, rows, spread, texture, form, crop of one kind.

use super::strictness::{TEXTURES, at_least_as_harmful};
use super::*;
use crate::agronomy::crop_tolerance;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const FORMS: [FertiliserForm; 8] = [
    FertiliserForm::Urea,
    FertiliserForm::UreaWithInhibitor,
    FertiliserForm::UreaAmmoniumNitrate,
    FertiliserForm::MonoammoniumPhosphate,
    FertiliserForm::DiammoniumPhosphate,
    FertiliserForm::TripleSuperphosphate,
    FertiliserForm::AmmoniumSulphate,
    FertiliserForm::WithoutUrea,
];

/// What may lie there: the limit, or nothing.
fn may(table: &Table, of: &Situation) -> f64 {
    match table.limit(of).expect("sound widths") {
        Answer::Limit(limit) => limit.kg_per_ha,
        Answer::NotCovered(_) => 0.0,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, rng_seed: RngSeed::Fixed(20_261_129), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_stricter_case_never_gets_more(
        nth in 0..BUILT_IN.len(),
        crop in 0..crop_tolerance::all().count(),
        textures in (0..3_usize, 0..3_usize),
        dry in (any::<bool>(), any::<bool>()),
        rows in (0.1..1.1_f64, 1.0..2.0_f64),
        spread in (0.01..0.1_f64, 0.3..1.0_f64),
        forms in (0..8_usize, 0..8_usize),
    ) {
        let (name, table) = &all()[nth];
        let crop = crop_tolerance::all().nth(crop).expect("a crop").name();
        let (light, heavy) = (textures.0.min(textures.1), textures.0.max(textures.1));
        let (harmful, mild) = match at_least_as_harmful(FORMS[forms.0], FORMS[forms.1]) {
            true => (FORMS[forms.0], FORMS[forms.1]),
            false => (FORMS[forms.0], FORMS[forms.0]),
        };
        let milder = Situation {
            crop,
            texture: TEXTURES[heavy].word(),
            dry: dry.0 && dry.1,
            row_m: rows.0,
            spread_m: spread.0,
            form: mild,
            words: None,
        };
        let stricter = Situation {
            crop,
            texture: TEXTURES[light].word(),
            dry: dry.0 || dry.1,
            row_m: rows.0 * rows.1,
            spread_m: spread.0 * spread.1,
            form: harmful,
            words: None,
        };
        let (more, less) = (may(table, &milder), may(table, &stricter));
        prop_assert!(less <= more * (1.0 + 1e-9), "{name}: {less} > {more}: {stricter:?} {milder:?}");
        // What a milder case may have is a ceiling where the stricter one is not covered.
        if let (Answer::NotCovered(of), true) = (table.limit(&stricter).expect("sound widths"), more > 0.0) {
            prop_assert!(of.ceiling_kg_per_ha.is_some_and(|ceiling| ceiling <= more * (1.0 + 1e-9)), "{name}");
            prop_assert!(of.stricter_kg_per_ha.is_none_or(|made| Some(made) <= of.ceiling_kg_per_ha), "{name}");
        }
    }
}
