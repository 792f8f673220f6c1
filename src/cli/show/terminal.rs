//! What belongs to the terminal: gate check, yard test, points of polygons.

use super::number::{grouped, numbers};
use super::table::{Column, Table};
use crate::coordinates::LonLat;
use crate::plan::{GateCheck, Plan};
use std::fmt::Write as _;

/// Gate check, yard test of rate 0, land to shut by hand, and what fewer points cost.
pub(super) fn text(plan: &Plan) -> String {
    let mut text = gate(plan);
    let yard = plan.yard_test();
    if !yard.is_empty() {
        text.push_str("\nYard test of rate 0\n");
    }
    for line in yard {
        let _ = writeln!(text, "  {line}");
    }
    text.push_str(&shut_by_hand(plan));
    if let Some(map) = plan.maps.rate.terminal.first() {
        let numbers = numbers(plan);
        let each = map.products.iter().zip(map.drift_kg());
        let each = each.filter_map(|(at, kg)| {
            let id = &plan.job.products.get(*at)?.id;
            Some(format!("{id} {}", numbers.more_or_less(kg, 2)))
        });
        let _ = writeln!(
            text,
            "\nPolygons for terminals: {} points instead of {}, which changes {}",
            grouped(map.points as f64, 0),
            grouped(map.points_before as f64, 0),
            each.collect::<Vec<_>>().join(", ")
        );
    }
    text
}

/// Land on which somebody has to shut a meter by hand.
pub(super) fn shut_by_hand(plan: &Plan) -> String {
    let mut text = String::new();
    let numbers = numbers(plan);
    for land in plan.shut_by_hand() {
        let name = plan
            .job
            .products
            .get(land.product)
            .map(|of| of.name.as_str());
        let _ = writeln!(
            text,
            "\nSHUT BY HAND: {} on {}; left open it would sow about {} that no total counts",
            name.unwrap_or_default(),
            numbers.area_of(land.area_m2),
            numbers.kg(land.at_stake_kg)
        );
    }
    text
}

fn gate(plan: &Plan) -> String {
    let GateCheck { places, misses } = plan.gate();
    if places.is_empty() {
        return String::new();
    }
    let numbers = numbers(plan);
    let products = plan.job.products.iter();
    let mut columns = vec![
        Column::Right("place".to_owned()),
        Column::Right("longitude".to_owned()),
        Column::Right("latitude".to_owned()),
        Column::Right(format!("{} away", numbers.length_unit())),
    ];
    let rate = numbers.rate_unit();
    columns.extend(products.map(|product| Column::Right(format!("{} {rate}", product.id))));
    let mut table = Table::new(columns);
    for (nth, place) in places.iter().enumerate() {
        let LonLat { lon, lat } = place.lon_lat;
        let mut row = vec![
            (nth + 1).to_string(),
            format!("{lon:.6}"),
            format!("{lat:.6}"),
            numbers.away_text(place.distance_m),
        ];
        row.extend(
            place
                .kg_per_ha
                .iter()
                .map(|rate| numbers.at_the_gate_text(*rate)),
        );
        table.row(row);
    }
    let few = match places.len() {
        1 => " (the map has one set of rates only)",
        2 => " (the map has few sets of rates)",
        _ => "",
    };
    let mut text = format!(
        "\nGate check{few}: with the drill raised, the screen has to show these rates at these places\n{}",
        table.text()
    );
    if !misses.is_empty() {
        let missed = misses.join("; ");
        let _ = writeln!(
            text,
            "These places do not show: {missed}. Compare the whole map."
        );
    }
    text
}
