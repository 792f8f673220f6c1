//! Whole plans in pairs: no change towards more risk raises what lies beside the seed, on any land. The same over 10 000
//! pairs of rates is in `src/agronomy/tests/beside.rs`, and over every table in `src/agronomy/seed_safe/test_order.rs`.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, rectangle};
use proptest::prelude::*;
use proptest::test_runner::{RngSeed, TestRunner};
use std::cell::Cell;
use std::fs;
use std::path::Path;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options};

/// Crops from the one that bears most to one that bears little, with a grain weight that each may have.
const CROPS: [&str; 5] = ["oats", "barley", "wheat", "maize", "canola"];
const TEXTURES: [&str; 3] = ["light", "medium", "heavy"];
/// Form and grade; each harms no less than the one before it.
const FORMS: [(&str, &str); 3] = [
    ("triple_superphosphate", "{ p2o5_percent = 46 }"),
    (
        "monoammonium_phosphate",
        "{ n_percent = 12, p2o5_percent = 46 }",
    ),
    (
        "diammonium_phosphate",
        "{ n_percent = 18, p2o5_percent = 46 }",
    ),
];

#[derive(Debug, Clone)]
struct Case {
    crop: usize,
    texture: usize,
    dry: bool,
    rows: u32,
    spread_m: f64,
    form: usize,
    twice: bool,
    kg_per_ha: f64,
    table: Option<&'static str>,
    signed: bool,
    /// A second fertiliser from the other hopper half, and seed from a unit of its own.
    second_kg_per_ha: Option<f64>,
}

fn job(of: &Case) -> String {
    let (form, grade) = FORMS[of.form];
    let (crop, rows) = (CROPS[of.crop], of.rows);
    let texture = TEXTURES[of.texture];
    let spacing = 6.0 / f64::from(rows);
    let table = of
        .table
        .map_or(String::new(), |name| format!("table = \"{name}\"\n"));
    let (hopper, second) = match of.second_kg_per_ha {
        None => ("front\"", String::new()),
        Some(kg) => (
            "box\"\nsurface_applied = true",
            format!(
                "[[product]]\nid = \"second\"\nname = \"second\"\nkind = \"fertiliser\"\nhopper = \"front\"\nform = \"{form}\"\ngrade = {grade}\n\
                 rate = {{ kg_per_ha = {kg} }}\n"
            ),
        ),
    };
    let own = match of.signed {
        false => String::new(),
        true => format!(
            "[[own_seed_limit]]\nproduct = \"starter\"\nmax_kg_per_ha = 60\ncrop = \"{crop}\"\nrow_spacing_m = 0.2\nspread_m = 0.02\ntexture = \"medium\"\n\
             form = \"{form}\"\ngrade = {grade}\nbecause = \"drawn\"\nby = \"nobody\"\non = \"2031-01-15\"\n"
        ),
    };
    format!(
        "name = \"made\"\n[field]\nname = \"made\"\nboundary = {{ file = \"boundary.geojson\" }}\n\
         [headland]\nbouts = 1\nsown_twice = {twice}\n\
         [drill]\nworking_width_m = 6\nrows = {rows}\nrow_spacing_m = {spacing}\n\
         [[drill.hopper]]\nname = \"front\"\nusable_l = 900\n[[drill.hopper]]\nname = \"rear\"\nusable_l = 900\n[[drill.hopper]]\nname = \"box\"\nusable_l = 100\n\
         [[product]]\nid = \"seed\"\ncrop = \"{crop}\"\nname = \"seed\"\nkind = \"seed\"\nhopper = \"{hopper}\nrate = {{ kg_per_ha = 100 }}\n\
         [[product]]\nid = \"starter\"\nname = \"starter\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nform = \"{form}\"\ngrade = {grade}\n\
         rate = {{ kg_per_ha = {kg} }}\n{second}\
         [[seed_safe]]\n{table}crop = \"{crop}\"\nspread_m = {spread}\ntexture = \"{texture}\"\ndry = {dry}\nsoil_ph = 6.5\n{own}",
        twice = of.twice,
        kg = of.kg_per_ha,
        spread = of.spread_m,
        dry = of.dry,
    )
}

/// Each fertiliser on headland and interior, kg/ha, and as the flat rate and where the position is lost.
fn laid(of: &Case, folder: &Path) -> Vec<(String, f64)> {
    let text = job(of);
    let job = Job::parse(&text, &folder.join("job.toml"))
        .unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    // Seed rates of rape and maize are far apart; the crop's own ranges are not what this is about.
    let job = unchecked(job);
    let plan =
        plan::plan(&job, &Disk, &Options::rates_only()).unwrap_or_else(|fault| panic!("{fault}"));
    let mut all = Vec::new();
    for nth in 1..job.products.len() {
        let rows = plan.rates.rows.iter();
        let mut laid: Vec<(String, f64)> = rows
            .map(|row| (row.facts.part.word().to_owned(), row.rates[nth].kg_per_ha))
            .collect();
        laid.sort_by(|a, b| a.0.cmp(&b.0));
        all.extend(laid);
        let flat = plan.tally.planned.products[nth].flat_kg_per_ha;
        all.push(("flat".to_owned(), flat));
        all.push(("lost".to_owned(), plan.rates.position_lost_kg_per_ha[nth]));
    }
    all
}

/// A seed rate that the crop may have.
fn unchecked(mut job: Job) -> Job {
    let crop = job.products[0].crop.clone().unwrap_or_default();
    let kg_per_ha = match crop.as_str() {
        "canola" => 5.0,
        "maize" => 25.0,
        _ => 150.0,
    };
    job.products[0].rate.kg_per_ha = Some(twinsow::job::Lookup::Same(kg_per_ha));
    job
}

/// A case, and one that is stricter in some respects.
fn pair() -> impl Strategy<Value = (Case, Case)> {
    let table = prop_oneof![
        Just(None),
        Just(Some("manitoba_phosphate")),
        Just(Some("saskatchewan_phosphate"))
    ];
    let two = |most: usize| (0..most, 0..most).prop_map(|(a, b)| (a.min(b), a.max(b)));
    (
        (two(CROPS.len()), two(TEXTURES.len()), two(FORMS.len())),
        (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>()),
        (
            prop_oneof![Just(48_u32), Just(40), Just(32)],
            prop_oneof![Just(1_u32), Just(2)],
        ),
        (0.02..0.05_f64, prop_oneof![Just(1.0), 1.0..2.0_f64]),
        (
            10.0..250.0_f64,
            table,
            any::<bool>(),
            prop::option::of(5.0..80.0_f64),
        ),
    )
        .prop_map(
            |(
                (crops, textures, forms),
                flags,
                rows,
                spread,
                (kg_per_ha, table, signed, second_kg_per_ha),
            )| {
                let milder = Case {
                    crop: crops.0,
                    texture: textures.1,
                    dry: flags.0 && flags.1,
                    rows: rows.0,
                    spread_m: spread.0,
                    form: forms.0,
                    twice: flags.2 && flags.3,
                    kg_per_ha,
                    table,
                    signed,
                    second_kg_per_ha,
                };
                let stricter = Case {
                    crop: crops.1,
                    texture: textures.0,
                    dry: flags.0 || flags.1,
                    rows: rows.0 / rows.1,
                    spread_m: spread.0 / spread.1,
                    form: forms.1,
                    twice: flags.2 || flags.3,
                    // A signed limit is for one crop and one form, and says so: the stricter case keeps both.
                    ..milder.clone()
                };
                let kept = match signed {
                    true => Case {
                        crop: milder.crop,
                        form: milder.form,
                        ..stricter
                    },
                    false => stricter,
                };
                (milder, kept)
            },
        )
}

#[test]
fn no_stricter_job_lays_more_anywhere() {
    let made = Made::new();
    let field = feature(PLACE, "", &rectangle([0.0, 0.0], [60.0, 40.0]));
    made.write("boundary.geojson", collection(&[field]));
    assert!(fs::exists(made.path().join("boundary.geojson")).expect("asked"));
    let config = ProptestConfig {
        cases: 150,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_261_129),
        ..ProptestConfig::default()
    };
    let (laid_both, cut) = (Cell::new(0), Cell::new(0));
    let mut runner = TestRunner::new(config);
    let outcome = runner.run(&pair(), |(milder, stricter)| {
        let more = laid(&milder, made.path());
        let less = laid(&stricter, made.path());
        for ((place, less), (_, more)) in less.iter().zip(&more) {
            // The flat rate is a mean: it may fall with the headland's rate, never rise.
            prop_assert!(
                *less <= more * (1.0 + 1e-9),
                "{place}: {less} > {more}: {milder:?} {stricter:?}"
            );
        }
        laid_both.set(laid_both.get() + usize::from(less[0].1 > 0.0));
        cut.set(cut.get() + usize::from(less[0].1 < more[0].1));
        Ok(())
    });
    assert!(outcome.is_ok(), "{outcome:?}");
    assert!(
        laid_both.get() > 20 && cut.get() > 40,
        "{laid_both:?} {cut:?}"
    );
}
