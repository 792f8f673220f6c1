//! What has to be decided before this drill sows this map.

use super::{Bound, Limits, Metering, Report, Row, speed};
use crate::findings::{Decision, Extent, Finding, Place};
use crate::job::Job;

/// Widths that differ by less are the same, m.
const SAME_WIDTH_M: f64 = 0.01;

/// Findings about a report: rows the rotors cannot serve, an air stream that is too full, a speed
/// that is not possible.
pub fn findings(job: &Job, rows: &[Row], report: &Report) -> Vec<Finding> {
    let mut found = of_rotors(job, rows, report);
    found.extend(air_stream(job, rows, report));
    found.extend(no_common_speed(job, report));
    found.extend(spreads(job));
    found
}

/// Those about rows that the rotors cannot serve.
pub fn of_rotors(job: &Job, rows: &[Row], report: &Report) -> Vec<Finding> {
    let metering = report.metering.iter();
    metering
        .filter_map(|meter| no_rotor(job, rows, meter))
        .collect()
}

fn no_rotor(job: &Job, rows: &[Row], meter: &Metering) -> Option<Finding> {
    let (help, rotor) = (meter.help.as_ref()?, meter.best()?);
    let units = job.report.units;
    let mut ways = Vec::new();
    if let Some(range) = help.cm3_per_rev {
        ways.push(format!(
            "a rotor of {:.1} to {:.1} cm3 per revolution with the same revolutions",
            range.low, range.high
        ));
    } else {
        ways.push(format!(
            "no rotor with these revolutions spans 1 : {:.1}, so narrow the range: larger smallest section, less difference in speed or rate",
            help.turn_down
        ));
    }
    if let Some(speed) = help.fastest_km_per_h {
        ways.push(format!("at most {}", units.speed_at_most(speed)));
    }
    if let Some(speed) = help.slowest_km_per_h {
        ways.push(format!(
            "at least {} with the smallest section alone",
            units.speed_at_least(speed)
        ));
    }
    if let Some(rate) = help.lowest_kg_per_ha {
        ways.push(format!("no rate below {}", units.rate_at_least(rate)));
    }
    if let Some(rate) = help.highest_kg_per_ha {
        ways.push(format!("no rate above {}", units.rate_at_most(rate)));
    }
    let message = format!(
        "'{}': no rotor of hopper '{}' covers {}, which every rate of the map asks for from the slowest speed with the smallest section to the fastest at full width. Nearest: '{}', {}; it falls short in {}. What would help: {}",
        meter.product,
        meter.hopper,
        units.flows(meter.flow_kg_per_min.low, meter.flow_kg_per_min.high, 2),
        rotor.name,
        units.flows(
            rotor.delivers_kg_per_min.low,
            rotor.delivers_kg_per_min.high,
            2
        ),
        listed(&rotor.rows_outside),
        ways.join("; "),
    );
    let finding = Finding::decision(Decision::NoRotor, Place::file(&job.file), message)
        .of_products([meter.product.as_str()])
        .extent(Extent::Percent(short_percent(rotor.margin)));
    Some(finding.area(area_m2(rows, &rotor.rows_outside)))
}

fn air_stream(job: &Job, rows: &[Row], report: &Report) -> Option<Finding> {
    let most = job.drill.max_flow_kg_per_min?;
    let (flow, _) = report.air_stream.filter(|(flow, _)| *flow > most)?;
    let (limits, units) = (Limits::of(job), job.report.units);
    let fast = limits.fast_km_per_h;
    let too_full = speed::air_stream_full(job, rows, &limits);
    let numbers: Vec<usize> = too_full.iter().map(|(row, _)| *row).collect();
    let slowest = too_full
        .iter()
        .map(|(_, speed)| *speed)
        .fold(fast, f64::min);
    let message = format!(
        "at {} the products together need up to {}, the air stream carries {}. Drive at most {} in {}",
        units.given_speed(fast),
        units.flow(flow, 1),
        units.given_flow(most),
        units.speed_at_most(slowest),
        listed(&numbers),
    );
    let in_stream = job.products.iter().filter(|of| !of.surface_applied);
    let finding = Finding::decision(Decision::AirStreamFull, Place::file(&job.file), message)
        .of_products(in_stream.map(|product| product.id.as_str()))
        .extent(Extent::Percent((flow / most - 1.0) * 100.0));
    Some(finding.area(area_m2(rows, &numbers)))
}

fn no_common_speed(job: &Job, report: &Report) -> Option<Finding> {
    let window = report.field_speed.as_ref().filter(|w| w.is_empty())?;
    let (low, high) = (window.low.as_ref()?, window.high.as_ref()?);
    let units = job.report.units;
    let message = format!(
        "no single speed serves the whole field: {} asks for at least {}, {} for at most {}. Change speed between rows of the rate table, or narrow the range of rates",
        named(low),
        units.speed_at_least(low.km_per_h),
        named(high),
        units.speed_at_most(high.km_per_h),
    );
    Some(Finding::warning(
        "drill.no_common_speed",
        Place::file(&job.file),
        message,
    ))
}

/// Surface units that spread wider or narrower than the bout: they go with the drill.
fn spreads(job: &Job) -> impl Iterator<Item = Finding> {
    let (width_m, units) = (job.drill.working_width_m, job.report.units);
    let of_surface = job
        .products
        .iter()
        .filter(|product| product.surface_applied);
    of_surface.filter_map(move |product| {
        let mut hoppers = job.drill.hoppers.iter();
        let hopper = hoppers.find(|hopper| hopper.name == product.hopper)?;
        let own_m = hopper.spreads_width_m?;
        let what = if own_m > width_m + SAME_WIDTH_M {
            format!(
                "land gets its rate {:.2} times. Set its unit to the width of the bout, or its rate to {:.1} % of what the land is to get",
                own_m / width_m,
                width_m / own_m * 100.0
            )
        } else if own_m < width_m - SAME_WIDTH_M {
            format!(
                "{} of each bout get none. Set its unit to the width of the bout",
                units.length(width_m - own_m, 2)
            )
        } else {
            return None;
        };
        let message = format!(
            "'{}': its unit spreads {} along each bout of {}, so {what}. {}",
            product.id,
            units.given_length(own_m),
            units.given_length(width_m),
            match job.drive {
                Some(_) => "The map counts its rate once; the order goes by what is spread along the bouts",
                None => "Map, totals and order count its rate once",
            }
        );
        let place = Place::file(&job.file);
        Some(Finding::warning("drill.spreads_other_width", place, message))
    })
}

fn named(bound: &Bound) -> String {
    let by = match &bound.meter_of {
        Some(product) => format!("the meter of '{product}'"),
        None => "the air stream".to_owned(),
    };
    format!("{by} in row {} of the rate table", bound.row)
}

fn area_m2(rows: &[Row], numbers: &[usize]) -> f64 {
    let areas = numbers.iter().filter_map(|row| rows.get(row - 1));
    areas.map(|row| row.area_m2).sum()
}

/// `rows 1, 2 and 5 of the rate table`.
fn listed(rows: &[usize]) -> String {
    let words: Vec<String> = rows.iter().map(usize::to_string).collect();
    match words.as_slice() {
        [] => "no single row, but over the whole range of rates".to_owned(),
        [one] => format!("row {one} of the rate table"),
        [first @ .., last] => format!("rows {} and {last} of the rate table", first.join(", ")),
    }
}

/// By how much a rotor with less than all margin falls short of what is asked, percent of what it delivers.
fn short_percent(margin: f64) -> f64 {
    let percent = (1.0 / margin - 1.0) * 100.0;
    // One that delivers nothing of it is beyond all that can be signed for.
    if percent.is_finite() {
        percent
    } else {
        f64::MAX
    }
}
