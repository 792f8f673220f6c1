//! Cautions: short texts per kind of product, for everything that people carry to the field.
//!
//! They name the usual hazards and defer to label, seed tag, local rules and licensed advice; they replace none of these.
//! Sources stand at each text.

use super::{balance_name, has_balance, nutrient};
use crate::job::{Grade, Job, Kind, Nutrient, Product};
use crate::texts::{Words, sentences};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

sentences! {
    /// A text that people carry to the field; the words are in `src/texts`.
    pub enum Caution of "caution" {
        /// What comes first, everywhere.
        Defer = "defer",
        /// Around the drill. Common practice, no source.
        AtTheDrill = "at_the_drill",
        /// Around a spreader. Common practice, no source.
        AtTheSpreader = "at_the_spreader",
        /// For the calibration test. Common practice, no source.
        Calibration = "calibration",
        /// European Seed Association, advice for the safe use of treated seed; University of Nebraska and
        /// seed-treatment-guide.com on tags and protection.
        TreatedSeed = "treated_seed",
        PlainSeed = "plain_seed",
        /// Irish Farmers Journal and Farmers Weekly on handling fertiliser; Manitoba Agriculture on seed-placed nitrogen.
        /// Not mixing products untested: common practice, no source.
        Nitrogen = "nitrogen",
        /// The same handling sources; distance to water: UK government, rules for farmers to prevent water pollution.
        Phosphate = "phosphate",
        /// AHDB RB209 section 4 (June 2023), page 21, on potash salts as a seedling hazard; the same handling sources.
        OtherFertiliser = "other_fertiliser",
        /// Common practice, no source.
        SurfaceApplied = "surface_applied",
        /// Defra, *Fertilisers: handling big bags*; Farmers Weekly, *Ten top tips for moving big bags on farm*; HSE
        /// Agriculture Information Sheet 8 on power lines.
        BigBag = "big_bag",
        NameTreatedSeed = "name_treated_seed",
        NameSeed = "name_seed",
        NameFertiliser = "name_fertiliser",
        NameSurfaceApplied = "name_surface_applied",
        NameBigBag = "name_big_bag",
    }
}

/// A pack of this many kilograms is lifted by a machine, not by hand. Between the 25 kg that two manual-lifting
/// guides name and the smallest big bag of 500 kg (Defra, *Fertilisers: handling big bags*); common practice, no source.
const BIG_BAG_KG: f64 = 200.0;

/// A hazard that a text stands for.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Hazard {
    TreatedSeed,
    PlainSeed,
    Nitrogen,
    Phosphate,
    /// Fertiliser with neither nitrogen nor phosphate, or without a grade.
    OtherFertiliser,
    SurfaceApplied,
    BigBag,
}

impl Hazard {
    /// What it is called in a list.
    pub fn name(self, words: Words) -> &'static str {
        words.text(&match self {
            Self::TreatedSeed => Caution::NameTreatedSeed,
            Self::PlainSeed => Caution::NameSeed,
            Self::Nitrogen | Self::Phosphate | Self::OtherFertiliser => Caution::NameFertiliser,
            Self::SurfaceApplied => Caution::NameSurfaceApplied,
            Self::BigBag => Caution::NameBigBag,
        })
    }

    /// The text, one or two lines.
    pub fn text(self, words: Words) -> &'static str {
        words.text(&match self {
            Self::TreatedSeed => Caution::TreatedSeed,
            Self::PlainSeed => Caution::PlainSeed,
            Self::Nitrogen => Caution::Nitrogen,
            Self::Phosphate => Caution::Phosphate,
            Self::OtherFertiliser => Caution::OtherFertiliser,
            Self::SurfaceApplied => Caution::SurfaceApplied,
            Self::BigBag => Caution::BigBag,
        })
    }
}

/// The cautions of one product, or of what is broadcast for its balance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cautions {
    /// Id of the product; `<id>_balance` for what is broadcast.
    pub product: String,
    /// Name of the product, or of what is broadcast.
    pub name: String,
    /// What can hurt, that of its kind first.
    pub hazards: Vec<Hazard>,
    /// The text of each hazard, in the same order.
    pub texts: Vec<Cow<'static, str>>,
}

/// The cautions of every product in job order, then of what is broadcast for their balances.
pub fn cautions(job: &Job) -> Vec<Cautions> {
    let words = Words::of(job);
    let said = |product, name, hazards| said(product, name, hazards, words);
    let of_products = job
        .products
        .iter()
        .map(|product| said(product.id.clone(), product.name.clone(), hazards(product)));
    let leaving = job
        .products
        .iter()
        .filter(|product| has_balance(job, product));
    let of_balances = leaving.map(|product| {
        let other = product.balance.as_ref();
        let grade = other.and_then(|other| other.grade).or(product.grade);
        let pack_kg = other.map_or(product.pack_kg, |other| other.pack_kg);
        let mut hazards = of_grade(grade);
        hazards.push(Hazard::SurfaceApplied);
        hazards.extend(big_bag(pack_kg));
        let id = format!("{}_balance", product.id);
        said(id, balance_name(product).to_owned(), hazards)
    });
    of_products.chain(of_balances).collect()
}

/// A text and the products it is for.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    pub text: &'static str,
    /// As in [`Cautions`], in the order of the products.
    pub products: Vec<String>,
    pub names: Vec<String>,
}

/// Each text once, in the order of the products.
pub fn by_text(job: &Job) -> Vec<Said> {
    let words = Words::of(job);
    let mut said: Vec<Said> = Vec::new();
    for of in cautions(job) {
        for text in of.hazards.iter().map(|hazard| hazard.text(words)) {
            let at = said.iter().position(|known| known.text == text);
            let at = at.unwrap_or_else(|| {
                said.push(Said {
                    text,
                    products: Vec::new(),
                    names: Vec::new(),
                });
                said.len() - 1
            });
            said[at].products.push(of.product.clone());
            said[at].names.push(of.name.clone());
        }
    }
    said
}

/// The hazards of a product, the one of its kind first.
pub fn hazards(product: &Product) -> Vec<Hazard> {
    let mut hazards = match product.kind {
        Kind::Seed if any_dressed(product) => vec![Hazard::TreatedSeed],
        Kind::Seed => vec![Hazard::PlainSeed],
        Kind::Fertiliser => of_grade(product.grade),
    };
    if product.surface_applied {
        hazards.push(Hazard::SurfaceApplied);
    }
    let of_lots = product.each_lot().iter().map(|lot| lot.pack_kg);
    let packs = std::iter::once(product.pack_kg).chain(of_lots);
    hazards.extend(packs.filter_map(big_bag).next());
    hazards
}

/// Whether the seed or any of its lots has a dressing.
fn any_dressed(product: &Product) -> bool {
    let lots = product.each_lot().iter().map(|lot| lot.dressing.as_deref());
    std::iter::once(product.dressing.as_deref())
        .chain(lots)
        .flatten()
        .any(is_dressed)
}

/// Whether a dressing on the label is one. What is not plainly "none" counts as one.
pub fn is_dressed(dressing: &str) -> bool {
    let word = dressing.trim().to_lowercase();
    !matches!(
        word.as_str(),
        "" | "-" | "no" | "none" | "untreated" | "undressed"
    )
}

fn of_grade(grade: Option<Grade>) -> Vec<Hazard> {
    let holds = |of| grade.is_some_and(|grade| nutrient::percent_of(&grade, of) > 0.0);
    let mut hazards = Vec::new();
    if holds(Nutrient::N) {
        hazards.push(Hazard::Nitrogen);
    }
    if holds(Nutrient::P2o5) {
        hazards.push(Hazard::Phosphate);
    }
    if hazards.is_empty() || holds(Nutrient::K2o) {
        hazards.push(Hazard::OtherFertiliser);
    }
    hazards
}

fn big_bag(pack_kg: Option<f64>) -> Option<Hazard> {
    pack_kg
        .filter(|kg| *kg >= BIG_BAG_KG)
        .map(|_| Hazard::BigBag)
}

fn said(product: String, name: String, hazards: Vec<Hazard>, words: Words) -> Cautions {
    let texts = hazards
        .iter()
        .map(|hazard| hazard.text(words).into())
        .collect();
    Cautions {
        product,
        name,
        hazards,
        texts,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn demo() -> Job {
        let text = include_str!("../../examples/demo/job.toml");
        Job::parse(text, Path::new("job.toml")).expect("the demo")
    }

    #[test]
    fn each_product_gets_the_cautions_of_its_kind() {
        use Hazard::*;
        let mut job = demo();
        let of = |job: &Job| -> Vec<(String, Vec<Hazard>)> {
            let all = cautions(job).into_iter();
            all.map(|one| (one.product, one.hazards)).collect()
        };
        assert_eq!(
            of(&job),
            [
                ("barley".to_owned(), vec![PlainSeed, BigBag]),
                ("starter".to_owned(), vec![Nitrogen, Phosphate, BigBag]),
                (
                    "starter_balance".to_owned(),
                    vec![Phosphate, SurfaceApplied, BigBag]
                ),
            ]
        );
        job.products[0].dressing = Some("fungicide A".to_owned());
        job.products[0].pack_kg = Some(25.0);
        job.products[1].grade = None;
        job.products[1].surface_applied = true;
        assert_eq!(
            of(&job),
            [
                ("barley".to_owned(), vec![TreatedSeed]),
                (
                    "starter".to_owned(),
                    vec![OtherFertiliser, SurfaceApplied, BigBag]
                ),
            ]
        );
        for none in ["none", " Untreated "] {
            job.products[0].dressing = Some(none.to_owned());
            assert_eq!(of(&job)[0].1, [PlainSeed], "{none}");
        }
    }

    #[test]
    fn a_treated_lot_makes_the_product_treated() {
        let mut job = demo();
        let lot = r#"{ "class": "sand", "lot": "7", "dressing": "fungicide A" }"#;
        job.products[0].pack_kg = None;
        job.products[0].lots = Some(crate::job::Lots {
            layer: "soil".to_owned(),
            each: vec![serde_json::from_str(lot).expect("a lot")],
        });
        assert_eq!(hazards(&job.products[0]), [Hazard::TreatedSeed]);
    }

    #[test]
    fn every_caution_has_its_words() {
        assert_eq!(crate::texts::checked::<Caution>(), Vec::<String>::new());
    }

    #[test]
    fn every_text_is_short_and_defers() {
        use Hazard::*;
        let all = [
            TreatedSeed,
            PlainSeed,
            Nitrogen,
            Phosphate,
            OtherFertiliser,
            SurfaceApplied,
            BigBag,
        ];
        for text in all.map(|hazard| hazard.text(Words::default())) {
            let defers = ["label", "tag", "instructions"]
                .iter()
                .any(|word| text.contains(word));
            assert!(defers && text.len() < 400, "{text}");
        }
    }
}
