//! A grade against the form that its product says it has: oxide or element, and what the form cannot hold.

use super::placement::FertiliserForm;
use super::product::{Grade, Product};
use super::rules::{Check, at};
use crate::units::p2o5_from_p;

/// What a form holds, percent of weight: lowest and highest N, P2O5 and K2O.
struct Holds {
    n: (f64, f64),
    p2o5: (f64, f64),
    k2o: (f64, f64),
    /// Usual grades, for the message.
    usual: &'static str,
}

/// Usual grades: AHDB RB209 section 4 (2023), page 47, and for 11-52 Manitoba Agriculture. The upper ends are those of the
/// pure salts (by their formulas), the lower ends room for granulated goods: common practice, no source.
fn holds(form: FertiliserForm) -> Option<Holds> {
    let (n, p2o5, k2o, usual) = match form {
        FertiliserForm::Urea => ((44.0, 46.7), (0.0, 0.0), (0.0, 0.0), "46-0-0"),
        FertiliserForm::UreaWithInhibitor => ((40.0, 46.7), (0.0, 0.0), (0.0, 0.0), "46-0-0"),
        FertiliserForm::UreaAmmoniumNitrate => {
            ((18.0, 33.0), (0.0, 0.0), (0.0, 0.0), "28-0-0 to 32-0-0")
        }
        FertiliserForm::MonoammoniumPhosphate => {
            ((8.0, 12.5), (44.0, 61.8), (0.0, 0.0), "11-52-0 or 12-52-0")
        }
        FertiliserForm::DiammoniumPhosphate => ((15.0, 21.3), (42.0, 53.8), (0.0, 0.0), "18-46-0"),
        FertiliserForm::TripleSuperphosphate => ((0.0, 0.0), (38.0, 56.6), (0.0, 0.0), "0-46-0"),
        FertiliserForm::AmmoniumSulphate => ((19.0, 21.3), (0.0, 0.0), (0.0, 0.0), "21-0-0"),
        FertiliserForm::WithoutUrea => return None,
    };
    Some(Holds {
        n,
        p2o5,
        k2o,
        usual,
    })
}

/// Checks one product.
pub(super) fn check(check: &mut Check<'_>, n: usize, product: &Product) {
    let (Some(grade), Some(form)) = (product.grade, product.form) else {
        return;
    };
    let Some(holds) = holds(form) else {
        return;
    };
    let within = |value: f64, (least, most): (f64, f64)| (least..=most).contains(&value);
    let phosphate = within(grade.p2o5_percent, holds.p2o5);
    if within(grade.n_percent, holds.n) && phosphate && within(grade.k2o_percent, holds.k2o) {
        return;
    }
    let words = form.words();
    let as_oxide = p2o5_from_p(grade.p2o5_percent);
    let element = !phosphate && grade.p2o5_percent > 0.0 && within(as_oxide, holds.p2o5);
    let next = match element {
        true => format!(
            "the bag seems to give phosphorus as the element P: {} % P is {:.0} % P2O5; write p2o5_percent = {:.0} if it says so",
            grade.p2o5_percent, as_oxide, as_oxide
        ),
        false => "check the three numbers on the bag and whether 'form' is what is in it; a blend has form = \"without_urea\" unless it holds urea".to_owned(),
    };
    check.add(
        at!["product", n, "grade"],
        format!(
            "'{}' is said to be {words}, and its grade {} is none of that",
            product.id,
            written(&grade)
        ),
        format!("for {words} a grade such as {}", holds.usual),
        next,
    );
}

/// A grade as a bag has it.
fn written(grade: &Grade) -> String {
    format!(
        "{}-{}-{}",
        grade.n_percent, grade.p2o5_percent, grade.k2o_percent
    )
}
