//! A job on the desk: what is being edited, what is known of it, and the file that it lies in.

mod on_it;

use super::Commands;
use super::action::Action;
use super::drawn_files::DrawnFiles;
use super::state::{Checked, Edit};
use super::work::{self, Shown, Sketch, Whole, Work, held};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Moisture;
use crate::read;
use crate::write;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread;
use std::time::Duration;
use tokio::sync::watch;

/// So long an answer waits for rates that are being worked out.
const PATIENCE: Duration = Duration::from_secs(2);

/// A job that is being edited, shared by all that look at it.
pub struct Desk {
    inner: Mutex<Inner>,
    woken: Condvar,
    /// One change of the job at a time; it may write files, or take its own away.
    acting: Mutex<DrawnFiles>,
    beats: watch::Sender<u64>,
    pub(super) commands: Commands,
}

/// What is on the desk.
pub struct Inner {
    /// The job, and what was done to it.
    pub edit: Edit,
    /// What its text makes.
    pub checked: Arc<Checked>,
    /// Grows with every new text.
    pub serial: u64,
    /// The latest rates that could be made; of two seedbeds those that are looked at.
    pub shown: Option<Shown>,
    /// Of two seedbeds the other one.
    pub other: Option<Shown>,
    /// Which of two seedbeds is looked at.
    seen: Moisture,
    /// The land while the job is not finished.
    pub sketch: Option<Sketch>,
    /// The latest whole plan.
    pub whole: Option<Whole>,
    /// Why there is no plan of the job as it is.
    pub fault: Option<(u64, Box<Fault>)>,
    /// What is being worked out.
    pub work: Work,
    /// How often each part was worked out.
    pub counts: work::Counts,
    /// SHA-256 of the file as it was last read or written here.
    known_sha256: String,
    /// Another program has changed the file.
    pub outside: bool,
    pictures: u64,
    closed: bool,
}

impl Desk {
    /// Puts a job file on the desk, and begins to work on it.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn open(file: &Path, commands: &Commands, beats: watch::Sender<u64>) -> Outcome<Arc<Self>> {
        let text = (commands.text)(file)?;
        let checked = Checked::of(&text, file, &commands.text);
        let mut inner = Inner {
            edit: Edit::of(file.to_path_buf(), &text),
            checked: Arc::new(Checked::Open(Vec::new())),
            serial: 0,
            shown: None,
            other: None,
            seen: Moisture::Dry,
            sketch: None,
            whole: None,
            fault: None,
            work: Work::default(),
            counts: work::Counts::default(),
            known_sha256: read::sha256_of(&text),
            outside: false,
            pictures: 0,
            closed: false,
        };
        inner.renewed(checked);
        let desk = Arc::new(Self {
            inner: Mutex::new(inner),
            woken: Condvar::new(),
            acting: Mutex::new(DrawnFiles::default()),
            beats,
            commands: *commands,
        });
        for work in [work::rates, work::whole] {
            let desk = Arc::clone(&desk);
            thread::spawn(move || work(&desk));
        }
        Ok(desk)
    }

    /// The job file.
    pub fn file(&self) -> PathBuf {
        self.look(|inner| inner.edit.file().to_path_buf())
    }

    /// The folder that the job's files lie in.
    pub fn folder(&self) -> PathBuf {
        let file = self.file();
        let folder = file.parent().unwrap_or(Path::new(""));
        match folder.as_os_str().is_empty() {
            true => PathBuf::from("."),
            false => folder.to_path_buf(),
        }
    }

    /// Looks at the plan for a moist or for a dry seedbed, where the job makes two.
    pub fn see(&self, moisture: Moisture) {
        self.change(|inner| inner.see(moisture));
    }

    /// Nothing more is worked out.
    pub fn close(&self) {
        held(&self.inner).closed = true;
        self.woken.notify_all();
    }

    /// Looks at what is on the desk.
    pub fn look<T>(&self, look: impl FnOnce(&Inner) -> T) -> T {
        look(&held(&self.inner))
    }

    /// Changes what is on the desk, and tells everybody.
    pub(super) fn change<T>(&self, change: impl FnOnce(&mut Inner) -> T) -> T {
        let made = change(&mut held(&self.inner));
        self.woken.notify_all();
        self.beats.send_modify(|beat| *beat += 1);
        made
    }

    /// Waits for something to do; none once the desk is closed.
    pub(super) fn wait<T>(&self, mut find: impl FnMut(&Inner) -> Option<T>) -> Option<T> {
        let mut inner = held(&self.inner);
        loop {
            if inner.closed {
                return None;
            }
            if let Some(found) = find(&inner) {
                return Some(found);
            }
            inner = self
                .woken
                .wait(inner)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Waits until the rates of the job as it is are known, or why there are none; not for long.
    pub fn settle(&self) {
        let inner = held(&self.inner);
        let _ = self
            .woken
            .wait_timeout_while(inner, PATIENCE, |inner| !inner.closed && !inner.answered());
    }

    /// Waits until everything is worked out; not for longer than `most`. Whether it is.
    pub fn settle_whole(&self, most: Duration) -> bool {
        let open = |inner: &mut Inner| {
            let whole = inner.whole.as_ref().map(|whole| whole.serial) == Some(inner.serial);
            let none = inner.fault.is_some() || !matches!(inner.checked.as_ref(), Checked::Job(_));
            !inner.closed && !whole && !none
        };
        let inner = held(&self.inner);
        match self.woken.wait_timeout_while(inner, most, open) {
            Ok((_, timeout)) => !timeout.timed_out(),
            Err(_) => false,
        }
    }

    /// Does something to the job: it is in the file when this returns.
    ///
    /// # Errors
    /// What [`Edit::tried`] refuses; a job changed by another program; a file that cannot be written. The job is as it was.
    pub fn act(&self, action: Action) -> Outcome<()> {
        let mut drawn = held(&self.acting);
        self.unchanged()?;
        let action = self.resolved(action, &mut drawn)?;
        let file = action.drawn_file().map(str::to_owned);
        let tried = self.look(|inner| inner.edit.tried(&action, &self.commands.text));
        let done = tried.and_then(|tried| {
            let take = |edit: &mut Edit, text: &str| edit.take(action, text);
            self.renew(&tried.text, tried.checked, None, take, Edit::forget)
        });
        // What was drawn for nothing goes again.
        done.inspect_err(|_| self.away(&drawn, file.as_deref()))
    }

    /// Undoes the latest action; nothing at the beginning.
    ///
    /// # Errors
    /// As [`Self::act`].
    pub fn undo(&self) -> Outcome<()> {
        let drawn = held(&self.acting);
        self.unchanged()?;
        let Some(text) = self.look(|inner| inner.edit.before()) else {
            return Ok(());
        };
        let file = self.look(|inner| inner.edit.drawn_last());
        // What lies beside the job names no file that goes with it.
        let kept = file
            .as_ref()
            .map(|_| self.look(|inner| inner.edit.before_that()));
        let undo = |edit: &mut Edit, _: &str| edit.undo();
        self.renew(&text, self.checked(&text), kept, undo, Edit::redo)?;
        self.away(&drawn, file.as_deref());
        Ok(())
    }

    /// Does again what was undone; nothing where nothing was.
    ///
    /// # Errors
    /// As [`Self::act`].
    pub fn redo(&self) -> Outcome<()> {
        let drawn = held(&self.acting);
        self.unchanged()?;
        let Some(text) = self.look(|inner| inner.edit.after()) else {
            return Ok(());
        };
        let file = self.look(|inner| inner.edit.drawn_next());
        let written = match &file {
            Some(file) => drawn.back(&self.folder(), file)?,
            None => false,
        };
        let redo = |edit: &mut Edit, _: &str| edit.redo();
        let done = self.renew(&text, self.checked(&text), None, redo, Edit::undo);
        done.inspect_err(|_| self.away(&drawn, file.as_deref().filter(|_| written)))
    }

    /// Takes a file away that was drawn for a job that names it no more.
    fn away(&self, drawn: &DrawnFiles, file: Option<&str>) {
        let text = self.look(|inner| Arc::clone(inner.edit.text()));
        if let Some(file) = file.filter(|file| !super::view::names_file(&text, file)) {
            drawn.away(&self.file(), &self.folder(), file);
        }
    }

    /// Takes the file as another program left it; files that the job names are read again.
    ///
    /// # Errors
    /// A file that cannot be read.
    pub fn reload(&self) -> Outcome<()> {
        let _one = held(&self.acting);
        let file = self.file();
        let text = (self.commands.text)(&file)?;
        let checked = Checked::of(&text, &file, &self.commands.text);
        self.change(|inner| {
            if **inner.edit.text() != *text {
                let action = Action::Text { text: text.clone() };
                inner.edit.take(action, &text);
            }
            inner.edit.land_again();
            inner.known_sha256 = read::sha256_of(&text);
            inner.outside = false;
            inner.renewed(checked);
        });
        Ok(())
    }

    /// Looks whether another program has changed the file, and says so to everybody.
    pub fn look_outside(&self) {
        let _one = held(&self.acting);
        let _ = self.unchanged();
    }

    /// Holds the file against what is on the desk.
    ///
    /// # Errors
    /// Another program has changed the file.
    pub fn unspoilt(&self) -> Outcome<()> {
        let _one = held(&self.acting);
        self.unchanged()
    }

    /// Brings a new text to the desk and, while rates are worked out, to the file. Beside it stays what it was, or what is
    /// to be `kept` in its place.
    fn renew(
        &self,
        text: &str,
        checked: Checked,
        kept: Option<Arc<str>>,
        forth: impl FnOnce(&mut Edit, &str),
        back: fn(&mut Edit),
    ) -> Outcome<()> {
        let file = self.file();
        let before = self.look(|inner| Arc::clone(inner.edit.text()));
        self.change(|inner| {
            forth(&mut inner.edit, text);
            inner.renewed(checked);
        });
        let saved = keep(&file, kept.as_ref().unwrap_or(&before), text);
        match saved {
            Ok(()) => {
                held(&self.inner).known_sha256 = read::sha256_of(text);
                Ok(())
            }
            Err(fault) => {
                let checked = self.checked(&before);
                self.change(|inner| {
                    back(&mut inner.edit);
                    inner.renewed(checked);
                });
                Err(fault)
            }
        }
    }

    fn checked(&self, text: &str) -> Checked {
        Checked::of(text, &self.file(), &self.commands.text)
    }

    /// Refuses to go on where another program has changed the file.
    fn unchanged(&self) -> Outcome<()> {
        let file = self.file();
        let now = fs::read(&file).map(read::sha256_of);
        let known = self.look(|inner| inner.known_sha256.clone());
        let same = now.is_ok_and(|now| now == known);
        if self.look(|inner| inner.outside) == same {
            self.change(|inner| inner.outside = !same);
        }
        match same {
            true => Ok(()),
            false => Err(Fault::input(
                CHANGED_OUTSIDE,
                Place::file(&file),
                "another program has changed this file, or taken it away",
                "the job as it was read here",
                "take the file as it is now, and do this again; nothing was written",
            )),
        }
    }
}

/// Code of the fault about a job that another program has changed.
pub const CHANGED_OUTSIDE: &str = "edit.changed_outside";

/// What the job was before the latest change is kept under its name with this behind.
const BEFORE: &str = ".before";

/// Writes the job file as a whole or not at all; its earlier state stays beside it.
pub(super) fn keep(file: &Path, before: &str, text: &str) -> Outcome<()> {
    let mut name = file.file_name().unwrap_or_default().to_os_string();
    name.push(BEFORE);
    let earlier = file.with_file_name(name);
    let written = write::save_together(&[(&earlier, before.as_bytes()), (file, text.as_bytes())]);
    written.map_err(|(_, error)| {
        Fault::machine(
            "edit.unwritable",
            Place::file(file),
            format!("the job file cannot be written: {error}"),
            "a folder you may write to, with room on the disk",
            "free some room or mend the permissions, and do this again; the job is as it was",
        )
    })
}
