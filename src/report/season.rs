//! The cover over many fields: one page with the way to each field's report, and the order over all.

use super::engine;
use super::number::Numbers;
use crate::findings::Outcome;
use crate::job::Language;
use crate::tally::farm_order::Line;
use serde_json::{Value, json};

/// A field on the cover.
#[derive(Debug, Clone, PartialEq)]
pub struct CoverField {
    /// Name of the field.
    pub field: String,
    /// Name of the farm.
    pub farm: String,
    /// Short id of its plan.
    pub plan: String,
    /// Mapped area, m2.
    pub mapped_m2: f64,
    /// What is sown of each product, kg.
    pub sown: Vec<(String, f64)>,
    /// Decisions that are open.
    pub to_decide: usize,
    /// Names of folders and the report, from the folder of the cover; `None` where no report was written.
    pub report: Option<Vec<String>>,
}

/// The cover of these fields with the order over all of them; metric, in the language that is given: many jobs can have many.
///
/// # Errors
/// As [`super::page`].
pub fn cover(fields: &[CoverField], lines: &[Line], language: Language) -> Outcome<Vec<u8>> {
    let numbers = Numbers::METRIC.in_language(language);
    let total: f64 = fields.iter().map(|field| field.mapped_m2).sum();
    let rows = fields.iter().map(|field| {
        let amounts = field
            .sown
            .iter()
            .map(|(product, kg)| json!({ "product": product, "mass": numbers.mass(*kg, "") }));
        json!({
            "field": field.field,
            "farm": field.farm,
            "plan": field.plan,
            "area": numbers.area(field.mapped_m2, ""),
            "to_decide": field.to_decide,
            "link": field.report.as_ref().map(|parts| link(parts)),
            "amounts": amounts.collect::<Vec<_>>(),
        })
    });
    let value = json!({
        "units": numbers.words(),
        "fields": rows.collect::<Vec<_>>(),
        "total": numbers.area(total, ""),
        "lines": lines.iter().map(|line| view(line, &numbers)).collect::<Vec<_>>(),
    });
    engine::cover(value, language)
}

fn view(line: &Line, numbers: &Numbers) -> Value {
    json!({
        "product": line.article.product,
        "lot": line.article.lot,
        "dressing": line.article.dressing,
        "pack": line.article.pack_kg.map(|kg| numbers.mass(kg, "")),
        "sown": numbers.mass(line.sown_kg, ""),
        "reserve": numbers.mass(line.reserve_kg, ""),
        "residue": numbers.mass(line.residue_kg, ""),
        "order": numbers.mass(line.order_kg, ""),
        "packs": line.packs,
        "less": line.one_pack_less.map(|less| json!({
            "packs": less.packs,
            "reserve": numbers.mass(less.reserve_kg, ""),
            "percent": numbers.plain(less.reserve_percent, 1, ""),
        })),
        "cost": line.cost.map(|cost| numbers.grouped(cost, 2)),
    })
}

/// Names as a relative link. RFC 3986: what is not unreserved is percent-encoded.
fn link(parts: &[String]) -> String {
    let encoded = parts.iter().map(|part| {
        let bytes = part.bytes().map(|byte| match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                char::from(byte).to_string()
            }
            _ => format!("%{byte:02X}"),
        });
        bytes.collect::<String>()
    });
    // "./" keeps a name with a colon from being read as a scheme.
    format!("./{}", encoded.collect::<Vec<_>>().join("/"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_leads_to_any_name() {
        let parts = ["my plans", "50%#1?", "Å", "report.html"].map(String::from);
        assert_eq!(link(&parts), "./my%20plans/50%25%231%3F/%C3%85/report.html");
    }
}
