//! What is told of a harvest: files and text.

use super::Args;
use crate::cli::clock;
use crate::cli::show::findings;
use crate::cli::show::number::Numbers;
use crate::cli::targets::Known;
use crate::compare::PlanMap;
use crate::coordinates::PlaneXy;
use crate::document;
use crate::findings::{Finding, Outcome};
use crate::harvest::{
    self, Answer, Applied, Cleaned, Earlier, Plots, Readings, Scale, Settings, ZoneGain, Zones,
};
use crate::plan::LaidTrial;
use crate::read;
use crate::report;
use serde_json::json;
use std::ffi::OsStr;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// All that is told.
pub(super) struct Told<'a> {
    pub args: &'a Args,
    pub plan: &'a PlanMap,
    pub zones: &'a Zones<'a>,
    pub readings: &'a Readings,
    pub cleaned: &'a Cleaned,
    pub scale: &'a Scale,
    pub plots: Option<&'a Plots>,
    pub by_log: Option<&'a [Applied]>,
    /// The trial of the plan, where its plots are answered.
    pub trial: Option<&'a LaidTrial>,
    pub gains: &'a [ZoneGain],
    /// Yield maps of earlier years.
    pub earlier: Vec<Earlier>,
    pub answer: Option<&'a Answer>,
    pub settings: &'a Settings,
}

/// Edge of a square of the yield map, m: two readings' mix (common practice, no source).
const EDGE_M: f64 = 20.0;

/// What an earlier file of this name is known by.
pub(super) fn known(file: &Path) -> Known<'static> {
    const FEATURES: &str = "{\"type\":\"FeatureCollection\",\"features\":[";
    match file.file_name().and_then(OsStr::to_str).unwrap_or_default() {
        "readings.geojson" => Known::Text(FEATURES, "\"taken_by\":"),
        "yield.geojson" => Known::Text(FEATURES, "\"plus_minus_kg_per_ha\":"),
        "years.geojson" => Known::Text(FEATURES, "\"variation_percent\":"),
        "next-trial.toml" => Known::Text(harvest::NEXT_TRIAL, ""),
        "harvest.json" => Known::Text("{\n  \"plan\":", "\n  \"moisture_basis_percent\":"),
        _ => Known::Page("answer-title"),
    }
}

/// Files to be written, with what is in them.
type Files = Vec<(PathBuf, Vec<u8>)>;

impl Told<'_> {
    /// The answer as JSON; page, answer and map layers as files to be written together.
    pub fn files(&self, findings: &[Finding]) -> Outcome<(serde_json::Value, Files)> {
        let json_file = document::file_of(&self.args.plan);
        let folder = json_file.parent().unwrap_or(Path::new("."));
        let out = self
            .args
            .out
            .clone()
            .unwrap_or_else(|| match folder.file_name() {
                Some(_) => folder.with_file_name("harvest"),
                None => folder.join("..").join("harvest"),
            });
        let made_at = clock::timestamp();
        let cells = harvest::surface(self.cleaned, EDGE_M);
        let years = match self.earlier.is_empty() {
            true => Vec::new(),
            false => harvest::stacked(&cells, EDGE_M, &self.earlier)?,
        };
        let zones = self.zones.yields(self.cleaned);
        let land: Vec<&read::Polygon<PlaneXy>> =
            self.plan.land().map(|(_, polygon)| polygon).collect();
        let next_trial = self.next_trial();
        let values = harvest::page_values(&harvest::Facts {
            field: &self.plan.field,
            plan: &self.plan.id,
            basis_percent: self.settings.basis_percent,
            currency: &self.args.currency,
            readings: self.readings,
            cleaned: self.cleaned,
            scale: self.scale,
            cells: &cells,
            edge_m: EDGE_M,
            zones: &zones,
            land: &land,
            plots: self.plots,
            by_log: self.by_log,
            gains: self.gains,
            years: &years,
            tried: self
                .trial
                .map(|trial| trial.products.as_slice())
                .unwrap_or_default(),
            has_next_trial: next_trial.is_some(),
            answer: self.answer,
            made_at: &made_at,
            language: self.plan.language,
        });
        let steps: Vec<_> = self.cleaned.steps.iter().map(|step| json!({ "step": step.step.key(), "readings": step.readings, "limits": step.limits.map(|limits| limits.map(|v| v.is_finite().then_some(v))) })).collect();
        let groups: Vec<_> = self.scale.groups.iter().map(|(machine, load, monitor, weighed, factor)| json!({ "combine": machine, "load": load, "monitor_kg": monitor, "weighed_kg": weighed, "factor": factor })).collect();
        let json = json!({
            "plan": self.plan.id,
            "field": self.plan.field,
            "made_at": made_at,
            "moisture_basis_percent": self.settings.basis_percent,
            "indication": !self.scale.is_whole(),
            "readings": self.cleaned.readings.len(),
            "without_place_or_grain": self.readings.without,
            "counting": self.cleaned.counting().count(),
            "mean_kg_per_ha": self.cleaned.mean(self.cleaned.counting()),
            "delay_s": self.cleaned.delay.map(|delay| delay.seconds),
            "overlap_m2": self.cleaned.has_land.then_some(self.cleaned.overlap_m2),
            "steps": steps,
            "weighed": groups,
            "zones": zones,
            "plots": self.plots.map(|plots| &plots.of),
            "by_log": self.by_log,
            "by_zone": self.gains,
            "years": years,
            "answer": self.answer,
            "sentence": self.answer.map(harvest::sentence),
            "money": self.answer.map(|answer| harvest::money_sentence(answer, &self.args.currency)),
            "findings": findings,
        });
        let frame = self.plan.frame();
        let page = report::harvest_page(values, self.plan.language)?;
        let mut files: Vec<(&str, Vec<u8>)> = vec![
            (
                "readings.geojson",
                harvest::readings_geojson(self.cleaned, frame).into_bytes(),
            ),
            (
                "yield.geojson",
                harvest::cells_geojson(&cells, EDGE_M, frame).into_bytes(),
            ),
        ];
        files.extend(next_trial.map(|text| ("next-trial.toml", text.into_bytes())));
        if !years.is_empty() {
            let text = harvest::years_geojson(&years, EDGE_M, frame);
            files.push(("years.geojson", text.into_bytes()));
        }
        // What speaks of the others takes its name last.
        files.push((
            "harvest.json",
            format!(
                "{json:#}
"
            )
            .into_bytes(),
        ));
        files.push(("harvest.html", page));
        let files = files.into_iter();
        let files = files.map(|(name, bytes)| (out.join(name), bytes));
        Ok((json, files.collect()))
    }

    /// What to try next year, as part of a job.
    fn next_trial(&self) -> Option<String> {
        let (trial, answer) = (self.trial?, self.answer?);
        let before = harvest::Before {
            name: &trial.name,
            products: &trial.products,
            header_width_m: trial.header_width_m,
        };
        harvest::next_trial(&before, answer, self.gains)
    }

    /// The same for the screen.
    pub fn text(&self, findings: &[Finding], written: &[PathBuf]) -> String {
        let mut text = String::new();
        let counting = self.cleaned.counting().count();
        if let Some(answer) = self.answer {
            let _ = writeln!(text, "{}", harvest::sentence(answer));
            let money = harvest::money_sentence(answer, &self.args.currency);
            if !money.is_empty() {
                let _ = writeln!(text, "{money}");
            }
            for reason in harvest::reasons(self.gains) {
                let _ = writeln!(text, "{reason}");
            }
            text.push('\n');
        }
        let mean = self.cleaned.mean(self.cleaned.counting()).unwrap_or(0.0);
        let _ = writeln!(
            text,
            "{} of {} readings count, mean {:.2} t/ha at {} % moisture",
            counting,
            self.cleaned.readings.len(),
            mean / 1_000.0,
            self.settings.basis_percent
        );
        for step in self.cleaned.steps.iter().filter(|step| step.readings > 0) {
            let _ = writeln!(text, "  {:>8}  {}", step.readings, step.step.words());
        }
        if let Some(delay) = self.cleaned.delay.filter(|delay| delay.seconds > 0.0) {
            let _ = writeln!(
                text,
                "A flow delay of {:.1} s was taken off.",
                delay.seconds
            );
        }
        if !findings.is_empty() {
            text.push_str(&findings::grouped(findings, Numbers::METRIC));
        }
        for file in written {
            let _ = writeln!(text, "Wrote {}", file.display());
        }
        text
    }
}
