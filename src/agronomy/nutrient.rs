//! Nutrients: from a need to a product's rate through its grade, and back.
//!
//! Plain arithmetic, no job. Needs, supplies and rates are kg/ha; grades are percent of weight, with
//! phosphate and potash as oxides (P2O5, K2O), as they stand on the bag.

use crate::findings::{Fault, Outcome, Place};
use crate::job::{Grade, Nutrient};

/// Source of the arithmetic: a grade is the nutrient in 100 kg of product.
pub const SOURCE_GRADE: &str =
    "definition of the grade; typical grades in AHDB RB209 section 4 (2023), page 47";

/// The percentage of this nutrient in the grade.
pub fn percent_of(grade: &Grade, nutrient: Nutrient) -> f64 {
    match nutrient {
        Nutrient::N => grade.n_percent,
        Nutrient::P2o5 => grade.p2o5_percent,
        Nutrient::K2o => grade.k2o_percent,
    }
}

/// The nutrient as people write it.
pub fn symbol(nutrient: Nutrient) -> &'static str {
    match nutrient {
        Nutrient::N => "N",
        Nutrient::P2o5 => "P2O5",
        Nutrient::K2o => "K2O",
    }
}

/// All nutrients of a grade, in the order in which a grade is written.
pub const NUTRIENTS: [Nutrient; 3] = [Nutrient::N, Nutrient::P2o5, Nutrient::K2o];

/// kg/ha of product that supply `need_kg_per_ha` of a nutrient: need / (percent / 100).
///
/// # Errors
/// The grade holds none of the nutrient, or its percentage is not a number from 0 to 100.
pub fn product_kg_per_ha(need_kg_per_ha: f64, grade: &Grade, nutrient: Nutrient) -> Outcome<f64> {
    let percent = percent_of(grade, nutrient);
    if !(percent > 0.0 && percent <= 100.0) {
        return Err(Fault::input(
            "agronomy.grade",
            Place::nowhere(),
            format!(
                "a need of {} is to be met by a product with {percent} % {} in its grade",
                symbol(nutrient),
                symbol(nutrient)
            ),
            "a percentage above 0 and up to 100",
            "Correct the grade on the label's figures, or name the nutrient that this product brings.",
        ));
    }
    Ok(need_kg_per_ha / (percent / 100.0))
}

/// kg/ha of a nutrient in `product_kg_per_ha` of product.
pub fn supply_kg_per_ha(product_kg_per_ha: f64, grade: &Grade, nutrient: Nutrient) -> f64 {
    product_kg_per_ha * percent_of(grade, nutrient) / 100.0
}
