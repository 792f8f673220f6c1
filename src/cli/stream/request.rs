//! One line of the stream: a field to plan.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use crate::plan::{self, Options, Plan, StreamInputs};
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use std::path::Path;

/// What a line may hold.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Request<'a> {
    /// Comes back with the answer.
    #[serde(default)]
    pub id: Value,
    /// Settings that count instead of those of the job file.
    #[serde(default)]
    job: Map<String, Value>,
    /// GeoJSON by the path that the job gives it.
    #[serde(default, borrow)]
    files: BTreeMap<String, &'a RawValue>,
    /// What the answer holds beside the totals.
    #[serde(default)]
    pub with: Vec<Part>,
}

/// A part of the answer.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Part {
    /// The rate table.
    Rates,
    /// All steps from the map's total to the order.
    Tally,
    /// Notes too, not only what asks for a look.
    Notes,
    /// The map zones as GeoJSON.
    Map,
}

impl<'a> Request<'a> {
    /// Reads a line.
    ///
    /// # Errors
    /// An empty line, no JSON, an unknown key.
    pub(super) fn parse(line: &'a str) -> Outcome<Self> {
        if line.trim().is_empty() {
            return Err(refused("the line is empty".to_owned()));
        }
        // A list would pass for an object with its values in order.
        if !line.trim_start().starts_with('{') {
            return Err(refused("the line is no JSON object".to_owned()));
        }
        serde_json::from_str(line).map_err(|error| {
            let text = error.to_string();
            let problem = text.split(" at line ").next().unwrap_or(&text);
            refused(format!(
                "this is no request: {problem} (column {})",
                error.column()
            ))
        })
    }

    /// The id of a line that may be no request.
    pub(super) fn id_of(line: &str) -> Value {
        #[derive(Deserialize)]
        struct OnlyId {
            #[serde(default)]
            id: Value,
        }
        serde_json::from_str::<OnlyId>(line)
            .map(|only| only.id)
            .unwrap_or_default()
    }

    /// Plans the field.
    ///
    /// # Errors
    /// Settings that make no job, a job for many fields, and what [`StreamInputs::given`] and planning refuse.
    pub(super) fn plan(&self, shared: &Shared) -> Outcome<Plan> {
        let own;
        let job = match &shared.job {
            Some(job) if self.job.is_empty() => job,
            _ => {
                let reader = |file: &Path| shared.inputs.text(file);
                own = Job::patched(&shared.text, &self.job, &shared.file, &reader)?;
                &own
            }
        };
        if let Some(attribute) = &job.field.split_by {
            return Err(Fault::input(
                "stream.many_fields",
                Place::file(&shared.file),
                format!("the job stands for many fields: split_by = '{attribute}'"),
                "one field a line",
                "Leave split_by out of the job.",
            ));
        }
        if job.is_for_two_seedbeds() {
            return Err(Fault::input(
                "stream.two_seedbeds",
                Place::file(&shared.file),
                "the job makes two plans: seedbed = 'not_known'",
                "one plan a line",
                "Say seedbed = 'moist' in one line and 'dry' in another.",
            ));
        }
        let files = self
            .files
            .iter()
            .map(|(name, text)| (name.clone(), text.get()));
        let inputs = shared.inputs.given(job, &files.collect())?;
        plan::plan(job, &inputs, &Options::rates_only())
    }
}

/// What all lines share: the job file of `--job`, or nothing.
pub(super) struct Shared {
    pub text: String,
    pub file: std::path::PathBuf,
    /// `None` without `--job`.
    pub job: Option<Job>,
    pub inputs: StreamInputs,
}

fn refused(found: String) -> Box<Fault> {
    Fault::input(
        "stream.request",
        Place::nowhere(),
        found,
        "a JSON object with `id`, `job`, `files` and `with`",
        "See docs/formats/stream.md.",
    )
}
