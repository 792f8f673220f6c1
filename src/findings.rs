//! What the program has to say about the input: [`Finding`] for everything repaired, filled, capped
//! or rounded while the job goes on, [`Fault`] for what stops it.

mod amounts;
mod decision;

pub use decision::{Concerns, Decision, Extent, Settled, Signature};

use crate::coordinates::LonLat;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::fmt;
use std::path::Path;

/// Where something was found. Every part is optional; what is known is printed, in this order.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
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
    pub lon_lat: Option<LonLat>,
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
    pub fn at(mut self, lon_lat: LonLat) -> Self {
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
        if let Some(LonLat { lon, lat }) = self.lon_lat {
            // Zero has no sign, and what lies beyond all maps no wall of digits.
            let degrees = |value: f64| match value.abs() < 1e6 {
                true => format!("{:.6}", value + 0.0),
                false => number(value),
            };
            parts.push(format!("at {}, {}", degrees(lon), degrees(lat)));
        }
        out.write_str(&parts.join(", "))
    }
}

/// How much a finding weighs.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Done by a stated rule; nothing to decide.
    Note,
    /// Worth a look; the result stands. With `--strict` the exit code is 1 for it, too.
    Warning,
    /// The result stands only if the job changes or somebody signs: until then the exit code is 1, and no file that
    /// a terminal could load is written for what it concerns.
    Decision,
}

/// Something repaired, filled, capped, rounded or doubted while the job went on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// Stable code, `part.thing`, such as `zones.gap_filled`.
    pub code: Cow<'static, str>,
    /// How much it weighs.
    pub severity: Severity,
    /// Where it is.
    pub place: Place,
    /// One or two sentences: what was found, what was done, how much (with unit).
    pub message: String,
    /// The area it is about, in m2, where that makes sense.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub area_m2: Option<f64>,
    /// Of a decision: what it concerns.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub concerns: Option<Concerns>,
    /// Of a decision about a layer or a special area: the name that the job has for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// Of a decision: how far it goes, where hectares alone do not say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extent: Option<Extent>,
    /// Of a decision: who has signed for it. It is open without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accepted: Option<Signature>,
}

impl Finding {
    fn new(
        severity: Severity,
        code: &'static str,
        place: Place,
        message: impl Into<String>,
    ) -> Self {
        Self {
            code: code.into(),
            severity,
            place,
            message: message.into(),
            area_m2: None,
            concerns: None,
            about: None,
            extent: None,
            accepted: None,
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

    /// Somebody has to decide. It concerns the whole field unless [`Self::of_products`] says less.
    pub fn decision(decision: Decision, place: Place, message: impl Into<String>) -> Self {
        Self {
            concerns: Some(Concerns::Field),
            ..Self::new(Severity::Decision, decision.code(), place, message)
        }
    }

    /// The same decision, concerning these products alone: ids, in job order.
    pub fn of_products<'a>(mut self, ids: impl IntoIterator<Item = &'a str>) -> Self {
        let ids: Vec<String> = ids.into_iter().map(str::to_owned).collect();
        // A decision about nothing would hold nothing back.
        if !ids.is_empty() {
            self.concerns = Some(Concerns::Products(ids));
        }
        self
    }

    /// The same decision, about a layer or a special area of this name in the job.
    pub fn about(mut self, name: &str) -> Self {
        self.about = Some(name.to_owned());
        self
    }

    /// The same decision, with how far it goes.
    pub fn extent(mut self, extent: Extent) -> Self {
        self.extent = Some(extent);
        self
    }

    /// Whether it is a decision that nobody has signed for.
    pub fn is_open(&self) -> bool {
        self.severity == Severity::Decision && self.accepted.is_none()
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
    /// The program is: exit code 3. No input may bring that about.
    Program,
}

/// What to do about a fault of the program.
const REPORT: &str = "This is a fault of twinsow, not of your work or your files: report it with the job and its files.";

/// What stops a job: one clear error that says where, what was found, what is allowed and what to
/// do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fault {
    /// Stable code, `part.thing`, such as `read.truncated`.
    pub code: &'static str,
    /// Whether the input, the machine or the program is at fault.
    pub blame: Blame,
    /// Where it is: file, line, feature, place on Earth, as far as known.
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

    /// A fault of the program: something that no input may bring about, and that an earlier step should have seen.
    /// Whoever meets it is asked to report it.
    pub fn program(
        code: &'static str,
        place: Place,
        found: impl Into<String>,
        allowed: impl Into<String>,
    ) -> Box<Self> {
        let mut fault = Self::input(code, place, found, allowed, REPORT);
        fault.blame = Blame::Program;
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

/// A number as a person reads it in a message: at most six decimals, none that says nothing, no sign before
/// zero; one that is very large or very small as a power of ten.
pub fn number(value: f64) -> String {
    let size = value.abs();
    if !value.is_finite() {
        return match value.is_nan() {
            true => "not a number".to_owned(),
            false => format!("{value}"),
        };
    }
    if value == 0.0 {
        // Minus zero too.
        return "0".to_owned();
    }
    if size >= 1e15 || (size < 5e-7 && size != 0.0) {
        let text = format!("{value:.2e}");
        let (digits, power) = text.split_once('e').unwrap_or((&text, "0"));
        let digits = without_zeros(digits);
        return format!("{digits}e{power}");
    }
    // Sixteen digits are all that a number of 64 bits has; of a large one fewer decimals mean anything.
    let whole = size.max(1.0).log10().floor();
    let decimals = (14.0 - whole).clamp(0.0, 6.0) as usize;
    let text = format!("{value:.decimals$}");
    without_zeros(&text).to_owned()
}

/// A decimal number without the zeros at its end that say nothing.
pub fn without_zeros(text: &str) -> &str {
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => text,
    }
}

/// An area in a message, in m2: to the square decimetre, or finer where it is smaller; `0` for what is none.
pub fn square_metres(m2: f64) -> String {
    match m2.abs() {
        size if size < 5e-7 => "0".to_owned(),
        size if size < 0.01 => number(m2),
        _ => number((m2 * 100.0).round() / 100.0),
    }
}

/// A result whose error stops the job.
pub type Outcome<T> = Result<T, Box<Fault>>;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_messages_are_for_people() {
        for (value, wanted) in [
            (160.000_000_000_000_03, "160"),
            (-0.0, "0"),
            (-0.000_000_1, "-1e-7"),
            (4e108, "4e108"),
            (-1.234_56e-12, "-1.23e-12"),
            (0.1 + 0.2, "0.3"),
            (5.123_456_789, "5.123457"),
            (6_071_905.25, "6071905.25"),
            (123_456_789_012.345_6, "123456789012.346"),
            (f64::MAX, "1.8e308"),
            (f64::NAN, "not a number"),
            (f64::NEG_INFINITY, "-inf"),
        ] {
            assert_eq!(number(value), wanted);
        }
        for (value, wanted) in [
            (-0.000_000_01, "0"),
            (0.000_25, "0.00025"),
            (0.6, "0.6"),
            (30_024.123_456, "30024.12"),
            (1e300, "1e300"),
        ] {
            assert_eq!(square_metres(value), wanted);
        }
    }

    #[test]
    fn a_place_far_out_is_no_wall_of_digits() {
        let place = Place::nowhere().at(LonLat::new(1e300, -0.0));
        assert_eq!(place.to_string(), "at 1e300, 0.000000");
    }
}
