//! The calibration test as text.

use super::cautions::wrapped;
use super::number::{Numbers, grouped, numbers};
use super::table::{Column, Table};
use crate::agronomy::caution::Caution;
use crate::cli::calibrate::Calibration;
use crate::drill::calibrate::Test;
use crate::plan::Plan;
use crate::texts::Words;
use std::fmt::Write as _;

/// Tests, warnings about small catches, corrections.
pub(in crate::cli) fn text(plan: &Plan, all: &[Calibration], scale_g: f64) -> String {
    let mut text = format!("{}: calibration test, plan {}\n\n", plan.job.name, plan.id);
    let numbers = numbers(plan);
    let (test_area, catch) = (
        format!("test {}", numbers.spot_unit()),
        format!("catch {}", numbers.mass_unit()),
    );
    let mut table = Table::new([
        Column::Left("product"),
        Column::Left("hopper"),
        Column::Left("rotor"),
        Column::Right(numbers.rate_unit()),
        Column::Right(&test_area),
        Column::Right("revolutions"),
        Column::Right("wheel turns"),
        Column::Right(&catch),
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
                numbers.rate_text(test.kg_per_ha),
                numbers.spot_text(test.area_m2),
                test.revolutions.map_or("-".to_owned(), |n| grouped(n, 1)),
                test.wheel_turns.map_or("-".to_owned(), |n| grouped(n, 1)),
                numbers.weighed_text(test.catch_kg, 3),
            ]);
        }
    }
    text.push_str(&table.text());
    for calibration in all {
        for test in &calibration.tests {
            text.push_str(&small(calibration, test, scale_g, numbers));
        }
    }
    for calibration in all {
        for test in &calibration.tests {
            text.push_str(&correction(calibration, test, numbers));
        }
    }
    text.push('\n');
    text.push_str(&wrapped("", Words::default().text(&Caution::Calibration)));
    text
}

/// The product's id, and its lot where the label's is known.
fn title(calibration: &Calibration) -> String {
    match &calibration.lot {
        Some(lot) => format!("{}, lot {lot}", calibration.product),
        None => calibration.product.clone(),
    }
}

fn small(calibration: &Calibration, test: &Test, scale_g: f64, numbers: Numbers) -> String {
    let Some(better) = &test.weighs_well else {
        return String::new();
    };
    let turns = better.revolutions.map_or(String::new(), |n| {
        format!(" ({} revolutions)", grouped(n.ceil(), 0))
    });
    format!(
        "\n{} at {}: {} {mass} is too little to weigh well in steps of {scale_g} g. Catch at least {} {mass}, that is {}{turns}.\n",
        title(calibration),
        numbers.rate_of(test.kg_per_ha),
        numbers.weighed_text(test.catch_kg, 3),
        numbers.weighed_text(better.catch_kg, 2),
        numbers.spot_of(better.area_m2.ceil()),
        mass = numbers.mass_unit(),
    )
}

fn correction(calibration: &Calibration, test: &Test, numbers: Numbers) -> String {
    let Some(caught) = &test.caught else {
        return String::new();
    };
    let mut text = format!(
        "\n{} at {}: caught {} {mass} of {} {mass}, correction {}. Without it the drill sows {}.\n",
        title(calibration),
        numbers.rate_of(test.kg_per_ha),
        numbers.weighed_text(caught.kg, 3),
        numbers.weighed_text(test.catch_kg, 3),
        grouped(caught.correction, 4),
        numbers.rate_of(caught.kg_per_ha_without),
        mass = numbers.mass_unit(),
    );
    if let (Some(kg), Some(turns)) = (caught.kg_per_rev, caught.revolutions) {
        let _ = writeln!(
            text,
            "  Set {} {} per revolution; the test then takes {} revolutions. Repeat it until the correction is near 1.",
            numbers.weighed_text(kg, 4),
            numbers.mass_unit(),
            grouped(turns, 1)
        );
    }
    text
}
