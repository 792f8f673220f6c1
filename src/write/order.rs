//! The order for people, as CSV (RFC 4180): one row per product, and per lot where it has several.

use super::tables::{csv, rate_text, text};
use crate::agronomy::caution::{self, Caution, Cautions};
use crate::findings::Outcome;
use crate::job::Product;
use crate::plan::Plan;
use crate::tally::{Pack, ProductTally, Step, StepName};
use crate::texts::Words;
use crate::units::M2_PER_HA;

/// What stands in one row beside the field.
struct Line<'a> {
    lot: &'a str,
    dressing: &'a str,
    sown_m2: f64,
    /// Lowest, highest and flat rate.
    kg_per_ha: [f64; 3],
    steps: &'a [Step],
    order_kg: f64,
    pack: Option<Pack>,
    packs: Option<u64>,
    fills: Option<f64>,
}

/// The order: one row per product or lot, with every step from the map to the order in a column.
///
/// Units: ha with 4 decimals, kg with 3; kg/ha with up to 6. Empty where nothing is known.
///
/// # Errors
/// None that a sound plan can cause.
pub(super) fn order(plan: &Plan) -> Outcome<Vec<u8>> {
    let tally = &plan.tally.planned;
    let mut steps: Vec<StepName> = Vec::new();
    let of_products = tally.products.iter().flat_map(|product| &product.steps);
    for step in of_products.chain(tally.balances.iter().flat_map(|balance| &balance.steps)) {
        if !steps.contains(&step.step) {
            steps.push(step.step);
        }
    }
    // Either of two plans of a field has the columns of both.
    if plan.other_seedbed.is_some() {
        let of_both = [
            StepName::Residue,
            StepName::OtherSeedbed,
            StepName::OneOrder,
        ];
        steps.extend(of_both);
        steps.sort_unstable();
        steps.dedup();
    }
    let fixed = [
        "plan",
        "field",
        "farm",
        "customer",
        "product",
        "name",
        "lot",
        "dressing",
        "hopper",
        "mapped_ha",
        "sown_ha",
        "lowest_kg_ha",
        "highest_kg_ha",
        "flat_kg_ha",
    ];
    let mut header: Vec<String> = fixed.map(str::to_string).to_vec();
    header.extend(steps.iter().map(|step| format!("{step}_kg")));
    let last = [
        "order_kg",
        "pack_kg",
        "pack_seeds",
        "packs",
        "fills",
        "cautions",
    ];
    header.extend(last.map(str::to_string));
    let cautions = caution::cautions(&plan.job);
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (product, sum) in plan.job.products.iter().zip(&tally.products) {
        for line in lines(product, sum) {
            let mut row = row(plan, sum, &line, &steps);
            row.push(cautions_of(&cautions, &sum.id, Words::of(&plan.job)));
            rows.push(row);
        }
    }
    rows.extend(balance_rows(plan, &steps, &cautions));
    csv(header, rows.into_iter())
}

/// The rows of a product: its lots, or itself.
fn lines<'a>(product: &'a Product, sum: &'a ProductTally) -> Vec<Line<'a>> {
    if sum.lots.is_empty() {
        return vec![Line {
            lot: sum.lot.as_deref().unwrap_or(""),
            dressing: product.dressing.as_deref().unwrap_or(""),
            sown_m2: sum.sown_m2,
            kg_per_ha: [
                sum.lowest_kg_per_ha,
                sum.highest_kg_per_ha,
                sum.flat_kg_per_ha,
            ],
            steps: &sum.steps,
            order_kg: sum.order_kg,
            pack: Pack::of(product),
            packs: sum.packs,
            fills: sum.fills,
        }];
    }
    let of_lot = |name: &str| {
        let mut each = product.each_lot().iter();
        each.find(|lot| lot.lot == name)
            .and_then(|lot| Pack::of(&product.as_lot(lot)))
    };
    let lots = sum.lots.iter().map(|lot| Line {
        lot: &lot.lot,
        dressing: lot.dressing.as_deref().unwrap_or(""),
        sown_m2: lot.sown_m2,
        kg_per_ha: [
            lot.lowest_kg_per_ha,
            lot.highest_kg_per_ha,
            lot.flat_kg_per_ha,
        ],
        steps: &lot.steps,
        order_kg: lot.order_kg,
        pack: of_lot(&lot.lot),
        packs: lot.packs,
        fills: lot.fills,
    });
    lots.collect()
}

fn row(plan: &Plan, sum: &ProductTally, line: &Line, steps: &[StepName]) -> Vec<String> {
    let field = &plan.job.field;
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
    fields.extend([line.lot, line.dressing, &sum.hopper].map(text));
    fields.push(format!("{:.4}", plan.tally.planned.mapped_m2 / M2_PER_HA));
    fields.push(format!("{:.4}", line.sown_m2 / M2_PER_HA));
    fields.extend(line.kg_per_ha.map(rate_text));
    fields.extend(steps.iter().map(|name| {
        let of_name = line.steps.iter().filter(|step| step.step == *name);
        let kg: Vec<f64> = of_name.map(|step| step.kg).collect();
        match kg.is_empty() {
            true => String::new(),
            false => format!("{:.3}", kg.iter().sum::<f64>()),
        }
    }));
    fields.push(format!("{:.3}", line.order_kg));
    let pack = line.pack;
    fields.push(pack.map_or(String::new(), |pack| pack.kg().to_string()));
    fields.push(match pack {
        Some(Pack::Seeds(seeds, _)) => seeds.to_string(),
        _ => String::new(),
    });
    fields.push(line.packs.map_or(String::new(), |packs| packs.to_string()));
    let fills = line.fills;
    fields.push(fills.map_or(String::new(), |fills| format!("{fills:.2}")));
    fields
}

/// The order's rows of what is broadcast: the product is `<id>_balance`, in no hopper.
fn balance_rows<'a>(
    plan: &'a Plan,
    steps: &'a [StepName],
    cautions: &'a [Cautions],
) -> impl Iterator<Item = Vec<String>> + 'a {
    let tally = &plan.tally.planned;
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
            "",
        ]
        .map(text)
        .to_vec();
        fields.push(format!("{:.4}", tally.mapped_m2 / M2_PER_HA));
        fields.push(format!("{:.4}", sum.spread_m2 / M2_PER_HA));
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
        fields.push(String::new());
        fields.push(sum.packs.map_or(String::new(), |packs| packs.to_string()));
        fields.push(String::new());
        fields.push(cautions_of(cautions, &id, Words::of(&plan.job)));
        fields
    })
}

/// The cautions of one product in one cell.
fn cautions_of(cautions: &[Cautions], id: &str, words: Words) -> String {
    let own = cautions.iter().find(|of| of.product == id);
    own.map_or(String::new(), |of| {
        let last = words.text(&Caution::Defer);
        format!("{} {last}", of.texts.join(" "))
    })
}
