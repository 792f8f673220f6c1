//! Files that hold settings: the machine file and the published tables that a job names.

use crate::agronomy::{Tables, table_files};
use crate::findings::Outcome;
use crate::job::Job;
use crate::plan::Input;
use crate::read;
use std::path::Path;

/// Machine file and published tables of a job.
pub struct Settings {
    pub(in crate::plan) tables: Tables,
    pub(in crate::plan) inputs: Vec<Input>,
}

/// The paths of these files as the job gives them, each with its role.
pub(super) fn files(job: &Job) -> impl Iterator<Item = (String, &Path)> {
    let machine = job.machine_file.as_deref();
    let machine = machine.map(|file| ("machine file".to_owned(), file));
    machine.into_iter().chain(table_files(job))
}

impl Settings {
    /// # Errors
    /// A table that is not there or not in its form.
    pub(super) fn read(job: &Job) -> Outcome<Self> {
        let text = |file: &Path| read::text(&job.folder.join(file));
        let sha256 = |file: &Path| read::sha256(&job.folder.join(file));
        Self::with(job, &text, &sha256)
    }

    /// The same, where `text` and `sha256` know the files.
    pub(super) fn with(
        job: &Job,
        text: &dyn Fn(&Path) -> Outcome<String>,
        sha256: &dyn Fn(&Path) -> Outcome<String>,
    ) -> Outcome<Self> {
        let inputs = files(job).map(|(role, file)| {
            Ok(Input {
                role,
                ..Input::of_file(file, sha256(file)?)
            })
        });
        Ok(Self {
            tables: Tables::read(job, text)?,
            inputs: inputs.collect::<Outcome<_>>()?,
        })
    }
}
