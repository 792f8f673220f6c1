//! One field of a job, for commands that show one: a job with `split_by` needs to be told which.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use crate::plan::SharedInputs;
use std::path::Path;

/// So many fields are named where one has to be chosen.
const NAMED: usize = 12;

/// Loads a job for one field; of a job with `split_by` the field that `field` names.
///
/// # Errors
/// As [`Job::load`]; no field is named, or one that the boundary does not hold; a field is named for a job
/// without `split_by`.
pub(super) fn load(path: &Path, field: Option<&str>) -> Outcome<Job> {
    let job = Job::load(path)?;
    let Some(attribute) = &job.field.split_by else {
        return match field {
            None => Ok(job),
            Some(field) => Err(Fault::input(
                "plan.one_field",
                Place::file(path),
                format!("--field is '{field}', and the job stands for one field"),
                "--field for a job with split_by",
                "leave --field out",
            )),
        };
    };
    let boundary = SharedInputs::boundary_of(&job)?;
    let fields = SharedInputs::fields_of(&boundary, attribute)?;
    if let Some(field) = field
        && fields.iter().any(|known| known == field)
    {
        return Ok(job.one_field(field));
    }
    let named: Vec<&str> = fields.iter().take(NAMED).map(String::as_str).collect();
    let more = match fields.len() > NAMED {
        true => format!(" and {} more", fields.len() - NAMED),
        false => String::new(),
    };
    Err(Fault::input(
        "plan.which_field",
        Place::file(path),
        match field {
            Some(field) => format!("the boundary has no field with {attribute} = '{field}'"),
            None => format!(
                "the job stands for {} fields: split_by = '{attribute}'",
                fields.len()
            ),
        },
        format!("one of: {}{more}", named.join(", ")),
        "name it with --field",
    ))
}
