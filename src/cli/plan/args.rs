//! The arguments of `twinsow plan`, and the folders that they name.

use crate::cli::outputs::OutputArgs;
use clap::Args as ClapArgs;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Plans jobs and writes their rate maps
///
/// Reads each job file, makes both rate maps, prints rates, order and findings, and writes all
/// files into a folder. A bad job does not stop the others. A job with split_by is planned once for
/// each field in its boundary file, and every field gets a folder of its own. A job with seedbed = "not_known" is planned
/// twice, for a dry and for a moist seedbed, into the folders 'dry' and 'moist'.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow plan farm/long-furrow.toml
  twinsow plan fields/*/job.toml --out plans
  twinsow plan job.toml --details
  twinsow plan job.toml --json > summary.json
  twinsow plan job.toml --only task-data,tables
  twinsow plan job.toml --print-job")]
pub(in crate::cli) struct Args {
    /// Job files
    #[arg(required = true, value_name = "JOB.toml")]
    pub jobs: Vec<PathBuf>,
    /// Folder for the files [default: <job>-plan beside the job file; several jobs get a folder each]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Sowing date, YYYY-MM-DD, instead of the job's, for rates by date
    #[arg(long, value_name = "DATE")]
    pub sowing_date: Option<String>,
    /// Prints all tables, not only what fits a screen
    #[arg(long, conflicts_with = "json")]
    pub details: bool,
    /// Prints one JSON object per job and nothing else
    #[arg(long)]
    pub json: bool,
    /// Prints the job with every default filled in, and plans nothing
    #[arg(long, conflicts_with = "json")]
    pub print_job: bool,
    #[command(flatten)]
    pub outputs: OutputArgs,
    /// With split_by: also writes one map and one table of totals for all fields into the folder for all
    #[arg(long)]
    pub together: bool,
    /// Exit code 1 for a warning, too; the files are the same
    #[arg(long)]
    pub strict: bool,
    /// Threads to use [default: one per processor]; the result is the same for any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
}

/// The folder for the files of one job, where none is named.
pub(in crate::cli) fn folder_of(job: &Path) -> PathBuf {
    let stem = job.file_stem().unwrap_or_default().to_string_lossy();
    job.with_file_name(format!("{stem}-plan"))
}

/// The output folder of each job. One job: `out` itself. Several: a folder in `out` for each,
/// named after the job file, and after its folder where two files have the same name.
pub(super) fn folders(jobs: &[PathBuf], out: Option<&Path>) -> Vec<PathBuf> {
    let stem = |job: &Path| {
        job.file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned()
    };
    let Some(out) = out else {
        return jobs.iter().map(|job| folder_of(job)).collect();
    };
    if jobs.len() == 1 {
        return vec![out.to_path_buf()];
    }
    let mut taken = BTreeSet::new();
    let folder = |job: &PathBuf| {
        let same_name = jobs
            .iter()
            .filter(|other| stem(other).eq_ignore_ascii_case(&stem(job)))
            .count()
            > 1;
        let parent = job
            .parent()
            .and_then(Path::file_name)
            .map(|name| name.to_string_lossy());
        let name = match (same_name, parent) {
            (true, Some(parent)) => format!("{parent}-{}-plan", stem(job)),
            _ => format!("{}-plan", stem(job)),
        };
        let mut free = name.clone();
        let mut number = 2;
        // File names on some systems do not tell capitals apart.
        while !taken.insert(free.to_lowercase()) {
            free = format!("{name}-{number}");
            number += 1;
        }
        out.join(free)
    };
    jobs.iter().map(folder).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_job_gets_a_folder_of_its_own() {
        let jobs = |names: &[&str]| names.iter().map(PathBuf::from).collect::<Vec<_>>();
        let out = Some(Path::new("plans"));
        assert_eq!(folders(&jobs(&["a/x.toml"]), None), jobs(&["a/x-plan"]));
        assert_eq!(folders(&jobs(&["a/x.toml"]), out), jobs(&["plans"]));
        assert_eq!(
            folders(&jobs(&["x.toml", "y.toml"]), out),
            jobs(&["plans/x-plan", "plans/y-plan"])
        );
        assert_eq!(
            folders(&jobs(&["a/job.toml", "b/job.toml", "c/b/JOB.toml"]), out),
            jobs(&["plans/a-job-plan", "plans/b-job-plan", "plans/b-JOB-plan-2"])
        );
    }
}
