//! What the drive leaves on the land.

use super::number::{grouped, kilograms};
use super::table::{Column, Table};
use crate::drive::as_driven::DrivenProduct;
use crate::job::Follows;
use crate::plan::Plan;
use std::fmt::Write as _;

/// Areas, and how close the land comes to its wanted rates; empty where nothing is driven.
pub(super) fn text(plan: &Plan) -> String {
    let (Some(driven), Some(drive)) = (&plan.drive.as_driven, &plan.job.drive) else {
        return String::new();
    };
    let follows = match drive.follows {
        Follows::Grid => "the grid of the task data",
        Follows::Polygons => "the map zones",
    };
    let areas = driven.areas;
    let m2 = |m2: f64| grouped(m2, 0);
    let mut text = format!(
        "\nAs driven ({} bouts, the meters following {follows}): of {} m2 of land {} are sown once, {} twice or more, {} stay free in closed rows, {} are missed; {} m2 are sown beyond it.\n",
        plan.drive.bouts.len(),
        m2(areas.land_m2),
        m2(areas.once_m2),
        m2(areas.twice_m2),
        m2(areas.closed_m2),
        m2(areas.missed_m2),
        m2(areas.beyond_m2),
    );
    for of in &plan.drive.spread {
        let areas = of.as_driven.areas;
        let _ = writeln!(
            text,
            "  '{}' is spread {} m wide along them: {} m2 once, {} twice or more, {} missed; {} m2 beyond the land.",
            of.product,
            grouped(of.width_m, 1),
            m2(areas.once_m2),
            m2(areas.twice_m2),
            m2(areas.missed_m2),
            m2(areas.beyond_m2),
        );
    }
    let of_spread = plan
        .drive
        .spread
        .iter()
        .flat_map(|of| &of.as_driven.products);
    let products: Vec<&DrivenProduct> = driven.products.iter().chain(of_spread).collect();
    let mut columns = vec![
        Column::Left("land that gets".to_owned()),
        Column::Right("as driven kg".to_owned()),
    ];
    let first = products.first();
    columns.extend(
        first
            .iter()
            .flat_map(|product| &product.within)
            .map(|within| Column::Right(format!("within {} %", grouped(within.percent, 0)))),
    );
    columns.push(Column::Right("some where none is wanted m2".to_owned()));
    let mut table = Table::new(columns);
    for product in &products {
        let mut cells = vec![product.id.clone(), kilograms(product.as_driven_kg)];
        let shares = product.within.iter();
        cells.extend(shares.map(|within| format!("{} %", grouped(within.share_percent, 1))));
        cells.push(m2(product.unwanted_m2));
        table.row(cells);
    }
    text.push_str(&table.text());
    let returned: f64 = products.iter().map(|product| product.returned_kg).sum();
    if returned > 0.0 {
        let _ = writeln!(
            text,
            "  Closed rows and shut sections return {} kg to the hopper.",
            kilograms(returned)
        );
    }
    text
}
