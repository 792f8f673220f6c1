//! A job as the difference from another: a JSON Merge Patch (RFC 7396) over its text.

use super::{Job, parse};
use crate::findings::{Fault, Outcome, Place};
use serde_json::{Map, Value};
use std::path::Path;

impl Job {
    /// Reads the job that `patch` makes of the text of a job file: its keys count instead of the
    /// file's, key by key, and `null` takes a key away. Lists are replaced as a whole.
    ///
    /// # Errors
    /// As [`Job::parse_with`]; faults name no line, for the result stands in no file.
    pub fn patched(
        text: &str,
        patch: &Map<String, Value>,
        file: &Path,
        reader: &dyn Fn(&Path) -> Outcome<String>,
    ) -> Outcome<Self> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut table: toml::Table = match toml::from_str(text) {
            Ok(table) => table,
            // Let the job's own reader say what is wrong with it, and where.
            Err(_) => return Self::parse_with(text, file, reader),
        };
        merge(&mut table, patch).map_err(|found| refused(found, file))?;
        let merged = toml::to_string(&table).map_err(|error| refused(error.to_string(), file))?;
        parse::job(&merged, file, reader).map_err(|refused| refused.told_without_lines(file))
    }
}

fn merge(table: &mut toml::Table, patch: &Map<String, Value>) -> Result<(), String> {
    for (key, value) in patch {
        match (value, table.get_mut(key)) {
            (Value::Null, _) => {
                table.remove(key);
            }
            (Value::Object(inner), Some(toml::Value::Table(known))) => merge(known, inner)?,
            (value, _) => {
                table.insert(key.clone(), as_toml(key, value)?);
            }
        }
    }
    Ok(())
}

fn as_toml(key: &str, value: &Value) -> Result<toml::Value, String> {
    Ok(match value {
        Value::Null => return Err(format!("'{key}' holds a null inside a list")),
        Value::Bool(flag) => toml::Value::Boolean(*flag),
        Value::Number(number) => match (number.as_i64(), number.as_f64()) {
            (Some(whole), _) => toml::Value::Integer(whole),
            (None, Some(number)) => toml::Value::Float(number),
            (None, None) => return Err(format!("'{key}' is a number out of range")),
        },
        Value::String(text) => toml::Value::String(text.clone()),
        Value::Array(items) => {
            let items = items.iter().map(|item| as_toml(key, item));
            toml::Value::Array(items.collect::<Result<_, _>>()?)
        }
        Value::Object(inner) => {
            let mut table = toml::Table::new();
            merge(&mut table, inner)?;
            toml::Value::Table(table)
        }
    })
}

fn refused(found: String, file: &Path) -> Box<Fault> {
    Fault::input(
        "job.patch",
        Place::file(file),
        format!("the settings of the request make no job: {found}"),
        "the keys of a job file as JSON; null takes a key away",
        "correct the settings",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of Appendix A of RFC 7396 (JSON Merge Patch), the cases whose two sides are objects and
    /// that TOML can hold: original, patch, result.
    const RFC_7396: [[&str; 3]; 9] = [
        [r#"{"a":"b"}"#, r#"{"a":"c"}"#, r#"{"a":"c"}"#],
        [r#"{"a":"b"}"#, r#"{"b":"c"}"#, r#"{"a":"b","b":"c"}"#],
        [r#"{"a":"b"}"#, r#"{"a":null}"#, r#"{}"#],
        [r#"{"a":"b","b":"c"}"#, r#"{"a":null}"#, r#"{"b":"c"}"#],
        [r#"{"a":["b"]}"#, r#"{"a":"c"}"#, r#"{"a":"c"}"#],
        [r#"{"a":"c"}"#, r#"{"a":["b"]}"#, r#"{"a":["b"]}"#],
        [
            r#"{"a":{"b":"c"}}"#,
            r#"{"a":{"b":"d","c":null}}"#,
            r#"{"a":{"b":"d"}}"#,
        ],
        [r#"{"a":[{"b":"c"}]}"#, r#"{"a":[1]}"#, r#"{"a":[1]}"#],
        [
            r#"{}"#,
            r#"{"a":{"bb":{"ccc":null}}}"#,
            r#"{"a":{"bb":{}}}"#,
        ],
    ];

    #[test]
    fn the_examples_of_rfc_7396() {
        for [original, patch, result] in RFC_7396 {
            let of = |text: &str| -> toml::Table { serde_json::from_str(text).expect("a table") };
            let mut table = of(original);
            let patch: Map<String, Value> = serde_json::from_str(patch).expect("an object");
            merge(&mut table, &patch).expect("TOML holds it");
            assert_eq!(table, of(result), "{original}");
        }
    }

    /// The same two faults in the file have lines.
    #[test]
    fn faults_of_a_patched_job_name_no_line() {
        let text = include_str!("../../examples/demo/job.toml");
        let file = Path::new("job.toml");
        let patch = r#"{"drill":{"nonsense":1},"order":{"nonsense":1}}"#;
        let patch = serde_json::from_str(patch).expect("an object");
        let fault = Job::patched(text, &patch, file, &no_machine).expect_err("refused");
        assert_eq!((fault.code, fault.place.line), ("job.unknown_key", None));
        assert!(!fault.next.contains("more to correct"), "{fault}");

        let mut table: toml::Table = toml::from_str(text).expect("TOML");
        merge(&mut table, &patch).expect("TOML holds it");
        let written = toml::to_string(&table).expect("TOML");
        let fault = Job::parse(&written, file).expect_err("refused");
        assert!(fault.place.line.is_some() && fault.next.contains("more to correct"));
    }

    fn no_machine(file: &Path) -> Outcome<String> {
        panic!("{} is not asked for", file.display())
    }

    #[test]
    fn a_null_in_a_list_is_refused() {
        let patch = serde_json::from_str(r#"{"a":[null]}"#).expect("an object");
        assert!(merge(&mut toml::Table::new(), &patch).is_err());
    }
}
