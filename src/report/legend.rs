//! The legend of a map, which is also its table of rates: colour, rate, land, kilograms.

use super::number::Numbers;
use crate::map::Scale;
use crate::plan::Combination;
use crate::units::M2_PER_HA;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// More different rates than this are put into classes of equal width.
const MOST_RATES: usize = 10;

/// Land, kilograms and rows of one line.
#[derive(Default)]
struct Line {
    low: f64,
    high: f64,
    m2: f64,
    kg: f64,
    rows: Vec<usize>,
}

/// Lines from the highest rate to the lowest; the last is land without any. `rates` per row of the rate table, kg/ha.
pub fn legend(
    table: &[Combination],
    rates: &[f64],
    scale: &Scale,
    numbers: &Numbers,
) -> Vec<Value> {
    let mut by_rate: BTreeMap<u64, Line> = BTreeMap::new();
    for (at, (row, &rate)) in table.iter().zip(rates).enumerate() {
        // Bits of numbers from 0 up sort as the numbers do.
        let line = by_rate.entry((rate + 0.0).to_bits()).or_default();
        line.low = rate;
        line.high = rate;
        line.m2 += row.area_m2;
        line.kg += row.area_m2 * rate / M2_PER_HA;
        line.rows.push(at + 1);
    }
    let lines: Vec<Line> = by_rate.into_values().collect();
    let most = lines.iter().map(|line| line.m2).fold(0.0, f64::max);
    let lines = match lines.len() > MOST_RATES {
        true => classes(lines),
        false => lines,
    };
    let most = lines
        .iter()
        .map(|line| line.m2)
        .fold(most.min(1.0), f64::max);
    let view = |line: &Line| {
        let middle = (line.low + line.high) / 2.0;
        json!({
            "fill": if middle > 0.0 { scale.colour(middle) } else { String::new() },
            "low": numbers.rate(line.low, ""),
            "high": if line.high > line.low { numbers.rate(line.high, "") } else { Value::Null },
            "area": numbers.area(line.m2, ""),
            "mass": numbers.mass(line.kg, ""),
            "bar": (line.m2 / most * 100.0).max(0.5).round(),
            "rows": line.rows.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
        })
    };
    lines.iter().rev().map(view).collect()
}

/// Lines above 0 put into classes of equal width; those at 0 stay.
fn classes(lines: Vec<Line>) -> Vec<Line> {
    let above = || lines.iter().filter(|line| line.low > 0.0);
    let low = above().map(|line| line.low).fold(f64::INFINITY, f64::min);
    let high = above().map(|line| line.high).fold(0.0, f64::max);
    let width = (high - low) / MOST_RATES as f64;
    let mut classes: BTreeMap<usize, Line> = BTreeMap::new();
    for line in lines {
        let class = match line.low > 0.0 && width > 0.0 {
            true => 1 + (((line.low - low) / width) as usize).min(MOST_RATES - 1),
            false => usize::from(line.low > 0.0),
        };
        let of_class = classes.entry(class).or_insert_with(|| Line {
            low: line.low,
            ..Line::default()
        });
        of_class.high = line.high;
        of_class.m2 += line.m2;
        of_class.kg += line.kg;
        of_class.rows.extend(line.rows);
    }
    classes.into_values().collect()
}
