//! What lies on a stick or came from a terminal: every set with its fields, products and rates, and which plans here are
//! newer. Page: docs/formats/stick.md.

use super::record::Record;
use crate::audit::{SetRate, audit_set};
use crate::codec::taskdata::{self as dictionary, designator, rate_unit};
use crate::document::{self, ToStick};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Moisture;
use crate::read::taskdata::{self, Task, TaskSet};
use crate::units::{M2_PER_HA, UnitSystem};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Mass per area: the entries for setpoint and default.
const MASS_PER_AREA: [u16; 2] = [6, 8];

/// A set of task data.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetOn {
    /// Where it lies.
    pub folder: String,
    /// Version as it states it; empty where the set cannot be read.
    pub version: String,
    /// How it holds its maps.
    pub form: String,
    /// Whether a machine or terminal has written it.
    pub from_machine: bool,
    /// Its tasks.
    pub tasks: Vec<TaskOn>,
    /// Fields that no task is for.
    pub fields_without_task: Vec<String>,
    /// What is wrong with it, one plain line each.
    pub damage: Vec<String>,
}

/// A task of a set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TaskOn {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Names that the set has for them; empty where it has none.
    pub customer: String,
    /// The same.
    pub farm: String,
    /// The same.
    pub field: String,
    /// Id of the plan, where the name begins with one.
    pub plan: Option<String>,
    /// Land on its map, m2; 0 without a map.
    pub area_m2: f64,
    /// In the order of the file.
    pub products: Vec<ProductIn>,
    /// Records in its time logs.
    pub log_records: usize,
    /// The units of the job that it was planned by, where a plan or a record here says them.
    #[serde(skip)]
    pub units: UnitSystem,
    /// How it stands to the plans here.
    pub here: Here,
}

/// A product in a task.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProductIn {
    /// Its name on the screen.
    pub name: String,
    /// Unit of the rates, such as `kg/ha`.
    pub unit: String,
    /// Whether they are kilograms per hectare, which people may want in another unit.
    #[serde(skip)]
    pub is_mass: bool,
    /// Lowest above zero on land.
    pub lowest: Option<f64>,
    /// Mean by area on land with a rate.
    pub mean: Option<f64>,
    /// Highest.
    pub highest: Option<f64>,
    /// On the map, kg; `None` where the rate is no mass.
    pub kg: Option<f64>,
}

/// How a task stands to the plans that were named.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "is")]
pub enum Here {
    /// No plans were named, or none is of this field.
    Unknown,
    /// The plan here is the one on the stick.
    Same,
    /// The plan here was made later.
    Newer {
        /// Its id.
        plan: String,
        /// When it was made, RFC 3339.
        made_at: String,
    },
    /// The record says that it has given way to another plan.
    Replaced {
        /// Id of that plan.
        plan: String,
        /// When, RFC 3339.
        made_at: String,
    },
    /// The plan here was made earlier.
    Older {
        /// Its id.
        plan: String,
        /// When it was made, RFC 3339.
        made_at: String,
    },
    /// Another plan, and no record says when that of the stick was made.
    Other {
        /// Its id.
        plan: String,
        /// When it was made, RFC 3339.
        made_at: String,
    },
}

/// What a stick holds, held against the plans in these folders.
///
/// # Errors
/// No task data at all; a plan that cannot be read. A set that is damaged is told and stops nothing.
pub fn contents(path: &Path, plans: &[PathBuf]) -> Outcome<Vec<SetOn>> {
    let folders = sets_in(path)?;
    if !path.is_dir() {
        // A file that was named by itself is no damaged set among others.
        taskdata::read_parts(path, MAIN_FILE)?;
    }
    let plans: Vec<ToStick> = plans
        .iter()
        .map(|plan| document::read(plan))
        .collect::<Outcome<_>>()?;
    let mut on_record: BTreeMap<String, OnRecord> = BTreeMap::new();
    let mut replaced = BTreeMap::new();
    for folder in folders.iter().flat_map(|folder| folder.ancestors().take(4)) {
        // A record that cannot be read says nothing of when; that is no damage of the set.
        if let Ok(Some(record)) = Record::read(folder) {
            let gone = record.replaced.into_iter();
            for own in gone {
                replaced.entry(own.plan).or_insert((own.by, own.at));
            }
            let fields = record.fields.into_iter();
            on_record.extend(
                fields.map(|field| (field.plan, (field.planned_at, field.seedbed, field.units))),
            );
        }
    }
    // A plan that lies on a stick by its record is not replaced there.
    replaced.retain(|plan, _| !on_record.contains_key(plan));
    let mut by_field: BTreeMap<String, Vec<ToStick>> = BTreeMap::new();
    let mut ids = BTreeSet::new();
    for plan in plans {
        ids.insert(plan.id.clone());
        let name = designator(&plan.job.field.name);
        by_field.entry(name).or_default().push(plan);
    }
    let known = Known {
        ids,
        by_field,
        on_record,
        replaced,
    };
    Ok(folders.iter().map(|folder| set(folder, &known)).collect())
}

/// Plans here, and when those on the stick were made.
struct Known {
    ids: BTreeSet<String>,
    /// By the field's name as a terminal shows it.
    by_field: BTreeMap<String, Vec<ToStick>>,
    on_record: BTreeMap<String, OnRecord>,
    /// By a plan's id, which plan took its place, and when.
    replaced: BTreeMap<String, (String, String)>,
}

/// When a plan on the stick was made, which of two seedbeds it is for, and the units of its job, as its record says.
type OnRecord = (String, Option<Moisture>, UnitSystem);

/// The sets that a path stands for.
fn sets_in(path: &Path) -> Outcome<Vec<PathBuf>> {
    let direct = taskdata::is_main(path) || !path.is_dir();
    if direct {
        return Ok(vec![path.to_path_buf()]);
    }
    let mut found = Vec::new();
    let mut open = vec![(path.to_path_buf(), 0)];
    while let Some((folder, depth)) = open.pop() {
        let entries = fs::read_dir(&folder).map_err(|error| {
            Fault::machine(
                "stick.unreadable",
                Place::file(&folder),
                format!("The folder cannot be read ({error})"),
                "a folder that may be read",
                "Give yourself the right to read it.",
            )
        })?;
        let entries: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
        if entries.iter().any(|entry| taskdata::is_main(entry)) {
            found.push(folder);
            continue;
        }
        // A stick has its sets near the top; a whole disk is not searched.
        let is_link =
            |entry: &Path| fs::symlink_metadata(entry).is_ok_and(|about| about.is_symlink());
        let below = entries
            .into_iter()
            .filter(|entry| depth < DEEPEST && entry.is_dir() && !is_link(entry));
        open.extend(below.map(|entry| (entry, depth + 1)));
    }
    found.sort();
    if found.is_empty() {
        return Err(Fault::input(
            "stick.nothing",
            Place::file(path),
            format!("There is no TASKDATA.XML here, nor in folders up to {DEEPEST} deep"),
            "a stick, a folder with task data, or a zip file with it",
            "Name the stick, or the folder that was copied from the terminal.",
        ));
    }
    Ok(found)
}

/// Without the binaries.
const MAIN_FILE: taskdata::Parts = taskdata::Parts {
    grids: false,
    logs: false,
};

/// How deep below the path that was named sets are looked for.
const DEEPEST: usize = 4;

fn set(folder: &Path, known: &Known) -> SetOn {
    let mut out = SetOn {
        folder: folder.display().to_string(),
        version: String::new(),
        form: String::new(),
        from_machine: false,
        tasks: Vec::new(),
        fields_without_task: Vec::new(),
        damage: Vec::new(),
    };
    let set = match taskdata::read(folder) {
        Ok(set) => set,
        Err(fault) => {
            out.damage
                .push(format!("It cannot be read: {}", fault.found));
            return out;
        }
    };
    out.version.clone_from(&set.version);
    out.form = form(&set);
    out.from_machine = set.origin == Some(2);
    out.damage
        .extend(set.findings.iter().map(|finding| finding.message.clone()));
    for (task, delivered) in set.tasks.iter().zip(audit_set(&set)) {
        // A task that came back may have no map at all; that is no damage.
        let has_map =
            task.grid.is_some() || task.zones.iter().any(|zone| !zone.polygons.is_empty());
        if has_map {
            let faults = delivered.faults.iter();
            out.damage
                .extend(faults.map(|fault| format!("{}: {fault}", task.id)));
        }
        let products = delivered.set.iter().map(product).collect();
        out.tasks.push(task_on(
            &set,
            task,
            delivered.plan,
            delivered.area_m2,
            products,
            known,
        ));
    }
    let with_task = set.tasks.iter().filter_map(|task| task.partfield.as_ref());
    let with_task: BTreeSet<&String> = with_task.collect();
    let without = set.partfields.iter();
    let without = without.filter(|field| !with_task.contains(&field.id));
    out.fields_without_task = without.map(|field| field.name.clone()).collect();
    out
}

fn task_on(
    set: &TaskSet,
    task: &Task,
    plan: Option<String>,
    area_m2: f64,
    products: Vec<ProductIn>,
    known: &Known,
) -> TaskOn {
    let field = set
        .partfields
        .iter()
        .find(|field| Some(&field.id) == task.partfield.as_ref());
    let name = field.map_or(String::new(), |field| field.name.clone());
    let farm = field.map_or(String::new(), |field| field.farm.clone());
    TaskOn {
        units: known.units(plan.as_deref()),
        here: known.here(plan.as_deref(), &name, &farm),
        id: task.id.clone(),
        name: task.name.clone(),
        customer: field.map_or(String::new(), |field| field.customer.clone()),
        farm,
        field: name,
        plan,
        area_m2,
        products,
        log_records: task.logs.iter().map(|(_, log)| log.records.len()).sum(),
    }
}

impl Known {
    /// The units of a plan's job: of the plan here, else by the record; metric where neither knows.
    fn units(&self, plan: Option<&str>) -> UnitSystem {
        let plans = self.by_field.values().flatten();
        let here = plan.and_then(|id| plans.clone().find(|own| own.id == id));
        let on_record = plan.and_then(|id| self.on_record.get(id));
        let units = here.map(|own| own.job.report.units);
        units.or(on_record.map(|of| of.2)).unwrap_or_default()
    }

    /// How a task of this plan, for a field of this name, stands to the plans here.
    fn here(&self, plan: Option<&str>, field: &str, farm: &str) -> Here {
        if plan.is_some_and(|id| self.ids.contains(id)) {
            return Here::Same;
        }
        if let Some((by, at)) = plan.and_then(|id| self.replaced.get(id)) {
            return Here::Replaced {
                plan: by.clone(),
                made_at: at.clone(),
            };
        }
        let named = self.by_field.get(field).filter(|_| !field.is_empty());
        let of_field = named.into_iter().flatten().filter(|own| {
            let named = &own.job.field;
            named.farm.trim().is_empty() || designator(&named.farm) == farm
        });
        let on_stick = plan.and_then(|id| self.on_record.get(id));
        let seedbed = on_stick.and_then(|(_, seedbed, _)| *seedbed);
        // Of two plans made together, the one for the same seedbed.
        let is_same = |own: &ToStick| own.seedbed.as_ref().map(|of| of.moisture) == seedbed;
        let newest = of_field.max_by(|a, b| {
            let by_time = a.made_at.cmp(&b.made_at);
            by_time.then(is_same(a).cmp(&is_same(b)))
        });
        let Some(own) = newest else {
            return Here::Unknown;
        };
        let (plan_here, made_at) = (own.id.clone(), own.made_at.clone());
        match on_stick.map(|(planned_at, ..)| planned_at) {
            None => Here::Other {
                plan: plan_here,
                made_at,
            },
            // Both are RFC 3339 in UTC, as this program writes them.
            Some(on_stick) if *on_stick < made_at => Here::Newer {
                plan: plan_here,
                made_at,
            },
            Some(_) => Here::Older {
                plan: plan_here,
                made_at,
            },
        }
    }
}

fn product(rate: &SetRate) -> ProductIn {
    let unit = rate_unit(rate.ddi).zip(dictionary::known(rate.ddi));
    let factor = unit.map_or(1.0, |(_, known)| known.factor);
    let shown = |value: Option<f64>| value.map(|value| value * factor);
    let is_mass = MASS_PER_AREA.contains(&rate.ddi);
    let kg = || shown(rate.mean).unwrap_or(0.0) * rate.area_m2 / M2_PER_HA;
    ProductIn {
        name: rate.product.clone(),
        unit: match unit {
            Some((unit, _)) => unit.to_owned(),
            None => format!("raw values of entry {}", rate.ddi),
        },
        lowest: shown(rate.lowest),
        mean: shown(rate.mean),
        highest: shown(rate.highest),
        is_mass: is_mass && unit.is_some_and(|(unit, _)| unit == "kg/ha"),
        kg: is_mass.then(kg),
    }
}

/// How a set holds its maps, in words.
fn form(set: &TaskSet) -> String {
    let any = |test: &dyn Fn(&Task) -> bool| set.tasks.iter().any(test);
    let kind = |task: &Task| task.grid.as_ref().map(|grid| grid.kind);
    let drawn = |task: &Task| task.zones.iter().any(|zone| !zone.polygons.is_empty());
    let mut held = Vec::new();
    for (is, words) in [
        (any(&|task| kind(task) == Some(2)), "grids of rates"),
        (any(&|task| kind(task) == Some(1)), "grids of zone numbers"),
        (any(&drawn), "zones with polygons"),
    ] {
        if is {
            held.push(words);
        }
    }
    match held.is_empty() {
        true => "no maps".to_owned(),
        false => held.join(" and "),
    }
}
