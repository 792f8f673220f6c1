//! `twinsow edit`: a job on a page of this machine's own browser.
//!
//! What is edited is a pure state ([`state`]): the text of a job and the actions ([`action`]) that made it what it is. A desk
//! ([`desk`]) holds one, brings each action to the file at once, and lets the engine work out what it touches ([`stage`],
//! [`work`]). The server ([`server`]) lets one browser in and hands out plain values ([`view`]); the page draws and points,
//! and nothing else. What it promises: docs/commands.md.

pub mod action;
pub mod assets;
pub mod by_hand;
pub mod border;
mod border_run;
pub mod desk;
pub mod draw;
mod drawn_files;
mod farm;
mod farm_map;
pub mod ground;
pub mod key;
pub mod many;
mod resolve;
pub mod server;
mod split;
pub mod stage;
pub mod state;
mod stick;
pub mod view;
pub mod work;

use crate::findings::Outcome;
use crate::frame::Near;
use crate::job::{Language, Source};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What the command line does and the page asks for: one way to do each.
#[derive(Clone, Copy)]
pub struct Commands {
    /// Reads the text of a job file or of a machine file.
    pub text: fn(&Path) -> Outcome<String>,
    /// Plans a job file and writes all files, as `twinsow plan` does.
    pub plan: fn(&Path) -> Outcome<Handed>,
    /// The folder that `twinsow plan` writes for a job file.
    pub plan_folder: fn(&Path) -> PathBuf,
    /// What a file holds, as `twinsow describe` finds it; outlines in degrees, numbers as a language writes them.
    /// Of a file without a CRS also which ones would put it where a field lies.
    pub describe: fn(&Source, Option<&Near>, Language) -> Outcome<Value>,
    /// The text of a new job, as `twinsow new` writes it.
    pub new: fn(&NewJob) -> Outcome<PathBuf>,
    /// One order list over these jobs, as `twinsow order` makes it.
    pub order: fn(&[PathBuf]) -> Outcome<Value>,
    /// The fields of a job with `split_by`, by the values that tell them apart.
    pub fields: fn(&Path) -> Outcome<Vec<String>>,
    /// Makes one stick of the folders of plans, as `twinsow stick` does, in a folder of its own.
    pub stick: fn(&[PathBuf], &Path) -> Outcome<()>,
    /// Today, YYYY-MM-DD.
    pub today: fn() -> String,
    /// The language of a page without a job, and of jobs that are begun on it.
    pub language: Language,
    /// Runs work; a panic in it becomes a fault.
    pub guard: fn(&mut dyn FnMut() -> Outcome<()>) -> Outcome<()>,
}

/// What a plan has written.
#[derive(Debug, Clone, Serialize)]
pub struct Handed {
    /// Where the files lie.
    pub folder: PathBuf,
    /// The files.
    pub files: Vec<HandedFile>,
    /// No decision is open.
    pub ready: bool,
}

/// A file of a plan.
#[derive(Debug, Clone, Serialize)]
pub struct HandedFile {
    /// Relative to the folder.
    pub path: PathBuf,
    /// Its size.
    pub bytes: u64,
    /// One line on what it is for.
    pub what: String,
}

/// What a new job is made from.
#[derive(Debug, Clone)]
pub struct NewJob {
    /// Folder for the job file.
    pub folder: PathBuf,
    /// File with the polygons of the field.
    pub boundary: Source,
    /// Which of them are the field.
    pub field: WhichField,
    /// Files with zones, or with values that become zones.
    pub layers: Vec<NewLayer>,
    /// Language of its pages.
    pub language: Language,
}

/// A zone layer of a new job.
#[derive(Debug, Clone, Default)]
pub struct NewLayer {
    /// The file, with what it does not say itself.
    pub source: Source,
    /// Attribute with the classes, or column with the values; what is most plausible without it.
    pub column: Option<String>,
}

/// Which features of a boundary file are the field.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum WhichField {
    /// Not known yet: asked for where an attribute tells several apart.
    #[default]
    Unsaid,
    /// Those with this value of some attribute; of task data a name or an id.
    Named(String),
    /// Those with these values of these attributes.
    Only(BTreeMap<String, String>),
    /// All: parts of one field.
    Parts,
    /// Each value of this attribute is a field of its own.
    Each(String),
}
