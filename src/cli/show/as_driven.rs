//! What the drive leaves on the land.

use super::number::{grouped, numbers};
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
    let numbers = numbers(plan);
    let m2 = |m2: f64| numbers.spot_text(m2);
    let unit = numbers.spot_unit();
    let mut text = format!(
        "\nAs driven ({} bouts, the meters following {follows}): of {} {unit} of land {} are sown once, {} twice or more, {} stay free in closed rows, {} are missed; {} {unit} are sown beyond it.\n",
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
            "  '{}' is spread {} wide along them: {} {unit} once, {} twice or more, {} missed; {} {unit} beyond the land.",
            of.product,
            numbers.length_of(of.width_m),
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
        Column::Right(format!("as driven {}", numbers.mass_unit())),
    ];
    let first = products.first();
    columns.extend(
        first
            .iter()
            .flat_map(|product| &product.within)
            .map(|within| Column::Right(format!("within {} %", grouped(within.percent, 0)))),
    );
    columns.push(Column::Right(format!("some where none is wanted {unit}")));
    let mut table = Table::new(columns);
    for product in &products {
        let mut cells = vec![product.id.clone(), numbers.mass_text(product.as_driven_kg)];
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
            "  Closed rows and shut sections return {} to the hopper.",
            numbers.kg(returned)
        );
    }
    text
}
