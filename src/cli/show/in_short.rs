//! A plan in one screen: rates, kilograms and order, speed and fills, what is open, where the files are.

use super::number::{Numbers, Rounded, grouped, numbers};
use super::table::{Column, Table};
use super::tally::one_pack_less;
use super::{cautions, drill, files_in_short, findings, heading, terminal};
use crate::plan::Plan;
use crate::write::Written;
use std::fmt::Write as _;
use std::path::Path;

/// What a person looks for first; all tables are a matter of `--details`.
pub(in crate::cli) fn plan(plan: &Plan, job: &Path, out: &Path, written: &[Written]) -> String {
    let numbers = numbers(plan);
    let mut text = heading(plan, job, numbers);
    text.push_str(&products(plan, numbers));
    text.push_str(&machine(plan, numbers));
    text.push_str(&terminal::shut_by_hand(plan));
    text.push_str(&findings::in_short(&plan.findings, numbers));
    text.push_str(&files_in_short(out, written));
    let _ = writeln!(
        text,
        "All tables: twinsow plan {} --details\n",
        job.display()
    );
    text.push_str(&cautions::in_short(&plan.job));
    text
}

/// A row for each product and each balance to broadcast.
fn products(plan: &Plan, numbers: Numbers) -> String {
    let columns = [
        String::new(),
        numbers.rate_unit().to_owned(),
        format!("on the map {}", numbers.mass_unit()),
        format!("to order {}", numbers.mass_unit()),
        String::new(),
    ];
    let [name, rate, map, order, packs] = columns;
    let mut table = Table::new([
        Column::Left(name),
        Column::Right(rate),
        Column::Right(map),
        Column::Right(order),
        Column::Left(packs),
    ]);
    let in_packs = |packs: Option<u64>| match packs {
        None | Some(0) => String::new(),
        Some(1) => "in 1 pack".to_owned(),
        Some(packs) => format!("in {packs} packs"),
    };
    for of in &plan.tally.planned.products {
        table.row([
            of.name.clone(),
            numbers.rates(of.lowest_kg_per_ha, of.highest_kg_per_ha),
            numbers.mass_text(of.map_kg()),
            numbers.mass_text(of.order_kg),
            in_packs(of.packs),
        ]);
    }
    for of in plan
        .tally
        .planned
        .balances
        .iter()
        .filter(|of| of.spread_m2 > 0.0)
    {
        table.row([
            format!("{} (to broadcast)", of.name),
            match &of.spreader {
                Some(own) => numbers.rates(own.lowest_kg_per_ha, own.highest_kg_per_ha),
                None => numbers.rates(of.lowest_kg_per_ha, of.highest_kg_per_ha),
            },
            numbers.mass_text(of.spread_kg()),
            match of.in_order_of_product() {
                true => String::new(),
                false => numbers.mass_text(of.order_kg),
            },
            match of.in_order_of_product() {
                true => "ordered with the product above".to_owned(),
                false => in_packs(of.packs),
            },
        ]);
    }
    let tally = &plan.tally.planned;
    let of_products = tally.products.iter().flat_map(|of| {
        let lots = of
            .lots
            .iter()
            .map(|lot| (format!("{}, lot {}", of.name, lot.lot), &lot.one_pack_less));
        lots.chain([(of.name.clone(), &of.one_pack_less)])
            .collect::<Vec<_>>()
    });
    let of_balances = tally.balances.iter().filter(|of| of.spread_m2 > 0.0);
    let of_balances =
        of_balances.map(|of| (format!("{} (to broadcast)", of.name), &of.one_pack_less));
    let mut text = table.text();
    for (name, less) in of_products.chain(of_balances) {
        if let Some(less) = less {
            let said = one_pack_less(less, plan.job.order.reserve_percent, numbers);
            text.push_str(&cautions::fitted("", &format!("{name}: {said}")));
        }
    }
    text
}

/// Speed, hours and fills, where the job says enough.
fn machine(plan: &Plan, numbers: Numbers) -> String {
    let mut lines = Vec::new();
    if let Some(window) = &plan.drill().field_speed {
        let speeds = drill::speeds(window, numbers);
        let planned = numbers.speed_text(plan.job.drill.speed_km_per_h, Rounded::Nearest);
        lines.push(format!(
            "Speed: {planned} {} planned; every row allows {speeds}.",
            numbers.speed_unit()
        ));
    }
    if let Some(drive) = &plan.drive.report {
        let stops = plan.drive.refills.as_ref().map(|of| of.stops.len());
        let stops = stops
            .filter(|stops| *stops > 0)
            .map_or(String::new(), |stops| match stops {
                1 => ", hoppers filled once, at the start".to_owned(),
                stops => format!(", hoppers filled {stops} times, the first fill counted"),
            });
        let hours = drive.hours.map_or(String::new(), |hours| {
            format!(", {} hours", grouped(hours, 1))
        });
        lines.push(format!(
            "Drive: {} bouts{hours}{stops}.",
            plan.drive.bouts.len()
        ));
    }
    lines
        .iter()
        .map(|line| cautions::fitted("", line))
        .collect()
}
