//! The names under which delivered files carry a product. Made here and nowhere else: the writers use them,
//! `plan.json` states them, and the audit looks them up instead of guessing.

use super::attributes::{self, RATE};
use super::names::{distinct, stems};
use crate::codec::taskdata::{MOST_CHARACTERS, designator};
use crate::document::ProductNames;
use crate::job::{Job, Product, UnitSystem};
use std::collections::BTreeSet;

/// Column of a Shapefile for terminals that holds the rate of one product alone.
pub fn only_rate(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => "rate_kg_ha",
        UnitSystem::UsCustomary => "rate_lb_ac",
    }
}

/// The short name of a column of rates in kg/ha as that of one in lb/ac. As long, and what told two apart still does.
fn in_lb_per_acre(short_column: &str) -> Option<String> {
    let front = short_column.strip_suffix(RATE)?;
    Some(format!("{front}_lb_ac"))
}

/// Longest name of a column in formats that have room.
pub(super) const LONGEST_COLUMN: usize = 60;

/// The names of all products of a job, in job order.
pub fn product_names(job: &Job) -> Vec<ProductNames> {
    let products = &job.products;
    let columns = attributes::columns(job);
    let short = attributes::short_names(&columns);
    let of_rates = || {
        columns
            .iter()
            .zip(&short)
            .filter(|(column, _)| column.is_rate())
    };
    let files = file_stems(job);
    let mut in_task_data = BTreeSet::new();
    // Of all tables together, for the id of one product may be that of another with such a word behind it.
    let mut in_any_table: BTreeSet<String> = columns
        .iter()
        .map(|column| &column.name)
        .chain(&short)
        .map(|name| name.to_lowercase())
        .collect();
    let mut found = Vec::new();
    for ((product, (column, short)), file) in products.iter().zip(of_rates()).zip(files) {
        let name = [&product.name, &product.id].map(|text| designator(text));
        let name = name.into_iter().find(|text| !text.is_empty());
        let mut with = |what: &str| {
            let end = format!("_{what}_kg_ha");
            distinct(&product.id, &end, "_", LONGEST_COLUMN, &mut in_any_table)
        };
        found.push(ProductNames {
            column: column.name.clone(),
            short_column: short.clone(),
            terminal_column: match job.report.units {
                UnitSystem::Metric => None,
                UnitSystem::UsCustomary => in_lb_per_acre(short),
            },
            file,
            task_data: distinct(
                &name.unwrap_or_default(),
                "",
                " ",
                MOST_CHARACTERS,
                &mut in_task_data,
            ),
            wanted: with("wanted"),
            sown: with("sown"),
            balance: with("balance"),
        });
    }
    found
}

/// The names of tasks that hold one product each: the id of the plan first, for a screen may show only the start.
pub(super) fn task_names(job: &Job, plan: &str) -> Vec<String> {
    let mut taken = BTreeSet::new();
    // Of two plans for two seedbeds, which it is, where a screen that cuts names still shows it.
    let mark = job.moisture().map(|of| format!("{} ", of.mark()));
    let mark = mark.unwrap_or_default();
    let mut name = |product: &Product| {
        let name = designator(&format!("{plan} {mark}{}", product.name));
        distinct(&name, "", " ", MOST_CHARACTERS, &mut taken)
    };
    job.products.iter().map(&mut name).collect()
}

/// Front of the names of a product's files: one per product, and last that of all products together. `turned` is no product's:
/// `gis/rates-turned.tif` is the grid along the bouts.
pub(super) fn file_stems(job: &Job) -> Vec<String> {
    let ids = job.products.iter().map(|product| product.id.as_str());
    let reserved = ["turned"];
    stems(reserved.into_iter().chain(ids).chain(["all-products"])).split_off(reserved.len())
}
