//! The jobs of a folder, each with how far it is.

use super::Commands;
use super::desk::Desk;
use super::farm_map::{self, Border, Borders, Files};
use super::ground;
use super::many;
use super::state::Checked;
use super::view;
use super::work::Whole;
use crate::job::{Job, Language, Moisture};
use crate::plan::Plan;
use crate::read::sha256_of;
use crate::write::folder::{MARKER, is_of_plan};
use serde::Serialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// So deep below the folder jobs are looked for, and so many are listed.
const DEEPEST: usize = 2;
const MOST_JOBS: usize = 2000;

/// A job file is no larger than this.
const MOST_BYTES: u64 = 10_000_000;

/// How far a job is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum State {
    /// It cannot be read.
    Faulty,
    /// Settings are open.
    Unfinished,
    /// It can be planned, and its plan is not known here.
    Unplanned,
    /// A decision is open.
    Open,
    /// Nothing is open; its files are not written, or are older than the job.
    Ready,
    /// Its files are written, those for terminals too.
    Written,
}

/// The first job of a folder: `job.toml` in it, or the first by name.
pub(super) fn first(folder: &Path) -> Option<PathBuf> {
    let own = folder.join("job.toml");
    match own.is_file() {
        true => Some(own),
        false => found(folder).into_iter().next(),
    }
}

/// Job files in a folder and below, by name.
fn found(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    look(folder, 0, &mut found);
    found.sort();
    found
}

fn look(folder: &Path, deep: usize, found: &mut Vec<PathBuf>) {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    for entry in entries {
        // Links are not followed.
        let Ok(kind) = entry.file_type() else {
            continue;
        };
        let path = entry.path();
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with('.') || found.len() >= MOST_JOBS {
            continue;
        }
        if kind.is_dir() && deep < DEEPEST && !path.join(MARKER).is_file() {
            look(&path, deep + 1, found);
        } else if kind.is_file() && name.ends_with(".toml") && is_job(&path) {
            found.push(path);
        }
    }
}

/// Whether a file looks like a job: it has a table for the field.
fn is_job(path: &Path) -> bool {
    let small = fs::metadata(path).is_ok_and(|of| of.len() <= MOST_BYTES);
    let text = small.then(|| fs::read_to_string(path).ok()).flatten();
    let document = text.and_then(|text| text.parse::<toml_edit::DocumentMut>().ok());
    document.is_some_and(|document| document.get("field").is_some_and(|of| of.is_table_like()))
}

/// The jobs that a page may change: those of the folder, by their names in it.
pub(super) fn files(home: &Path) -> Vec<(String, PathBuf)> {
    let name = |file: &PathBuf| {
        let short = file.strip_prefix(home).unwrap_or(file);
        short.to_string_lossy().into_owned()
    };
    let files = found(home).into_iter();
    files.map(|file| (name(&file), file)).collect()
}

/// What planning a job has told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Known {
    /// So many decisions are open.
    Open(usize),
    /// It cannot be planned.
    Faulty,
}

/// What was told when jobs were planned, in the background or for an order, each with the SHA-256 of the text that was planned.
pub(super) type ToDecide = BTreeMap<PathBuf, (String, Known)>;

/// All of them, for the page, with their borders in one plane.
pub(super) fn jobs(
    home: &Path,
    desk: Option<&Desk>,
    commands: &Commands,
    known: &mut Borders,
    decided: &ToDecide,
    planning: Option<&Path>,
    language: Language,
) -> Value {
    // One file may be named in several ways.
    let same = |a: &Path, b: &Path| a == b || fs::canonicalize(a).ok() == fs::canonicalize(b).ok();
    let current = desk.map(|desk| (desk.file(), desk));
    let files = files(home);
    let texts: Vec<String> = files
        .iter()
        .map(|(_, file)| (commands.text)(file).unwrap_or_default())
        .collect();
    let mut in_files = Files::default();
    let borders: Vec<Option<Border>> = files
        .iter()
        .zip(&texts)
        .map(|((_, file), text)| farm_map::border(text, file, commands, known, &mut in_files))
        .collect();
    let plane = farm_map::plane(&borders);
    let all = files.iter().zip(&texts).zip(&borders);
    let jobs = all.map(|(((name, file), text), border)| {
        let on_desk = current.as_ref().filter(|(own, _)| same(own, file));
        let whole = on_desk.and_then(|(_, desk)| {
            desk.look(|inner| {
                let whole = inner.whole.clone()?;
                (whole.serial == inner.serial).then_some(whole)
            })
        });
        let checked = Checked::of(text, file, &commands.text);
        let told = decided.get(file).filter(|(of, _)| *of == sha256_of(text));
        let told = told.map(|(_, known)| *known);
        let state = match &checked {
            Checked::Faulty(_) => State::Faulty,
            Checked::Open(_) => State::Unfinished,
            Checked::Job(job) => {
                let plans = whole.iter().flat_map(Whole::all);
                let plans: Vec<&Plan> = plans.map(AsRef::as_ref).collect();
                match (planned(job, file, &plans, commands), told) {
                    (State::Unplanned, Some(Known::Open(0))) => State::Ready,
                    (State::Unplanned, Some(Known::Open(_))) => State::Open,
                    (State::Unplanned, Some(Known::Faulty)) => State::Faulty,
                    (state, _) => state,
                }
            }
        };
        let written: toml::Table = text.parse().unwrap_or_default();
        let word =
            |value: Option<&toml::Value>| value.and_then(toml::Value::as_str).map(str::to_owned);
        let border = border.as_ref().zip(plane.as_ref());
        let numbers = ground::numbers(text).in_language(language);
        let drawn = border.map(|(border, plane)| farm_map::drawn(border, plane, &numbers));
        json!({
            "file": name,
            "name": word(written.get("name")),
            "field": word(written.get("field").and_then(|field| field.get("name"))),
            "state": state,
            "open": match &checked {
                Checked::Open(open) => Some(open.len()),
                _ => whole.as_ref().map(open_in).or(match told {
                    Some(Known::Open(open)) => Some(open),
                    Some(Known::Faulty) | None => None,
                }),
            },
            "current": on_desk.is_some(),
            "planning": planning == Some(file.as_path()),
            "rings": drawn.as_ref().and_then(|drawn| drawn.get("rings")),
            "m2": drawn.as_ref().and_then(|drawn| drawn.get("m2")),
            "area_text": drawn.as_ref().and_then(|drawn| drawn.get("area_text")),
            "products": many::products(text, file),
        })
    });
    json!({ "folder": home, "jobs": jobs.collect::<Vec<_>>() })
}

/// So many decisions are open in all plans of a job, and in those of its spreader.
fn open_in(whole: &Whole) -> usize {
    whole.all().map(|plan| view::decisions::open_in(plan)).sum()
}

/// How far a job is that can be planned; `plans`: those on the desk, two where the seedbed is not known.
fn planned(job: &Job, file: &Path, plans: &[&Plan], commands: &Commands) -> State {
    let folder = (commands.plan_folder)(file);
    let folders: Vec<PathBuf> = match job.is_for_two_seedbeds() {
        true => Moisture::BOTH.map(|of| folder.join(of.word())).into(),
        false => vec![folder],
    };
    let changed = |path: &Path| fs::metadata(path).and_then(|of| of.modified()).ok();
    let job_changed = changed(file);
    let held_back = folders.iter().any(|folder| is_held_back(folder));
    if plans.is_empty() {
        let written = folders.iter().all(|folder| {
            let marker = folder.join(MARKER);
            marker.is_file() && changed(&marker) >= job_changed
        });
        return match (written, held_back) {
            (false, _) => State::Unplanned,
            (true, true) => State::Open,
            (true, false) => State::Written,
        };
    }
    let is_written = |plan: &&Plan| folders.iter().any(|folder| is_of_plan(folder, &plan.id));
    let written = plans.iter().all(is_written);
    let waits = plans.iter().any(|plan| plan.waits());
    match (waits || (written && held_back), written) {
        (true, _) => State::Open,
        (false, true) => State::Written,
        (false, false) => State::Ready,
    }
}

/// Whether a plan that was written, or that of its spreader, waits for a decision.
fn is_held_back(folder: &Path) -> bool {
    let below = fs::read_dir(folder).into_iter().flatten().flatten();
    let below = below.map(|entry| entry.path());
    std::iter::once(folder.to_path_buf())
        .chain(below)
        .any(|own| own.join("terminal").join("NOT-READY.txt").is_file())
}
