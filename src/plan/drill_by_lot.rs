//! The drill with one lot in the hopper: each lot has its own density, and with it its own rotor.

use super::drill::rows;
use super::rates::Combination;
use crate::drill;
use crate::findings::Finding;
use crate::job::{Job, Product};

/// What the drill makes of one lot of product `nth`, all other products left out.
pub(super) fn report(
    combinations: &[Combination],
    job: &Job,
    nth: usize,
    lot: &str,
) -> drill::Report {
    let (job, rates) = alone(combinations, job, nth, lot);
    drill::report(&job, &rows(combinations, &rates))
}

/// What has to be decided about the rotors for each lot.
pub(super) fn findings(combinations: &[Combination], job: &Job) -> Vec<Finding> {
    let mut found = Vec::new();
    for (nth, product) in job.products.iter().enumerate() {
        for lot in names(product) {
            let (own, rates) = alone(combinations, job, nth, lot);
            let rows = rows(combinations, &rates);
            let of_lot = drill::of_rotors(&own, &rows, &drill::report(&own, &rows));
            found.extend(of_lot.into_iter().map(|mut finding| {
                finding.message = format!("lot '{lot}': {}", finding.message);
                finding
            }));
        }
    }
    found
}

/// The lots of a product, each once.
fn names(product: &Product) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    for lot in product.each_lot() {
        if !names.contains(&lot.lot.as_str()) {
            names.push(&lot.lot);
        }
    }
    names
}

/// The job with the product as this lot, and the rates with nothing but this lot.
fn alone(combinations: &[Combination], job: &Job, nth: usize, lot: &str) -> (Job, Vec<Vec<f64>>) {
    let mut own = job.clone();
    let each = job.products.get(nth).map_or(&[][..], Product::each_lot);
    if let Some(product) = own.products.get_mut(nth)
        && let Some(lot) = each.iter().find(|known| known.lot == lot)
    {
        *product = product.as_lot(lot);
    }
    let rates = combinations.iter().map(|row| {
        let rates = row.rates.iter().enumerate();
        let here = rates.map(|(at, rate)| {
            let sown = rate.lot.and_then(|of_list| each.get(of_list));
            match at == nth && sown.is_some_and(|sown| sown.lot == lot) {
                true => rate.kg_per_ha,
                false => 0.0,
            }
        });
        here.collect()
    });
    let rates = rates.collect();
    (own, rates)
}
