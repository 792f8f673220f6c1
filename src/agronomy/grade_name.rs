//! A grade against the name of its product: what the name promises, and phosphorus given as the element.

use super::chain::job_file;
use super::text;
use crate::findings::{Decision, Finding};
use crate::job::{Grade, Job, Product};
use crate::units::p2o5_from_p;

/// Percentage points by which a name and a grade may differ: names are rounded.
const NAMES_ROUND: f64 = 1.0;

/// N of urea, percent: 46 as it is sold (AHDB RB209 section 4, page 47), 46.7 by its formula.
const UREA_N: (f64, f64) = (44.0, 46.7);

/// N and P2O5 of the two ammonium phosphates as they are sold, percent. AHDB RB209 section 4, page 47: 12-52 and 18-46;
/// Manitoba Agriculture: 11-52.
const AMMONIUM_PHOSPHATES: [((f64, f64), (f64, f64)); 2] =
    [((9.0, 12.5), (48.0, 56.0)), ((16.0, 19.0), (44.0, 48.0))];

/// The decisions about all products of a job.
pub(super) fn check(job: &Job) -> Vec<Finding> {
    let each = job
        .products
        .iter()
        .filter_map(|product| Some((product, product.grade?)));
    each.filter_map(|(product, grade)| Some((product, grade, wrong(product, &grade)?)))
        .map(|(product, grade, found)| {
            let message = format!(
                "'{}' has the grade {}, and {found}. Rates and limits follow the grade: read N, P2O5 and K2O off the bag again",
                product.id,
                written(&grade)
            );
            let mut finding = Finding::decision(Decision::GradeDoubtful, job_file(job), message);
            finding.place = finding.place.feature(&product.id);
            finding.of_products([product.id.as_str()])
        })
        .collect()
}

/// What speaks against a grade.
fn wrong(product: &Product, grade: &Grade) -> Option<String> {
    let here = [grade.n_percent, grade.p2o5_percent, grade.k2o_percent];
    if let Some((said, numbers)) = in_name(&product.name) {
        let differs = numbers
            .iter()
            .zip(here)
            .any(|(name, here)| (name - here).abs() > NAMES_ROUND);
        if differs {
            return Some(format!("its name says {said}"));
        }
    }
    let within = |value: f64, (least, most): (f64, f64)| (least..=most).contains(&value);
    let as_oxide = p2o5_from_p(grade.p2o5_percent);
    let element = AMMONIUM_PHOSPHATES
        .iter()
        .any(|(n, p2o5)| within(grade.n_percent, *n) && within(as_oxide, *p2o5));
    if element && grade.k2o_percent == 0.0 {
        return Some(format!(
            "that looks like phosphorus as the element P: {} % P is {} % P2O5",
            text::given(grade.p2o5_percent),
            text::number(as_oxide, 0)
        ));
    }
    let name = product.name.to_lowercase();
    let mut words = name.split(|c: char| !c.is_alphabetic());
    let alone = words.clone().filter(|word| !word.is_empty()).count() == 1;
    if alone && words.any(|word| word == "urea") && !within(grade.n_percent, UREA_N) {
        return Some("urea has 46 % N".to_owned());
    }
    None
}

/// The grade that stands in a name, such as 12-52 or 15-15-15, as written and as numbers.
fn in_name(name: &str) -> Option<(&str, Vec<f64>)> {
    name.split(|c: char| !(c.is_ascii_digit() || ['-', '.'].contains(&c)))
        .map(|word| word.trim_matches(['-', '.']))
        .find_map(|word| {
            let numbers: Option<Vec<f64>> = word.split('-').map(|part| part.parse().ok()).collect();
            let numbers = numbers?;
            let grade = [2, 3].contains(&numbers.len()) && numbers.iter().sum::<f64>() <= 100.0;
            grade.then_some((word, numbers))
        })
}

/// A grade as a bag has it.
fn written(grade: &Grade) -> String {
    format!(
        "{}-{}-{}",
        text::given(grade.n_percent),
        text::given(grade.p2o5_percent),
        text::given(grade.k2o_percent)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn about(name: &str, n_percent: f64, p2o5_percent: f64, k2o_percent: f64) -> Option<String> {
        let mut job: Job = toml::from_str(
            "name = \"t\"\nfield = { name = \"t\", boundary = { file = \"b\" } }\n[drill]\nworking_width_m = 6\nhopper = []\n\
             [[product]]\nid = \"p\"\nname = \"p\"\nkind = \"fertiliser\"\nhopper = \"h\"\nrate = { kg_per_ha = 1 }\n",
        )
        .expect("a job");
        job.products[0].name = name.to_owned();
        job.products[0].grade = Some(Grade {
            n_percent,
            p2o5_percent,
            k2o_percent,
            s_percent: None,
            boron_percent: 0.0,
        });
        check(&job).pop().map(|finding| finding.message)
    }

    #[test]
    fn a_grade_that_its_name_or_its_numbers_speak_against_is_asked_about() {
        for (name, n, p, k, wanted) in [
            ("NP 12-52", 12.0, 52.0, 0.0, ""),
            ("Compound 15-15-15", 15.0, 15.0, 15.0, ""),
            ("DAP 18-46-0", 18.0, 20.0, 0.0, "its name says 18-46-0"),
            ("NP 12-52", 12.0, 46.0, 0.0, "its name says 12-52"),
            ("Phosphate", 18.0, 20.0, 0.0, "20 % P is 46 % P2O5"),
            ("Starter", 11.0, 22.7, 0.0, "22.7 % P is 52 % P2O5"),
            ("Urea", 34.5, 0.0, 0.0, "urea has 46 % N"),
            ("Urea", 46.0, 0.0, 0.0, ""),
            ("Urea ammonium nitrate", 28.0, 0.0, 0.0, ""),
            ("Lot 2026-01", 20.0, 10.0, 10.0, ""),
        ] {
            let found = about(name, n, p, k);
            match wanted {
                "" => assert_eq!(found, None, "{name}"),
                words => assert!(
                    found.clone().is_some_and(|it| it.contains(words)),
                    "{name}: {found:?}"
                ),
            }
        }
    }
}
