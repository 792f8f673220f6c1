//! From text to a job: TOML, shape, rules, defaults.

use super::defaults;
use super::machine_file::{self, Reader};
use super::open_settings;
use super::rules;
use super::schema;
use super::seed_tag;
use super::shape;
use super::tree::{self, LineStarts, Lines, NotToml, short};
use super::types::Job;
use super::us_units;
use crate::findings::{Fault, Place};
use std::path::Path;

/// Why a text is no job: all faults that were found where reading stopped.
pub(super) struct Refused {
    /// The topmost.
    first: Box<Fault>,
    /// From the top down.
    others: Vec<Fault>,
}

impl From<Box<Fault>> for Refused {
    fn from(first: Box<Fault>) -> Self {
        Self {
            first,
            others: Vec::new(),
        }
    }
}

impl Refused {
    /// Lets through what has no faults.
    pub(super) fn any(mut faults: Vec<Fault>) -> Result<(), Self> {
        faults.sort_by_key(|fault| fault.place.line);
        let mut faults = faults.into_iter();
        match faults.next() {
            None => Ok(()),
            Some(first) => Err(Self {
                first: Box::new(first),
                others: faults.collect(),
            }),
        }
    }

    /// The topmost fault, which also names the lines of the others.
    pub(super) fn told(self) -> Box<Fault> {
        let mut first = self.first;
        let others = self.others.iter();
        let mut lines: Vec<usize> = others.filter_map(|fault| fault.place.line).collect();
        lines.dedup();
        if !lines.is_empty() {
            let listed = lines
                .iter()
                .map(usize::to_string)
                .collect::<Vec<_>>()
                .join(", ");
            let plural = if lines.len() == 1 { "line" } else { "lines" };
            first
                .next
                .push_str(&format!(" (more to correct in {plural} {listed})"));
        }
        first
    }

    /// The same for a text that stands in no file, though it is called `file`: its lines say nothing.
    pub(super) fn told_without_lines(mut self, file: &Path) -> Box<Fault> {
        if self.first.place.file.as_deref() != file.to_str() {
            return self.told();
        }
        self.first.place.line = None;
        self.first
    }
}

pub(super) fn job(text: &str, file: &Path, reader: Reader) -> Result<Job, Refused> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Fault::input(
            "job.empty_file",
            Place::file(file),
            "the job file is empty",
            "a job in TOML",
            "start one with 'twinsow new', or look at the one that 'twinsow demo' writes",
        )
        .into());
    }
    let mut root = tree::read(text).map_err(|places| not_toml(text, file, &places))?;
    let wrong = |error: toml::de::Error| not_toml(text, file, &[NotToml::of(&error)]);
    // Before anything else: an open setting is no wrong one.
    if let Some(fault) = open_settings::fault(&root, file) {
        return Err(fault.into());
    }
    let lines = Lines::of(&root);
    let machine = machine_file::read(&root, file, reader)?;
    let named = machine.as_ref().map(|machine| machine.named.clone());
    let mut table: toml::Table = toml::from_str(text).map_err(wrong)?;
    let joined = machine.map(|machine| machine.join(&mut root, &mut table));
    Refused::any(shape::faults(&root, schema::shared(), file))?;
    let mut job: Job = match &joined {
        // Straight from the text, so that a fault knows its place.
        None => toml::from_str(text).map_err(wrong)?,
        Some(_) => table.try_into().map_err(wrong)?,
    };
    job.drill.from = None;
    Refused::any(us_units::resolve(&mut job, &lines, file))?;
    Refused::any(rules::faults(&job, &lines, joined.as_ref(), file))?;
    seed_tag::resolve(&mut job);
    defaults::dependent_defaults(&mut job);
    job.machine_file = named;
    job.folder = file.parent().map(Path::to_path_buf).unwrap_or_default();
    job.file = file.to_path_buf();
    Ok(job)
}

/// A fault for the first place that is not TOML.
pub(super) fn not_toml(text: &str, file: &Path, places: &[NotToml]) -> Box<Fault> {
    let first = places
        .iter()
        .min_by_key(|place| place.byte.unwrap_or(usize::MAX));
    let byte = first.and_then(|place| place.byte);
    let message = first.map_or("", |place| place.message.as_str());
    let line = LineStarts::of(text).line(byte.unwrap_or(0));
    let written = text.lines().nth(line - 1).unwrap_or("");
    let message = message.lines().next().unwrap_or("");
    Fault::input(
        "job.not_toml",
        Place::file(file).line(line),
        format!("not TOML: {message}, in: {}", short(written.trim())),
        "key = value, with text in quotes, or [table]",
        toml_advice(written, first.is_some_and(|place| place.twice)),
    )
}

fn toml_advice(written: &str, twice: bool) -> &'static str {
    let value = written
        .split_once('=')
        .map_or("", |(_, value)| value.trim());
    let decimal_comma = {
        let code = value.split('#').next().unwrap_or("").trim();
        code.split_once(',').is_some_and(|(left, right)| {
            let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
            digits(left.trim()) && digits(right.trim())
        })
    };
    if twice {
        "keep one of the two, or write [[table]] with double brackets where several are meant"
    } else if decimal_comma {
        "write decimals with a point: 6.5, not 6,5"
    } else if value.starts_with('"') && value.contains('\\') {
        "in \"...\" a backslash starts a special character: use / in paths, or single quotes"
    } else if value.starts_with(|c: char| c.is_alphabetic()) {
        "put text in quotes: key = \"text\""
    } else {
        "correct this line"
    }
}
