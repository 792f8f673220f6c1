//! Requests about all fields of the folder: the map of them, one order, the same change for many.

use super::super::farm::Known;
use super::super::many::{self, Change};
use super::super::{farm, ground, view};
use super::Room;
use super::routes::read;
use crate::edit::work::held;
use crate::findings::{Fault, Outcome, Place};
use crate::read::sha256_of;
use crate::report::number::Numbers;
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Jobs of the folder, by their names in it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    files: Vec<String>,
}

/// A change that is looked at first.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Look {
    files: Vec<String>,
    change: Change,
}

/// A change that is made.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Make {
    /// Each with the SHA-256 of the text that the change was told of.
    files: Vec<(String, String)>,
    change: Change,
    /// What it is called when it can be taken back.
    words: String,
}

/// All fields with their state and borders, and what was changed in many of them last.
pub(super) fn jobs(room: &Room) -> Value {
    let mut value = farm::jobs(
        &room.home,
        room.desk().as_deref(),
        &room.commands,
        &mut held(&room.borders),
        &held(&room.decided),
        room.planner.now().as_deref(),
        room.language(),
    );
    value["of_folder"] = json!(room.of_folder);
    let many = held(&room.many);
    value["undo"] = match many.last() {
        Some(done) => json!({ "words": done.words, "count": done.count() }),
        None => Value::Null,
    };
    value
}

/// One order over some of them.
pub(super) fn order(room: &Room, body: &[u8]) -> Outcome<Value> {
    let wish: Fields = read(body)?;
    let known = known(room);
    let files = wish.files.iter().map(|name| file(&known, name));
    let files: Vec<PathBuf> = files.collect::<Outcome<_>>()?;
    let texts = files.iter().map(|file| (room.commands.text)(file));
    let texts: Vec<String> = texts.collect::<Outcome<_>>()?;
    let mut order = (room.commands.order)(&files)?;
    // To order them they were planned: which of them are ready is known now.
    let plans = order.get("plans").and_then(Value::as_array);
    for (file, text) in files.iter().zip(&texts) {
        let name = file.display().to_string();
        let own = plans.into_iter().flatten();
        let own = own.filter(|plan| plan.get("file").and_then(Value::as_str) == Some(&name));
        let open = own
            .filter_map(|plan| plan.get("to_decide")?.as_u64())
            .sum::<u64>();
        let open = usize::try_from(open).unwrap_or(usize::MAX);
        held(&room.decided).insert(file.clone(), (sha256_of(text), Known::Open(open)));
    }
    in_units(&mut order, &texts);
    Ok(order)
}

/// Puts beside each mass its text: in pounds where all jobs have US units, else in kilograms.
fn in_units(order: &mut Value, texts: &[String]) {
    let us = texts.iter().all(|text| ground::numbers(text).is_us());
    let numbers = texts.first().map(|text| ground::numbers(text));
    let numbers = numbers.filter(|_| us).unwrap_or(Numbers::METRIC);
    order["mass_unit"] = json!(numbers.mass_unit());
    let lines = order.get_mut("order").and_then(Value::as_array_mut);
    for line in lines.into_iter().flatten() {
        let kg = |pointer: &str| line.pointer(pointer).and_then(Value::as_f64);
        let order = kg("/order_kg").map(|kg| numbers.mass_text(kg));
        let pack = kg("/article/pack_kg").map(|kg| view::mass(&numbers, kg));
        line["order_text"] = json!(order);
        line["pack_text"] = json!(pack);
    }
}

/// What a change would do.
pub(super) fn look(room: &Room, body: &[u8]) -> Outcome<Value> {
    let wish: Look = read(body)?;
    let known = known(room);
    let files = wish.files.into_iter().map(|name| {
        let file = file(&known, &name)?;
        Ok((name, file))
    });
    let files: Vec<(String, PathBuf)> = files.collect::<Outcome<_>>()?;
    Ok(json!({ "fields": many::preview(&wish.change, &files, &room.commands) }))
}

/// Makes a change in many jobs.
pub(super) fn make(room: &Room, body: &[u8]) -> Outcome<Value> {
    let wish: Make = read(body)?;
    let known = known(room);
    let files = wish
        .files
        .into_iter()
        .map(|(name, sha256)| Ok((file(&known, &name)?, sha256)));
    let files: Vec<(PathBuf, String)> = files.collect::<Outcome<_>>()?;
    let mut many = held(&room.many);
    let desk = room.desk();
    let done = many::make(
        &wish.change,
        &wish.words,
        &files,
        desk.as_deref(),
        &room.commands,
    )?;
    let count = done.count();
    if count > 0 {
        many.push(done);
    }
    room.beats.send_modify(|beat| *beat += 1);
    Ok(json!({ "changed": count }))
}

/// Takes the latest change of many jobs back.
pub(super) fn undo(room: &Room) -> Outcome<Value> {
    let mut many = held(&room.many);
    let Some(done) = many.last() else {
        return Err(nothing_done());
    };
    many::take_back(done, room.desk().as_deref(), &room.commands)?;
    let count = done.count();
    many.pop();
    room.beats.send_modify(|beat| *beat += 1);
    Ok(json!({ "changed": count }))
}

/// Jobs of the folder by their names in it; to find them every TOML file of it is read.
fn known(room: &Room) -> BTreeMap<String, PathBuf> {
    farm::files(&room.home).into_iter().collect()
}

/// A job of the folder; no other file is read or written by these requests.
fn file(known: &BTreeMap<String, PathBuf>, name: &str) -> Outcome<PathBuf> {
    known.get(name).cloned().ok_or_else(|| {
        Fault::input(
            super::files::NOT_BELOW,
            Place::nowhere(),
            format!("there is no job '{}' in the folder", view::short(name)),
            "a job of the folder",
            "look at the fields again",
        )
    })
}

fn nothing_done() -> Box<Fault> {
    Fault::input(
        "edit.no_turn",
        Place::nowhere(),
        "nothing was changed in many fields that could be taken back",
        "a change made here",
        "open a field to undo what was done in it alone",
    )
}
