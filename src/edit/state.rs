//! What is being edited: the text of a job, and what was done to it. Pure: no file is opened here.

use super::action::Action;
use super::stage::Stage;
use crate::findings::{Fault, Outcome};
use crate::job::{Job, OpenSetting, open_settings};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Gives the text of a machine file that a job names.
pub type Reader<'a> = &'a dyn Fn(&Path) -> Outcome<String>;

/// What a text makes.
pub enum Checked {
    /// A job that can be planned.
    Job(Box<Job>),
    /// One in which settings are open and nothing else is wrong as far as can be seen.
    Open(Vec<OpenSetting>),
    /// None.
    Faulty(Box<Fault>),
}

impl Checked {
    /// Reads a text.
    pub fn of(text: &str, file: &Path, reader: Reader) -> Self {
        let fault = match Job::parse_with(text, file, reader) {
            Ok(job) => return Self::Job(Box::new(job)),
            Err(fault) => fault,
        };
        match open_settings(text, file) {
            Ok(open) if !open.is_empty() => Self::Open(open),
            Ok(_) => Self::Faulty(fault),
            Err(fault) => Self::Faulty(fault),
        }
    }
}

/// A job file as it stands at one moment.
#[derive(Debug, Clone)]
struct Version {
    text: Arc<str>,
    /// Two versions with the same number have the same geometry.
    land: u64,
}

/// What an action would make of a job.
pub struct Tried {
    /// The text.
    pub text: String,
    /// What it makes.
    pub checked: Checked,
}

/// Something that was done, and the job before and after it.
struct Done {
    words: String,
    action: Action,
    other: Version,
}

/// A job being edited.
pub struct Edit {
    file: PathBuf,
    now: Version,
    past: Vec<Done>,
    future: Vec<Done>,
    lands: u64,
    rereads: u64,
}

impl Edit {
    /// A job file as it was found.
    pub fn of(file: PathBuf, text: &str) -> Self {
        Self {
            file,
            now: Version {
                text: text.into(),
                land: 0,
            },
            past: Vec::new(),
            future: Vec::new(),
            lands: 0,
            rereads: 0,
        }
    }

    /// The job file.
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// Its text now.
    pub fn text(&self) -> &Arc<str> {
        &self.now.text
    }

    /// Which geometry it has: the same number, the same geometry.
    pub fn land(&self) -> u64 {
        self.now.land
    }

    /// How often all files were read anew.
    pub fn rereads(&self) -> u64 {
        self.rereads
    }

    /// What was done, the latest last, for people.
    pub fn done(&self) -> impl Iterator<Item = &str> {
        self.past.iter().map(|done| done.words.as_str())
    }

    /// What was undone, the next to be done again last.
    pub fn undone(&self) -> impl Iterator<Item = &str> {
        self.future.iter().map(|done| done.words.as_str())
    }

    /// The actions that made the job what it is, in their order.
    pub fn actions(&self) -> impl Iterator<Item = &Action> {
        self.past.iter().map(|done| &done.action)
    }

    /// The text that an action makes, if the job may have it: one that can be planned, or one with open settings that is right
    /// otherwise.
    ///
    /// # Errors
    /// What [`Action::apply`] refuses; what is wrong with the job that would come of it. A fault names lines of that job.
    pub fn tried(&self, action: &Action, reader: Reader) -> Outcome<Tried> {
        let text = action.apply(&self.now.text, &self.file)?;
        match Checked::of(&text, &self.file, reader) {
            Checked::Faulty(fault) => Err(fault),
            checked => Ok(Tried { text, checked }),
        }
    }

    /// Takes on what [`Self::tried`] gave. What was undone is forgotten.
    pub fn take(&mut self, action: Action, text: &str) {
        let words = action.words(&self.now.text, &self.file);
        let land = match action.stage() {
            Stage::Rates => self.now.land,
            Stage::Land => self.new_land(),
        };
        let new = Version {
            text: text.into(),
            land,
        };
        let other = std::mem::replace(&mut self.now, new);
        self.past.push(Done {
            words,
            action,
            other,
        });
        self.future.clear();
    }

    /// The text before the latest action; none at the beginning.
    pub fn before(&self) -> Option<Arc<str>> {
        self.past.last().map(|done| Arc::clone(&done.other.text))
    }

    /// The text after the latest action that was undone.
    pub fn after(&self) -> Option<Arc<str>> {
        self.future.last().map(|done| Arc::clone(&done.other.text))
    }

    /// The text that will be before the latest action once that one is undone; at the beginning the first text.
    pub fn before_that(&self) -> Arc<str> {
        let mut done = self.past.iter().rev();
        let (last, that) = (done.next(), done.next());
        let there = that.or(last).map_or(&self.now, |done| &done.other);
        Arc::clone(&there.text)
    }

    /// The file that was drawn for the latest action.
    pub fn drawn_last(&self) -> Option<String> {
        self.past.last()?.action.drawn_file().map(str::to_owned)
    }

    /// The file that was drawn for the action that was undone last.
    pub fn drawn_next(&self) -> Option<String> {
        self.future.last()?.action.drawn_file().map(str::to_owned)
    }

    /// Undoes the latest action.
    pub fn undo(&mut self) {
        if let Some(mut done) = self.past.pop() {
            std::mem::swap(&mut self.now, &mut done.other);
            self.future.push(done);
        }
    }

    /// Undoes the latest action for good.
    pub fn forget(&mut self) {
        self.undo();
        self.future.pop();
    }

    /// Does again what was undone last.
    pub fn redo(&mut self) {
        if let Some(mut done) = self.future.pop() {
            std::mem::swap(&mut self.now, &mut done.other);
            self.past.push(done);
        }
    }

    /// Reads everything anew: a file beside the job may have changed.
    pub fn land_again(&mut self) {
        self.rereads += 1;
        self.now.land = self.new_land();
    }

    fn new_land(&mut self) -> u64 {
        self.lands += 1;
        self.lands
    }
}
