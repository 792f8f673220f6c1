//! The land of a job that is not finished: border, what is left out, zones. What is still "?" about drill, products and rates
//! moves none of them, so the engine makes them as for a planned job, from the same file without the rest.

use super::state::Reader;
use crate::job::{Job, ReportSettings};
use crate::report::number::Numbers;
use std::path::Path;
use toml::{Table, Value};

/// What stands in the place of a value that is not known.
const OPEN: &str = "?";

/// What planning asks for besides the land. Nothing of it is shown.
const REST: &str = r#"
[headland]
bouts = 0
[drill]
working_width_m = 6
[[drill.hopper]]
name = "any"
usable_l = 1000
[[product]]
id = "any"
name = "any"
kind = "seed"
hopper = "any"
crop = "wheat"
rate = { kg_per_ha = 100 }
"#;

/// How much of a job's land is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Border, what is left out, and all zone layers that are known.
    All,
    /// The border alone, where something else cannot be read.
    Border,
}

/// The text of a job of that land alone; none where not even its border is known.
pub fn text(job: &str, part: Part) -> Option<String> {
    let job: Table = job.trim_start_matches('\u{feff}').parse().ok()?;
    let mut land: Table = REST.parse().ok()?;
    let mut field = job.get("field")?.as_table()?.clone();
    // All features together, where nobody has said yet which of them are the field.
    let split = field.remove("split_by").is_some();
    if split || field.get("in_parts").is_some_and(is_open) {
        field.insert("in_parts".to_owned(), Value::Boolean(true));
    }
    if is_open(field.get("boundary")?) {
        return None;
    }
    if field.get("name").is_none_or(is_open) {
        field.insert("name".to_owned(), Value::from("field"));
    }
    field.retain(|_, value| !is_open(value));
    land.insert("name".to_owned(), Value::from("land"));
    land.insert("field".to_owned(), Value::Table(field));
    let report = Value::try_from(pages(&job)).ok()?;
    land.insert("report".to_owned(), report);
    if let Some(grids) = job.get("transformation_grids") {
        land.insert("transformation_grids".to_owned(), grids.clone());
    }
    let lists: &[&str] = match part {
        Part::All => &["layer", "exclusion"],
        Part::Border => &[],
    };
    for list in lists {
        let known = job.get(*list).and_then(Value::as_array);
        let known = known.into_iter().flatten().filter(|entry| !is_open(entry));
        let known: Vec<Value> = known.cloned().collect();
        if !known.is_empty() {
            land.insert((*list).to_owned(), Value::Array(known));
        }
    }
    Some(land.to_string())
}

/// The units and the language that a job is read in, as far as it says so.
fn pages(job: &Table) -> ReportSettings {
    let of = |key: &str| job.get("report")?.get(key).cloned();
    let units = of("units").and_then(|units| units.try_into().ok());
    let language = of("language").and_then(|language| language.try_into().ok());
    ReportSettings {
        units: units.unwrap_or_default(),
        language: language.unwrap_or_default(),
    }
}

/// Numbers in the units and the language that the text of a job asks for, whatever else is open in it.
pub fn numbers(job: &str) -> Numbers {
    let job = job.trim_start_matches('\u{feff}').parse().ok();
    Numbers::of_pages(job.map(|job| pages(&job)).unwrap_or_default())
}

/// The job of a text that [`text`] gave; none where something about the land itself is wrong.
pub fn job(text: &str, file: &Path, reader: Reader) -> Option<Job> {
    Job::parse_with(text, file, reader).ok()
}

/// Whether "?" stands in it.
fn is_open(value: &Value) -> bool {
    match value {
        Value::String(text) => text.trim() == OPEN,
        Value::Array(items) => items.iter().any(is_open),
        Value::Table(entries) => entries.values().any(is_open),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::UnitSystem;

    const JOB: &str = r#"
name = "new"
[field]
name = "new"
in_parts = "?"
boundary = { file = "b.geojson" }
[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "texture"
[[layer]]
name = "samples"
source = { file = "samples.csv" }
values = { method = "natural_breaks", classes = 3, surface = "nearest", column = "?" }
[drill]
working_width_m = "?"
"#;

    #[test]
    fn the_land_is_a_job_of_its_own_whatever_else_is_open() {
        let text = text(JOB, Part::All).expect("a text");
        let job = job(&text, Path::new("job.toml"), &|_| {
            unreachable!("no machine file")
        });
        let job = job.expect("a job");
        assert!(job.field.in_parts);
        let layers: Vec<&str> = job.layers.iter().map(|layer| layer.name.as_str()).collect();
        assert_eq!(
            layers,
            ["soil"],
            "a layer whose column is open waits for it"
        );
        let border = super::text(JOB, Part::Border).expect("a text");
        assert!(!border.contains("soil"));
    }

    #[test]
    fn the_land_is_told_in_the_units_of_the_job() {
        let us = format!("{JOB}\n[report]\nunits = \"us_customary\"\npaper = \"?\"\n");
        let text = text(&us, Part::All).expect("a text");
        let job = job(&text, Path::new("job.toml"), &|_| {
            unreachable!("no machine file")
        });
        assert_eq!(
            job.map(|job| job.report.units),
            Some(UnitSystem::UsCustomary)
        );
        assert_eq!(
            numbers(&us).area_unit(),
            Numbers::of(UnitSystem::UsCustomary).area_unit()
        );
        assert_eq!(numbers(JOB).area_unit(), Numbers::METRIC.area_unit());
    }

    #[test]
    fn without_a_border_there_is_no_land() {
        assert_eq!(text("[field]\nboundary = \"?\"", Part::All), None);
        assert_eq!(text("name = \"x\"", Part::All), None);
    }
}
