//! Reading a `plan.json`: the same checks and the same error for every command.

use super::{FORMAT, MADE_BY, VERSION};
use crate::findings::{Fault, Outcome, Place};
use crate::read::no_endless;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::error::Category;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// No plan.json is so large; a file that is larger is not read into memory.
const MOST_BYTES: u64 = 500_000_000;

/// What every error allows.
const ALLOWED: &str = "a plan.json as 'twinsow plan' has written it";

/// What tells a plan from other files. Texts, so that the error can name what was found.
#[derive(Deserialize)]
struct Head {
    format: Option<String>,
    version: Option<u64>,
    made_by: Option<String>,
}

/// The `plan.json` that a path stands for: itself, or that of the folder of a plan.
pub fn file_of(path: &Path) -> PathBuf {
    match path.is_dir() {
        true => path.join("plan.json"),
        false => path.to_path_buf(),
    }
}

/// Reads the whole document or one of its parts from a `plan.json`, or from that in the folder of a plan.
///
/// # Errors
/// A file that is not there, may not be read, is larger than 500 MB, is no JSON or no plan; one of another version;
/// one without a key that is needed, or with a value that it cannot have.
pub fn read<T: DeserializeOwned>(path: &Path) -> Outcome<T> {
    let path = &file_of(path);
    let text = bytes(path)?;
    let head: Head = serde_json::from_slice(&text).map_err(|error| no_plan(path, &error))?;
    check(path, &head)?;
    serde_json::from_slice(&text).or_else(|_| {
        // Once more, now keeping the path of keys: that would slow down every reading.
        let mut from = serde_json::Deserializer::from_slice(&text);
        serde_path_to_error::deserialize(&mut from)
            .map_err(|error| bad_key(path, head.made_by.as_deref(), &error))
    })
}

fn bytes(path: &Path) -> Outcome<Vec<u8>> {
    no_endless(path)?;
    let unreadable = |error: std::io::Error| {
        let found = format!("The plan cannot be read ({error})");
        let next = "Name the folder of a plan or the plan.json in it, or plan the job again.";
        let fault = match error.kind() {
            ErrorKind::NotFound | ErrorKind::NotADirectory | ErrorKind::IsADirectory => {
                Fault::input
            }
            _ => Fault::machine,
        };
        fault(
            "plan_file.unreadable",
            Place::file(path),
            found,
            ALLOWED,
            next,
        )
    };
    let length = fs::metadata(path).map_err(unreadable)?.len();
    if length > MOST_BYTES {
        return Err(Fault::input(
            "plan_file.too_large",
            Place::file(path),
            format!("The file has {length} bytes"),
            format!("{ALLOWED}, of up to {MOST_BYTES} bytes"),
            "Name the folder of a plan or the plan.json in it.",
        ));
    }
    fs::read(path).map_err(unreadable)
}

/// Refuses another format or version.
fn check(path: &Path, head: &Head) -> Outcome<()> {
    let found = match (head.format.as_deref(), head.version) {
        (Some(FORMAT), Some(version)) if version == u64::from(VERSION) => return Ok(()),
        (Some(FORMAT), Some(version)) => {
            let age = match version < u64::from(VERSION) {
                true => "older",
                false => "newer",
            };
            return Err(Fault::input(
                "plan_file.version",
                Place::file(path),
                format!(
                    "This plan is of layout version {version}, {age} than what this program reads{}",
                    by(head.made_by.as_deref())
                ),
                format!("'{FORMAT}' version {VERSION}"),
                "Plan the job again with this program, or use the program that made the plan.",
            ));
        }
        (Some(FORMAT), None) => "This is no plan of this program: it has no version".to_owned(),
        (Some(other), _) => {
            let other = short(other);
            format!("This is no plan of this program: its format is '{other}'")
        }
        (None, _) => "This is no plan of this program: it has no key 'format'".to_owned(),
    };
    Err(Fault::input(
        "plan_file.no_plan",
        Place::file(path),
        found,
        format!("{ALLOWED}: format '{FORMAT}', version {VERSION}"),
        "Name the folder of a plan or the plan.json in it.",
    ))
}

/// No JSON, or JSON of another make.
fn no_plan(path: &Path, error: &serde_json::Error) -> Box<Fault> {
    let found = match error.classify() {
        Category::Data => format!("This is no plan of this program ({error})"),
        _ => format!("The plan is no JSON that can be read ({error})"),
    };
    Fault::input(
        "plan_file.no_plan",
        Place::file(path).line(error.line().max(1)),
        found,
        ALLOWED,
        "Name the folder of a plan or the plan.json in it, or plan the job again.",
    )
}

/// A key that is missing, not known, or holds what it cannot.
fn bad_key(
    path: &Path,
    made_by: Option<&str>,
    error: &serde_path_to_error::Error<serde_json::Error>,
) -> Box<Fault> {
    let keys = error.path();
    let below = match keys.iter().next() {
        Some(_) => format!("'{keys}'"),
        None => "the outermost object".to_owned(),
    };
    Fault::input(
        "plan_file.key",
        Place::file(path).line(error.inner().line().max(1)),
        format!(
            "The plan is not as it was written: in {below}, {}{}",
            error.inner(),
            by(made_by)
        ),
        format!("{ALLOWED}; 'twinsow schema --plan' prints its keys"),
        "Plan the job again with this program.",
    )
}

/// Who made the plan, where that was not this program.
fn by(made_by: Option<&str>) -> String {
    match made_by {
        Some(other) if other != MADE_BY => {
            format!("; {} has made it, this is {MADE_BY}", short(other))
        }
        _ => String::new(),
    }
}

/// A text of another file, as far as a message has room for it.
fn short(text: &str) -> String {
    text.chars().take(60).collect()
}
