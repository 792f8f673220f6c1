//! The list in words, for the page and the screen.

use super::Args;
use super::rows::{Left, OfDrill, Row};
use crate::agronomy::caution::{Caution, Hazard};
use crate::cli::show::number::{Numbers, grouped};
use crate::report::{WeekDrill, WeekPage, WeekRow};
use crate::texts::Words;
use crate::units::M2_PER_HA;

/// What becomes of leftovers, whatever they are. Common practice, no source.
const LEFTOVERS: &str = "What comes out of a hopper goes back into a pack of the same lot with its own label, nothing else with it. Clean out over a sheet, away from water, drains, stock and birds; what cannot be used goes where label, supplier and local rules say. Calibrate again before the next lot.";

/// The page.
pub(super) fn of(lists: &[OfDrill], args: &Args) -> WeekPage {
    WeekPage {
        from: args.from.clone(),
        drills: lists.iter().map(sheet).collect(),
        rules: vec![
            format!(
                "{} hours of work a day, from {}; nights and days of waiting between. No field is begun before its sowing date.",
                args.hours_a_day, args.day_begins
            ),
            format!(
                "Roads: {} km for each kilometre of the straight line between the middles of the fields, at {} km/h.",
                args.road_per_km, args.road_speed
            ),
            format!(
                "{} min for cleaning out, {} min for a fill beside the hours of the plans.",
                args.clean_out_min, args.fill_min
            ),
            format!(
                "10 ha one day late weigh as much as {} h of the drill.",
                args.late_h
            ),
            "Weather, soil and label decide: a list is no reason to drive on wet land.".to_owned(),
        ],
    }
}

fn sheet(list: &OfDrill) -> WeekDrill {
    let numbers = Numbers::of(list.units);
    WeekDrill {
        name: list.drill.clone(),
        facts: facts(list),
        rows: list
            .fields
            .iter()
            .map(|row| of_row(row, &numbers))
            .collect(),
        tender: tender(list, &numbers),
        left: list.left.iter().map(|own| is_left(own, &numbers)).collect(),
        notes: notes(list),
        cautions: cautions(list),
    }
}

/// Names and values.
pub(super) fn facts(list: &OfDrill) -> Vec<[String; 2]> {
    let numbers = Numbers::of(list.units);
    let mut facts = vec![
        ["Fields".to_owned(), list.fields.len().to_string()],
        [
            "Area".to_owned(),
            numbers.area_of(list.hectares * M2_PER_HA),
        ],
        ["Hours".to_owned(), grouped(list.hours, 1)],
        [
            "On the road".to_owned(),
            format!("{} h", grouped(list.road_h, 1)),
        ],
        [
            "Cleaning out".to_owned(),
            format!("{} h", grouped(list.clean_out_h, 1)),
        ],
        ["Done on".to_owned(), list.done_on.clone()],
    ];
    if list.late_ha_days > 0.0 {
        let late = grouped(list.late_ha_days, 1);
        facts.push(["Hectares times days late".to_owned(), late]);
    }
    facts
}

fn of_row(row: &Row, numbers: &Numbers) -> WeekRow {
    let owner: Vec<&str> = [row.customer.as_str(), row.farm.as_str()]
        .into_iter()
        .filter(|name| !name.trim().is_empty())
        .collect();
    WeekRow {
        number: row.number,
        times: [row.begins.date.clone(), row.begins.time.clone(), ends(row)],
        field: row.field.clone(),
        owner: owner.join(", "),
        plan: row.plan.clone(),
        measures: [
            numbers.area_of(row.hectares * M2_PER_HA),
            format!("{} km", grouped(row.road_km, 1)),
        ],
        takes: takes(row, numbers),
        fills: row.fills.to_string(),
        before: before(row, numbers),
    }
}

/// When a field is done; with the day where that is another.
pub(super) fn ends(row: &Row) -> String {
    match row.begins.date == row.ends.date {
        true => row.ends.time.clone(),
        false => format!("{} {}", row.ends.date, row.ends.time),
    }
}

/// Products with what the field takes of them.
pub(super) fn takes(row: &Row, numbers: &Numbers) -> Vec<String> {
    let each = row.products.iter().map(|own| {
        let kg = numbers.weighed_of(own.sown_kg);
        match &own.lot {
            Some(lot) => format!("{}, lot {lot}: {kg}", own.product),
            None => format!("{}: {kg}", own.product),
        }
    });
    each.collect()
}

/// What is to be done before a field, and what is to be known.
pub(super) fn before(row: &Row, numbers: &Numbers) -> Vec<String> {
    let cleaned = row.cleaned.iter();
    let mut lines: Vec<String> = cleaned
        .map(|own| format!("clean out {}", is_left(own, numbers)))
        .collect();
    if row.late_days > 0 {
        let days = match row.late_days {
            1 => "1 day".to_owned(),
            days => format!("{days} days"),
        };
        let date = row.sowing_date.as_deref().unwrap_or_default();
        lines.push(format!("{days} after its date, {date}"));
    }
    if row.to_decide > 0 {
        lines.push("its plan has something to decide".to_owned());
    }
    lines
}

/// What is left in a hopper.
pub(super) fn is_left(own: &Left, numbers: &Numbers) -> String {
    let lot = own
        .lot
        .as_ref()
        .map_or(String::new(), |lot| format!(", lot {lot}"));
    let kg = match own.kg {
        Some(kg) => format!("{} left", numbers.weighed_of(kg)),
        None => "how much is left is not known".to_owned(),
    };
    format!("hopper '{}' ({}{lot}): {kg}", own.hopper, own.product)
}

fn tender(list: &OfDrill, numbers: &Numbers) -> Vec<[String; 5]> {
    let each = list.tender.iter().map(|own| {
        let product = match &own.lot {
            Some(lot) => format!("{}, lot {lot}", own.product),
            None => own.product.clone(),
        };
        let packs = match (own.packs, own.pack_kg) {
            (Some(packs), Some(kg)) => format!("{packs} x {}", numbers.weighed_of(kg)),
            _ => String::new(),
        };
        [
            own.date.clone(),
            product,
            numbers.weighed_of(own.kg),
            packs,
            own.fills.to_string(),
        ]
    });
    each.collect()
}

/// What to mind about single fields and the list itself.
pub(super) fn notes(list: &OfDrill) -> Vec<String> {
    let mut notes = Vec::new();
    if !list.is_best {
        notes.push("Not every order was tried: there are too many fields for that, so there may be a better one.".to_owned());
    }
    for row in &list.fields {
        for hopper in &row.not_counted {
            notes.push(format!(
                "{}: no fills are counted for hopper '{hopper}', for its product has no bulk_density_kg_per_l.",
                row.field
            ));
        }
        if row.sowing_date.is_none() {
            notes.push(format!(
                "{}: its job has no sowing_date, so any day is right.",
                row.field
            ));
        }
    }
    notes
}

/// Cautions on clean-out and leftovers.
pub(super) fn cautions(list: &OfDrill) -> Vec<String> {
    // A list over many fields is English, as all pages of several jobs are.
    let words = Words::default();
    let mut lines = vec![words.text(&Caution::Defer).to_owned(), LEFTOVERS.to_owned()];
    if !list.treated_left.is_empty() {
        let names = list.treated_left.join(", ");
        lines.push(format!("{names}: {}", Hazard::TreatedSeed.text(words)));
    }
    lines.push(words.text(&Caution::AtTheDrill).to_owned());
    lines
}
