//! Where and with what the hoppers are filled.

use super::number::{Numbers, grouped};
use super::table::{Column, Table};
use crate::coordinates::LonLat;
use crate::drive::hoppers::{BestSplit, Fill, Refills};
use crate::plan::Drive;
use crate::units::inches_from_m;
use std::fmt::Write as _;

/// Stops with kg of each product; empty where the hoppers are not followed.
pub(super) fn text(drive: &Drive, numbers: Numbers) -> String {
    let Some(refills) = &drive.refills else {
        return String::new();
    };
    let mut text = String::from("\nHoppers along the drive\n");
    if let Some(told) = &refills.cannot_last {
        let _ = writeln!(
            text,
            "  No stops are given: bout {} takes {} of {}, more than a fill of {} lasts for.",
            told.bout,
            numbers.kg(told.takes_kg),
            told.product,
            numbers.kg(told.filled_kg)
        );
    } else {
        text.push_str(&stops(refills, numbers));
    }
    if let Some(best) = &refills.best_split {
        text.push_str(&split(refills, best, numbers));
    }
    text
}

fn stops(refills: &Refills, numbers: Numbers) -> String {
    let mass = numbers.mass_unit();
    let mut columns = vec![
        Column::Right("stop".to_owned()),
        Column::Left("after bout".to_owned()),
        Column::Left("longitude, latitude".to_owned()),
    ];
    for half in &refills.halves {
        columns.push(Column::Right(format!("{} left {mass}", half.product)));
        columns.push(Column::Right(format!("fill {mass}")));
    }
    columns.push(Column::Left("because".to_owned()));
    let mut table = Table::new(columns);
    for stop in &refills.stops {
        let after = match stop.after_bout {
            0 => "start".to_owned(),
            bout => bout.to_string(),
        };
        let LonLat { lon, lat } = stop.lon_lat;
        let mut cells = vec![
            stop.number.to_string(),
            after,
            format!("{lon:.6}, {lat:.6}"),
        ];
        for fill in &stop.fills {
            cells.push(numbers.mass_text(fill.left_kg));
            cells.push(filled(fill, numbers));
        }
        let governs = stop.governs.as_ref();
        let because = governs.map_or(String::new(), |id| format!("{id} would run low"));
        let away = if stop.away {
            ", away from the tender"
        } else {
            ""
        };
        cells.push(format!("{because}{away}"));
        table.row(cells);
    }
    let mut text = table.text();
    for half in &refills.halves {
        let _ = writeln!(
            text,
            "  {} ({}): {} sown, {} filled, {} left at the end ({} must stay).",
            half.product,
            half.hopper,
            numbers.kg(half.sown_kg),
            numbers.kg(half.filled_kg),
            numbers.kg(half.left_kg),
            numbers.kg(half.least_kg)
        );
    }
    text
}

/// `1 200 (2 packs, to 45 cm)`.
fn filled(fill: &Fill, numbers: Numbers) -> String {
    if fill.fill_kg == 0.0 {
        return "0".to_owned();
    }
    let packs = fill.packs.map(|packs| match packs {
        1 => "1 pack".to_owned(),
        packs => format!("{packs} packs"),
    });
    let level = fill.level_cm.map(|[_, after]| match numbers.is_us() {
        true => format!("to {} in", grouped(inches_from_m(after / 100.0), 0)),
        false => format!("to {} cm", grouped(after, 0)),
    });
    let more: Vec<String> = packs.into_iter().chain(level).collect();
    if more.is_empty() {
        numbers.mass_text(fill.fill_kg)
    } else {
        format!("{} ({})", numbers.mass_text(fill.fill_kg), more.join(", "))
    }
}

fn split(refills: &Refills, best: &BestSplit, numbers: Numbers) -> String {
    let halves: Vec<String> = refills
        .halves
        .iter()
        .zip(best.usable_l)
        .map(|(half, litres)| {
            let (volume, unit) = (numbers.volume_text(litres), numbers.volume_unit());
            format!("{volume} {unit} for {}", half.product)
        })
        .collect();
    let now = match best.refills_now {
        None => "the present split cannot last".to_owned(),
        Some(now) => format!("{now} with the present split"),
    };
    format!(
        "  Divider: best at {}: {} refills after the first fill, {now}.\n",
        halves.join(" and "),
        best.refills
    )
}
