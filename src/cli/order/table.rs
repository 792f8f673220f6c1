//! The order list as CSV (RFC 4180).

use crate::findings::{Fault, Outcome, Place};
use crate::tally::orders::Line;

const HEADER: [&str; 14] = [
    "product",
    "kind",
    "lot",
    "dressing",
    "fields",
    "sown_kg",
    "reserve_kg",
    "residue_kg",
    "needed_kg",
    "pack_kg",
    "packs",
    "order_kg",
    "price_per_t",
    "cost",
];

/// One row per line of the list. Kilograms with 3 decimals, cost with 2; empty where nothing is known.
pub(super) fn csv(lines: &[Line]) -> Outcome<Vec<u8>> {
    let failed = |error: String| {
        Fault::machine(
            "order.csv_not_written",
            Place::nowhere(),
            error,
            "memory for the list",
            "close other programs and try again",
        )
    };
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record(HEADER)
        .map_err(|error| failed(error.to_string()))?;
    for line in lines {
        let article = &line.article;
        let fields: Vec<&str> = line.needs.iter().map(|need| need.field.as_str()).collect();
        let optional = |text: &Option<String>| text.as_deref().map_or(String::new(), plain);
        let number = |value: Option<f64>| value.map_or(String::new(), |v| v.to_string());
        let record = [
            plain(&article.product),
            article.kind.clone(),
            optional(&article.lot),
            optional(&article.dressing),
            plain(&fields.join("; ")),
            format!("{:.3}", line.sown_kg),
            format!("{:.3}", line.reserve_kg),
            format!("{:.3}", line.residue_kg),
            format!("{:.3}", line.sown_kg + line.reserve_kg + line.residue_kg),
            number(article.pack_kg),
            line.packs.map_or(String::new(), |packs| packs.to_string()),
            format!("{:.3}", line.order_kg),
            number(line.price_per_t),
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

/// A text that no spreadsheet takes for a formula.
fn plain(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}
