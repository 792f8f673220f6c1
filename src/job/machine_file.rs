//! A machine file: the `[drill]` that several jobs share, in a file of its own.
//!
//! It is held against the same schema as a job, with its own name and lines in every message. What the job
//! says in its own `[drill]` counts instead of what the machine file says, key by key.

use super::parse::{self, Refused};
use super::tree::{self, Lines, Node, NotToml, Value};
use super::{schema, shape};
use crate::findings::{Fault, Outcome, Place};
use serde_json::Value as Schema;
use std::path::{Path, PathBuf};

/// Reads the text of a file that a job names.
pub(super) type Reader<'a> = &'a dyn Fn(&Path) -> Outcome<String>;

/// A machine file that has been read and has the right shape.
pub(super) struct Machine {
    /// As the job names it.
    pub named: PathBuf,
    /// Where it lies.
    pub file: PathBuf,
    pub lines: Lines,
    root: Node,
    table: toml::Table,
}

/// The path in `from` of `[drill]`, if there is one, and its line.
fn named(root: &Node) -> Option<(&str, usize)> {
    let entry = root.entry("drill")?.node.entry("from")?;
    match &entry.node.value {
        Value::Text(path) => Some((path, entry.line)),
        _ => None,
    }
}

/// Reads the machine file that a job names; `None` where it names none.
pub(super) fn read(root: &Node, job: &Path, reader: Reader) -> Outcome<Option<Machine>> {
    let Some((path, line)) = named(root) else {
        return Ok(None);
    };
    if path.trim().is_empty() {
        return Err(Fault::input(
            "job.rule",
            Place::file(job).line(line),
            "'from' is empty",
            "the path of a machine file, relative to the job file",
            "write the path, or leave 'from' out",
        ));
    }
    let named = PathBuf::from(path);
    let file = job.parent().unwrap_or(Path::new("")).join(&named);
    let text = reader(&file).map_err(|mut fault| {
        fault.next.push_str(&format!(
            " (the machine file that {} names in line {line})",
            job.display()
        ));
        fault
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let root = tree::read(text).map_err(|places| parse::not_toml(text, &file, &places))?;
    let faults = shape::faults(&root, &of_machine(), &file);
    Refused::any(faults).map_err(Refused::told)?;
    let table: toml::Table = toml::from_str(text)
        .map_err(|error| parse::not_toml(text, &file, &[NotToml::of(&error)]))?;
    Ok(Some(Machine {
        named,
        lines: Lines::of(&root),
        file,
        root,
        table,
    }))
}

/// The schema of a job with nothing but `[drill]`, and no further machine file in it.
fn of_machine() -> Schema {
    let mut schema = schema::of_job();
    if let Some(properties) = schema.get_mut("properties").and_then(Schema::as_object_mut) {
        properties.retain(|key, _| key == "drill");
    }
    schema["required"] = serde_json::json!(["drill"]);
    let drill = schema.pointer_mut("/$defs/Drill/properties");
    if let Some(keys) = drill.and_then(Schema::as_object_mut) {
        keys.remove("from");
    }
    schema
}

impl Machine {
    /// Puts the machine's keys beside those of the job's own `[drill]`; these stay as they are.
    pub(super) fn join(self, root: &mut Node, job: &mut toml::Table) -> Joined {
        let joined = Joined {
            file: self.file,
            lines: self.lines,
        };
        let of_machine = self.root.into_entry("drill").map(|entry| entry.node.value);
        let own = root.entry_mut("drill").map(|entry| &mut entry.node.value);
        if let (Some(Value::Table(own)), Some(Value::Table(machine))) = (own, of_machine) {
            let known: Vec<String> = own.iter().map(|entry| entry.key.clone()).collect();
            own.extend(
                machine
                    .into_iter()
                    .filter(|entry| !known.contains(&entry.key)),
            );
        }
        let of_machine = self.table.get("drill").and_then(toml::Value::as_table);
        let own = job.get_mut("drill").and_then(toml::Value::as_table_mut);
        if let (Some(own), Some(machine)) = (own, of_machine) {
            for (key, value) in machine {
                own.entry(key).or_insert_with(|| value.clone());
            }
        }
        joined
    }
}

/// Where the machine's keys stand.
pub(super) struct Joined {
    pub file: PathBuf,
    pub lines: Lines,
}
