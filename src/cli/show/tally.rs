//! Areas, and each product's way from the map to the order.

use super::number::{Numbers, grouped, numbers};
use super::table::{Column, Table};
use crate::plan::{Plan, Tallied};
use crate::tally::{OnePackLess, ProductTally, Step, StepName, Tally};
use std::fmt::Write as _;

/// One line on the land.
pub(super) fn land(tally: &Tally, numbers: Numbers) -> String {
    let parts = tally
        .parts_m2
        .iter()
        .map(|(part, m2)| format!("{} {}", part.word(), numbers.area_of(*m2)));
    let parts = parts.collect::<Vec<_>>().join(", ");
    let mut text = format!(
        "\nLand: {} in the boundary",
        numbers.area_of(tally.boundary_m2)
    );
    if tally.excluded_m2 > 0.0 {
        let _ = write!(
            text,
            ", less {} left out",
            numbers.area_of(tally.excluded_m2)
        );
    }
    let _ = writeln!(
        text,
        ", {} mapped: {parts}",
        numbers.area_of(tally.mapped_m2)
    );
    text
}

/// Every product: steps to the order, flat rate, fills, what the grids add or lose.
pub(super) fn products(plan: &Plan) -> String {
    plan.tally
        .planned
        .products
        .iter()
        .enumerate()
        .map(|(nth, tally)| product(plan, nth, tally))
        .collect()
}

/// The steps from the map to the order, as a table.
pub(super) fn way(
    steps: &[Step],
    as_driven_kg: f64,
    packs: Option<u64>,
    order_kg: f64,
    numbers: Numbers,
) -> String {
    let mut table = Table::new([Column::Left("step"), Column::Right(numbers.mass_unit())]);
    let corrected = steps
        .iter()
        .any(|step| step.step != StepName::Map && step.step.is_sown());
    for (nth, step) in steps.iter().enumerate() {
        table.row([step.text.clone(), numbers.mass_text(step.kg)]);
        let next = steps.get(nth + 1);
        if corrected && step.step.is_sown() && next.is_none_or(|next| !next.step.is_sown()) {
            table.row(["= as driven".to_owned(), numbers.mass_text(as_driven_kg)]);
        }
    }
    let packs = packs.map_or(String::new(), |packs| match packs {
        1 => " in 1 pack".to_owned(),
        packs => format!(" in {packs} packs"),
    });
    table.row([format!("order{packs}"), numbers.mass_text(order_kg)]);
    table.text()
}

/// What one pack less would leave, as a sentence.
pub(in crate::cli) fn one_pack_less(
    less: &OnePackLess,
    reserve_percent: f64,
    numbers: Numbers,
) -> String {
    let packs = match less.packs {
        1 => "1 pack".to_owned(),
        packs => format!("{packs} packs"),
    };
    format!(
        "Only the assumed reserve of {reserve_percent} % asks for the last pack: {packs} ({}) would leave {} for reserve, {} %.",
        numbers.kg(less.order_kg),
        numbers.kg(less.reserve_kg),
        grouped(less.reserve_percent, 1)
    )
}

fn product(plan: &Plan, nth: usize, tally: &ProductTally) -> String {
    let numbers = numbers(plan);
    let lot = tally
        .lot
        .as_ref()
        .map_or(String::new(), |lot| format!(", lot {lot}"));
    let mut text = format!(
        "\n{} ({}{lot}), hopper {}\n",
        tally.name, tally.id, tally.hopper
    );
    text.push_str(&way(
        &tally.steps,
        tally.as_driven_kg,
        tally.packs,
        tally.order_kg,
        numbers,
    ));
    if let Some(less) = &tally.one_pack_less {
        let percent = plan.job.order.reserve_percent;
        let _ = writeln!(text, "  {}", one_pack_less(less, percent, numbers));
    }
    let off: Vec<&str> = plan
        .job
        .setbacks
        .iter()
        .filter(|setback| setback.products.contains(&tally.id))
        .map(|setback| setback.name.as_str())
        .collect();
    let everywhere = match off.is_empty() {
        true => "everywhere",
        false => "wherever no setback switches it off",
    };
    // What is held back is not sown by a flat rate either.
    let flat = match plan.holds_back(nth) {
        true => String::new(),
        false => format!(
            " If the map will not load: {} {everywhere} sows the same total.",
            numbers.rate_of(tally.flat_kg_per_ha)
        ),
    };
    let _ = writeln!(
        text,
        "  Sown on {} at {} {}.{flat}",
        numbers.area_of(tally.sown_m2),
        numbers.rates(tally.lowest_kg_per_ha, tally.highest_kg_per_ha),
        numbers.rate_unit()
    );
    if !off.is_empty() {
        let _ = writeln!(
            text,
            "  Without the map, switch it off by hand at: {}.",
            off.join(", ")
        );
    }
    if let (Some(fills), Some(each), Some(area)) =
        (tally.fills, tally.kg_per_fill, tally.ha_per_fill)
    {
        let _ = writeln!(
            text,
            "  Hopper fills: {} of {}, {} {} each.",
            grouped(fills, 1),
            numbers.kg(each),
            numbers.fill_area_text(area),
            numbers.area_unit()
        );
    }
    let _ = writeln!(
        text,
        "  Grids against the polygon map: metric {}, degrees {}.",
        numbers.more_or_less(tally.metric_grid_kg, 1),
        numbers.more_or_less(tally.degrees_grid_kg, 1)
    );
    text.push_str(&super::lot_steps::text(tally, numbers));
    text
}

/// What a week's delay would need.
pub(super) fn later(tally: &Tallied, numbers: Numbers) -> String {
    let Some(later) = &tally.later else {
        return String::new();
    };
    let mut text = format!("\nOne week later ({})\n", later.date);
    for product in &later.products {
        let enough = match product.left_of_order_kg {
            left if left >= 0.0 => format!(
                "the order is enough, {} are left for reserve",
                numbers.kg(left)
            ),
            short => format!(
                "the order is NOT enough, {} are missing",
                numbers.kg(-short)
            ),
        };
        let capped = match product.capped_m2 > 0.0 {
            true => format!(
                "; on {} a limit holds it down",
                numbers.area_of(product.capped_m2)
            ),
            false => String::new(),
        };
        let meter = product.meter.as_ref().map_or(String::new(), |meter| {
            let flows = format!(
                "asked {} to {}, delivers {} to {} {}, margin {}",
                numbers.flow_text(meter.asked_kg_per_min.low, 2),
                numbers.flow_text(meter.asked_kg_per_min.high, 2),
                numbers.flow_text(meter.delivers_kg_per_min.low, 2),
                numbers.flow_text(meter.delivers_kg_per_min.high, 2),
                numbers.flow_unit(),
                grouped(meter.margin, 2)
            );
            match meter.margin >= 1.0 {
                true => format!("; rotor {} still fits ({flows})", meter.rotor),
                false => format!("; rotor {} does NOT fit any more ({flows})", meter.rotor),
            }
        });
        let _ = writeln!(
            text,
            "  {}{}: {} %, {} on average, {} on the map, {} needed; {enough}{capped}{meter}.",
            product.id,
            product
                .lot
                .as_ref()
                .map_or(String::new(), |lot| format!(", lot {lot}")),
            signed_percent(product.more_percent),
            numbers.rate_of(product.mean_kg_per_ha),
            numbers.kg(product.map_kg),
            numbers.kg(product.needed_kg)
        );
    }
    text
}

fn signed_percent(percent: f64) -> String {
    let sign = if percent > 0.0 { "+" } else { "" };
    format!("{sign}{}", grouped(percent, 1))
}

/// What is left to broadcast: steps to the order, area and nutrient.
pub(super) fn balances(tally: &Tally, numbers: Numbers) -> String {
    let mut text = String::new();
    for balance in &tally.balances {
        let _ = writeln!(
            text,
            "\nBalance of {} to broadcast: {}",
            balance.of, balance.name
        );
        text.push_str(&way(
            &balance.steps,
            balance.map_kg(),
            balance.packs,
            balance.order_kg,
            numbers,
        ));
        if balance.spread_m2 == 0.0 {
            text.push_str("  Nothing is left to broadcast.\n");
            continue;
        }
        let nutrients: Vec<String> = balance
            .nutrients
            .iter()
            .map(|(symbol, mass)| format!("{} {symbol}", numbers.kg(*mass)))
            .collect();
        let stands_for = match nutrients.is_empty() {
            true => String::new(),
            false => format!(", for {}", nutrients.join(" and ")),
        };
        let _ = writeln!(
            text,
            "  On {} at {} {}{stands_for}; map in gis/balance.geojson.",
            numbers.area_of(balance.spread_m2),
            numbers.rates(balance.lowest_kg_per_ha, balance.highest_kg_per_ha),
            numbers.rate_unit()
        );
        if let Some(own) = &balance.spreader {
            let _ = writeln!(
                text,
                "  The spreader's own map, plan {}{}: {} on {} at {} {}.",
                own.plan,
                match own.folder.is_empty() {
                    true => ", not written (--only)".to_owned(),
                    false => format!(" in {}/", own.folder),
                },
                numbers.kg(own.map_kg),
                numbers.area_of(own.spread_m2),
                numbers.rates(own.lowest_kg_per_ha, own.highest_kg_per_ha),
                numbers.rate_unit()
            );
        }
    }
    text
}

/// What the terminal is told for a lost position and outside the field.
pub(super) fn fallbacks(plan: &Plan) -> String {
    let numbers = numbers(plan);
    let each = |rates: &[f64]| {
        let rates = plan.job.products.iter().zip(rates);
        let rates = rates
            .map(|(product, kg_per_ha)| format!("{} {}", product.id, numbers.rate_of(*kg_per_ha)));
        rates.collect::<Vec<_>>().join(", ")
    };
    format!(
        "\nDefault at the start of a task: {}\nPosition lost: {}\nOut of field: {}\n",
        each(&plan.rates.default_kg_per_ha),
        each(&plan.rates.position_lost_kg_per_ha),
        each(&plan.rates.out_of_field_kg_per_ha)
    )
}
