//! An order list as text.

use super::number::{grouped, kilograms};
use super::table::{Column, Table};
use crate::cli::order::Source;
use crate::tally::farm_order::Line;
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
        Column::Right("million seeds"),
        Column::Right("sown kg"),
        Column::Right("reserve kg"),
        Column::Right("residue kg"),
        Column::Right("packs"),
        Column::Right("order kg"),
        Column::Right("cost"),
    ]);
    let optional = |text: &Option<String>| text.clone().unwrap_or_default();
    for line in lines {
        let article = &line.article;
        let pack = match (article.seeds_per_pack, article.pack_kg) {
            (Some(seeds), _) => Some(format!("{seeds} seeds")),
            (None, Some(kg)) => Some(format!("{kg} kg")),
            _ => None,
        };
        let packs = line.packs.zip(pack);
        // Without a grain weight there are seeds, and no kilograms.
        let mass = |kg: f64| match article.seeds_only {
            true => "-".to_owned(),
            false => kilograms(kg),
        };
        table.row([
            article.product.clone(),
            optional(&article.lot),
            optional(&article.dressing),
            line.seeds
                .map_or("-".to_owned(), |seeds| grouped(seeds / 1e6, 3)),
            mass(line.sown_kg),
            mass(line.reserve_kg),
            mass(line.residue_kg),
            packs.map_or("-".to_owned(), |(count, pack)| format!("{count} x {pack}")),
            mass(line.order_kg),
            line.cost.map_or("-".to_owned(), |cost| grouped(cost, 2)),
        ]);
    }
    text.push_str(&table.text());
    for line in lines {
        if let Some(less) = &line.one_pack_less {
            let lot = line.article.lot.as_ref();
            let lot = lot.map_or(String::new(), |lot| format!(", lot {lot}"));
            let percent = line.reserve_kg / line.sown_kg * 100.0;
            let packs = if less.packs == 1 { "pack" } else { "packs" };
            let _ = writeln!(
                text,
                "{}{lot}: only the assumed reserve of {} % asks for the last pack: {} {packs} ({} kg) would leave {} kg for reserve, {} %.",
                line.article.product,
                grouped(percent, 1),
                less.packs,
                kilograms(less.order_kg),
                kilograms(less.reserve_kg),
                grouped(less.reserve_percent, 1)
            );
        }
    }
    for line in lines {
        let fields: Vec<String> = line
            .needs
            .iter()
            .map(|need| match (line.article.seeds_only, need.seeds) {
                (true, Some(seeds)) => {
                    format!("{} {} million seeds", need.field, grouped(seeds / 1e6, 3))
                }
                _ => format!("{} {} kg", need.words(), kilograms(need.kg.sown)),
            })
            .collect();
        let lot = line.article.lot.as_ref();
        let lot = lot.map_or(String::new(), |lot| format!(", lot {lot}"));
        let _ = writeln!(
            text,
            "\n{}{lot}: {}",
            line.article.product,
            fields.join(", ")
        );
    }
    text.push_str(
        "\nPacks are rounded up once for the whole list. The residue, what a meter cannot empty, counts once.\nWhat is broadcast for a balance is in the list, with the placed product where product, lot, dressing and pack agree.\n",
    );
    if lines.iter().any(|line| line.article.seeds_only) {
        text.push_str(
            "Seeds whose label is pending are counted with the germination that is expected, without residue and\nwithout limits in kg/ha. Enter the label's figures and plan again before drilling.\n",
        );
    }
    for source in sources.iter().filter(|source| source.to_decide > 0) {
        let _ = writeln!(
            text,
            "Open, so that terminal files are held back: {} decision(s) of {} (plan {}).",
            source.to_decide, source.file, source.plan
        );
    }
    text
}
