//! Pieces of writing, none of which needs another: done on all threads, listed in their order.

use super::taskdata::Variant;
use super::{Written, disk};
use crate::findings::Outcome;
use rayon::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

type Step<'a> = Box<dyn FnOnce(&mut Writer) -> Outcome<()> + Send + 'a>;
type LastStep<'a> = Box<dyn FnOnce(&mut Writer, &[Variant]) -> Outcome<()> + 'a>;

/// What is to be written into a folder.
pub(super) struct Steps<'a> {
    folder: &'a Path,
    each: Vec<Step<'a>>,
    /// The step that knows what the others have written, and its place among them.
    last: Option<(usize, LastStep<'a>)>,
}

impl<'a> Steps<'a> {
    pub fn of(folder: &'a Path) -> Self {
        Self {
            folder,
            each: Vec::new(),
            last: None,
        }
    }

    pub fn add(&mut self, step: impl FnOnce(&mut Writer) -> Outcome<()> + Send + 'a) {
        self.each.push(Box::new(step));
    }

    /// A step that is done when all others have been, with the forms of task data that they wrote; its files are listed here.
    pub fn add_last(&mut self, step: impl FnOnce(&mut Writer, &[Variant]) -> Outcome<()> + 'a) {
        self.last = Some((self.each.len(), Box::new(step)));
    }

    /// Does all of it. What one step makes is let go of before a thread takes the next.
    ///
    /// # Errors
    /// Of the steps that failed, the first.
    pub fn done(self) -> Outcome<Vec<Written>> {
        let folder = self.folder;
        let each = self.each.into_par_iter().with_max_len(1);
        let each = each.map(|step| {
            let mut writer = Writer::of(folder);
            step(&mut writer).map(|()| writer)
        });
        let each: Vec<Outcome<Writer>> = each.collect();
        let mut each = each.into_iter().collect::<Outcome<Vec<Writer>>>()?;
        if let Some((place, step)) = self.last {
            let forms: Vec<Variant> = each.iter().filter_map(|own| own.form).collect();
            let mut writer = Writer::of(folder);
            step(&mut writer, &forms)?;
            each.insert(place.min(each.len()), writer);
        }
        Ok(each.into_iter().flat_map(|own| own.written).collect())
    }
}

/// Puts files below a folder and keeps the list.
pub(super) struct Writer<'a> {
    folder: &'a Path,
    pub written: Vec<Written>,
    /// The form of task data beside the one that is ready, if that is what was written.
    pub form: Option<Variant>,
}

impl<'a> Writer<'a> {
    pub fn of(folder: &'a Path) -> Self {
        Self {
            folder,
            written: Vec::new(),
            form: None,
        }
    }

    pub fn put(&mut self, path: &str, bytes: &[u8], what: &str) -> Outcome<()> {
        disk::put(&self.path(path)?, bytes)?;
        self.list(path, bytes.len() as u64, what);
        Ok(())
    }

    /// Where a file goes; the folder it lies in is made.
    pub fn path(&self, path: &str) -> Outcome<PathBuf> {
        let path = self.folder.join(path);
        if let Some(parent) = path.parent() {
            disk::folder(parent)?;
        }
        Ok(path)
    }

    /// Lists a file that was written otherwise.
    pub fn note(&mut self, path: &str, what: &str) -> Outcome<()> {
        let full = self.folder.join(path);
        let found = fs::metadata(&full).map_err(|error| disk::fault(&full, "read", &error))?;
        self.list(path, found.len(), what);
        Ok(())
    }

    fn list(&mut self, path: &str, bytes: u64, what: &str) {
        self.written.push(Written {
            path: PathBuf::from(path),
            bytes,
            what: what.to_string(),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::{Fault, Place};

    #[test]
    fn files_are_listed_in_the_order_of_the_steps_and_the_last_knows_what_the_others_wrote() {
        let folder = tempfile::tempdir().unwrap();
        let form = Variant::USUAL_READY;
        let mut steps = Steps::of(folder.path());
        for name in ["c", "a"] {
            steps.add(move |writer| {
                writer.form = (name == "a").then_some(form);
                writer.put(&format!("below/{name}"), name.as_bytes(), name)
            });
        }
        steps.add_last(|writer, forms| {
            assert_eq!(forms, [form]);
            writer.put("last", b"", "last")
        });
        steps.add(|writer| writer.put("b", b"bb", "b"));
        let written = steps.done().unwrap();
        let paths: Vec<_> = written.iter().map(|own| own.path.to_str()).collect();
        let wanted = ["below/c", "below/a", "last", "b"].map(Some);
        assert_eq!(paths, wanted);
        assert_eq!(written[3].bytes, 2);
    }

    #[test]
    fn of_several_faults_the_first_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let mut steps = Steps::of(folder.path());
        for (name, fails) in [("a", false), ("b", true), ("c", true)] {
            steps.add(move |writer| match fails {
                false => writer.put(name, b"", name),
                true => Err(Fault::input("test.no", Place::nowhere(), name, "a", "b")),
            });
        }
        assert_eq!(steps.done().unwrap_err().found, "b");
    }
}
