//! The tramline rhythm.

use super::number::{Numbers, grouped, numbers};
use super::table::{Column, Table};
use crate::drive::tramline::headland::{Round, RoundRows};
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
        numbers.exact_length_of(tramline.sprayer_width_m),
        rhythm.drill_bouts,
        numbers.exact_length_of(rhythm.cycle_m),
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
    text.push_str(&format!(
        "  First wheels {} and {} from the edge of the interior, on the side of bout 1.\n",
        numbers.exact_length_of(rhythm.first_wheels_m[0]),
        numbers.exact_length_of(rhythm.first_wheels_m[1]),
    ));
    if let Some(round) = &rhythm.headland {
        text.push_str(&headland(round, numbers));
    }
    if rhythm.closed_percent > 0.0 && rhythm.saved_percent == 0.0 {
        text.push_str("  The flow of closed rows goes to the other rows: nothing is saved, and they get more.\n");
    }
    text
}

/// The sprayer's round along the border, and what closes under it.
fn headland(round: &Round, numbers: Numbers) -> String {
    let length = |m: f64| numbers.exact_length_of(m);
    let mut text = format!(
        "\nTramlines on the headland: the sprayer's round runs {} from the border, its wheels at {} and {}. ",
        length(round.middle_m),
        length(round.wheels_m[0]),
        length(round.wheels_m[1]),
    );
    match round.rows {
        RoundRows::Sown => text.push_str("All rows under them stay sown, as the job says.\n"),
        RoundRows::TooNarrow => text.push_str(&format!(
            "The headland of {} does not hold both, so no row closes: it takes {} bouts.\n",
            length(round.headland_m),
            round.least_bouts,
        )),
        RoundRows::Close | RoundRows::SomeClose => text.push_str(&format!(
            "Closed rows take about {}.\n",
            numbers.area_of(round.closed_m2),
        )),
    }
    if round.rings.is_empty() {
        return text;
    }
    let mut table = Table::new([
        Column::Right("ring"),
        Column::Left("outlets to close, border on the right"),
        Column::Left("stay sown"),
        Column::Right("closed"),
        Column::Right("of"),
    ]);
    let listed = |outlets: &[u32]| {
        let outlets: Vec<String> = outlets.iter().map(u32::to_string).collect();
        outlets.join(", ")
    };
    for ring in &round.rings {
        table.row([
            ring.ring.to_string(),
            listed(&ring.outlets),
            listed(&ring.stay_sown),
            numbers.length_of(ring.closed_m.round()),
            numbers.length_of(ring.length_m.round()),
        ]);
    }
    text.push_str(&table.text());
    text.push_str(&format!(
        "  Ring 1 is at the border. Rows stay sown within {} of a corner.\n",
        length(round.corner_m),
    ));
    if round.crossed_m > 0.0 {
        text.push_str(&format!(
            "  Interior tramlines cross {} of sown headland to the inner wheel of the round.\n",
            length(round.crossed_m),
        ));
    }
    text
}
