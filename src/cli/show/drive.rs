//! The field driven on paper.

use super::number::{grouped, kilograms};
use super::table::{Column, Table};
use crate::drive::SwitchRule;
use crate::plan::Plan;
use std::fmt::Write as _;

/// Bouts, way, time, and what sections save; empty where the job does not ask for it.
pub(super) fn text(plan: &Plan) -> String {
    let Some(drive) = &plan.drive else {
        return String::new();
    };
    let km = |metres: f64| grouped(metres / 1000.0, 2);
    let mut text = format!(
        "\nDrive: heading {} degrees, {} interior bouts ({} km) with {} turns, {} headland rings ({} km)",
        grouped(drive.heading_deg, 1),
        drive.interior_bouts,
        km(drive.interior_m),
        drive.turns,
        drive.headland_rings,
        km(drive.headland_m),
    );
    if let Some(hours) = drive.hours {
        let _ = write!(text, ", {} hours", grouped(hours, 1));
    }
    text.push_str(".\n");
    let mut columns = vec![
        Column::Right("sections".to_owned()),
        Column::Left("on while".to_owned()),
        Column::Right("beyond the interior m2".to_owned()),
        Column::Right("missed m2".to_owned()),
    ];
    columns.extend(
        plan.job
            .products
            .iter()
            .map(|product| Column::Right(format!("{} beyond kg", product.id))),
    );
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
            grouped(row.beyond_m2, 0),
            grouped(row.missed_m2, 0),
        ];
        cells.extend(row.beyond_kg.iter().map(|kg| kilograms(*kg)));
        table.row(cells);
    }
    text.push_str(&table.text());
    if drive.headland_rings > 0 {
        text.push_str(
            "  Beyond the interior lies the headland: sown twice. What the drill's own sections sow there is in the order.\n",
        );
    } else {
        text.push_str("  Without a headland, beyond the interior is beyond the border. What the drill's own sections sow there is in the order.\n");
    }
    text
}
