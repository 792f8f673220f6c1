//! What lies on a stick, for programs and for the next stick in the same folder.

use super::field::Field;
use super::ids::GivenId;
use super::parts::Limits;
use super::spreaders::Machine;
use crate::document::MADE_BY;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Moisture;
use crate::read::no_endless;
use crate::units::{M2_PER_HA, UnitSystem};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

/// Name of the file.
pub const FILE: &str = "stick.json";
const FORMAT: &str = "twinsow-stick";
const VERSION: u32 = 1;
/// A record of ten thousand fields has some tens of megabytes.
const MOST_BYTES: u64 = 500_000_000;

/// The record of a stick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Says that this is the record of a stick.
    pub format: String,
    /// Version of the layout.
    pub version: u32,
    /// Program and version that made it.
    pub made_by: String,
    /// When it was made, RFC 3339.
    pub made_at: String,
    /// The form in the folder TASKDATA.
    pub form: String,
    /// The other forms.
    pub other_forms: Vec<String>,
    /// The machine that the plans are for; not in records of programs that did not tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub machine: Option<Machine>,
    /// What the terminal holds, as it was said when the sets were made.
    #[serde(default)]
    pub limits: Limits,
    /// The fields, in the order of the tasks.
    pub fields: Vec<OnStick>,
    /// Plans that lay here and gave way to newer ones of the same field, the last first: a terminal may still list their tasks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub replaced: Vec<Replaced>,
    /// Every id that is given in this folder, those of fields that were on an earlier stick too.
    pub ids: Vec<GivenId>,
}

impl Record {
    /// Fields by the units in which a screen shows them, each with the words of its units.
    pub fn by_units(&self) -> Vec<(&'static str, Vec<String>)> {
        let words = [
            (UnitSystem::Metric, "kg/ha and kg"),
            (UnitSystem::UsCustomary, "lb/ac and lb"),
        ];
        let of = |units: UnitSystem| {
            let own = self.fields.iter().filter(|field| field.units == units);
            own.map(OnStick::words_with_seedbed).collect::<Vec<_>>()
        };
        let all = words.map(|(units, words)| (words, of(units)));
        all.into_iter().filter(|(_, own)| !own.is_empty()).collect()
    }
}

/// A plan that gave way to a newer one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Replaced {
    /// Id of the plan that lay here.
    pub plan: String,
    /// The field in words.
    pub field: String,
    /// Of two plans of the field, the seedbed that it was for.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[serde(default)]
    pub seedbed: Option<Moisture>,
    /// Id of the plan that took its place.
    pub by: String,
    /// When it did, RFC 3339.
    pub at: String,
}

/// A field on a stick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OnStick {
    /// As the job names it; empty where it does not.
    pub customer: String,
    /// The same.
    pub farm: String,
    /// The same.
    pub field: String,
    /// Name of the job.
    pub job: String,
    /// Id of the plan.
    pub plan: String,
    /// Of two plans of the field, the seedbed that this one is for.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[serde(default)]
    pub seedbed: Option<Moisture>,
    /// When it was planned, RFC 3339.
    pub planned_at: String,
    /// Day of sowing, where the job names one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[serde(default)]
    pub sowing_date: Option<String>,
    /// The units of its job's pages.
    #[serde(default)]
    pub units: UnitSystem,
    /// Land on the map, m2.
    pub mapped_m2: f64,
    /// In job order.
    pub products: Vec<ProductOnStick>,
    /// Number of the set in which it lies, from 1.
    pub part: usize,
}

/// A product of a field on a stick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProductOnStick {
    /// Name on the screen.
    pub name: String,
    /// Lot, where the job names one for all of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[serde(default)]
    pub lot: Option<String>,
    /// Hopper.
    pub hopper: String,
    /// Lowest rate above zero, kg/ha.
    pub lowest_kg_per_ha: f64,
    /// Mean on land with a rate, kg/ha.
    pub mean_kg_per_ha: f64,
    /// Highest rate, kg/ha.
    pub highest_kg_per_ha: f64,
    /// On the map, kg.
    pub map_kg: f64,
}

/// What tells a field apart: customer, farm and field, and where none of them is named the name of the job. Small and capital
/// letters are the same.
pub fn known_as(names: [&str; 3], job: &str) -> [String; 4] {
    let is_named = names.iter().any(|name| !name.trim().is_empty());
    let [customer, farm, field] = names;
    let job = if is_named { "" } else { job };
    [customer, farm, field, job].map(|name| name.trim().to_lowercase())
}

impl OnStick {
    /// What a field's plan says.
    pub(super) fn of(field: &Field, part: usize) -> Self {
        let [customer, farm, name] = field.names().map(str::to_owned);
        let plan = &field.plan;
        let names = plan.terminal.carried_as.iter();
        let products = plan.tally.products.iter().zip(names);
        let products = products.map(|(of, names)| ProductOnStick {
            name: names.task_data.clone(),
            lot: of.lot.clone(),
            hopper: of.hopper.clone(),
            lowest_kg_per_ha: of.lowest_kg_per_ha,
            mean_kg_per_ha: match of.sown_m2 > 0.0 {
                true => of.map_kg() / of.sown_m2 * M2_PER_HA,
                false => 0.0,
            },
            highest_kg_per_ha: of.highest_kg_per_ha,
            map_kg: of.map_kg(),
        });
        Self {
            customer,
            farm,
            field: name,
            job: plan.job.plain_name().to_owned(),
            plan: plan.id.clone(),
            seedbed: field.moisture(),
            planned_at: plan.made_at.clone(),
            sowing_date: plan.job.sowing_date.clone(),
            units: plan.job.report.units,
            mapped_m2: plan.tally.mapped_m2,
            products: products.collect(),
            part,
        }
    }

    /// What tells its field apart.
    pub fn known_as(&self) -> [String; 4] {
        known_as([&self.customer, &self.farm, &self.field], &self.job)
    }

    /// The field in words, with the farm where there is one.
    pub fn words(&self) -> String {
        match (self.farm.as_str(), self.field.as_str()) {
            ("", "") => self.job.clone(),
            ("", field) => field.to_owned(),
            (farm, field) => format!("{field} ({farm})"),
        }
    }

    /// The field and, of two plans for its seedbeds, which this is.
    pub fn words_with_seedbed(&self) -> String {
        match self.seedbed {
            Some(moisture) => format!("{}, {} map", self.words(), moisture.mark()),
            None => self.words(),
        }
    }
}

impl Record {
    /// Fields that have one of two maps for their seedbeds here, and the seedbed that it is for.
    pub fn without_other_seedbed(&self) -> impl Iterator<Item = (&OnStick, Moisture)> {
        let names = |of: &OnStick| [of.customer.clone(), of.farm.clone(), of.words()];
        let one_of_two = self.fields.iter().filter_map(|of| Some((of, of.seedbed?)));
        one_of_two.filter(move |(of, moisture)| {
            let is_other = |other: &&OnStick| {
                other.seedbed == Some(moisture.other()) && names(other) == names(of)
            };
            !self.fields.iter().any(|other| is_other(&other))
        })
    }

    pub(super) fn new(made_at: &str, form: &str) -> Self {
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            made_by: MADE_BY.to_owned(),
            made_at: made_at.to_owned(),
            form: form.to_owned(),
            other_forms: Vec::new(),
            machine: None,
            limits: Limits::default(),
            fields: Vec::new(),
            replaced: Vec::new(),
            ids: Vec::new(),
        }
    }

    /// Names the plans of an earlier stick that have given way to those of this one. A plan that is here again is not replaced, and
    /// replaces none: it lay beside them. Of two plans of a field that for the other seedbed replaces none either.
    pub(super) fn replaces(&mut self, before: &Self) {
        let names = |of: &OnStick| {
            [&of.customer, &of.farm, &of.words()].map(|name| name.trim().to_lowercase())
        };
        let lay_there = |new: &OnStick| before.fields.iter().any(|old| old.plan == new.plan);
        for old in &before.fields {
            let mut same = self.fields.iter().filter(|new| {
                let other = new.seedbed.zip(old.seedbed).is_some_and(|(a, b)| a != b);
                names(new) == names(old) && !other && !lay_there(new)
            });
            if let Some(new) = same.next() {
                self.replaced.push(Replaced {
                    plan: old.plan.clone(),
                    field: old.words(),
                    seedbed: old.seedbed,
                    by: new.plan.clone(),
                    at: self.made_at.clone(),
                });
            }
        }
        self.replaced.extend(before.replaced.iter().cloned());
        let here: BTreeSet<&str> = self.fields.iter().map(|own| own.plan.as_str()).collect();
        self.replaced
            .retain(|own| !here.contains(own.plan.as_str()));
    }

    /// The record in a folder; `None` where there is none.
    ///
    /// # Errors
    /// One that cannot be read, or is none of this version.
    pub fn read(folder: &Path) -> Outcome<Option<Self>> {
        let path = folder.join(FILE);
        let refused = |found: String| {
            Fault::input(
                "stick.record",
                Place::file(&path),
                found,
                format!("a record of a stick, '{FORMAT}' version {VERSION}, as it was written"),
                "Name another folder for the stick. Ids may then differ from those that the terminal knows.",
            )
        };
        let length = match fs::metadata(&path) {
            Ok(found) => found.len(),
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(unreadable(&path, &error)),
        };
        no_endless(&path)?;
        if length > MOST_BYTES {
            return Err(refused(format!("The record has {length} bytes")));
        }
        let text = fs::read(&path).map_err(|error| unreadable(&path, &error))?;
        let record: Self = serde_json::from_slice(&text)
            .map_err(|error| refused(format!("This is no record of a stick ({error})")))?;
        match record.format == FORMAT && record.version == VERSION {
            true => Ok(Some(record)),
            false => Err(refused(format!(
                "This is '{}' version {}",
                record.format.chars().take(60).collect::<String>(),
                record.version
            ))),
        }
    }

    pub(super) fn text(&self) -> Outcome<String> {
        let text = serde_json::to_string_pretty(self).map_err(|error| {
            Fault::program(
                "stick.record",
                Place::nowhere(),
                format!("The record cannot be made: {error}"),
                "numbers and texts",
            )
        })?;
        Ok(text + "\n")
    }
}

fn unreadable(path: &Path, error: &std::io::Error) -> Box<Fault> {
    Fault::machine(
        "stick.record",
        Place::file(path),
        format!("The record cannot be read ({error})"),
        "a file that may be read, on a disk that gives it back",
        "Give yourself the right to read it, check the disk, or name another folder for the stick.",
    )
}
