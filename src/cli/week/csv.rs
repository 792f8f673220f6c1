//! The list as CSV (RFC 4180): a row for each field and product, in the order in which they are sown.

use super::rows::{OfDrill, Row, Taken};
use crate::findings::{Fault, Outcome, Place};
use crate::write::table_text as text;

const HEADER: [&str; 23] = [
    "drill",
    "number",
    "begins_date",
    "begins_time",
    "ends_date",
    "ends_time",
    "customer",
    "farm",
    "field",
    "plan",
    "sowing_date",
    "late_days",
    "area_ha",
    "road_km",
    "cleaned_before",
    "fills",
    "hopper",
    "product",
    "lot",
    "dressing",
    "sown_kg",
    "filled_kg",
    "to_decide",
];

/// How the table begins, by which an older one is known.
pub(super) const BEGINS: &str = "drill,number,begins_date,begins_time,ends_date,";

/// The table.
///
/// # Errors
/// None that a sound list can cause.
pub(super) fn table(lists: &[OfDrill]) -> Outcome<Vec<u8>> {
    let failed = |error: String| {
        Fault::program(
            "week.csv",
            Place::nowhere(),
            format!("the list could not be made: {error}"),
            "rows of equal length",
        )
    };
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    writer
        .write_record(HEADER)
        .map_err(|error| failed(error.to_string()))?;
    for list in lists {
        for row in &list.fields {
            // A field that takes nothing has its row all the same.
            let products = row.products.iter().map(Some);
            let nothing = row.products.is_empty().then_some(None);
            for product in products.chain(nothing) {
                let cells = cells(&list.drill, row, product);
                writer
                    .write_record(cells)
                    .map_err(|error| failed(error.to_string()))?;
            }
        }
    }
    writer
        .into_inner()
        .map_err(|error| failed(error.to_string()))
}

fn cells(drill: &str, row: &Row, product: Option<&Taken>) -> [String; 23] {
    let of = |pick: &dyn Fn(&Taken) -> String| product.map(pick).unwrap_or_default();
    let optional = |own: &Option<String>| own.as_deref().map(text).unwrap_or_default();
    let cleaned: Vec<String> = row.cleaned.iter().map(|own| own.hopper.clone()).collect();
    [
        text(drill),
        row.number.to_string(),
        row.begins.date.clone(),
        row.begins.time.clone(),
        row.ends.date.clone(),
        row.ends.time.clone(),
        text(&row.customer),
        text(&row.farm),
        text(&row.field),
        row.plan.clone(),
        optional(&row.sowing_date),
        row.late_days.to_string(),
        format!("{:.4}", row.hectares),
        format!("{:.2}", row.road_km),
        text(&cleaned.join("; ")),
        row.fills.to_string(),
        of(&|own| text(&own.hopper)),
        of(&|own| text(&own.product)),
        of(&|own| optional(&own.lot)),
        of(&|own| optional(&own.dressing)),
        of(&|own| format!("{:.3}", own.sown_kg)),
        of(&|own| own.filled_kg.map_or(String::new(), |kg| format!("{kg:.3}"))),
        row.to_decide.to_string(),
    ]
}
