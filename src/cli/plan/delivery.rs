//! A plan, its files written and read back before anything is replaced.

use crate::cli::audit;
use crate::cli::outputs::Outputs;
use crate::cli::seedbeds;
use crate::findings::Outcome;
use crate::job::Job;
use crate::plan::{self, Disk, Plan};
use crate::report;
use crate::write::{self, Form, Written};
use std::path::{Path, PathBuf};

/// A plan and what was written of it.
pub struct Made {
    /// The folder of its files.
    pub out: PathBuf,
    /// The plan.
    pub plan: Plan,
    /// The files that were written.
    pub written: Vec<Written>,
}

/// Plans one job and writes its files, read back before anything is replaced.
///
/// # Errors
/// What `twinsow plan` would say of the job; a file that does not say what the plan says is the program's own fault.
pub fn one(path: &Path, out: &Path, timestamp: &str) -> Outcome<Made> {
    let outputs = Outputs::all();
    let plan = plan::plan(&Job::load(path)?, &Disk, &outputs.options())?;
    delivered(plan, out, timestamp, &outputs)
}

/// The same for every plan of a job: two where its seedbed is not known, each in a folder of its own below `out`. `first` sees the
/// plans before anything is written.
///
/// # Errors
/// As [`one`]; those of `first`: then nothing is written.
pub(in crate::cli) fn each(
    path: &Path,
    out: &Path,
    timestamp: &str,
    first: impl FnOnce(&[Plan]) -> Outcome<()>,
) -> Outcome<Vec<Made>> {
    let outputs = Outputs::all();
    let plans = plan::plans(&Job::load(path)?, &Disk, &outputs.options())?;
    first(&plans)?;
    all_delivered(plans, out, timestamp, &outputs)
}

/// Writes the files of the plans of one field: of one into `out`, of two each into a folder below it.
pub(super) fn all_delivered(
    plans: Vec<Plan>,
    out: &Path,
    timestamp: &str,
    outputs: &Outputs,
) -> Outcome<Vec<Made>> {
    seedbeds::check(&plans, out)?;
    let deliver = |plan: Plan| {
        let folder = seedbeds::folder(&plan, out);
        delivered(plan, &folder, timestamp, outputs)
    };
    plans.into_iter().map(deliver).collect()
}

/// Writes the files of a plan.
fn delivered(mut plan: Plan, out: &Path, timestamp: &str, outputs: &Outputs) -> Outcome<Made> {
    write::without_folders(&mut plan, &outputs.forms);
    let written = write::folder::replace(out, &write::about(&plan), |folder| {
        let mut written = write::content(&plan, folder, timestamp, &outputs.forms)?;
        // Before anything is replaced, what was written is read back and held against the plan.
        let audit = || outputs.audit.then(|| audit::own(folder)).transpose();
        let wanted = outputs.forms.has(Form::Report);
        let page = || wanted.then(|| report::page(&plan, timestamp)).transpose();
        let (audit, page) = rayon::join(audit, page);
        if let Some(text) = audit? {
            written.push(write::extra(
                folder,
                "audit.json",
                text.as_bytes(),
                "totals worked out anew from the files alone",
            )?);
        }
        for own in write::folders_of_spreader(&plan, &outputs.forms) {
            if outputs.audit {
                let text = audit::own(&folder.join(own))?;
                written.push(write::extra(
                    folder,
                    &format!("{own}/audit.json"),
                    text.as_bytes(),
                    "for the spreader: totals worked out anew from the files alone",
                )?);
            }
        }
        if let Some(page) = page? {
            written.push(write::extra(
                folder,
                report::FILE,
                &page,
                "the field report for adviser, operator and buyer: open it in a browser",
            )?);
        }
        if outputs.pictures {
            for (path, bytes, what) in report::pictures(&plan)? {
                written.push(write::extra(folder, &path, &bytes, &what)?);
            }
        }
        Ok(written)
    })?;
    Ok(Made {
        out: out.to_path_buf(),
        plan,
        written,
    })
}
