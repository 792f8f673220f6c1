//! What the page is told: plain values, made from what lies on the desk. Numbers are metric; beside those that people read
//! stands their text in the units of the job.

pub mod choices;
pub mod decisions;
pub mod drive;
pub mod explain;
mod ground;
mod held;
mod levers;
pub mod picture;
mod products;
pub mod shades;
mod trials;
mod values;

use super::desk::{Desk, Inner};
use super::key::{KeyPath, Step};
use super::state::Checked;
use super::work::{Shown, Sketch, Whole, Work};
use crate::agronomy::seedbed;
use crate::coordinates::LonLat;
use crate::findings::{Fault, Severity};
use crate::frame::Frame;
use crate::job::{Job, Language, Moisture, OpenSetting};
use crate::plan::Plan;
use crate::report::number::Numbers;
use serde_json::{Value, json};
use std::sync::Arc;

/// Places travel in centimetres of the field's plane.
pub const PER_M: f64 = 100.0;

/// A place of the plane, metres, as it travels.
pub(super) fn placed([x, y]: [f64; 2]) -> [i64; 2] {
    [x, y].map(|metres| (metres * PER_M).round() as i64)
}

/// A place in degrees as it travels.
pub(super) fn placed_lon_lat(lon_lat: LonLat, frame: &Frame) -> [i64; 2] {
    placed(frame.to_plane(lon_lat).pair())
}

/// Everything that can be told without going to the geometry again, taken from the desk at one moment.
struct Moment {
    done: Vec<String>,
    undone: Vec<String>,
    text: Arc<str>,
    file: String,
    checked: Arc<Checked>,
    serial: u64,
    outside: bool,
    fault: Option<Box<Fault>>,
    shown: Option<Shown>,
    sketch: Option<Sketch>,
    whole: Option<Whole>,
    work: Work,
    counts: super::work::Counts,
}

impl Moment {
    fn of(inner: &Inner) -> Self {
        Self {
            done: inner.edit.done().map(str::to_owned).collect(),
            undone: inner.edit.undone().map(str::to_owned).collect(),
            text: Arc::clone(inner.edit.text()),
            file: inner.edit.file().display().to_string(),
            checked: Arc::clone(&inner.checked),
            serial: inner.serial,
            outside: inner.outside,
            fault: inner.fault.as_ref().map(|(_, fault)| fault.clone()),
            shown: inner.shown.clone(),
            sketch: inner.sketch.clone(),
            whole: inner.whole.clone(),
            work: inner.work.clone(),
            counts: inner.counts,
        }
    }
}

/// The state of a desk; `beat` is the number of the moment.
pub fn state(desk: &Desk, beat: u64) -> Value {
    let now = desk.look(Moment::of);
    let numbers = match now.checked.as_ref() {
        Checked::Job(job) => Numbers::of_pages(job.report),
        _ => super::ground::numbers(&now.text),
    };
    let open = match now.checked.as_ref() {
        Checked::Open(open) => open.as_slice(),
        _ => &[],
    };
    let (values, lines) = values::of(&now.text);
    json!({
        "beat": beat,
        "job": {
            "file": now.file,
            "name": values.get("name"),
            "field": values.pointer("/field/name"),
            "farm": values.pointer("/field/farm"),
            "values": values,
        },
        "language": numbers.language(),
        "units": units(&numbers),
        "history": { "done": now.done, "undone": now.undone },
        "outside": now.outside,
        "fault": now.fault.as_ref().map(|fault| fault_of(fault, &lines)),
        "open_settings": open.iter().map(open_setting).collect::<Vec<_>>(),
        "work": now.work,
        "counts": now.counts,
        "plan": now.shown.as_ref().map(|shown| plan(shown, &now, &numbers)),
        "ground": match &now.shown {
            Some(_) => None,
            None => now.sketch.as_ref().and_then(|sketch| sketch.shown.as_ref()).map(|shown| ground(shown, &numbers)),
        },
        "ground_fault": match now.shown {
            Some(_) => None,
            None => now.sketch.as_ref().and_then(|sketch| sketch.fault.as_deref()).map(fault),
        },
    })
}

/// The land of a job that has no plan yet.
fn ground(shown: &Shown, numbers: &Numbers) -> Value {
    let rows = shown.rows.iter().enumerate();
    let rows = rows.map(|(nth, row)| json!({ "row": nth + 1, "setbacks": row.facts.setbacks }));
    let area_m2: f64 = shown.rows.iter().map(|row| row.area_m2).sum();
    json!({
        "picture": shown.picture,
        "rows": rows.collect::<Vec<_>>(),
        "area_text": area(numbers, area_m2),
        "maps": ground::maps(shown, numbers),
    })
}

/// The state where no job lies on the desk, in the language of the machine.
pub fn no_job(beat: u64, language: Language) -> Value {
    json!({
        "beat": beat,
        "job": null,
        "language": language,
        "units": units(&Numbers::METRIC.in_language(language)),
        "history": { "done": [], "undone": [] },
        "outside": false,
        "fault": null,
        "open_settings": [],
        "work": Work::default(),
        "counts": super::work::Counts::default(),
        "plan": null,
        "ground": null,
        "ground_fault": null,
    })
}

fn units(numbers: &Numbers) -> Value {
    json!({
        "system": if numbers.is_us() { "us_customary" } else { "metric" },
        "rate": numbers.rate_unit(),
        "area": numbers.area_unit(),
        "mass": numbers.mass_unit(),
        "length": numbers.length_unit(),
        "speed": numbers.speed_unit(),
        "volume": numbers.volume_unit(),
    })
}

/// A fault for the page; with the key that it is about where its line has one.
pub fn fault(fault: &Fault) -> Value {
    fault_of(fault, &[])
}

fn fault_of(fault: &Fault, lines: &[(usize, KeyPath)]) -> Value {
    let of_line = |line: usize| {
        lines
            .iter()
            .find(|(at, _)| *at == line)
            .map(|(_, path)| path)
    };
    json!({
        "code": fault.code,
        "blame": fault.blame,
        "place": fault.place,
        "path": fault.place.line.and_then(of_line),
        "found": fault.found,
        "allowed": fault.allowed,
        "next": fault.next,
        "text": fault.to_string(),
    })
}

fn open_setting(open: &OpenSetting) -> Value {
    let steps = open.path.iter().map(|step| match step.parse::<usize>() {
        Ok(nth) => Step::Nth(nth.saturating_sub(1)),
        Err(_) => Step::Key(step.clone()),
    });
    json!({
        "path": KeyPath(steps.collect()),
        "label": open.path.join("."),
        "paper": open.paper(),
        "line": open.line,
    })
}

fn plan(shown: &Shown, now: &Moment, numbers: &Numbers) -> Value {
    let job = &shown.job;
    let whole = now.whole.as_ref();
    let known = whole.filter(|whole| same_products(&whole.plan, job));
    let area_m2: f64 = shown.rows.iter().map(|row| row.area_m2).sum();
    json!({
        "current": shown.serial == now.serial && now.fault.is_none(),
        "whole": whole.is_some_and(|whole| whole.serial == now.serial),
        "id": whole.map(|whole| &whole.plan.id),
        "picture": shown.picture,
        "drive": whole.filter(|whole| !whole.plan.drive.bouts.is_empty()).map(Whole::drive),
        "entrance": job.field.entrance.map(|at| placed_lon_lat(at.lon_lat(), &shown.prepared.frame)),
        "area_m2": area_m2,
        "area_text": area(numbers, area_m2),
        "layers": job.layers.iter().map(|layer| &layer.name).collect::<Vec<_>>(),
        "rows": rows(shown, numbers),
        "products": products::of(shown, known.map(|whole| whole.plan.as_ref()), numbers),
        "balances": products::balances(shown, known.map(|whole| whole.plan.as_ref()), numbers),
        "spread": known.map(products::spread).unwrap_or_default(),
        "trials": known.map(|whole| trials::of(&whole.plan, numbers)).unwrap_or_default(),
        "levers": levers::of(&now.text, job),
        "seedbeds": seedbeds(shown, whole),
        "decisions": whole.map(|whole| decisions::of_all(&whole.plan)).unwrap_or_default(),
        "findings": whole.map(|whole| findings(&whole.plan)).unwrap_or_default(),
    })
}

/// Land with the same facts, of the plan of the drill or of a spreader.
fn rows(shown: &Shown, numbers: &Numbers) -> Vec<Value> {
    let job = &shown.job;
    let rows = shown.rows.iter().enumerate().map(|(nth, row)| {
        let named = |all: Vec<&String>| all.into_iter().cloned().collect::<Vec<String>>();
        let special = row.facts.special_areas.iter();
        let special = special.filter_map(|&nth| job.special_areas.get(nth).map(|of| &of.name));
        let setbacks = row.facts.setbacks.iter();
        let setbacks = setbacks.filter_map(|&nth| job.setbacks.get(nth).map(|of| &of.name));
        json!({
            "row": nth + 1,
            "part": row.facts.part.word(),
            "classes": row.facts.classes,
            "special_areas": named(special.collect()),
            "setbacks": named(setbacks.collect()),
            "m2": row.area_m2,
            "area_text": area(numbers, row.area_m2),
        })
    });
    rows.collect()
}

/// Of two plans, that for a moist and that for a dry seedbed: which is shown, and what is open in each. Null for one plan.
fn seedbeds(shown: &Shown, whole: Option<&Whole>) -> Value {
    let Some(seen) = shown.job.moisture() else {
        return Value::Null;
    };
    let both = Moisture::BOTH.iter().rev().map(|moisture| {
        let plan = whole.and_then(|whole| whole.in_seedbed(Some(*moisture)));
        json!({
            "seedbed": moisture,
            "id": plan.map(|plan| &plan.id),
            "open": plan.map(|plan| decisions::open_in(plan)),
        })
    });
    json!({
        "seen": seen,
        "both": both.collect::<Vec<_>>(),
        "how": seedbed::how_to_choose(),
    })
}

/// Whether an older plan says something about the products of this job.
fn same_products(plan: &Plan, job: &Job) -> bool {
    let ids = |job: &Job| {
        job.products
            .iter()
            .map(|of| of.id.clone())
            .collect::<Vec<_>>()
    };
    ids(&plan.job) == ids(job)
}

fn findings(plan: &Plan) -> Vec<Value> {
    let others = plan.findings.iter();
    let others = others.filter(|finding| finding.severity != Severity::Decision);
    let told = others.map(|finding| {
        let at = finding.place.lon_lat;
        json!({
            "severity": finding.severity,
            "code": finding.code,
            "message": finding.message,
            "place": finding.place,
            "at": at.map(|lon_lat| placed_lon_lat(lon_lat, &plan.land.frame)),
            "area_text": finding.area_m2.map(|m2| area(&Numbers::of_pages(plan.job.report), m2)),
        })
    });
    told.collect()
}

/// A name that came with a request, as a message can hold it.
pub(super) fn short(name: &str) -> String {
    name.chars().take(120).filter(|c| !c.is_control()).collect()
}

/// An area with its unit.
pub(in crate::edit) fn area(numbers: &Numbers, m2: f64) -> String {
    format!("{}\u{a0}{}", numbers.area_text(m2), numbers.area_unit())
}

/// A mass with its unit.
pub(in crate::edit) fn mass(numbers: &Numbers, kg: f64) -> String {
    format!("{}\u{a0}{}", numbers.mass_text(kg), numbers.mass_unit())
}

/// A rate with its unit.
pub(super) fn rate(numbers: &Numbers, kg_per_ha: f64) -> String {
    format!(
        "{}\u{a0}{}",
        numbers.rate_text(kg_per_ha),
        numbers.rate_unit()
    )
}

/// Whether a job names this file as one to read.
pub fn names_file(text: &str, name: &str) -> bool {
    fn names(value: &Value, name: &str) -> bool {
        match value {
            Value::Array(items) => items.iter().any(|item| names(item, name)),
            Value::Object(entries) => entries.iter().any(|(key, value)| {
                (key == "file" && value.as_str() == Some(name)) || names(value, name)
            }),
            _ => false,
        }
    }
    names(&values::of(text).0, name)
}

/// Brings what a file holds to the page: its outlines, in degrees, come into the plane of the job, or, without one, into a plane
/// about their own middle. Gives the plane, for the files that come after it.
pub fn described(value: &mut Value, name: &str, frame: Option<Frame>) -> Option<Frame> {
    value["file"] = json!(name);
    let mut frame = frame;
    let layers = value.get_mut("layers").and_then(Value::as_array_mut);
    for layer in layers.into_iter().flatten() {
        placed_of(layer, &mut frame);
    }
    if let Some(raster) = value.get_mut("raster").filter(|raster| raster.is_object()) {
        placed_of(raster, &mut frame);
    }
    frame
}

/// Of a described file what a map of its values shows: the points of a column, or the raster.
pub fn samples(described: &Value, column: Option<&str>) -> Value {
    let raster = described.get("raster").filter(|raster| raster.is_object());
    let first = described.pointer("/layers/0");
    let of_column = first.and_then(|layer| {
        let all = layer.get("values")?.as_array()?;
        let named = |of: &&Value| of.get("name").and_then(Value::as_str) == column;
        all.iter().find(named)
    });
    json!({
        "points": first.and_then(|layer| layer.get("points")),
        "steps": of_column.and_then(|of| of.get("steps")),
        "raster": raster,
        "column": column,
        "legend": of_column.or(raster).and_then(|of| of.get("legend")),
    })
}

/// Brings the outlines of a layer or a raster into the plane.
fn placed_of(layer: &mut Value, frame: &mut Option<Frame>) {
    let extent: Vec<f64> = layer
        .get("extent")
        .and_then(Value::as_array)
        .map(|all| all.iter().filter_map(Value::as_f64).collect())
        .unwrap_or_default();
    if let (None, [west, south, east, north]) = (&frame, extent.as_slice()) {
        *frame = Some(Frame::about((west + east) / 2.0, (south + north) / 2.0));
    }
    let Some(frame) = frame else { return };
    let lines = |all: &Value, placed: fn(Vec<[i64; 2]>) -> Vec<i64>| -> Option<Value> {
        let all = all.as_array()?.iter();
        let all = all.map(|line| placed(in_plane(line, frame)));
        Some(json!(all.collect::<Vec<_>>()))
    };
    let outline: fn(Vec<[i64; 2]>) -> Vec<i64> = |places| picture::steps(places.into_iter());
    for (key, placed) in [
        ("rings", outline),
        ("points", every_step),
        ("corners", every_step),
    ] {
        if let Some(there) = layer.get(key) {
            layer[key] = lines(there, placed).unwrap_or(Value::Null);
        }
    }
    let fields = layer
        .pointer_mut("/fields/all")
        .and_then(Value::as_array_mut);
    for field in fields.into_iter().flatten() {
        let rings = field.get("rings").and_then(|rings| lines(rings, outline));
        if let Some(rings) = rings {
            field["rings"] = rings;
        }
    }
}

/// Places as the first and then the step from each to the next, two in one place both: each has a value of its own.
fn every_step(places: Vec<[i64; 2]>) -> Vec<i64> {
    let mut last = [0, 0];
    let steps = places.into_iter().flat_map(|at| {
        let step = [at[0] - last[0], at[1] - last[1]];
        last = at;
        step
    });
    steps.collect()
}

fn in_plane(line: &Value, frame: &Frame) -> Vec<[i64; 2]> {
    let places = line.as_array().into_iter().flatten().filter_map(|place| {
        let number = |nth: usize| place.get(nth).and_then(Value::as_f64);
        Some(placed_lon_lat(LonLat::new(number(0)?, number(1)?), frame))
    });
    places.collect()
}
