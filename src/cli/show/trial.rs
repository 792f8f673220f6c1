//! Trials on the screen.

use super::number::numbers;
use super::table::{Column, Table};
use crate::plan::Plan;
use std::fmt::Write as _;

/// Every trial with its plots; empty without.
pub(super) fn text(plan: &Plan) -> String {
    let numbers = numbers(plan);
    let mut text = String::new();
    for trial in &plan.trials {
        let _ = writeln!(
            text,
            "\nTrial '{}': {} plots in {} blocks, strips {} wide.",
            trial.name,
            trial.plots.len(),
            trial.sight.blocks,
            numbers.length_of(trial.strip_width_m)
        );
        let tried: Vec<(usize, &str)> = plan
            .job
            .products
            .iter()
            .enumerate()
            .filter(|(_, product)| trial.products.contains(&product.id))
            .map(|(nth, product)| (nth, product.id.as_str()))
            .collect();
        let unit = numbers.rate_unit();
        let mut columns = vec![
            Column::Left("plot".to_owned()),
            Column::Left("block".to_owned()),
            Column::Left("treatment".to_owned()),
            Column::Right(format!("long {}", numbers.way_unit())),
        ];
        for (_, id) in &tried {
            let names = [format!("{id} {unit}"), "as driven".to_owned()];
            columns.extend(names.map(Column::Right));
        }
        let mut table = Table::new(columns);
        for plot in &trial.plots {
            let mut cells = vec![
                plot.id.clone(),
                plot.block.clone(),
                plot.treatment.clone(),
                numbers.way_text(plot.length_m),
            ];
            for (nth, _) in &tried {
                for rates in [&plot.kg_per_ha, &plot.sown_kg_per_ha] {
                    cells.push(
                        rates
                            .get(*nth)
                            .map_or_else(String::new, |rate| numbers.rate_text(*rate)),
                    );
                }
            }
            table.row(cells);
        }
        text.push_str(&table.text());
    }
    text
}
