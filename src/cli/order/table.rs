//! The order list as CSV (RFC 4180).

use crate::findings::{Fault, Outcome, Place};
use crate::tally::farm_order::Line;
use crate::write::table_text as text;

const HEADER: [&str; 17] = [
    "product",
    "kind",
    "lot",
    "dressing",
    "fields",
    "sown_kg",
    "reserve_kg",
    "residue_kg",
    "needed_kg",
    "seeds",
    "pack_kg",
    "pack_seeds",
    "packs",
    "order_kg",
    "price_per_t",
    "price_per_pack",
    "cost",
];

/// How the table begins, by which an older one is known.
pub(super) const BEGINS: &str = "product,kind,lot,dressing,fields,sown_kg,";

/// One row per line of the list. Kilograms with 3 decimals, cost with 2; empty where nothing is known.
pub(super) fn csv(lines: &[Line]) -> Outcome<Vec<u8>> {
    let failed = |error: String| {
        Fault::program(
            "order.csv_not_made",
            Place::nowhere(),
            format!("the list could not be made: {error}"),
            "rows of equal length",
        )
    };
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record(HEADER)
        .map_err(|error| failed(error.to_string()))?;
    for line in lines {
        let article = &line.article;
        let fields: Vec<String> = line.needs.iter().map(|need| need.words()).collect();
        let optional = |known: &Option<String>| known.as_deref().map_or(String::new(), text);
        let number = |value: Option<f64>| value.map_or(String::new(), |v| v.to_string());
        // Without a grain weight there are seeds, and no kilograms.
        let mass = |kg: f64| match article.seeds_only {
            true => String::new(),
            false => format!("{kg:.3}"),
        };
        let record = [
            text(&article.product),
            article.kind.clone(),
            optional(&article.lot),
            optional(&article.dressing),
            text(&fields.join("; ")),
            mass(line.sown_kg),
            mass(line.reserve_kg),
            mass(line.residue_kg),
            mass(line.sown_kg + line.reserve_kg + line.residue_kg),
            line.seeds
                .map_or(String::new(), |seeds| format!("{seeds:.0}")),
            number(article.pack_kg),
            number(article.seeds_per_pack),
            line.packs.map_or(String::new(), |packs| packs.to_string()),
            mass(line.order_kg),
            number(line.price_per_t),
            number(line.price_per_pack),
            line.cost.map_or(String::new(), |cost| format!("{cost:.2}")),
        ];
        writer
            .write_record(record)
            .map_err(|error| failed(error.to_string()))?;
    }
    writer
        .into_inner()
        .map_err(|error| failed(error.to_string()))
}
