//! The tramline rhythm.

use super::number::{grouped, numbers};
use super::table::{Column, Table};
use crate::job::LandPart;
use crate::plan::Plan;

/// Which outlets close in which bout; empty where the job asks for no tramlines.
pub(super) fn text(plan: &Plan) -> String {
    let (Some(rhythm), Some(tramline)) = (plan.tramlines(), &plan.job.tramline) else {
        return String::new();
    };
    let numbers = numbers(plan);
    let interior = plan.tally.planned.parts_m2.iter();
    let interior_m2: f64 = interior
        .filter(|(part, _)| *part == LandPart::Interior)
        .map(|(_, m2)| m2)
        .sum();
    let mut text = format!(
        "\nTramlines in the interior, for a {} sprayer: {} drill bouts repeat ({}). Closed rows take {} % of it, about {}.\n",
        numbers.length_of(tramline.sprayer_width_m),
        rhythm.drill_bouts,
        numbers.length_of(rhythm.cycle_m),
        grouped(rhythm.closed_percent, 2),
        numbers.area_of(interior_m2 * rhythm.closed_percent / 100.0),
    );
    let mut table = Table::new([
        Column::Right("bout"),
        Column::Left("outlets to close, from the left looking ahead"),
    ]);
    for closed in &rhythm.closed {
        let outlets: Vec<String> = closed.outlets.iter().map(u32::to_string).collect();
        table.row([closed.bout.to_string(), outlets.join(", ")]);
    }
    text.push_str(&table.text());
    let odd = !rhythm.drill_bouts.is_multiple_of(2);
    let mirrored = if odd {
        " Every other cycle is driven the other way: count outlets from the right there."
    } else {
        ""
    };
    text.push_str(&format!(
        "  Bouts lie side by side and are driven up and down, bout 1 with the edge on the left.{mirrored}\n"
    ));
    if rhythm.closed_percent > 0.0 && rhythm.saved_percent == 0.0 {
        text.push_str("  The flow of closed rows goes to the other rows: nothing is saved, and they get more.\n");
    }
    text
}
