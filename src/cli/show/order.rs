//! An order list as text.

use super::number::{grouped, kilograms};
use super::table::{Column, Table};
use crate::cli::order::Source;
use crate::tally::orders::Line;
use std::fmt::Write as _;

/// Every line with its steps, the fields it is for, and what is still to decide.
pub(in crate::cli) fn text(sources: &[Source], lines: &[Line]) -> String {
    let plural = if sources.len() == 1 {
        "field"
    } else {
        "fields"
    };
    let mut text = format!("Order for {} {plural}\n\n", sources.len());
    let mut table = Table::new([
        Column::Left("product"),
        Column::Left("lot"),
        Column::Left("dressing"),
        Column::Right("sown kg"),
        Column::Right("reserve kg"),
        Column::Right("residue kg"),
        Column::Right("packs"),
        Column::Right("order kg"),
        Column::Right("cost"),
    ]);
    let optional = |text: &Option<String>| text.clone().unwrap_or_default();
    for line in lines {
        let packs = line.packs.zip(line.article.pack_kg);
        table.row([
            line.article.product.clone(),
            optional(&line.article.lot),
            optional(&line.article.dressing),
            kilograms(line.sown_kg),
            kilograms(line.reserve_kg),
            kilograms(line.residue_kg),
            packs.map_or("-".to_owned(), |(count, kg)| format!("{count} x {kg} kg")),
            kilograms(line.order_kg),
            line.cost.map_or("-".to_owned(), |cost| grouped(cost, 2)),
        ]);
    }
    text.push_str(&table.text());
    for line in lines {
        let fields: Vec<String> = line
            .needs
            .iter()
            .map(|need| format!("{} {} kg", need.field, kilograms(need.kg.sown)))
            .collect();
        let _ = writeln!(text, "\n{}: {}", line.article.product, fields.join(", "));
    }
    text.push_str(
        "\nPacks are rounded up once for the whole list. The residue, what a meter cannot empty, counts once.\nThe list holds what the drill sows. A balance to broadcast is ordered by the plan of its field.\n",
    );
    for source in sources.iter().filter(|source| source.to_decide > 0) {
        let _ = writeln!(
            text,
            "To decide first: {} finding(s) of {} (plan {}).",
            source.to_decide, source.file, source.plan
        );
    }
    text
}
