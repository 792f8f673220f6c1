//! Where and with what the hoppers are filled.

use super::number::{grouped, kilograms};
use super::table::{Column, Table};
use crate::drive::hoppers::{BestSplit, Fill, Refills};
use crate::plan::Drive;
use std::fmt::Write as _;

/// Stops with kg of each product; empty where the hoppers are not followed.
pub(super) fn text(drive: &Drive) -> String {
    let Some(refills) = &drive.refills else {
        return String::new();
    };
    let mut text = String::from("\nHoppers along the drive\n");
    if let Some(told) = &refills.cannot_last {
        let _ = writeln!(
            text,
            "  No stops are given: bout {} takes {} kg of {}, more than a fill of {} kg lasts for.",
            told.bout,
            kilograms(told.takes_kg),
            told.product,
            kilograms(told.filled_kg)
        );
    } else {
        text.push_str(&stops(refills));
    }
    if let Some(best) = &refills.best_split {
        text.push_str(&split(refills, best));
    }
    text
}

fn stops(refills: &Refills) -> String {
    let mut columns = vec![
        Column::Right("stop".to_owned()),
        Column::Left("after bout".to_owned()),
        Column::Left("longitude, latitude".to_owned()),
    ];
    for half in &refills.halves {
        columns.push(Column::Right(format!("{} left kg", half.product)));
        columns.push(Column::Right("fill kg".to_owned()));
    }
    columns.push(Column::Left("because".to_owned()));
    let mut table = Table::new(columns);
    for stop in &refills.stops {
        let after = match stop.after_bout {
            0 => "start".to_owned(),
            bout => bout.to_string(),
        };
        let [lon, lat] = stop.lon_lat;
        let mut cells = vec![
            stop.number.to_string(),
            after,
            format!("{lon:.6}, {lat:.6}"),
        ];
        for fill in &stop.fills {
            cells.push(kilograms(fill.left_kg));
            cells.push(filled(fill));
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
            "  {} ({}): {} kg sown, {} kg filled, {} kg left at the end ({} kg must stay).",
            half.product,
            half.hopper,
            kilograms(half.sown_kg),
            kilograms(half.filled_kg),
            kilograms(half.left_kg),
            kilograms(half.least_kg)
        );
    }
    text
}

/// `1 200 (2 packs, to 45 cm)`.
fn filled(fill: &Fill) -> String {
    if fill.fill_kg == 0.0 {
        return "0".to_owned();
    }
    let packs = fill.packs.map(|packs| match packs {
        1 => "1 pack".to_owned(),
        packs => format!("{packs} packs"),
    });
    let level = fill
        .level_cm
        .map(|[_, after]| format!("to {} cm", grouped(after, 0)));
    let more: Vec<String> = packs.into_iter().chain(level).collect();
    if more.is_empty() {
        kilograms(fill.fill_kg)
    } else {
        format!("{} ({})", kilograms(fill.fill_kg), more.join(", "))
    }
}

fn split(refills: &Refills, best: &BestSplit) -> String {
    let halves: Vec<String> = refills
        .halves
        .iter()
        .zip(best.usable_l)
        .map(|(half, litres)| format!("{} l for {}", grouped(litres, 0), half.product))
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
