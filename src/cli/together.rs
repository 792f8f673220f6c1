//! The map and the table for all fields of each job with `split_by`, while its fields are told.

use super::exit::Exit;
use super::screen::Screen;
use crate::findings::Outcome;
use crate::write::{Share, Together};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// By output folder; `None` after a fault, which has been told.
#[derive(Default)]
pub(super) struct AllFields {
    open: BTreeMap<PathBuf, Option<Together>>,
    worst: Option<Exit>,
}

impl AllFields {
    /// Adds a field to the files in `folder`.
    pub(super) fn add(&mut self, folder: &Path, share: &Share, screen: &mut Screen) {
        let begun = match self.open.remove(folder) {
            Some(known) => known,
            None => self.told(Together::begin(folder), screen),
        };
        let added = begun.and_then(|mut together| {
            let added = together.add(share).map(|()| together);
            self.told(added, screen)
        });
        self.open.insert(folder.to_path_buf(), added);
    }

    /// Ends all files, names them and says how it went; `None` where there was nothing to do.
    pub(super) fn end(mut self, quiet: bool, screen: &mut Screen) -> Option<Exit> {
        for (folder, together) in std::mem::take(&mut self.open) {
            let ended = together.and_then(|together| self.told(together.end(), screen));
            for file in ended.unwrap_or_default() {
                if !quiet {
                    let path = folder.join(&file.path);
                    screen.print(&format!("{}: {}\n", path.display(), file.what));
                }
            }
        }
        self.worst
    }

    fn told<T>(&mut self, outcome: Outcome<T>, screen: &mut Screen) -> Option<T> {
        match outcome {
            Ok(value) => Some(value),
            Err(fault) => {
                screen.fault(&fault);
                self.worst = self.worst.max(Some(Exit::of_fault(&fault)));
                None
            }
        }
    }
}
