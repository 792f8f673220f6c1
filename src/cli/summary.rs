//! What `--json` prints: one object per job, on one line.

use super::Exit;
use super::frame;
use super::show::words;
use crate::agronomy::caution::{self, Cautions};
use crate::drill;
use crate::drive;
use crate::drive::tramline::Rhythm;
use crate::findings::{Fault, Finding, Outcome};
use crate::job::LandPart;
use crate::plan::Plan;
use crate::tally::Tally;
use crate::units::M2_PER_HA;
use crate::write::Written;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

/// A job that was planned.
#[derive(Serialize)]
pub(super) struct Summary<'a> {
    job: String,
    exit: Exit,
    plan: &'a str,
    name: &'a str,
    field: &'a str,
    farm: &'a str,
    out: String,
    mapped_ha: f64,
    rates: Vec<Row<'a>>,
    position_lost_kg_per_ha: BTreeMap<&'a str, f64>,
    out_of_field_kg_per_ha: BTreeMap<&'a str, f64>,
    drill: drill::Report,
    tramlines: Option<Rhythm>,
    drive: Option<&'a drive::Report>,
    tally: &'a Tally,
    findings: &'a [Finding],
    /// Ids of products whose files for terminals wait for a decision.
    held_back: Vec<&'a str>,
    cautions: Vec<Cautions>,
    files: Vec<File>,
}

/// A row of the rate table.
#[derive(Serialize)]
pub(super) struct Row<'a> {
    row: usize,
    land_part: LandPart,
    classes: BTreeMap<&'a str, &'a str>,
    special_areas: Vec<&'a str>,
    setbacks: Vec<&'a str>,
    ha: f64,
    kg_per_ha: BTreeMap<&'a str, f64>,
    kg: BTreeMap<&'a str, f64>,
    /// kg/ha left to broadcast, for products that leave some.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    balance_kg_per_ha: BTreeMap<&'a str, f64>,
}

#[derive(Serialize)]
struct File {
    path: String,
    bytes: u64,
    what: String,
}

impl<'a> Summary<'a> {
    pub(super) fn of(
        plan: &'a Plan,
        job: &Path,
        out: &Path,
        written: &[Written],
        exit: Exit,
    ) -> Self {
        let ids = || plan.job.products.iter().map(|product| product.id.as_str());
        let files = written.iter().map(|file| File {
            path: words::slashed(&file.path),
            bytes: file.bytes,
            what: file.what.clone(),
        });
        Self {
            job: job.display().to_string(),
            exit,
            plan: &plan.id,
            name: &plan.job.name,
            field: &plan.job.field.name,
            farm: &plan.job.field.farm,
            out: out.display().to_string(),
            mapped_ha: plan.tally.planned.mapped_m2 / M2_PER_HA,
            rates: rows(plan),
            position_lost_kg_per_ha: ids()
                .zip(plan.rates.position_lost_kg_per_ha.iter().copied())
                .collect(),
            out_of_field_kg_per_ha: ids()
                .zip(plan.rates.out_of_field_kg_per_ha.iter().copied())
                .collect(),
            drill: plan.drill(),
            tramlines: plan.tramlines().cloned(),
            drive: plan.drive.report.as_ref(),
            tally: &plan.tally.planned,
            findings: &plan.findings,
            held_back: plan.held_back(),
            cautions: caution::cautions(&plan.job),
            files: files.collect(),
        }
    }

    pub(super) fn line(&self) -> Outcome<String> {
        frame::json(self)
    }
}

/// The rate table.
pub(super) fn rows(plan: &Plan) -> Vec<Row<'_>> {
    let ids = || plan.job.products.iter().map(|product| product.id.as_str());
    let rows = plan.rates.rows.iter().enumerate().map(|(n, combination)| {
        let ha = combination.area_m2 / M2_PER_HA;
        let rates = || combination.rates.iter().map(|rate| rate.kg_per_ha);
        let layers = plan.job.layers.iter().map(|layer| layer.name.as_str());
        Row {
            row: n + 1,
            land_part: combination.facts.part,
            classes: layers
                .zip(combination.facts.classes.iter().map(String::as_str))
                .collect(),
            special_areas: words::special_areas(&plan.job, &combination.facts),
            setbacks: words::setbacks(&plan.job, &combination.facts),
            ha,
            kg_per_ha: ids().zip(rates()).collect(),
            balance_kg_per_ha: ids()
                .zip(&combination.rates)
                .filter_map(|(id, rate)| Some((id, rate.balance.as_ref()?.kg_per_ha)))
                .collect(),
            kg: ids().zip(rates().map(|rate| rate * ha)).collect(),
        }
    });
    rows.collect()
}

/// A job that stopped.
#[derive(Serialize)]
pub(super) struct Failure<'a> {
    job: String,
    /// Which field of a job with `split_by`.
    #[serde(skip_serializing_if = "Option::is_none")]
    field: Option<&'a str>,
    exit: Exit,
    fault: &'a Fault,
    /// The fault as it is printed for people.
    text: String,
}

impl<'a> Failure<'a> {
    pub(super) fn of(fault: &'a Fault, job: &Path, field: Option<&'a str>, exit: Exit) -> Self {
        Self {
            job: job.display().to_string(),
            field,
            exit,
            fault,
            text: fault.to_string(),
        }
    }

    pub(super) fn line(&self) -> String {
        line_of_fault(self, self.fault)
    }
}

/// The line of something that stopped; of a value that is none in JSON only what the fault says.
pub(super) fn line_of_fault(value: &impl Serialize, fault: &Fault) -> String {
    frame::json(value).unwrap_or_else(|_| {
        let text = serde_json::Value::from(fault.to_string());
        let exit = u8::from(Exit::of_fault(fault));
        format!("{{\"exit\":{exit},\"text\":{text}}}\n")
    })
}
