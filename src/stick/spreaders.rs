//! The spreader's plans: which folders hold them, and that none lies on one stick with the drill's.

use super::field::{Field, Gathered, plans_in};
use crate::document::{self, ToOrder};
use crate::findings::{Fault, Outcome, Place};
use crate::write::NEVER_TOGETHER;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// The machine that a plan is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Machine {
    /// The drill.
    Drill,
    /// The spreader.
    Spreader,
}

impl Machine {
    fn of(field: &Field) -> Self {
        match field.plan.spreader_of {
            Some(_) => Self::Spreader,
            None => Self::Drill,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Drill => "the drill",
            Self::Spreader => "the spreader",
        }
    }
}

impl Gathered {
    /// The machine that the plans are for: all of them are for one. `None` without a plan.
    pub fn machine(&self) -> Option<Machine> {
        self.fields.first().map(Machine::of)
    }
}

/// The fault of a stick or plan that is for one machine, where it comes together with what is for the other.
pub fn other_machine(place: &Path, is: Machine, rest: Machine) -> Box<Fault> {
    Fault::input(
        "stick.other_machine",
        Place::file(place),
        format!(
            "This is for {}, and the plan that goes with it for {}: {NEVER_TOGETHER}",
            is.words(),
            rest.words()
        ),
        "a stick and plans for one machine",
        "Name another folder for the stick, one for each machine: the drill's plans without --spreader, and the same plans with it. Nothing was changed.",
    )
}

/// The folders of the spreader's plans that belong to plans of a drill.
pub struct OfSpreader {
    /// In the order of the drill's plans.
    pub folders: Vec<PathBuf>,
    /// Folders of plans with nothing for a spreader.
    pub without: Vec<PathBuf>,
}

impl OfSpreader {
    /// Finds them: each path is one that [`plans_in`] takes.
    ///
    /// # Errors
    /// A path without plans; a plan that cannot be read; one whose files for the spreader were not written; nothing for a
    /// spreader in any of them.
    pub fn read(paths: &[PathBuf]) -> Outcome<Self> {
        let mut found = Self {
            folders: Vec::new(),
            without: Vec::new(),
        };
        for path in paths {
            for folder in plans_in(path)? {
                let plan: ToOrder = document::read(&folder)?;
                let own = plan
                    .tally
                    .balances
                    .iter()
                    .filter_map(|of| of.spreader.as_ref());
                let own: Vec<_> = own.collect();
                if own.iter().any(|own| own.folder.is_empty()) {
                    return Err(not_written(&folder, &plan.id));
                }
                let own: Vec<PathBuf> = own.iter().map(|own| folder.join(&own.folder)).collect();
                match own.is_empty() {
                    true => found.without.push(folder),
                    false => found.folders.extend(own),
                }
            }
        }
        match found.folders.is_empty() {
            false => Ok(found),
            true => Err(nothing(
                found
                    .without
                    .first()
                    .map_or(Path::new(""), PathBuf::as_path),
            )),
        }
    }
}

fn not_written(folder: &Path, id: &str) -> Box<Fault> {
    Fault::input(
        "stick.spreader_not_written",
        Place::file(folder),
        format!("Plan {id} was written without the files for its spreader (--only)"),
        "the folder of a plan with the spreader's task data in a folder of its own",
        "Plan the job again, with task-data among the forms.",
    )
}

fn nothing(folder: &Path) -> Box<Fault> {
    Fault::input(
        "stick.no_spreader",
        Place::file(folder),
        "No plan that was named has anything for a spreader",
        "plans of jobs with [spreader], with something left to broadcast",
        "Add [spreader] to the job and plan it again, or leave --spreader out.",
    )
}

/// Refuses plans of drill and spreader on one stick.
///
/// # Errors
/// The first plan of the other machine.
pub(super) fn one_machine(fields: &[Field]) -> Outcome<()> {
    let Some(first) = fields.first() else {
        return Ok(());
    };
    let mut all = fields.iter();
    let Some(other) = all.find(|field| Machine::of(field) != Machine::of(first)) else {
        return Ok(());
    };
    let machine = |field: &Field| Machine::of(field).words();
    Err(Fault::input(
        "stick.drill_and_spreader",
        Place::file(&other.folder),
        format!(
            "Plan {} is for {}, and plan {} for {}: {NEVER_TOGETHER}",
            first.plan.id,
            machine(first),
            other.plan.id,
            machine(other)
        ),
        "plans for one machine",
        "Make a stick for each: the drill's plans without --spreader, and the same plans with --spreader into another folder.",
    ))
}
