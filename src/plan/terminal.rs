//! Inputs that are task data from a terminal: one set may hold many fields, with obstacles in them.

use crate::findings::{Fault, Finding, Outcome};
use crate::job::{Job, Source};
use crate::read::{self, Layer, taskdata};
use std::path::Path;

/// Refuses a boundary of several fields: unlike polygons of a map file, they are never one field.
///
/// # Errors
/// Task data with several fields.
pub fn one_field<P>(boundary: &Layer<P>) -> Outcome<()> {
    let several = boundary.features.len() > 1;
    if !several || !taskdata::is_task_data(&boundary.file) {
        return Ok(());
    }
    let names = boundary.features.iter().take(10).map(|feature| {
        let name = feature.values.first().map(ToString::to_string);
        format!("'{}' ({})", name.unwrap_or_default(), feature.name)
    });
    let names: Vec<String> = names.collect();
    Err(Fault::input(
        "plan.several_fields",
        boundary.place(),
        format!("The task data hold {} fields", boundary.features.len()),
        format!("one of them: {}", names.join(", ")),
        "Name it: only = { field = \"...\" }, or only = { partfield = \"PFD1\" } where names are alike.",
    ))
}

/// An exclusion from task data without a table means the obstacles in the field.
pub fn obstacles(source: &Source, folder: &Path) -> Source {
    let mut source = source.clone();
    if source.table.is_none() && taskdata::is_task_data(&folder.join(&source.file)) {
        source.table = Some("obstacles".to_string());
    }
    source
}

/// Obstacles in the field's own task data that no exclusion or setback of the job names.
pub(super) fn forgotten<P>(job: &Job, boundary: &Layer<P>) -> Outcome<Option<Finding>> {
    let file = &job.field.boundary.file;
    let named = job.exclusions.iter().map(|exclusion| &exclusion.source);
    let named = named.chain(job.setbacks.iter().map(|setback| &setback.source));
    if named.into_iter().any(|source| source.file == *file)
        || !taskdata::is_task_data(&boundary.file)
    {
        return Ok(None);
    }
    let tables = read::tables(&boundary.file)?;
    if !tables
        .iter()
        .any(|table| table.name.as_deref() == Some("obstacles"))
    {
        return Ok(None);
    }
    let obstacles = read::read(&boundary.file, Some("obstacles"))?;
    let own = boundary
        .features
        .first()
        .map(|feature| feature.name.clone());
    let partfield = |values: &[read::Value]| values.get(1).map(ToString::to_string);
    let count = obstacles
        .features
        .iter()
        .filter(|feature| partfield(&feature.values) == own)
        .count();
    Ok((count > 0).then(|| {
        Finding::warning(
            "plan.obstacles",
            boundary.place(),
            format!(
                "The task data have {count} obstacles in this field (water, buildings, roads and such), and no exclusion names them, so they are sown. To leave them out: [[exclusion]] with source = {{ file = \"{}\", table = \"obstacles\", only = {{ partfield = \"{}\" }} }}.",
                file.display(),
                own.unwrap_or_default()
            ),
        )
    }))
}
