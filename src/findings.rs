//! What the program has to say about the input: [`Finding`] for everything repaired, filled, capped
//! or rounded while the job goes on, [`Fault`] for what stops it.

use serde::Serialize;
use std::fmt;
use std::path::Path;

/// Where something was found. Every part is optional; what is known is printed, in this order.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Place {
    /// The file as the user named it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The layer or table inside the file.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    /// Line of a text file, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// The feature, as its file names it (an id, or its number from 1).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feature: Option<String>,
    /// Longitude and latitude in degrees on WGS 84.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lon_lat: Option<[f64; 2]>,
}

impl Place {
    /// A place that is not known any closer.
    pub fn nowhere() -> Self {
        Self::default()
    }

    /// A place in a file.
    pub fn file(path: impl AsRef<Path>) -> Self {
        Self {
            file: Some(path.as_ref().display().to_string()),
            ..Self::default()
        }
    }

    /// The same place, in this layer or table of the file.
    pub fn layer(mut self, name: impl Into<String>) -> Self {
        self.layer = Some(name.into());
        self
    }

    /// The same place, at this line (from 1).
    pub fn line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }

    /// The same place, at this feature.
    pub fn feature(mut self, feature: impl ToString) -> Self {
        self.feature = Some(feature.to_string());
        self
    }

    /// The same place, at this longitude and latitude (degrees, WGS 84).
    pub fn at(mut self, lon_lat: [f64; 2]) -> Self {
        self.lon_lat = Some(lon_lat);
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        match (&self.file, self.line) {
            (Some(file), Some(line)) => parts.push(format!("{file}:{line}")),
            (Some(file), None) => parts.push(file.clone()),
            (None, Some(line)) => parts.push(format!("line {line}")),
            (None, None) => {}
        }
        if let Some(layer) = &self.layer {
            parts.push(format!("layer '{layer}'"));
        }
        if let Some(feature) = &self.feature {
            parts.push(format!("feature {feature}"));
        }
        if let Some([lon, lat]) = self.lon_lat {
            parts.push(format!("at {lon:.6}, {lat:.6}"));
        }
        out.write_str(&parts.join(", "))
    }
}

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Done by a stated rule; nothing to decide.
    Note,
    /// Worth a look; the result stands. `--strict` treats it as [`Severity::Decision`].
    Warning,
    /// The result stands only if somebody agrees: the exit code becomes 1.
    Decision,
}

/// Something repaired, filled, capped, rounded or doubted while the job went on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Stable code, `part.thing`, such as `zones.gap_filled`.
    pub code: &'static str,
    pub severity: Severity,
    pub place: Place,
    /// One or two sentences: what was found, what was done, how much (with unit).
    pub message: String,
    /// The area it is about, in m2, where that makes sense.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub area_m2: Option<f64>,
}

impl Finding {
    fn new(
        severity: Severity,
        code: &'static str,
        place: Place,
        message: impl Into<String>,
    ) -> Self {
        Self {
            code,
            severity,
            place,
            message: message.into(),
            area_m2: None,
        }
    }

    /// Done by a stated rule; nothing to decide.
    pub fn note(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, place, message)
    }

    /// Worth a look.
    pub fn warning(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, place, message)
    }

    /// Somebody has to agree.
    pub fn decision(code: &'static str, place: Place, message: impl Into<String>) -> Self {
        Self::new(Severity::Decision, code, place, message)
    }

    /// The same finding with the area it is about, in m2.
    pub fn area(mut self, area_m2: f64) -> Self {
        self.area_m2 = Some(area_m2);
        self
    }
}

/// Whose fault it is that the job stopped; decides the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Blame {
    /// The input is at fault: exit code 2.
    Input,
    /// The machine is (disk, permission): exit code 3.
    Machine,
}

/// What stops a job: one clear error that says where, what was found, what is allowed and what to
/// do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fault {
    /// Stable code, `part.thing`, such as `read.truncated`.
    pub code: &'static str,
    pub blame: Blame,
    pub place: Place,
    /// What was found, with its value.
    pub found: String,
    /// What is allowed instead.
    pub allowed: String,
    /// What to do next.
    pub next: String,
}

impl Fault {
    /// A fault of the input.
    ///
    /// `found` is a sentence without its full stop; `allowed` completes "Allowed: ..."; `next` is an
    /// instruction.
    pub fn input(
        code: &'static str,
        place: Place,
        found: impl Into<String>,
        allowed: impl Into<String>,
        next: impl Into<String>,
    ) -> Box<Self> {
        Box::new(Self {
            code,
            blame: Blame::Input,
            place,
            found: found.into(),
            allowed: allowed.into(),
            next: next.into(),
        })
    }

    /// A fault of the machine: a disk that is full, a folder that may not be written.
    pub fn machine(
        code: &'static str,
        place: Place,
        found: impl Into<String>,
        allowed: impl Into<String>,
        next: impl Into<String>,
    ) -> Box<Self> {
        let mut fault = Self::input(code, place, found, allowed, next);
        fault.blame = Blame::Machine;
        fault
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = self.place.to_string();
        if !place.is_empty() {
            write!(out, "{place}: ")?;
        }
        write!(out, "{}.", self.found.trim_end_matches('.'))?;
        if !self.allowed.is_empty() {
            write!(out, "\n  Allowed: {}.", self.allowed.trim_end_matches('.'))?;
        }
        write!(out, "\n  Next: {}", self.next)
    }
}

impl std::error::Error for Fault {}

/// A result whose error stops the job.
pub type Outcome<T> = Result<T, Box<Fault>>;
