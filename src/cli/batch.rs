//! Many fields: what there is to plan.

use super::guard;
use super::plan::load;
use crate::findings::Outcome;
use crate::job::Job;
use crate::plan::{self, Disk, Options, Plan, SharedInputs};
use crate::write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// One field to plan.
pub(super) struct Task {
    /// The job file.
    pub path: PathBuf,
    pub out: PathBuf,
    /// What tells the field apart in a job with `split_by`, and the folder for all its fields.
    pub field: Option<Of>,
    pub work: Work,
}

/// Which field of a job with `split_by`.
pub(super) struct Of {
    pub value: String,
    /// Where the folders of all its fields lie.
    pub all: PathBuf,
}

/// How the plan of a field is made.
pub(super) enum Work {
    /// Its job, or why there is none.
    Job(Outcome<Box<Job>>),
    /// The field with this number among those of one job.
    Field(Arc<SharedInputs>, usize),
}

impl Work {
    /// One plan, or two of a job whose seedbed is not known. The steps of a job are told, those of a field among many are not.
    pub(super) fn plans(self, options: &Options) -> Outcome<Vec<Plan>> {
        match self {
            Self::Job(job) => plan::plans(&*job?, &Disk, options),
            Self::Field(shared, nth) => {
                let options = Options {
                    tell: &|_| {},
                    ..*options
                };
                plan::plans(&shared.job(nth), &shared.field(nth), &options)
            }
        }
    }
}

/// The fields of a job file: one, or with `split_by` all that its boundary holds, in its order.
pub(super) fn tasks(path: &Path, out: &Path, sowing_date: Option<&str>) -> Vec<Task> {
    let task = |field: Option<(String, String)>, work| Task {
        path: path.to_path_buf(),
        out: match &field {
            Some((folder, _)) => out.join(folder),
            None => out.to_path_buf(),
        },
        field: field.map(|(_, value)| Of {
            value,
            all: out.to_path_buf(),
        }),
        work,
    };
    let read = guard::guarded(|| {
        let job = load(path, sowing_date)?;
        let shared = match &job.field.split_by {
            Some(attribute) => Some(SharedInputs::of(&job, attribute)?),
            None => None,
        };
        Ok((job, shared))
    });
    match read {
        Err(fault) => vec![task(None, Work::Job(Err(fault)))],
        Ok((job, None)) => vec![task(None, Work::Job(Ok(Box::new(job))))],
        Ok((_, Some(shared))) => {
            let shared = Arc::new(shared);
            let folders = write::file_stems(shared.fields());
            let values: Vec<String> = shared.fields().map(str::to_owned).collect();
            let fields = folders.into_iter().zip(values).enumerate();
            fields
                .map(|(nth, field)| task(Some(field), Work::Field(Arc::clone(&shared), nth)))
                .collect()
        }
    }
}
