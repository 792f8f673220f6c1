//! The operator's sheet: what do I set, what do I look out for?

use super::number::{Numbers, Rounded};
use crate::agronomy::caution::{self, Caution};
use crate::drill::calibrate::{self, Amount, usual_area_m2};
use crate::drill::{Bound, Metering};
use crate::drive::tramline::headland::Round;
use crate::job::{HeadlandTurn, Job};
use crate::plan::{Drive, Plan};
use crate::tally::LotTally;
use crate::texts::Words;
use serde_json::{Value, json};

/// Lines of the yard test that are for the operator: what to do and what to see.
const YARD_LINES: usize = 4;

/// Step of the scale, kg; the default of the command.
const SCALE_KG: f64 = 0.01;

pub(super) fn sheet(plan: &Plan, numbers: &Numbers) -> Value {
    let drill = plan.drill();
    let halves: Vec<Value> = plan
        .tally.planned
        .products
        .iter()
        .enumerate()
        .map(|(nth, tally)| {
            let from = |key: &str| format!("/tally/products/{nth}/{key}");
            let product = plan.job.products.get(nth);
            // Each lot has its own density, and with it its own rotor and catches.
            let whole = tally.lots.is_empty();
            let meter = drill.metering.iter().find(|meter| whole && meter.product == tally.id);
            let range = [tally.lowest_kg_per_ha, tally.highest_kg_per_ha];
            let lost = plan.rates.position_lost_kg_per_ha.get(nth).copied();
            let outside = plan.rates.out_of_field_kg_per_ha.get(nth).copied();
            json!({
                "hopper": tally.hopper,
                "ready": !plan.holds_back(nth),
                "name": tally.name,
                "lot": tally.lot,
                "dressing": product.and_then(|product| product.dressing.as_ref()),
                "spread": spread(&plan.drive, &tally.id, numbers),
                "depth": product.and_then(|product| product.depth_mm).map(|mm| numbers.depth(mm, format!("/job/product/{nth}/depth_mm"))),
                "fills": tally.fills.map(|fills| numbers.plain(fills, 1, from("fills"))),
                "fill_mass": tally.kg_per_fill.map(|kg| numbers.mass(kg, from("kg_per_fill"))),
                "fill_area": tally.ha_per_fill.map(|ha| numbers.hectares(ha, from("ha_per_fill"))),
                "flat": numbers.rate(tally.flat_kg_per_ha, from("flat_kg_per_ha")),
                "flat_most": plan.flat_limit(nth).map(|limit| numbers.rate(limit.kg_per_ha, "")),
                "lost": lost.map(|rate| numbers.rate(rate, format!("/terminal/products/{nth}/position_lost_kg_per_ha"))),
                "outside": outside.map(|rate| numbers.rate(rate, format!("/terminal/products/{nth}/out_of_field_kg_per_ha"))),
                "rotor": meter.map(|meter| rotor(meter, numbers)),
                "tests": whole.then(|| tests(&plan.job, nth, range, meter, numbers)),
                "lots": lots(plan, nth, numbers),
                "off_at": off_at(&plan.job, nth),
            })
        })
        .collect();
    json!({
        "halves": halves,
        "speed": speed(plan, numbers),
        "air": drill.air_stream.map(|(kg_per_min, row)| json!({
            "flow": numbers.flow(kg_per_min, "/drill/air_stream/0"),
            "row": row,
            "most": plan.job.drill.max_flow_kg_per_min.map(|most| numbers.flow(most, "")),
        })),
        "seedbed": plan.seedbed_lines(),
        "width": numbers.length(plan.job.drill.working_width_m, "/job/drill/working_width_m"),
        "fan": plan.job.drill.fan_rpm.map(|rpm| numbers.plain(rpm, 0, "/job/drill/fan_rpm")),
        "planned_speed": numbers.speed(plan.job.drill.speed_km_per_h, "/job/drill/speed_km_per_h"),
        "drive": drive(plan, numbers),
        "tramlines": tramlines(plan, numbers),
        "by_hand": by_hand(plan),
        "test_area": numbers.spot(usual_area_m2(plan.job.report.units)),
        "gate_misses": plan.gate().misses.join("; "),
        // What to set in the job is the adviser's: it stands in the summary and beside the task data.
        "yard": plan.yard_test().into_iter().take(YARD_LINES).collect::<Vec<String>>(),
        "cautions": cautions(&plan.job),
    })
}

fn cautions(job: &Job) -> Value {
    let said = caution::by_text(job).into_iter();
    let lines: Vec<Value> = said
        .map(|said| json!({ "products": said.names, "text": said.text }))
        .collect();
    let words = Words::of(job);
    json!({
        "first": words.text(&Caution::Defer),
        "lines": lines,
        "last": words.text(&Caution::AtTheDrill),
    })
}

fn rotor(meter: &Metering, numbers: &Numbers) -> Value {
    let best = meter.best();
    json!({
        "name": best.map(|fit| &fit.name),
        "fits": best.is_some_and(|fit| fit.margin >= 1.0),
        "per_turn": best.map(|fit| numbers.catch(fit.kg_per_rev)),
    })
}

/// What has to be set anew for each lot of a product.
fn lots(plan: &Plan, nth: usize, numbers: &Numbers) -> Vec<Value> {
    let Some(tally) = plan.tally.planned.products.get(nth) else {
        return Vec::new();
    };
    let one = |(at, lot): (usize, &LotTally)| {
        let from = format!("/tally/products/{nth}/lots/{at}/flat_kg_per_ha");
        let drill = plan.drill_of_lot(nth, &lot.lot);
        let meter = drill
            .metering
            .iter()
            .find(|meter| meter.product == tally.id);
        let range = [lot.lowest_kg_per_ha, lot.highest_kg_per_ha];
        json!({
            "lot": lot.lot,
            "variety": lot.variety,
            "dressing": lot.dressing,
            "classes": lot.classes,
            "flat": numbers.rate(lot.flat_kg_per_ha, from),
            "rotor": meter.map(|meter| rotor(meter, numbers)),
            "tests": tests(&plan.job, nth, range, meter, numbers),
        })
    };
    tally.lots.iter().enumerate().map(one).collect()
}

/// What the calibration test should catch at the lowest and at the highest rate, kg/ha.
fn tests(
    job: &Job,
    nth: usize,
    [lowest, highest]: [f64; 2],
    meter: Option<&Metering>,
    numbers: &Numbers,
) -> Vec<Value> {
    // A surface unit of which the job knows nothing is calibrated by its own manual.
    let hoppers = &job.drill.hoppers;
    let unknown = job.products.get(nth).is_some_and(|product| {
        let mut own = hoppers
            .iter()
            .filter(|hopper| hopper.name == product.hopper);
        product.surface_applied && !own.any(|hopper| hopper.spreads_width_m.is_some())
    });
    if unknown || highest <= 0.0 {
        return Vec::new();
    }
    let mut rates = vec![lowest, highest];
    rates.dedup();
    let per_turn = meter
        .and_then(|meter| meter.best())
        .map(|fit| fit.kg_per_rev);
    let amount = Amount::Area(usual_area_m2(job.report.units));
    let test = |rate: f64| calibrate::test(rate, per_turn, amount, SCALE_KG, None);
    let tests = rates.into_iter().filter_map(test);
    tests
        .map(|test| {
            json!({
                "rate": numbers.rate(test.kg_per_ha, ""),
                "catch": numbers.catch(test.catch_kg),
                "turns": test.revolutions.map(|turns| numbers.plain(turns, 1, "")),
            })
        })
        .collect()
}

/// What the unit of a surface-applied product leaves where along the bouts; null for others and without a drive.
fn spread(drive: &Drive, id: &str, numbers: &Numbers) -> Value {
    let Some((nth, of)) = drive
        .spread
        .iter()
        .enumerate()
        .find(|(_, of)| of.product == id)
    else {
        return Value::Null;
    };
    let areas = of.as_driven.areas;
    let area =
        |m2: f64, key: &str| numbers.area(m2, format!("/spread/{nth}/as_driven/areas/{key}"));
    json!({
        "width": numbers.length(of.width_m, format!("/spread/{nth}/width_m")),
        "once": area(areas.once_m2, "once_m2"),
        "twice": area(areas.twice_m2, "twice_m2"),
        "missed": area(areas.missed_m2, "missed_m2"),
    })
}

/// The speeds that every row allows, with what sets them.
pub(super) fn speed(plan: &Plan, numbers: &Numbers) -> Value {
    let drill = plan.drill();
    let Some(window) = drill.field_speed else {
        return Value::Null;
    };
    let bound = |bound: &Option<Bound>, which: &str, rounded: Rounded| {
        bound.as_ref().map(|bound| {
            let meter = bound.meter_of.as_ref().and_then(|id| {
                let product = plan.job.products.iter().find(|product| product.id == *id);
                product.map(|product| product.name.as_str())
            });
            let from = format!("/drill/field_speed/{which}/km_per_h");
            let speed = numbers.bound_of_speed(bound.km_per_h, rounded, from);
            json!({ "speed": speed, "meter": meter, "row": bound.row })
        })
    };
    json!({
        "low": bound(&window.low, "low", Rounded::Up),
        "high": bound(&window.high, "high", Rounded::Down),
        "empty": window.is_empty(),
    })
}

/// The setbacks in which a product is off, and what their distances are measured from; null where the job does not say.
fn off_at(job: &Job, nth: usize) -> Vec<Value> {
    let id = job.products.get(nth).map(|product| product.id.as_str());
    let setbacks = job.setbacks.iter();
    let own = setbacks.filter(|setback| setback.products.iter().any(|of| Some(of.as_str()) == id));
    own.map(|setback| json!({ "name": setback.name, "from": setback.measured_from }))
        .collect()
}

/// Products that have to be shut by hand where no map does it, and where.
pub(super) fn by_hand(plan: &Plan) -> Vec<Value> {
    let products = plan.job.products.iter().enumerate();
    let shut = products.filter_map(|(nth, product)| {
        let at = off_at(&plan.job, nth);
        (!at.is_empty()).then(|| json!({ "name": product.name, "at": at }))
    });
    shut.collect()
}

fn drive(plan: &Plan, numbers: &Numbers) -> Value {
    let Some(drive) = &plan.drive.report else {
        return Value::Null;
    };
    let asked = plan.job.drive.as_ref();
    let headland_last = asked.is_some_and(|drive| drive.headland == HeadlandTurn::Last);
    json!({
        "along_curve": drive.along_curve,
        "headland_last": headland_last && drive.headland_rings > 0,
        "heading": numbers.plain(drive.heading_deg, 1, "/drive/heading_deg"),
        "bouts": numbers.plain(drive.interior_bouts as f64, 0, "/drive/interior_bouts"),
        "turns": numbers.plain(drive.turns as f64, 0, "/drive/turns"),
        "rings": numbers.plain(drive.headland_rings as f64, 0, "/drive/headland_rings"),
        "hours": drive.hours.map(|hours| numbers.plain(hours, 1, "/drive/hours")),
    })
}

fn tramlines(plan: &Plan, numbers: &Numbers) -> Value {
    let (Some(rhythm), Some(job)) = (plan.tramlines(), &plan.job.tramline) else {
        return Value::Null;
    };
    let closed: Vec<Value> = rhythm
        .closed
        .iter()
        .map(|bout| {
            let outlets: Vec<String> = bout.outlets.iter().map(ToString::to_string).collect();
            json!({ "bout": bout.bout, "outlets": outlets.join(", ") })
        })
        .collect();
    json!({
        "sprayer": numbers.length(job.sprayer_width_m, "/job/tramline/sprayer_width_m"),
        "bouts": rhythm.drill_bouts,
        "sprayer_bouts": rhythm.sprayer_bouts,
        "half": job.start == crate::job::Start::Half,
        "closed": closed,
        "odd": rhythm.drill_bouts % 2 == 1,
        "first_wheel": numbers.length(rhythm.first_wheels_m[0], "/tramlines/first_wheels_m/0"),
        "round": rhythm.headland.as_ref().map(|round| sprayer_round(round, numbers)),
    })
}

/// The sprayer's round along the border.
fn sprayer_round(round: &Round, numbers: &Numbers) -> Value {
    let closing = round.rings.iter().filter(|ring| !ring.outlets.is_empty());
    let rings = closing.map(|ring| {
        let outlets: Vec<String> = ring.outlets.iter().map(ToString::to_string).collect();
        json!({ "ring": ring.ring, "outlets": outlets.join(", ") })
    });
    let length =
        |metres: f64, key: &str| numbers.length(metres, format!("/tramlines/headland/{key}"));
    json!({
        "outer": length(round.wheels_m[0], "wheels_m/0"),
        "inner": length(round.wheels_m[1], "wheels_m/1"),
        "corner": length(round.corner_m, "corner_m"),
        "rings": rings.collect::<Vec<Value>>(),
    })
}
