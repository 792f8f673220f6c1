//! Plans inside the folder of a plan, as a spreader's is: each is held against its own `plan.json`.

use super::{Audit, JobFacts, PlanFacts, audit, delivered_in};
use crate::document;
use crate::findings::Outcome;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A plan inside the folder of another.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanInside {
    /// Its folder.
    pub folder: String,
    /// Its id, as its `plan.json` states it.
    pub plan: String,
}

/// Whether a folder has a `plan.json` that can be read; a file that is only called so hides nothing.
pub(super) fn is_plan(folder: &Path) -> bool {
    let file = document::file_of(folder);
    file.is_file() && PlanFacts::read(&file).is_ok()
}

/// As [`audit`], and every plan inside these folders against its own `plan.json`. The limits of a job are not held against
/// those: they are of the drill's job.
///
/// # Errors
/// As [`audit`].
pub fn audit_with_inside(
    paths: &[PathBuf],
    plan: Option<&PlanFacts>,
    job: Option<&JobFacts>,
    names: &Path,
) -> Outcome<Audit> {
    let mut whole = audit(paths, plan, job, names)?;
    for path in paths {
        for folder in delivered_in(path)?.plans {
            let facts = PlanFacts::read(&document::file_of(&folder))?;
            let own = audit_with_inside(std::slice::from_ref(&folder), Some(&facts), None, names)?;
            whole.files.extend(own.files);
            whole.differences.extend(own.differences);
            whole.inside.push(PlanInside {
                folder: folder.display().to_string(),
                plan: facts.id,
            });
            whole.inside.extend(own.inside);
        }
    }
    Ok(whole)
}
