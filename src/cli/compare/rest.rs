//! The job for the land that is not drilled yet.

use crate::cli::load;
use crate::compare::{Compared, PlanMap};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// The files for the land not drilled yet.
pub(super) struct Rest {
    pub job: PathBuf,
    pub text: String,
    pub drilled: PathBuf,
}

/// The job with one more exclusion. It lies beside the old one, so that all its paths still hold.
pub(super) fn rest_of(job: &Path, plan: &PlanMap) -> Outcome<Rest> {
    crate::read::no_endless(job)?;
    let text = fs::read_to_string(job).map_err(|error| {
        Fault::input(
            "compare.job",
            Place::file(job),
            format!("The job file cannot be read ({error})"),
            "the job file that the plan was made from",
            "Correct the path after --rest.",
        )
    })?;
    let own = Job::parse_with(&text, job, &load::text)?;
    if !plan.is_of(&own) {
        return Err(Fault::input(
            "compare.other_job",
            Place::file(job),
            format!(
                "This job is not that of plan {}, which is for the field '{}'; it is '{}' for the field '{}'",
                plan.id, plan.field, own.name, own.field.name
            ),
            "the job file that the plan was made from",
            "Correct the path after --rest; nothing was written.",
        ));
    }
    let stem = job
        .file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let drilled = job.with_file_name(format!("{stem}-drilled.geojson"));
    let name = drilled
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let end = if text.ends_with('\n') { "" } else { "\n" };
    let text = format!(
        "{text}{end}\n# Added by 'twinsow compare --rest': land that the log shows as drilled.\n[[exclusion]]\nname = \"drilled already\"\nsource = {{ file = {} }}\n",
        toml::Value::String(name)
    );
    let target = job.with_file_name(format!("{stem}-rest.toml"));
    Job::parse_with(&text, &target, &load::text)?;
    let text = asks_again(&text);
    Ok(Rest {
        job: target,
        text,
        drilled,
    })
}

/// What the driver of the rest has to know, as comments in its job.
pub(super) fn goes_on(figures: &Compared, back_m: f64) -> String {
    let mut text =
        format!("# The rest begins {back_m:.1} m before the place where the drill stopped.\n");
    let left = figures.products.iter();
    for (id, kg) in left.filter_map(|own| Some((&own.id, own.left_kg?))) {
        let _ = writeln!(text, "# Left of '{id}' by the log: {kg:.0} kg.");
    }
    text
}

/// Settings that a later day asks for again, where the job has them.
const ASKED_AGAIN: [&str; 2] = ["sowing_date", "lot"];

/// The job with date and lot open, so that it does not plan until somebody has looked; line by line, so that comments stay.
fn asks_again(text: &str) -> String {
    let lines = text.split_inclusive('\n').map(|line| {
        let key = line.split('=').next().unwrap_or_default().trim();
        let end = if line.ends_with('\n') { "\n" } else { "" };
        match ASKED_AGAIN.contains(&key) && line.contains('=') {
            true => format!("{key} = \"?\" # Was: {}{end}", line.trim()),
            false => line.to_owned(),
        }
    });
    lines.collect()
}
