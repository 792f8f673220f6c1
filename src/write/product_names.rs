//! The names under which delivered files carry a product. Made here and nowhere else: the writers use them,
//! `plan.json` states them, and the audit looks them up instead of guessing.

use super::attributes;
use super::names::{distinct, stems};
use crate::codec::taskdata::designator;
use crate::job::Job;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Column of a Shapefile that holds the rate of one product alone.
pub const ONLY_RATE: &str = "rate_kg_ha";
/// Longest name of a product in task data.
const LONGEST_IN_TASK_DATA: usize = 32;
/// Longest name of a column in formats that have room.
const LONGEST_COLUMN: usize = 60;

/// The names of one product. No two products of a job share one, upper and lower case taken as alike.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProductNames {
    /// Column of the rate table in GeoJSON and GeoPackage, and band of the GeoTIFF.
    pub column: String,
    /// The same where names have ten characters: Shapefiles.
    pub short_column: String,
    /// Front of the name of the Shapefile that holds this product alone, before `_` and the id of the plan.
    pub file: String,
    /// Name in task data.
    pub task_data: String,
    /// Columns of the difference map: wanted, and sown as driven.
    pub wanted: String,
    pub sown: String,
    /// Column of the map of what is left to broadcast, and band of its GeoTIFF.
    pub balance: String,
}

/// The names of all products of a job, in job order.
pub fn product_names(job: &Job) -> Vec<ProductNames> {
    let products = &job.products;
    let columns = attributes::columns(job);
    let short = attributes::short_names(&columns);
    let of_rates = || {
        columns
            .iter()
            .zip(short)
            .filter(|(column, _)| column.is_rate())
    };
    let files = file_stems(job);
    let mut in_task_data = BTreeSet::new();
    let mut with_a_word = BTreeSet::new();
    let mut found = Vec::new();
    for ((product, (column, short)), file) in products.iter().zip(of_rates()).zip(files) {
        let name = [&product.name, &product.id].map(|text| designator(text));
        let name = name.into_iter().find(|text| !text.is_empty());
        let mut with = |what: &str| {
            let name = format!("{}_{what}_kg_ha", product.id);
            distinct(&name, "", "_", LONGEST_COLUMN, &mut with_a_word)
        };
        found.push(ProductNames {
            column: column.name.clone(),
            short_column: short,
            file,
            task_data: distinct(
                &name.unwrap_or_default(),
                "",
                " ",
                LONGEST_IN_TASK_DATA,
                &mut in_task_data,
            ),
            wanted: with("wanted"),
            sown: with("sown"),
            balance: with("balance"),
        });
    }
    found
}

/// Front of the names of the Shapefiles for terminals: one per product, and last that of all products together.
pub(super) fn file_stems(job: &Job) -> Vec<String> {
    let ids = job.products.iter().map(|product| product.id.as_str());
    stems(ids.chain(["all-products"]))
}
