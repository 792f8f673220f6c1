//! The rate table for people, as CSV (RFC 4180), and what the order's table shares with it.

use super::product_names::product_names;
use crate::agronomy::{self, Stand};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Kind, Product};
use crate::plan::{Combination, Plan};
use crate::units::M2_PER_HA;

/// The rate table: one row per combination of facts.
///
/// Units: ha with 6 decimals (0.01 m2), kg with 3; kg/ha with up to 6.
///
/// # Errors
/// None that a sound plan can cause.
pub(super) fn rates(plan: &Plan) -> Outcome<Vec<u8>> {
    let job = &plan.job;
    let mut header = vec!["plan".to_string(), "row".to_string(), "part".to_string()];
    header.extend(
        job.layers
            .iter()
            .map(|layer| text(&format!("class_{}", layer.name))),
    );
    header.extend(["special_areas", "setbacks", "ha"].map(str::to_string));
    for (product, names) in job.products.iter().zip(product_names(job)) {
        header.push(text(&names.column));
        header.push(text(&format!("{}_kg", product.id)));
        if product.kind == Kind::Seed {
            let more = ["lot", "seeds_m2", "plants_m2", "plants_ft2", "lb_ac"];
            header.extend(more.map(|what| text(&format!("{}_{what}", product.id))));
        }
        if job.mixture.as_ref().is_some_and(|of| of.has(&product.id)) {
            header.push(text(&format!("{}_share_percent", product.id)));
        }
        if agronomy::has_balance(job, product) {
            header.push(text(&names.balance));
            header.push(text(&format!("{}_balance_kg", product.id)));
        }
    }
    header.push("zones".to_string());
    let rows = plan.rates.rows.iter().enumerate().map(|(index, row)| {
        let special_areas = row
            .facts
            .special_areas
            .iter()
            .map(|&at| job.special_areas.get(at));
        let special_areas = special_areas.flatten().map(|area| area.name.as_str());
        let setbacks = row.facts.setbacks.iter().map(|&at| job.setbacks.get(at));
        let setbacks = setbacks.flatten().map(|setback| setback.name.as_str());
        let mut fields = vec![text(&plan.id), (index + 1).to_string()];
        fields.push(row.facts.part.word().to_string());
        fields.extend(row.facts.classes.iter().map(|class| text(class)));
        fields.push(text(&special_areas.collect::<Vec<_>>().join("; ")));
        fields.push(text(&setbacks.collect::<Vec<_>>().join("; ")));
        fields.push(format!("{:.6}", row.area_m2 / M2_PER_HA));
        fields.extend(row_rates(&job.products, row));
        fields.push(zones_of(plan, index + 1));
        fields
    });
    csv(header, rows)
}

/// Numbers of the map zones that hold land of a row of the rate table (from 1), in ascending order: the key to the map. Empty where all
/// its land is part of pieces that go by another row.
fn zones_of(plan: &Plan, row: usize) -> String {
    let zones = plan.maps.rate.zones.iter();
    let mut numbers: Vec<usize> = zones
        .filter(|zone| zone.combinations.contains(&row))
        .map(|zone| zone.id)
        .collect();
    numbers.sort_unstable();
    let numbers: Vec<String> = numbers.iter().map(usize::to_string).collect();
    numbers.join("; ")
}

fn row_rates(products: &[Product], row: &Combination) -> Vec<String> {
    let pair = |kg_per_ha: f64| {
        let kg = kg_per_ha * row.area_m2 / M2_PER_HA;
        [rate_text(kg_per_ha), format!("{kg:.3}")]
    };
    let mut fields = Vec::new();
    for (product, rate) in products.iter().zip(&row.rates) {
        fields.extend(pair(rate.kg_per_ha));
        if product.kind == Kind::Seed {
            let lot = rate.lot.and_then(|lot| product.each_lot().get(lot));
            fields.push(lot.map_or(String::new(), |lot| text(&lot.lot)));
            fields.extend(stand(rate.stand.as_ref()));
        }
        let share = rate.share.as_ref();
        fields.extend(share.map(|share| format!("{:.2}", share.sown_percent)));
        let balance = rate.balance.as_ref().map(|left| pair(left.kg_per_ha));
        fields.extend(balance.into_iter().flatten());
    }
    fields
}

/// Seeds/m2, plants/m2, plants/ft2, lb/ac; empty where they are not known.
fn stand(stand: Option<&Stand>) -> [String; 4] {
    let number = |value: Option<f64>| value.map_or(String::new(), |of| format!("{of:.2}"));
    [
        number(stand.map(|stand| stand.seeds_per_m2)),
        number(stand.and_then(|stand| stand.plants_per_m2)),
        number(stand.and_then(|stand| stand.plants_per_ft2)),
        number(stand.map(|stand| stand.lb_per_acre)),
    ]
}

/// A rate for people: at most 6 decimals, so that no `0.30000000000000004` shows.
pub(super) fn rate_text(kg_per_ha: f64) -> String {
    ((kg_per_ha * 1e6).round() / 1e6).to_string()
}

/// A text from the user, such that no spreadsheet takes it for a formula: an apostrophe goes before
/// what starts like one (`=`, `+`, `-`, `@`, a tab or a line break).
pub fn text(text: &str) -> String {
    match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n') => format!("'{text}"),
        _ => text.to_string(),
    }
}

/// A cell of a table of numbers and texts: a number stays as it is.
pub(crate) fn cell(cell: &str) -> String {
    match cell.parse::<f64>().is_ok_and(f64::is_finite) {
        true => cell.to_string(),
        false => text(cell),
    }
}

pub(crate) fn csv(
    header: Vec<String>,
    rows: impl Iterator<Item = Vec<String>>,
) -> Outcome<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let fault = |error: &dyn std::fmt::Display| {
        Fault::program(
            "write.csv",
            Place::nowhere(),
            format!("The table could not be made: {error}"),
            "rows of equal length",
        )
    };
    for row in std::iter::once(header).chain(rows) {
        writer.write_record(&row).map_err(|error| fault(&error))?;
    }
    writer.into_inner().map_err(|error| fault(&error))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_a_formula_and_numbers_stay() {
        for (written, wanted) in [
            ("=HYPERLINK(\"x\")", "'=HYPERLINK(\"x\")"),
            ("@field", "'@field"),
            ("+1 more", "'+1 more"),
            ("-12.5", "-12.5"),
            ("-inf", "'-inf"),
            ("\tA", "'\tA"),
            ("12 Acre", "12 Acre"),
            ("", ""),
        ] {
            assert_eq!(cell(written), wanted);
        }
        assert_eq!(text("-12"), "'-12");
    }
}
