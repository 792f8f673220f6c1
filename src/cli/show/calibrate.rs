//! The calibration test as text.

use super::cautions::wrapped;
use super::number::{grouped, rate};
use super::table::{Column, Table};
use crate::agronomy::caution::CALIBRATION;
use crate::cli::calibrate::Calibration;
use crate::drill::calibrate::Test;
use crate::plan::Plan;
use std::fmt::Write as _;

/// Tests, warnings about small catches, corrections.
pub(in crate::cli) fn text(plan: &Plan, all: &[Calibration], scale_g: f64) -> String {
    let mut text = format!("{}: calibration test, plan {}\n\n", plan.job.name, plan.id);
    let mut table = Table::new([
        Column::Left("product"),
        Column::Left("hopper"),
        Column::Left("rotor"),
        Column::Right("kg/ha"),
        Column::Right("test m2"),
        Column::Right("revolutions"),
        Column::Right("wheel turns"),
        Column::Right("catch kg"),
    ]);
    for calibration in all {
        for test in &calibration.tests {
            table.row([
                title(calibration),
                calibration.hopper.clone(),
                calibration
                    .rotor
                    .clone()
                    .unwrap_or_else(|| "not given".to_owned()),
                rate(test.kg_per_ha),
                grouped(test.area_m2, 0),
                test.revolutions.map_or("-".to_owned(), |n| grouped(n, 1)),
                test.wheel_turns.map_or("-".to_owned(), |n| grouped(n, 1)),
                grouped(test.catch_kg, 3),
            ]);
        }
    }
    text.push_str(&table.text());
    for calibration in all {
        for test in &calibration.tests {
            text.push_str(&small(calibration, test, scale_g));
        }
    }
    for calibration in all {
        for test in &calibration.tests {
            text.push_str(&correction(calibration, test));
        }
    }
    text.push('\n');
    text.push_str(&wrapped("", CALIBRATION));
    text
}

/// The product's id, and its lot where the label's is known.
fn title(calibration: &Calibration) -> String {
    match &calibration.lot {
        Some(lot) => format!("{}, lot {lot}", calibration.product),
        None => calibration.product.clone(),
    }
}

fn small(calibration: &Calibration, test: &Test, scale_g: f64) -> String {
    let Some(better) = &test.weighs_well else {
        return String::new();
    };
    let turns = better.revolutions.map_or(String::new(), |n| {
        format!(" ({} revolutions)", grouped(n.ceil(), 0))
    });
    format!(
        "\n{} at {} kg/ha: {} kg is too little to weigh well in steps of {scale_g} g. Catch at least {} kg, that is {} m2{turns}.\n",
        title(calibration),
        rate(test.kg_per_ha),
        grouped(test.catch_kg, 3),
        grouped(better.catch_kg, 2),
        grouped(better.area_m2.ceil(), 0),
    )
}

fn correction(calibration: &Calibration, test: &Test) -> String {
    let Some(caught) = &test.caught else {
        return String::new();
    };
    let mut text = format!(
        "\n{} at {} kg/ha: caught {} kg of {} kg, correction {}. Without it the drill sows {} kg/ha.\n",
        title(calibration),
        rate(test.kg_per_ha),
        grouped(caught.kg, 3),
        grouped(test.catch_kg, 3),
        grouped(caught.correction, 4),
        rate(caught.kg_per_ha_without),
    );
    if let (Some(kg), Some(turns)) = (caught.kg_per_rev, caught.revolutions) {
        let _ = writeln!(
            text,
            "  Set {} kg per revolution; the test then takes {} revolutions. Repeat it until the correction is near 1.",
            grouped(kg, 4),
            grouped(turns, 1)
        );
    }
    text
}
