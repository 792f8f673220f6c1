//! Fields whose files come with the question: nothing is read from disk but what one job of the
//! machine names, and that once.

use super::loaded::{IndexedLayer, LoadedSource};
use super::shared::{loaded, sources};
use super::{AtHand, Settings, settings};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Source};
use crate::read;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Everything that one job names, read once, for jobs that bring their other files as text.
pub struct StreamInputs {
    base: Option<Job>,
    /// A source that cannot be read is told to those who need it.
    loaded: Vec<(Source, bool, Outcome<LoadedSource>)>,
    /// Text and hash of tables and machine file.
    texts: BTreeMap<PathBuf, (String, String)>,
    settings: Option<Arc<Settings>>,
}

impl StreamInputs {
    /// Reads what a job names; without a job it is empty.
    ///
    /// # Errors
    /// A table or machine file that is not there or not in its form.
    pub fn of(base: Option<&Job>) -> Outcome<Self> {
        let mut inputs = Self {
            base: base.cloned(),
            loaded: Vec::new(),
            texts: BTreeMap::new(),
            settings: None,
        };
        let Some(job) = base else {
            return Ok(inputs);
        };
        for (_, file) in settings::files(job) {
            let path = job.folder.join(file);
            let known = (read::text(&path)?, read::sha256(&path)?);
            inputs.texts.insert(path, known);
        }
        for (source, has_values) in all(job) {
            let of_source = LoadedSource::open(&source, has_values, job);
            inputs.loaded.push((source, has_values, of_source));
        }
        inputs.settings = Some(Arc::new(inputs.settings_of(job)?));
        Ok(inputs)
    }

    /// The text of a table or machine file, by its path.
    ///
    /// # Errors
    /// A file that the job of the machine does not name.
    pub fn text(&self, path: &Path) -> Outcome<String> {
        Ok(self.known(path)?.0.clone())
    }

    /// The inputs of a field. `files` are GeoJSON texts by the path that the job gives them; what is not
    /// among them has to be known from the job of the machine.
    ///
    /// # Errors
    /// A text that the job does not name, or that is not understood; a file that is neither given nor known.
    pub fn given(&self, job: &Job, files: &BTreeMap<String, &str>) -> Outcome<AtHand> {
        self.only_its_own_paths(job)?;
        let given = |source: &Source| files.get(source.file.to_str()?).copied();
        self.all_are_named(job, files)?;
        let open = |source: &Source, has_values: bool| match given(source) {
            Some(text) => Ok(LoadedSource::Layer(Arc::new(IndexedLayer::given(
                text, source, job,
            )?))),
            None => self.loaded(source, has_values),
        };
        let settings = match (&self.base, &self.settings) {
            (Some(base), Some(settings)) if base == job => Arc::clone(settings),
            _ => Arc::new(self.settings_of(job)?),
        };
        let boundary = open(&job.field.boundary, false)?.into_layer(job)?;
        Ok(AtHand {
            members: (0..).take(boundary.layer.features.len()).collect(),
            boundary,
            sources: Arc::new(loaded(job, &open)?),
            settings,
        })
    }

    /// Refuses settings of a request that would open files or folders of this machine.
    fn only_its_own_paths(&self, job: &Job) -> Outcome<()> {
        let base = self.base.as_ref();
        let grids = base.and_then(|base| base.transformation_grids.as_ref());
        let from = base.and_then(|base| base.terminal.from.as_ref());
        let refused = [
            (
                "transformation_grids",
                job.transformation_grids.as_ref(),
                grids,
            ),
            ("from under [terminal]", job.terminal.from.as_ref(), from),
        ];
        for (key, asked, known) in refused {
            if asked.is_some() && asked != known {
                return Err(Fault::input(
                    "stream.path",
                    Place::file(&job.file),
                    format!("the request names {key}"),
                    format!("{key} in the job file of --job"),
                    "Name it there.",
                ));
            }
        }
        Ok(())
    }

    fn settings_of(&self, job: &Job) -> Outcome<Settings> {
        let text = |file: &Path| self.text(&job.folder.join(file));
        let sha256 = |file: &Path| Ok(self.known(&job.folder.join(file))?.1.clone());
        Settings::with(job, &text, &sha256)
    }

    fn known(&self, path: &Path) -> Outcome<&(String, String)> {
        self.texts.get(path).ok_or_else(|| not_here(path))
    }

    fn loaded(&self, source: &Source, has_values: bool) -> Outcome<LoadedSource> {
        let mut known = self.loaded.iter();
        let same = known.find(|(of, values, _)| of == source && *values == has_values);
        match same {
            Some((.., Ok(loaded))) => Ok(loaded.clone()),
            Some((.., Err(fault))) => {
                let mut fault = fault.clone();
                fault.next.push_str(BRING);
                Err(fault)
            }
            None => Err(not_here(&source.file)),
        }
    }

    /// Refuses a text under a name that the job does not know: most likely a slip.
    fn all_are_named(&self, job: &Job, files: &BTreeMap<String, &str>) -> Outcome<()> {
        let mut names: Vec<String> = all(job)
            .map(|(source, _)| source.file.display().to_string())
            .collect();
        let Some(unknown) = files.keys().find(|name| !names.contains(name)) else {
            return Ok(());
        };
        names.sort_unstable();
        names.dedup();
        Err(Fault::input(
            "stream.unnamed_file",
            Place::file(&job.file),
            format!("the request brings '{unknown}', and its job names no such file"),
            format!("one of: {}", names.join(", ")),
            "Use the path as it stands in the job.",
        ))
    }
}

/// What to do about a file that cannot be read here.
const BRING: &str = " (Or bring its contents in `files` of the request.)";

/// The boundary and all other sources.
fn all(job: &Job) -> impl Iterator<Item = (Source, bool)> {
    std::iter::once((job.field.boundary.clone(), false)).chain(sources(job))
}

fn not_here(path: &Path) -> Box<Fault> {
    Fault::input(
        "stream.no_file",
        Place::file(path),
        "the request does not bring this file, which its job names",
        "GeoJSON under this name in `files` of the request, or a file that the job file of --job names in the same way",
        "Bring its contents, or name it in the job file of --job.",
    )
}
