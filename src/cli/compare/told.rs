//! What a comparison says on the screen.

use crate::cli::show::findings;
use crate::cli::show::number::{Numbers, grouped};
use crate::cli::show::table::{Column, Table};
use crate::compare::Compared;
use crate::findings::Place;
use std::fmt::Write as _;
use std::path::PathBuf;

fn percent(part: f64, of: f64) -> String {
    match of > 0.0 {
        true => format!("{:.1} %", 100.0 * part / of),
        false => "-".to_string(),
    }
}

pub(super) fn shown(figures: &Compared, written: &[PathBuf]) -> String {
    let numbers = Numbers::of(figures.units);
    let in_mass = |words: &str| format!("{words} {}", numbers.mass_unit());
    let mass = |kg: f64| numbers.weighed_text(kg, 1);
    let mut text = String::new();
    let _ = writeln!(
        text,
        "Plan {}, logs {} of {}: {} records, {:.1} h in work",
        figures.plan,
        figures.logs.join(", "),
        figures.tasks.join(", "),
        grouped(figures.records as f64, 0),
        figures.working_h
    );
    text.push_str(&verdict(figures));
    let mut land = Table::new([
        Column::Left("land".to_owned()),
        Column::Right(numbers.area_unit().to_owned()),
        Column::Right("of the plan".to_owned()),
    ]);
    for (name, m2) in [
        ("in the plan", figures.planned_m2),
        ("drilled", figures.drilled_m2),
        ("of it twice or more", figures.twice_m2),
        ("missed", figures.missed_m2),
        ("drilled beyond the plan's land", figures.beyond_m2),
    ] {
        land.row([
            name.to_string(),
            numbers.area_text(m2),
            percent(m2, figures.planned_m2),
        ]);
    }
    text.push_str(&land.text());
    let mut table = Table::new([
        Column::Left("product".to_owned()),
        Column::Right(in_mass("planned")),
        Column::Right("where drilled".to_owned()),
        Column::Right(in_mass("sown")),
        Column::Right("by".to_owned()),
        Column::Right("beyond".to_owned()),
        Column::Right("without position".to_owned()),
    ]);
    for product in &figures.products {
        table.row([
            product.id.clone(),
            mass(product.planned_kg),
            mass(product.planned_where_drilled_kg),
            mass(product.sown_kg),
            if product.by_total { "total" } else { "rate" }.to_string(),
            mass(product.beyond_kg),
            product.not_placed_kg.map_or("-".to_string(), mass),
        ]);
    }
    text.push_str(&table.text());
    let mut table = Table::new([
        Column::Left("share of drilled land".to_owned()),
        Column::Right("within 5 %".to_owned()),
        Column::Right("10 %".to_owned()),
        Column::Right("20 %".to_owned()),
        Column::Right(format!("{} where 0 was planned", numbers.mass_unit())),
        Column::Right(in_mass("loaded")),
        Column::Right(in_mass("left")),
    ]);
    for product in &figures.products {
        let [five, ten, twenty] = product.within_percent.map(|share| format!("{share:.1} %"));
        let kg = |kg: Option<f64>| kg.map_or("-".to_string(), mass);
        table.row([
            product.id.clone(),
            five,
            ten,
            twenty,
            mass(product.where_planned_zero_kg),
            kg(product.loaded_kg),
            kg(product.left_kg),
        ]);
    }
    text.push_str(&table.text());
    text.push_str(&zones(figures));
    if !figures.findings.is_empty() {
        text.push_str(&findings::grouped(&figures.findings, numbers));
    }
    for file in written {
        let _ = writeln!(text, "Wrote {}", file.display());
    }
    text
}

/// What is told, each with what to do about it; and how the work went.
fn verdict(figures: &Compared) -> String {
    let numbers = Numbers::of(figures.units);
    let mut text = String::new();
    let work = &figures.work;
    let _ = write!(
        text,
        "{:.1} h on the field, {} {} an hour",
        work.on_the_field_h,
        numbers.fill_area_text(work.ha_per_h),
        numbers.area_unit()
    );
    let _ = match work.stops.first() {
        None => writeln!(text, ", no stop of more than 2 minutes"),
        Some(longest) => writeln!(
            text,
            ", {} stops of more than 2 minutes, {:.1} h in all, the longest {:.0} minutes {}",
            work.stops.len(),
            work.stopped_h,
            longest.minutes,
            Place::nowhere().at(longest.lon_lat)
        ),
    };
    if !figures.told.iter().any(|own| own.asks) {
        text.push_str("Nothing in the log asks for a decision.\n");
    }
    for (nth, own) in figures.told.iter().enumerate() {
        let place = own
            .lon_lat
            .map(|at| format!(" ({})", Place::nowhere().at(at)));
        let mark = if own.asks { "Decide" } else { "Note" };
        let _ = writeln!(
            text,
            "{}. {mark}: {}{}\n   {}",
            nth + 1,
            own.found,
            place.unwrap_or_default(),
            own.next
        );
    }
    let _ = writeln!(text, "{}", figures.not_shown);
    text
}

fn zones(figures: &Compared) -> String {
    let numbers = Numbers::of(figures.units);
    let mut columns = vec![
        Column::Left("zone".to_string()),
        Column::Left("part".to_string()),
        Column::Right(numbers.area_unit().to_string()),
        Column::Right("drilled".to_string()),
    ];
    for product in &figures.products {
        columns.push(Column::Right(format!(
            "{} planned {}",
            product.id,
            numbers.mass_unit()
        )));
        columns.push(Column::Right("sown".to_string()));
    }
    let mut table = Table::new(columns);
    for zone in &figures.zones {
        let mut row = vec![
            zone.zone.to_string(),
            zone.part.clone(),
            numbers.area_text(zone.area_m2),
            percent(zone.drilled_m2, zone.area_m2),
        ];
        for (planned, sown) in zone.planned_kg.iter().zip(&zone.sown_kg) {
            row.push(numbers.weighed_text(*planned, 1));
            row.push(numbers.weighed_text(*sown, 1));
        }
        table.row(row);
    }
    table.text()
}
