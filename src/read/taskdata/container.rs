//! Where the files of a data set lie: a folder or a zip file. Names are compared without regard to
//! case, and only files beside the main file are ever opened.

use crate::findings::{Fault, Outcome, Place};
use crate::read::file::{about_of, opened, unreadable};
use crate::read::zipped::Zipped;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

/// What may be where task data are asked for.
const ALLOWED: &str =
    "task data (ISO 11783-10): the folder TASKDATA, its TASKDATA.XML, or one zip of it";

/// Name of the main file.
pub(super) const MAIN: &str = "TASKDATA.XML";
/// Most bytes of one file of a data set, unpacked: a grid of 32 million cells with two products.
const MOST_BYTES: u64 = 1 << 28;
/// Most bytes of all files that are read of a data set: a stick after some seasons of logging.
const MOST_BYTES_TOGETHER: u64 = 1 << 30;
/// Bytes that may be read beyond what the files of a folder have together: a file may be named more than once.
const TWICE: u64 = 100_000_000;

/// The files of one data set.
pub(super) struct Container {
    files: Files,
    /// Bytes that may still be read.
    left: u64,
}

enum Files {
    Folder {
        /// Names of the files and where they are, sorted.
        files: Vec<(String, PathBuf)>,
    },
    Zip {
        zipped: Box<Zipped>,
        /// Names without their folder, and their number in the archive.
        files: Vec<(String, usize)>,
    },
}

impl Container {
    /// Opens a folder that holds the main file, the folder around it, the main file itself, or a zip file
    /// with it anywhere inside.
    pub fn open(path: &Path) -> Outcome<Self> {
        let files = Files::open(path)?;
        let left = match &files {
            Files::Folder { files } => {
                let sizes = files.iter().map(|(_, path)| fs::metadata(path));
                let all = sizes.map(|about| about.map_or(0, |about| about.len()));
                all.fold(TWICE, u64::saturating_add)
                    .min(MOST_BYTES_TOGETHER)
            }
            // What comes out of a zip file has a bound of its own.
            Files::Zip { .. } => MOST_BYTES_TOGETHER,
        };
        Ok(Self { files, left })
    }

    /// The files of a folder that task data consist of, in order of names; nothing for a zip file.
    pub fn loose_files(self) -> Vec<PathBuf> {
        let Files::Folder { files } = self.files else {
            return Vec::new();
        };
        let own = |name: &str| {
            let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
            name.eq_ignore_ascii_case(MAIN) || super::is_stem(stem)
        };
        let files = files.into_iter().filter(|(name, _)| own(name));
        files.map(|(_, path)| path).collect()
    }

    /// The real name and the bytes of a file, by its name in any case; `None` if it is not there. Of
    /// several names that differ in case only, the first in order of names is taken.
    pub fn get(&mut self, wanted: &str) -> Outcome<Option<(String, Vec<u8>)>> {
        let found = self.files.get(wanted, self.left)?;
        if let Some((_, bytes)) = &found {
            self.left = self.left.saturating_sub(bytes.len() as u64);
        }
        Ok(found)
    }
}

impl Files {
    fn open(path: &Path) -> Outcome<Self> {
        let about = about_of(path, ALLOWED)?;
        if about.is_dir() {
            return Self::folder(path);
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if name.eq_ignore_ascii_case(MAIN) {
            let parent = path.parent().filter(|p| !p.as_os_str().is_empty());
            return Self::folder(parent.unwrap_or(Path::new(".")));
        }
        Self::zip(path)
    }

    fn folder(path: &Path) -> Outcome<Self> {
        let files = files_of(path)?;
        if files
            .iter()
            .any(|(name, _)| name.eq_ignore_ascii_case(MAIN))
        {
            return Ok(Self::Folder { files });
        }
        let inner = folders_of(path)?
            .into_iter()
            .find(|(name, _)| name.eq_ignore_ascii_case("TASKDATA"));
        if let Some((_, inner)) = inner {
            let files = files_of(&inner)?;
            if files
                .iter()
                .any(|(name, _)| name.eq_ignore_ascii_case(MAIN))
            {
                return Ok(Self::Folder { files });
            }
        }
        Err(no_main(path, "The folder"))
    }

    fn zip(path: &Path) -> Outcome<Self> {
        let zipped = Zipped::open(path)?;
        let names = &zipped.names;
        let split = |name: &str| match name.rsplit_once('/') {
            Some((folder, name)) => (folder.to_string(), name.to_string()),
            None => (String::new(), name.to_string()),
        };
        // The shadow files that one system packs beside the real ones start with `._`.
        let main = names
            .iter()
            .map(|name| split(name))
            .find(|(_, name)| name.eq_ignore_ascii_case(MAIN));
        let Some((folder, _)) = main else {
            return Err(no_main(path, "The zip file"));
        };
        let files = names
            .iter()
            .enumerate()
            .map(|(at, name)| (split(name), at))
            .filter(|((own, _), _)| *own == folder)
            .map(|((_, name), at)| (name, at))
            .collect();
        Ok(Self::Zip {
            zipped: Box::new(zipped),
            files,
        })
    }

    fn get(&mut self, wanted: &str, left: u64) -> Outcome<Option<(String, Vec<u8>)>> {
        match self {
            Self::Folder { files } => {
                let found = files
                    .iter()
                    .find(|(name, _)| name.eq_ignore_ascii_case(wanted));
                let Some((name, path)) = found else {
                    return Ok(None);
                };
                let file = opened(path)?;
                let bytes = bounded(file, path, name, left)?;
                Ok(Some((name.clone(), bytes)))
            }
            Self::Zip { zipped, files } => {
                let found = files
                    .iter()
                    .find(|(name, _)| name.eq_ignore_ascii_case(wanted));
                let Some((name, at)) = found else {
                    return Ok(None);
                };
                let bytes = zipped.unpack(*at, MOST_BYTES.min(left))?;
                Ok(Some((name.clone(), bytes)))
            }
        }
    }
}

/// All bytes, as long as there are not too many: a stated size is not believed.
fn bounded(source: impl Read, path: &Path, name: &str, left: u64) -> Outcome<Vec<u8>> {
    let most = MOST_BYTES.min(left);
    let mut bytes = Vec::new();
    source
        .take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(path, &error))?;
    if bytes.len() as u64 > most {
        let (found, allowed) = match most == MOST_BYTES {
            true => (
                "The file holds more than 256 MB",
                "files of task data up to 256 MB",
            ),
            false => (
                "With this file the task data hold more than 1 GB, or name the same files again and again",
                "task data up to 1 GB, all files together, each named once",
            ),
        };
        return Err(Fault::input(
            "read.task_data_size",
            Place::file(path).layer(name),
            found,
            allowed,
            "Ask for a coarser grid, or copy only the tasks you need from the terminal.",
        ));
    }
    Ok(bytes)
}

fn files_of(folder: &Path) -> Outcome<Vec<(String, PathBuf)>> {
    entries(folder, false)
}

fn folders_of(folder: &Path) -> Outcome<Vec<(String, PathBuf)>> {
    entries(folder, true)
}

fn entries(folder: &Path, folders: bool) -> Outcome<Vec<(String, PathBuf)>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).map_err(|error| unreadable(folder, &error))? {
        let entry = entry.map_err(|error| unreadable(folder, &error))?;
        // Neither is what would not end, such as a pipe.
        let path = entry.path();
        if if folders {
            path.is_dir()
        } else {
            path.is_file()
        } {
            let name = entry.file_name().to_string_lossy().into_owned();
            found.push((name, path));
        }
    }
    found.sort();
    Ok(found)
}

fn no_main(path: &Path, what: &str) -> Box<Fault> {
    Fault::input(
        "read.no_task_data",
        Place::file(path),
        format!("{what} holds no {MAIN}"),
        "task data: a folder TASKDATA with the file TASKDATA.XML, or a zip file with it",
        "Name the folder that was copied from the stick.",
    )
}
