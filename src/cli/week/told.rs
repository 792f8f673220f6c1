//! The list as text for the screen.

use super::page::{before, cautions, ends, facts, is_left, notes, takes};
use super::rows::OfDrill;
use crate::cli::show::number::{Numbers, grouped};
use crate::cli::show::table::{Column, Table};
use crate::units::M2_PER_HA;
use std::fmt::Write as _;

pub(super) fn text(lists: &[OfDrill]) -> String {
    let mut text = String::new();
    for list in lists {
        let numbers = Numbers::of(list.units);
        let _ = writeln!(text, "{}", list.drill);
        let facts = facts(list).into_iter();
        let facts: Vec<String> = facts
            .map(|[name, value]| format!("{name}: {value}"))
            .collect();
        let _ = writeln!(text, "{}\n", facts.join("; "));
        text.push_str(&fields(list, &numbers));
        for row in &list.fields {
            for line in before(row, &numbers) {
                let _ = writeln!(text, "  {}. {}: {line}", row.number, row.field);
            }
        }
        text.push_str(&tender(list, &numbers));
        for own in &list.left {
            let _ = writeln!(text, "At the end: {}.", is_left(own, &numbers));
        }
        for note in notes(list) {
            let _ = writeln!(text, "note: {note}");
        }
        for caution in cautions(list) {
            let _ = writeln!(text, "caution: {caution}");
        }
        text.push('\n');
    }
    text
}

fn fields(list: &OfDrill, numbers: &Numbers) -> String {
    let mut table = Table::new([
        Column::Right(""),
        Column::Left("day"),
        Column::Left("begins"),
        Column::Left("ends"),
        Column::Left("field"),
        Column::Left("farm"),
        Column::Left("plan"),
        Column::Right("area"),
        Column::Right("way km"),
        Column::Left("takes"),
        Column::Right("fills"),
    ]);
    for row in &list.fields {
        table.row([
            row.number.to_string(),
            row.begins.date.clone(),
            row.begins.time.clone(),
            ends(row),
            row.field.clone(),
            row.farm.clone(),
            row.plan.clone(),
            numbers.area_of(row.hectares * M2_PER_HA),
            grouped(row.road_km, 1),
            takes(row, numbers).join("; "),
            row.fills.to_string(),
        ]);
    }
    table.text() + "\n"
}

fn tender(list: &OfDrill, numbers: &Numbers) -> String {
    if list.tender.is_empty() {
        return String::new();
    }
    let mut table = Table::new([
        Column::Left("the tender brings"),
        Column::Left("product"),
        Column::Left("lot"),
        Column::Right("in all"),
        Column::Right("packs"),
        Column::Right("fills"),
    ]);
    for own in &list.tender {
        table.row([
            own.date.clone(),
            own.product.clone(),
            own.lot.clone().unwrap_or_default(),
            numbers.weighed_of(own.kg),
            own.packs.map_or("-".to_owned(), |packs| packs.to_string()),
            own.fills.to_string(),
        ]);
    }
    format!("\n{}\n", table.text())
}
