//! The two tables for people: the rate table and the order, as CSV (RFC 4180).

use super::attributes::part_word;
use crate::agronomy;
use crate::agronomy::caution::{self, Cautions, DEFER};
use crate::findings::{Fault, Outcome, Place};
use crate::plan::{Combination, Plan};

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
    for product in &job.products {
        header.push(text(&format!("{}_kg_ha", product.id)));
        header.push(text(&format!("{}_kg", product.id)));
        if agronomy::has_balance(job, product) {
            header.push(text(&format!("{}_balance_kg_ha", product.id)));
            header.push(text(&format!("{}_balance_kg", product.id)));
        }
    }
    let rows = plan.combinations.iter().enumerate().map(|(index, row)| {
        let special_areas = row
            .facts
            .special_areas
            .iter()
            .map(|&at| job.special_areas.get(at));
        let special_areas = special_areas.flatten().map(|area| area.name.as_str());
        let setbacks = row.facts.setbacks.iter().map(|&at| job.setbacks.get(at));
        let setbacks = setbacks.flatten().map(|setback| setback.name.as_str());
        let mut fields = vec![text(&plan.id), (index + 1).to_string()];
        fields.push(part_word(row.facts.part).to_string());
        fields.extend(row.facts.classes.iter().map(|class| text(class)));
        fields.push(text(&special_areas.collect::<Vec<_>>().join("; ")));
        fields.push(text(&setbacks.collect::<Vec<_>>().join("; ")));
        fields.push(format!("{:.6}", row.area_m2 / 10_000.0));
        fields.extend(row_rates(row));
        fields
    });
    csv(header, rows)
}

fn row_rates(row: &Combination) -> impl Iterator<Item = String> {
    let pair = |kg_per_ha: f64| {
        let kg = kg_per_ha * row.area_m2 / 10_000.0;
        [rate_text(kg_per_ha), format!("{kg:.3}")]
    };
    row.rates.iter().flat_map(move |rate| {
        let balance = rate.balance.as_ref().map(|balance| pair(balance.kg_per_ha));
        pair(rate.kg_per_ha)
            .into_iter()
            .chain(balance.into_iter().flatten())
    })
}

/// The order: one row per product, with every step from the map to the order in a column.
///
/// Units: ha with 4 decimals, kg with 3; kg/ha with up to 6. Empty where nothing is known.
///
/// # Errors
/// None that a sound plan can cause.
pub(super) fn order(plan: &Plan) -> Outcome<Vec<u8>> {
    let tally = &plan.tally;
    let mut steps: Vec<&str> = Vec::new();
    for step in tally.products.iter().flat_map(|product| &product.steps) {
        if !steps.contains(&step.step) {
            steps.push(step.step);
        }
    }
    let fixed = [
        "plan",
        "field",
        "farm",
        "customer",
        "product",
        "name",
        "lot",
        "hopper",
        "mapped_ha",
        "sown_ha",
        "lowest_kg_ha",
        "highest_kg_ha",
        "flat_kg_ha",
    ];
    let mut header: Vec<String> = fixed.map(str::to_string).to_vec();
    header.extend(steps.iter().map(|step| format!("{step}_kg")));
    header.extend(["order_kg", "pack_kg", "packs", "fills", "cautions"].map(str::to_string));
    let cautions = caution::cautions(&plan.job);
    let field = &plan.job.field;
    let rows = plan
        .job
        .products
        .iter()
        .zip(&tally.products)
        .map(|(product, sum)| {
            let mut fields: Vec<String> = [
                &plan.id,
                &field.name,
                &field.farm,
                &field.customer,
                &sum.id,
                &sum.name,
            ]
            .map(|value| text(value))
            .to_vec();
            fields.push(text(sum.lot.as_deref().unwrap_or("")));
            fields.push(text(&sum.hopper));
            fields.push(format!("{:.4}", tally.mapped_m2 / 10_000.0));
            fields.push(format!("{:.4}", sum.sown_m2 / 10_000.0));
            let rates = [
                sum.lowest_kg_per_ha,
                sum.highest_kg_per_ha,
                sum.flat_kg_per_ha,
            ];
            fields.extend(rates.map(rate_text));
            for name in &steps {
                let of_name = sum.steps.iter().filter(|step| step.step == *name);
                let kg: Vec<f64> = of_name.map(|step| step.kg).collect();
                let total = kg.iter().sum::<f64>();
                fields.push(if kg.is_empty() {
                    String::new()
                } else {
                    format!("{total:.3}")
                });
            }
            fields.push(format!("{:.3}", sum.order_kg));
            fields.push(product.pack_kg.map_or(String::new(), |kg| kg.to_string()));
            fields.push(sum.packs.map_or(String::new(), |packs| packs.to_string()));
            fields.push(
                sum.fills
                    .map_or(String::new(), |fills| format!("{fills:.2}")),
            );
            fields.push(cautions_of(&cautions, &sum.id));
            fields
        });
    let rows: Vec<Vec<String>> = rows.chain(balance_rows(plan, &steps, &cautions)).collect();
    csv(header, rows.into_iter())
}

/// The order's rows of what is broadcast: the product is `<id>_balance`, in no hopper.
fn balance_rows<'a>(
    plan: &'a Plan,
    steps: &'a [&str],
    cautions: &'a [Cautions],
) -> impl Iterator<Item = Vec<String>> + 'a {
    let tally = &plan.tally;
    let field = &plan.job.field;
    tally.balances.iter().map(move |sum| {
        let id = format!("{}_balance", sum.of);
        let mut fields: Vec<String> = [
            plan.id.as_str(),
            &field.name,
            &field.farm,
            &field.customer,
            &id,
            &sum.name,
            "",
            "",
        ]
        .map(text)
        .to_vec();
        fields.push(format!("{:.4}", tally.mapped_m2 / 10_000.0));
        fields.push(format!("{:.4}", sum.spread_m2 / 10_000.0));
        fields.push(rate_text(sum.lowest_kg_per_ha));
        fields.push(rate_text(sum.highest_kg_per_ha));
        fields.push(String::new());
        for name in steps {
            let step = sum.steps.iter().find(|step| step.step == *name);
            fields.push(step.map_or(String::new(), |step| format!("{:.3}", step.kg)));
        }
        fields.push(format!("{:.3}", sum.order_kg));
        let product = plan
            .job
            .products
            .iter()
            .find(|product| product.id == sum.of);
        let pack_kg = product.and_then(|product| match &product.balance {
            Some(other) => other.pack_kg,
            None => product.pack_kg,
        });
        fields.push(pack_kg.map_or(String::new(), |kg| kg.to_string()));
        fields.push(sum.packs.map_or(String::new(), |packs| packs.to_string()));
        fields.push(String::new());
        fields.push(cautions_of(cautions, &id));
        fields
    })
}

/// The cautions of one product in one cell.
fn cautions_of(cautions: &[Cautions], id: &str) -> String {
    let own = cautions.iter().find(|of| of.product == id);
    own.map_or(String::new(), |of| {
        format!("{} {DEFER}", of.texts.join(" "))
    })
}

/// A rate for people: at most 6 decimals, so that no `0.30000000000000004` shows.
fn rate_text(kg_per_ha: f64) -> String {
    ((kg_per_ha * 1e6).round() / 1e6).to_string()
}

/// A text from the user, such that no spreadsheet takes it for a formula: an apostrophe goes before
/// what starts like one (`=`, `+`, `-`, `@`, a tab or a line break).
fn text(text: &str) -> String {
    match text.chars().next() {
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n') => format!("'{text}"),
        _ => text.to_string(),
    }
}

fn csv(header: Vec<String>, rows: impl Iterator<Item = Vec<String>>) -> Outcome<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let fault = |error: &dyn std::fmt::Display| {
        Fault::machine(
            "write.csv",
            Place::nowhere(),
            format!("The table could not be made: {error}"),
            "rows of equal length",
            "Report this with the job file; nothing was written.",
        )
    };
    for row in std::iter::once(header).chain(rows) {
        writer.write_record(&row).map_err(|error| fault(&error))?;
    }
    writer.into_inner().map_err(|error| fault(&error))
}
