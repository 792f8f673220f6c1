//! Fertiliser beside the seed fails closed: what no limit covers is not laid, and a stricter case never gets more.

use super::placing::{LIMIT, no_file, starter, with};
use super::{close, inside, rules};
use crate::agronomy::crop_tolerance::Crop;
use crate::agronomy::seed_safe::strictness::{TEXTURES, at_least_as_harmful};
use crate::agronomy::{Tables, Verdict, rates};
use crate::findings::{Finding, Severity};
use crate::job::{
    AboveLimit, FertiliserForm, Grade, Job, Lookup, OwnSeedLimit, Product, SeedSafe, WordsByClass,
    row_spacing_m,
};
use crate::units::kg_per_ha_from_lb_per_acre;
use proptest::prelude::*;
use proptest::test_runner::{RngSeed, TestRunner};
use std::cell::Cell;
use std::sync::LazyLock;

/// Manitoba's 50 lb/ac of P2O5, as kg/ha of 12-52-0.
fn moist() -> f64 {
    kg_per_ha_from_lb_per_acre(50.0) / 0.52
}

fn decision(findings: &[Finding]) -> &Finding {
    let found = findings
        .iter()
        .find(|finding| finding.code == "seed_safe.not_covered");
    let found = found.expect("a decision");
    assert_eq!(found.severity, Severity::Decision);
    assert_eq!(found.place.feature.as_deref(), Some("starter"));
    found
}

/// Nothing is laid, all of it is the balance, and the decision offers `words`.
fn off(job: &Job, words: &str) {
    let (rate, findings) = starter(job, "0");
    assert_eq!(rate.kg_per_ha, 0.0, "{:?}", rules(&rate));
    let left = rate
        .balance
        .as_ref()
        .and_then(|left| left.nutrient_kg_per_ha);
    assert!(left.is_some_and(|left| close(left, 110.0)), "{left:?}");
    assert!(rules(&rate).contains(&"seed_safe.not_covered".to_owned()));
    assert!(
        rate.seed_safe
            .iter()
            .any(|check| check.verdict == Verdict::NotCovered)
    );
    let message = &decision(&findings).message;
    assert!(message.contains(words), "{message}");
}

#[test]
fn a_stricter_case_than_the_table_has_lays_nothing_and_is_offered_the_nearest() {
    // Moist: 107.8 kg/ha. Dry once gave all 211.5, and so did rows of 25 cm and the crop called 'wheat'.
    let covered = with(&[("#TAIL", LIMIT)]);
    assert!(close(starter(&covered, "0").0.kg_per_ha, moist()));
    let wheat = with(&[("#TAIL", &LIMIT.replace("cereals", "wheat"))]);
    assert!(close(starter(&wheat, "0").0.kg_per_ha, moist()));
    let dry = with(&[("#TAIL", &format!("{LIMIT}dry = true\n"))]);
    off(&dry, "says nothing about dry soil");
    off(&dry, "such as 53.9 kg/ha");
    let mut wide = covered.clone();
    wide.drill.row_spacing_m = Some(0.25);
    off(&wide, "these are 0.25 m apart");
    // The same grams per metre of row as in rows of 7 inches: 107.8 x 17.78 / 25.
    off(&wide, "such as 76.6 kg/ha");
    let narrow = with(&[("#TAIL", &LIMIT.replace("0.0254", "0.0127"))]);
    off(&narrow, "such as 53.9 kg/ha");
    // The limits are for another crop than the seed.
    let mut canola = covered.clone();
    canola.products[0].crop = Some("canola".to_owned());
    off(
        &canola,
        "the limits are for 'cereals', and 'canola' is sown",
    );
    let unknown = with(&[("#TAIL", &LIMIT.replace("cereals", "quinoa"))]);
    off(&unknown, "not for 'quinoa'");
    off(&with(&[]), "the job has no [[seed_safe]]");
}

#[test]
fn a_signed_number_holds_for_its_case_and_under_every_ceiling() {
    let own = |kg_per_ha: f64, more: &str| {
        format!(
            "[[own_seed_limit]]\nproduct = \"starter\"\nmax_kg_per_ha = {kg_per_ha}\nrow_spacing_m = 0.1524\n\
             spread_m = 0.0254\nform = \"monoammonium_phosphate\"\ngrade = {{ n_percent = 12, p2o5_percent = 52 }}\n\
             because = \"strips of my own\"\nby = \"the grower\"\non = \"2026-01-15\"\n{more}"
        )
    };
    let dry = format!("{LIMIT}dry = true\n");
    let job = |own: String| with(&[("#TAIL", &format!("{dry}{own}"))]);
    let signed = job(own(60.0, "crop = \"wheat\"\ndry = true\n"));
    let (rate, findings) = starter(&signed, "0");
    assert_eq!(rate.kg_per_ha, 60.0);
    assert!(
        !findings
            .iter()
            .any(|finding| finding.severity == Severity::Decision)
    );
    let check = rate.seed_safe.last().expect("a check");
    assert_eq!(
        (check.verdict, check.limit_kg_per_ha),
        (Verdict::Capped, Some(60.0))
    );
    assert!(check.source.contains("the grower") && check.source.contains("2026-01-15"));
    // The moist table stays a ceiling.
    let high = job(own(190.0, "crop = \"cereals\"\ndry = true\n"));
    assert!(close(starter(&high, "0").0.kg_per_ha, moist()));
    // Signed for another case.
    off(&job(own(60.0, "crop = \"wheat\"\n")), "for a moist seedbed");
    off(&job(own(60.0, "dry = true\n")), "no crop by name");
    off(&job(own(60.0, "crop = \"oats\"\ndry = true\n")), "for oats");
    // A crop that bears less is on the safe side.
    let peas = job(own(60.0, "crop = \"peas\"\ndry = true\n"));
    assert_eq!(starter(&peas, "0").0.kg_per_ha, 60.0);
    let mut wide = signed.clone();
    wide.drill.row_spacing_m = Some(0.25);
    off(&wide, "these are 0.25 m apart");
    // A lighter soil, a narrower spread, another fertiliser or land sown twice are stricter than what was signed for.
    let mut light = signed.clone();
    light.seed_safe[0].texture = Some("sand".to_owned());
    off(&light, "no texture by name, and the soil is 'sand'");
    light.own_seed_limits[0].texture = Some("loam".to_owned());
    off(&light, "for loam, and the soil is 'sand'");
    light.seed_safe[0].texture = Some("clay".to_owned());
    assert_eq!(starter(&light, "0").0.kg_per_ha, 60.0);
    let mut narrow = signed.clone();
    narrow.seed_safe[0].spread_m = Some(0.02);
    off(&narrow, "a spread of at least 0.0254 m");
    let mut other = signed.clone();
    other.own_seed_limits[0].form = Some(FertiliserForm::TripleSuperphosphate);
    off(&other, "triple superphosphate, and this is monoammonium");
    let mut other = signed.clone();
    other.own_seed_limits[0].grade = Some(Grade {
        n_percent: 11.0,
        p2o5_percent: 52.0,
        ..Grade::default()
    });
    off(&other, "for 11-52-0, and this is 12-52-0");
    // Without [[seed_safe]] the seed says the crop.
    let mut bare = signed.clone();
    bare.seed_safe.clear();
    bare.products[0].crop = Some("canola".to_owned());
    let (rate, findings) = starter(&bare, "0");
    assert_eq!(rate.kg_per_ha, 0.0);
    let message = &decision(&findings).message;
    assert!(
        message.contains("for wheat, and 'canola' is sown"),
        "{message}"
    );
    bare.products[0].crop = Some("winter wheat".to_owned());
    assert_eq!(starter(&bare, "0").0.kg_per_ha, 60.0);
    // It opens nothing where a table holds.
    let covered = with(&[(
        "#TAIL",
        &format!("{LIMIT}{}", own(190.0, "crop = \"wheat\"\n")),
    )]);
    assert!(close(starter(&covered, "0").0.kg_per_ha, moist()));
}

#[test]
fn less_than_any_published_bound_asks_nothing() {
    let with_rate = |kg_per_ha: f64| {
        let mut job = with(&[("#TAIL", &format!("{LIMIT}dry = true\n"))]);
        job.products[1].rate.need_from_table = None;
        job.products[1].rate.nutrient = None;
        job.products[1].rate.kg_per_ha = Some(Lookup::Same(kg_per_ha));
        starter(&job, "0")
    };
    // The strictest for cereals that tells of such N: 15 lb N/ac, half of it in dry soil: 8.4 kg/ha N; of P2O5 28 kg/ha.
    let (rate, findings) = with_rate(50.0);
    assert_eq!(rate.kg_per_ha, 50.0);
    assert!(findings.is_empty(), "{findings:?}");
    assert!(
        rate.seed_safe
            .iter()
            .all(|check| check.verdict == Verdict::Within)
    );
    assert_eq!(with_rate(56.0).0.kg_per_ha, 0.0);
}

#[test]
fn the_two_ammonium_phosphates_are_two_forms() {
    let dap = |ph: &str| {
        let limit = format!("{LIMIT}{ph}");
        with(&[
            (
                "n_percent = 12, p2o5_percent = 52",
                "n_percent = 18, p2o5_percent = 46",
            ),
            ("\"monoammonium_phosphate\"", "\"diammonium_phosphate\""),
            ("#TAIL", &limit),
        ])
    };
    // Perennia, Cereal Crops Production Guide: about half where diammonium phosphate supplies the N.
    let half = kg_per_ha_from_lb_per_acre(25.0) / 0.46;
    assert!(close(
        starter(&dap("soil_ph = 6.5\n"), "0").0.kg_per_ha,
        half
    ));
    off(&dap(""), "no soil_ph is said");
    off(&dap("soil_ph = 7.6\n"), "the soil has pH 7.6");
    let by_layer = dap("soil_ph = { layer = \"soil\", by_class = { clay = 7.9, sand = 6.2 } }\n");
    off(&by_layer, "the soil has pH 7.9");
    let tables = Tables::read(&by_layer, no_file).expect("tables");
    let (rates, _) = rates(&by_layer, &tables, &inside("sand", "0")).expect("rates");
    assert!(close(rates[1].kg_per_ha, half));
}

#[test]
fn ammonium_sulphate_beside_rape_and_boron_beside_any_seed_are_nothing() {
    let fertiliser = |form: FertiliserForm, grade: Grade, crop: &str| {
        let limit = format!(
            "[[seed_safe]]\ncrop = \"{crop}\"\nspread_m = 0.0254\nsoil_ph = 6.5\ntexture = \"medium\"\n"
        );
        let mut job = with(&[("#TAIL", &limit)]);
        job.products[0].crop = Some(crop.to_owned());
        let product = &mut job.products[1];
        product.form = Some(form);
        product.grade = Some(grade);
        product.rate.need_from_table = None;
        product.rate.nutrient = None;
        product.rate.kg_per_ha = Some(Lookup::Same(40.0));
        starter(&job, "0").0
    };
    let sulphate = Grade {
        n_percent: 21.0,
        ..Grade::default()
    };
    for crop in ["winter oilseed rape", "canola", "linseed"] {
        let rate = fertiliser(FertiliserForm::AmmoniumSulphate, sulphate, crop);
        assert_eq!(rate.kg_per_ha, 0.0, "{crop}");
        assert_eq!(rate.seed_safe[0].verdict, Verdict::Capped);
        assert_eq!(rate.balance.map(|left| left.kg_per_ha), Some(40.0));
    }
    let rate = fertiliser(FertiliserForm::AmmoniumSulphate, sulphate, "barley");
    assert!(rate.kg_per_ha > 0.0);
    let blend = Grade {
        n_percent: 11.0,
        p2o5_percent: 50.0,
        boron_percent: 0.3,
        ..Grade::default()
    };
    let rate = fertiliser(FertiliserForm::MonoammoniumPhosphate, blend, "barley");
    assert_eq!(rate.kg_per_ha, 0.0);
    assert!(rate.seed_safe[0].cell.contains("boron"));
}

#[test]
fn every_nutrient_counts_and_what_no_named_table_counts_all_tables_hold() {
    // 10-20-20 beside wheat by Kansas alone: N + K2O 30 lb/ac would be 112 kg/ha; nothing is published for its phosphate, whose
    // form nobody knows.
    let kansas = LIMIT
        .replace("manitoba_phosphate", "kansas_n_k2o_wheat")
        .replace("\"cereals\"", "\"wheat\"\ntexture = \"medium\"");
    let blend = (
        "n_percent = 12, p2o5_percent = 52",
        "n_percent = 10, p2o5_percent = 20, k2o_percent = 20",
    );
    let other = ("\"monoammonium_phosphate\"", "\"without_urea\"");
    off(
        &with(&[blend, other, ("#TAIL", &kansas)]),
        "P2O5: no table for fertiliser without urea beside 'wheat'",
    );
    // Monoammonium phosphate by the same table: its phosphate is held by the tables that count it.
    let (rate, _) = starter(&with(&[("#TAIL", &kansas)]), "0");
    assert!(close(rate.kg_per_ha, moist()), "{}", rate.kg_per_ha);
    // No table named: of all that cover wheat the strictest is 50 lb/ac P2O5, as its N stays below 15 lb/ac.
    let any = "[[seed_safe]]\ncrop = \"wheat\"\nspread_m = 0.0254\ntexture = \"medium\"\n";
    let (rate, _) = starter(&with(&[("#TAIL", any)]), "0");
    assert!(close(rate.kg_per_ha, moist()), "{}", rate.kg_per_ha);
}

#[test]
fn land_that_is_sown_twice_bears_half_each_time() {
    let mut job = with(&[("#TAIL", LIMIT)]);
    job.headland.sown_twice = true;
    let tables = Tables::read(&job, no_file).expect("tables");
    let mut facts = inside("clay", "0");
    let inner = rates(&job, &tables, &facts).expect("rates").0;
    facts.part = crate::job::LandPart::Headland;
    let outer = rates(&job, &tables, &facts).expect("rates").0;
    assert!(close(inner[1].kg_per_ha, moist()) && close(outer[1].kg_per_ha, moist() / 2.0));
    // A signed limit is one for each time as well.
    let own = "[[own_seed_limit]]\nproduct = \"starter\"\nmax_kg_per_ha = 60\ncrop = \"wheat\"\nrow_spacing_m = 0.1524\nform = \"monoammonium_phosphate\"\n\
               grade = { n_percent = 12, p2o5_percent = 52 }\nbecause = \"strips\"\nby = \"the grower\"\non = \"2026-01-15\"\n";
    let mut job = with(&[("#TAIL", own)]);
    job.headland.sown_twice = true;
    let outer = rates(&job, &tables, &facts).expect("rates").0;
    assert_eq!(outer[1].kg_per_ha, 30.0);
}

/// A grade that its form cannot have stops the job, and says what to look for on the bag.
#[test]
fn phosphorus_as_the_element_is_found_out() {
    let text = |grade: &str, form: &str| {
        let lines = [
            ("n_percent = 12, p2o5_percent = 52", grade),
            ("\"monoammonium_phosphate\"", form),
        ];
        let text = super::placing::text(&lines);
        Job::parse(&text, std::path::Path::new("job.toml"))
            .err()
            .map(|fault| fault.to_string())
            .unwrap_or_default()
    };
    let message = text(
        "n_percent = 18, p2o5_percent = 20",
        "\"diammonium_phosphate\"",
    );
    assert!(message.contains("20 % P is 46 % P2O5"), "{message}");
    let message = text(
        "n_percent = 12, p2o5_percent = 23",
        "\"monoammonium_phosphate\"",
    );
    assert!(message.contains("23 % P is 53 % P2O5"), "{message}");
    let message = text(
        "n_percent = 18, p2o5_percent = 46",
        "\"monoammonium_phosphate\"",
    );
    assert!(message.contains("18-46-0 is none of that"), "{message}");
    let message = text("n_percent = 60, p2o5_percent = 46", "\"without_urea\"");
    assert!(message.contains("106 percent"), "{message}");
    assert_eq!(
        text(
            "n_percent = 11, p2o5_percent = 52",
            "\"monoammonium_phosphate\""
        ),
        ""
    );
}

const FORMS: [(FertiliserForm, f64, f64, f64); 8] = [
    (FertiliserForm::Urea, 46.0, 0.0, 0.0),
    (FertiliserForm::UreaWithInhibitor, 46.0, 0.0, 0.0),
    (FertiliserForm::UreaAmmoniumNitrate, 46.0, 0.0, 0.0),
    (FertiliserForm::MonoammoniumPhosphate, 12.0, 46.0, 0.0),
    (FertiliserForm::DiammoniumPhosphate, 12.0, 46.0, 0.0),
    (FertiliserForm::TripleSuperphosphate, 0.0, 46.0, 0.0),
    (FertiliserForm::AmmoniumSulphate, 21.0, 0.0, 0.0),
    (FertiliserForm::WithoutUrea, 10.0, 0.0, 20.0),
];

/// A case of the property below.
#[derive(Debug, Clone)]
struct Drawn {
    named: Vec<&'static str>,
    crop: Crop,
    texture: usize,
    dry: bool,
    row_m: f64,
    spread_m: f64,
    form: usize,
    kg_per_ha: f64,
    twice: bool,
    /// A second fertiliser in the row: its form and rate, kg/ha.
    second: Option<(usize, f64)>,
    /// Limits that somebody has signed, for the first fertiliser and the second.
    own: Vec<Signed>,
}

/// A signed limit, kg/ha, and the case that it was signed for.
#[derive(Debug, Clone)]
struct Signed {
    product: &'static str,
    form: usize,
    kg_per_ha: f64,
    of: Box<Drawn>,
}

fn fertiliser(product: &mut Product, nth: usize, kg_per_ha: f64) {
    let (form, n_percent, p2o5_percent, k2o_percent) = FORMS[nth];
    product.form = Some(form);
    product.grade = Some(Grade {
        n_percent,
        p2o5_percent,
        k2o_percent,
        s_percent: None,
        boron_percent: 0.0,
    });
    product.rate.kg_per_ha = Some(Lookup::Same(kg_per_ha));
}

/// The rates of all fertilisers.
fn laid(job: &mut Job, of: &Drawn) -> Vec<f64> {
    let entry = |table: Option<&&'static str>| SeedSafe {
        table: table.map(|name| (*name).to_owned()),
        file: None,
        crop: of.crop.name().to_owned(),
        spread_m: Some(of.spread_m),
        dry: of.dry,
        texture: Some(TEXTURES[of.texture].word().to_owned()),
        texture_by_class: None::<WordsByClass>,
        soil_ph: Some(Lookup::Same(6.5)),
        above: AboveLimit::Cap,
        stand_loss_percent: None,
        moisture_texture_factor: None,
    };
    job.seed_safe = match of.named.is_empty() {
        true => vec![entry(None)],
        false => of.named.iter().map(|name| entry(Some(name))).collect(),
    };
    job.products[0].crop = Some(of.crop.name().to_owned());
    job.drill.row_spacing_m = Some(of.row_m);
    job.headland.sown_twice = of.twice;
    fertiliser(&mut job.products[1], of.form, of.kg_per_ha);
    if let Some((form, kg_per_ha)) = of.second {
        // The rate rules do not ask how many hoppers there are.
        let mut second = job.products[1].clone();
        second.id = "second".to_owned();
        fertiliser(&mut second, form, kg_per_ha);
        job.products.push(second);
    }
    job.own_seed_limits = of.own.iter().map(|own| own.limit()).collect();
    assert_eq!(row_spacing_m(job), Some(of.row_m));
    let tables = Tables::read(job, no_file).expect("tables");
    let mut facts = inside("clay", "0");
    facts.part = crate::job::LandPart::Headland;
    let rates = rates(job, &tables, &facts).expect("rates").0;
    rates[1..].iter().map(|rate| rate.kg_per_ha).collect()
}

impl Signed {
    fn limit(&self) -> OwnSeedLimit {
        let of = &self.of;
        let (form, n_percent, p2o5_percent, k2o_percent) = FORMS[self.form];
        OwnSeedLimit {
            product: self.product.to_owned(),
            max_kg_per_ha: self.kg_per_ha,
            crop: Some(of.crop.name().to_owned()),
            row_spacing_m: Some(of.row_m),
            spread_m: Some(of.spread_m),
            texture: Some(TEXTURES[of.texture].word().to_owned()),
            dry: of.dry,
            form: Some(form),
            grade: Some(Grade {
                n_percent,
                p2o5_percent,
                k2o_percent,
                s_percent: None,
                boron_percent: 0.0,
            }),
            because: "drawn".to_owned(),
            by: "nobody".to_owned(),
            on: "2026-01-15".to_owned(),
        }
    }
}

/// The job with one rate, and everything else to be drawn.
static PLAIN: LazyLock<Job> = LazyLock::new(|| {
    let mut job = with(&[]);
    job.products[1].rate.need_from_table = None;
    job.products[1].rate.nutrient = None;
    job
});

/// Crops that some table has, and some that none has.
const CROPS: [Crop; 15] = [
    Crop::Oats,
    Crop::SpringBarley,
    Crop::Wheat,
    Crop::WinterWheat,
    Crop::Maize,
    Crop::Sorghum,
    Crop::Sunflower,
    Crop::Rape,
    Crop::Flax,
    Crop::Peas,
    Crop::FabaBean,
    Crop::Lentil,
    Crop::Soybean,
    Crop::Clover,
    Crop::PerennialRyegrass,
];

/// Two cases: every respect of the first is as mild as that of the second or milder.
fn pair() -> impl Strategy<Value = (Drawn, Drawn)> {
    let names = crate::agronomy::seed_safe::names();
    let crops = (0..CROPS.len(), 0..CROPS.len()).prop_map(|(one, other)| {
        let (one, other) = (CROPS[one], CROPS[other]);
        match other.bears_less_than(one) {
            true => (one, other),
            false => (
                other,
                if one.bears_less_than(other) {
                    one
                } else {
                    other
                },
            ),
        }
    });
    // One grade for both, so that only the form differs.
    let forms = || {
        (0..FORMS.len(), 0..FORMS.len()).prop_map(|(one, other)| {
            let comparable = at_least_as_harmful(FORMS[other].0, FORMS[one].0);
            let same = FORMS[one].1 == FORMS[other].1;
            if comparable && same {
                (one, other)
            } else {
                (one, one)
            }
        })
    };
    let named = prop_oneof![
        Just(Vec::new()),
        prop::collection::vec((0..names.len()).prop_map(move |nth| names[nth]), 1..3),
    ];
    let more = |most: f64| prop_oneof![Just(1.0), 1.0..most];
    let flag = || prop_oneof![3 => Just(false), 1 => Just(true)];
    (
        (named, crops, forms(), 5.0..300.0_f64),
        prop::option::weighted(0.3, (forms(), 5.0..150.0_f64)),
        (0..3_usize, 0..3_usize),
        (flag(), flag(), flag(), flag()),
        (prop_oneof![0.1..0.24_f64, 0.1..0.9_f64], more(1.8)),
        (0.02..0.1_f64, more(3.0)),
        (0..24_usize, 1.0..200.0_f64, any::<bool>()),
    )
        .prop_map(
            |((named, crops, forms, kg_per_ha), second, textures, flags, rows, spread, more)| {
                let milder = Drawn {
                    named,
                    crop: crops.0,
                    texture: textures.0.max(textures.1),
                    dry: flags.0 && flags.1,
                    row_m: rows.0,
                    spread_m: spread.0,
                    form: forms.0,
                    kg_per_ha,
                    twice: flags.2 && flags.3,
                    second: second.map(|(forms, kg_per_ha)| (forms.0, kg_per_ha)),
                    own: Vec::new(),
                };
                let stricter = Drawn {
                    crop: crops.1,
                    texture: textures.0.min(textures.1),
                    dry: flags.0 || flags.1,
                    row_m: rows.0 * rows.1,
                    spread_m: spread.0 / spread.1,
                    form: forms.1,
                    twice: flags.2 || flags.3,
                    second: second.map(|(forms, kg_per_ha)| (forms.1, kg_per_ha)),
                    ..milder.clone()
                };
                // Nobody has signed, or for the milder case, or for the stricter.
                let of = match more.0 {
                    0 => Some(&milder),
                    1 => Some(&stricter),
                    _ => None,
                };
                let of_first = of.map(|of| ("starter", of.form, of));
                let of_second = of
                    .filter(|_| more.2)
                    .and_then(|of| Some(("second", of.second?.0, of)));
                let signed = |(product, form, of): (&'static str, usize, &Drawn)| Signed {
                    product,
                    form,
                    kg_per_ha: more.1,
                    of: Box::new(of.clone()),
                };
                let own: Vec<Signed> = of_first.into_iter().chain(of_second).map(signed).collect();
                let with = |of: Drawn| Drawn {
                    own: own.clone(),
                    ..of
                };
                (with(milder), with(stricter))
            },
        )
}

/// The rate of the other of two fertilisers, kg/ha.
fn other(rates: &[f64], nth: usize) -> f64 {
    rates.get(1 - nth.min(1)).copied().unwrap_or(0.0)
}

/// The rate of one of the two fertilisers of a case where it lies there alone.
fn alone(of: &Drawn, nth: usize) -> f64 {
    let mut job = PLAIN.clone();
    let mut of = of.clone();
    let out = 1 - nth;
    match (out, of.second) {
        // The first one stands in every job: nothing of it is wanted.
        (0, _) => of.kg_per_ha = 0.0,
        _ => of.second = None,
    }
    laid(&mut job, &of)[nth]
}

/// Over moisture, rows, spread, texture, form, crop and land sown twice, with one fertiliser or two in the row, with one table, two or
/// all of them, and with limits that somebody has signed for the milder case or for the stricter one: the stricter case never gets a higher
/// rate.
#[test]
fn a_stricter_case_never_gets_a_higher_rate() {
    let config = ProptestConfig {
        cases: 10_000,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_261_130),
        ..ProptestConfig::default()
    };
    let (laid_both, cut) = (Cell::new(0), Cell::new(0));
    let mut runner = TestRunner::new(config);
    let outcome = runner.run(&pair(), |(milder, stricter)| {
        let mut job = PLAIN.clone();
        let more = laid(&mut job, &milder);
        let mut job = PLAIN.clone();
        let less = laid(&mut job, &stricter);
        let less_of_all = less.clone();
        laid_both.set(laid_both.get() + usize::from(less[0] > 0.0));
        cut.set(cut.get() + usize::from(more[0] > 0.0 && less[0] < more[0]));
        for (nth, (less, more)) in less.iter().zip(&more).enumerate() {
            let holds = |more: f64| *less <= more * (1.0 + 1e-9);
            // One that does not lie there in the stricter case makes room for the other, which gets no more than alone.
            let makes_room = stricter.second.is_some() && other(&less_of_all, nth) == 0.0;
            prop_assert!(
                holds(*more) || makes_room && holds(alone(&milder, nth)),
                "{less} > {more}: {stricter:?} {milder:?}"
            );
        }
        Ok(())
    });
    assert!(outcome.is_ok(), "{outcome:?}");
    // Enough of the pairs say something.
    assert!(
        laid_both.get() > 600 && cut.get() > 2_000,
        "{laid_both:?} {cut:?}"
    );
}
