//! The field driven on paper.

use super::number::{Numbers, grouped, numbers};
use super::table::{Column, Table};
use crate::drive::SwitchRule;
use crate::drive::cut_map::Report;
use crate::job::ClosedFlow;
use crate::plan::Plan;
use std::fmt::Write as _;

/// Bouts, way, time, and what sections save; empty where the job does not ask for it.
pub(super) fn text(plan: &Plan) -> String {
    let Some(drive) = &plan.drive.report else {
        return String::new();
    };
    let numbers = numbers(plan);
    let way = |metres: f64| format!("{} {}", numbers.way_text(metres), numbers.way_unit());
    let m2 = |m2: f64| numbers.spot_text(m2);
    let (mass, spot) = (numbers.mass_unit(), numbers.spot_unit());
    let mut text = format!(
        "\nDrive: {} {} degrees, {} interior bouts ({}) with {} turns, {} headland rings ({})",
        match drive.along_curve {
            true => "along a curve, from end to end",
            false => "heading",
        },
        grouped(drive.heading_deg, 1),
        drive.interior_bouts,
        way(drive.interior_m),
        drive.turns,
        drive.headland_rings,
        way(drive.headland_m),
    );
    if let Some(hours) = drive.hours {
        let _ = write!(text, ", {} hours", grouped(hours, 1));
    }
    text.push_str(".\n");
    let mut columns = vec![
        Column::Right("sections".to_owned()),
        Column::Left("on while".to_owned()),
        Column::Right(format!("beyond the interior {spot}")),
        Column::Right(format!("missed {spot}")),
    ];
    let rings = drive.headland_rings > 0;
    if rings {
        columns.extend(
            ["rings again", "headland missed"].map(|name| Column::Right(format!("{name} {spot}"))),
        );
    }
    // What a unit of its own spreads is not switched by sections.
    let in_stream = |nth: usize| {
        let product = plan.job.products.get(nth);
        product.is_some_and(|product| !product.surface_applied)
    };
    let products = plan.job.products.iter();
    let products = products.filter(|product| !product.surface_applied);
    columns.extend(products.flat_map(|product| {
        let names = [
            format!("{} too much {mass}", product.id),
            format!("saved {mass}"),
        ];
        names.map(Column::Right)
    }));
    let mut table = Table::new(columns);
    for row in &drive.switching {
        let rule = match row.rule {
            SwitchRule::AnyPartIn => "any part is in",
            SwitchRule::HalfIn => "half is in",
            SwitchRule::AllIn => "all is in",
        };
        let mut cells = vec![
            row.sections.to_string(),
            rule.to_owned(),
            m2(row.beyond_m2),
            m2(row.missed_m2),
        ];
        if rings {
            cells.extend([row.rings_again_m2, row.rings_missed_m2].map(m2));
        }
        let kg = row.beyond_kg.iter().zip(&row.saved_kg).enumerate();
        let kg = kg.filter(|(nth, _)| in_stream(*nth));
        cells.extend(
            kg.flat_map(|(_, (beyond, saved))| [*beyond, *saved].map(|kg| numbers.mass_text(kg))),
        );
        table.row(cells);
    }
    text.push_str(&table.text());
    if rings {
        text.push_str(
            "  Beyond the interior lies the headland: sown twice. 'rings again': the headland rings over what is sown already, or beyond the headland. Both are in the order as the drill's own sections sow them.\n",
        );
    } else {
        text.push_str("  Without a headland, beyond the interior is beyond the border. What the drill's own sections sow there is in the order.\n");
    }
    text.push_str(match plan.job.drill.shut_flow {
        ClosedFlow::MeterSlows | ClosedFlow::Returned => {
            "  'saved' is against one section with the same rule.\n"
        }
        ClosedFlow::Redistributed => {
            "  Nothing is saved: where a section is shut, this drill gives its flow to the others.\n"
        }
    });
    if let Some(cut) = &plan.drive.cut_map {
        text.push_str(&cut_map(cut, numbers));
    }
    text
}

/// The map with the zones' borders, the cut map, and what the drill lays by either.
fn cut_map(cut: &Report, numbers: Numbers) -> String {
    let mut text = format!(
        "\nMap cut to the bouts: {} pieces of at least {}.\n",
        cut.pieces,
        numbers.length_of(cut.least_m)
    );
    let mut columns = vec![Column::Left("product".to_owned())];
    let mass = numbers.mass_unit();
    columns.extend(
        ["wanted", "cut map", "less", "more"].map(|name| Column::Right(format!("{name} {mass}"))),
    );
    let shares = [
        "within 5 % of wanted: cut map",
        "as driven",
        "as driven by the zones' borders",
    ];
    columns.extend(shares.map(|name| Column::Right(name.to_owned())));
    let mut table = Table::new(columns);
    for of in &cut.products {
        let mut cells = vec![of.id.clone()];
        cells.extend(
            [of.wanted_kg, of.cut_kg, of.lost_kg, of.gained_kg].map(|kg| numbers.mass_text(kg)),
        );
        let shares = [
            of.cut_within_5_percent,
            of.cut_driven_within_5_percent,
            of.free_driven_within_5_percent,
        ];
        cells.extend(shares.map(|share| format!("{} %", grouped(share, 1))));
        table.row(cells);
    }
    text.push_str(&table.text());
    text
}
