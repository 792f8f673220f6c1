//! The plans as fields of their drills.

use crate::agronomy::caution::is_dressed;
use crate::document::{self, ToWeek};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Product, day_number};
use crate::plan;
use crate::stick;
use crate::tally::{ProductTally, StepName};
use crate::units::{M2_PER_HA, UnitSystem};
use crate::week::{Field, Load};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A drill with its fields, in the order of date, farm, name and plan.
pub(super) struct Drill {
    pub name: String,
    /// Names of the hoppers, by the numbers that loads have.
    pub hoppers: Vec<String>,
    /// What goes into them, by the numbers that loads have.
    pub articles: Vec<Article>,
    pub fields: Vec<Field>,
    /// Per field.
    pub about: Vec<About>,
}

/// What has to agree so that what is left in a hopper is of use for the next field.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Article {
    pub product: String,
    pub lot: Option<String>,
    pub dressing: Option<String>,
    pub pack_kg: Option<f64>,
    pub treated: bool,
}

/// What a row says of a field.
pub(super) struct About {
    pub customer: String,
    pub farm: String,
    pub field: String,
    pub plan: String,
    pub units: UnitSystem,
    pub date: Option<String>,
    pub to_decide: usize,
    /// Hoppers of products without a density: their fills are not counted.
    pub not_counted: Vec<String>,
}

/// Reads the plans, drill by drill in the order of their names.
///
/// # Errors
/// No plan; a spreader's plan; a plan named twice; one without hours.
pub(super) fn drills(paths: &[PathBuf], ha_per_h: Option<f64>) -> Outcome<Vec<Drill>> {
    let mut folders = Vec::new();
    for path in paths {
        folders.extend(stick::plans_in(path)?);
    }
    let mut plans: Vec<Planned> = Vec::new();
    for folder in folders {
        let plan: ToWeek = document::read(&folder)?;
        if let Some(drill) = &plan.spreader_of {
            return Err(of_spreader(&folder, &plan.id, drill));
        }
        let ids = |own: &Planned| {
            let other = own.other.as_ref().map(|other| other.id.clone());
            [Some(own.plan.id.clone()), other]
        };
        let same_id = |own: &&Planned| ids(own).contains(&Some(plan.id.clone()));
        if let Some(known) = plans.iter().find(same_id) {
            return Err(same_plan(&folder, &plan.id, &known.folder));
        }
        // Two plans of one field, of which one is sown: one row, with what either may need.
        let other = plan.seedbed.as_ref().map(|own| own.other_plan.as_str());
        let first = |own: &&mut Planned| Some(own.plan.id.as_str()) == other;
        if let Some(first) = plans.iter_mut().find(first) {
            first.other = Some(plan);
            continue;
        }
        let is_named = names(&plan.job).iter().any(|name| !name.is_empty());
        let mut same = plans
            .iter()
            .filter(|own| names(&own.plan.job) == names(&plan.job));
        if let Some(known) = same.next().filter(|_| is_named) {
            return Err(same_field(&folder, &plan, &known.folder));
        }
        plans.push(Planned {
            folder,
            plan,
            other: None,
        });
    }
    plans.sort_by_cached_key(|Planned { plan, .. }| {
        let field = &plan.job.field;
        let date = plan.job.sowing_date.clone();
        (
            date,
            field.farm.clone(),
            field.name.clone(),
            plan.id.clone(),
        )
    });
    let mut drills: BTreeMap<String, Drill> = BTreeMap::new();
    for planned in &plans {
        let plan = &planned.plan;
        let name = plan.job.drill.name.trim().to_owned();
        let name = match name.is_empty() {
            true => format!("Drill of {} m", plan.job.drill.working_width_m),
            false => name,
        };
        let drill = drills.entry(name.clone()).or_insert_with(|| Drill {
            name,
            hoppers: Vec::new(),
            articles: Vec::new(),
            fields: Vec::new(),
            about: Vec::new(),
        });
        add(drill, planned, ha_per_h)?;
    }
    Ok(drills.into_values().collect())
}

/// The plan of a field, and that for its other seedbed.
struct Planned {
    folder: PathBuf,
    plan: ToWeek,
    other: Option<ToWeek>,
}

impl Planned {
    /// Both plans.
    fn both(&self) -> impl Iterator<Item = &ToWeek> {
        std::iter::once(&self.plan).chain(&self.other)
    }

    /// What the drill takes of a product at most, kg: which of two maps is driven is known on the day only.
    fn most_kg(&self, product: &str) -> f64 {
        let tallies = self.both().flat_map(|plan| &plan.tally.products);
        let own = tallies.filter(|tally| tally.id == product);
        own.map(taken_kg).fold(0.0, f64::max)
    }

    /// Hours of the drive, the longer one; by hectares an hour where no plan gives any.
    fn hours(&self, ha_per_h: Option<f64>) -> Option<f64> {
        let drives = self.both().filter_map(|plan| plan.drive.as_ref()?.hours);
        let hours = drives.reduce(f64::max);
        let hectares = self.plan.tally.mapped_m2 / M2_PER_HA;
        hours.or_else(|| ha_per_h.map(|rate| hectares / rate))
    }
}

/// Decisions that are open in a plan; one that is held back has one at least.
fn to_decide(plan: &ToWeek) -> usize {
    let cases = plan::cases(&plan.findings);
    let open = cases.iter().filter(|case| case.accepted.is_none()).count();
    open.max(plan.terminal.held_back.len().min(1))
}

fn add(drill: &mut Drill, planned: &Planned, ha_per_h: Option<f64>) -> Outcome<()> {
    let Planned { folder, plan, .. } = planned;
    let job = &plan.job;
    let hectares = plan.tally.mapped_m2 / M2_PER_HA;
    let hours = planned.hours(ha_per_h);
    let Some(hours) = hours.filter(|hours| hours.is_finite()) else {
        return Err(without_hours(folder, job));
    };
    let Some(place) = plan.terminal.outline.middle_lon_lat else {
        return Err(without_place(folder, job));
    };
    let mut loads = Vec::new();
    let mut not_counted = Vec::new();
    for product in &job.products {
        let kg = planned.most_kg(&product.id);
        if kg <= 0.0 {
            continue;
        }
        let load = Load {
            hopper: number(&mut drill.hoppers, product.hopper.clone()),
            article: number(&mut drill.articles, article(product)),
            kg,
            full_kg: litres(job, product, |hopper| hopper.usable_l),
            stays_kg: litres(job, product, |hopper| hopper.min_level_l).unwrap_or(0.0),
        };
        if load.full_kg.is_none() {
            not_counted.push(product.hopper.clone());
        }
        loads.push(load);
    }
    drill.fields.push(Field {
        place,
        hours,
        hectares,
        ripe_on: job.sowing_date.as_deref().and_then(day_number),
        loads,
    });
    drill.about.push(About {
        customer: job.field.customer.clone(),
        farm: job.field.farm.clone(),
        field: match job.field.name.trim() {
            "" => job.plain_name().to_owned(),
            name => name.to_owned(),
        },
        plan: plan.id.clone(),
        units: job.report.units,
        date: job.sowing_date.clone(),
        to_decide: planned.both().map(to_decide).max().unwrap_or(0),
        not_counted,
    });
    Ok(())
}

/// What the drill takes out of the hopper on a field, kg: the map with tramlines, overlap and delays; not what is only ordered.
fn taken_kg(tally: &ProductTally) -> f64 {
    let steps = tally.steps.iter().filter(|step| match step.step {
        StepName::Reserve
        | StepName::Residue
        | StepName::OtherSeedbed
        | StepName::OneOrder
        | StepName::Packs => false,
        StepName::Map
        | StepName::Tramlines
        | StepName::Sections
        | StepName::Overlap
        | StepName::Missed
        | StepName::SpreaderSteps
        | StepName::SpreaderSetbacks
        | StepName::Following => true,
    });
    steps.map(|step| step.kg).sum()
}

/// The number of something in a list; it is added where it is new.
fn number<T: PartialEq>(list: &mut Vec<T>, own: T) -> usize {
    let known = list.iter().position(|other| *other == own);
    known.unwrap_or_else(|| {
        list.push(own);
        list.len() - 1
    })
}

/// Several lots in one field are an article of their own: nobody knows which of them is left.
fn article(product: &Product) -> Article {
    let lots: Vec<&str> = match product.each_lot() {
        [] => product.lot.as_deref().into_iter().collect(),
        lots => {
            let mut lots: Vec<&str> = lots.iter().map(|own| own.lot.as_str()).collect();
            lots.sort_unstable();
            lots.dedup();
            lots
        }
    };
    let dressings = product.each_lot().iter().map(|own| own.dressing.as_deref());
    let mut dressings = dressings.chain([product.dressing.as_deref()]).flatten();
    Article {
        product: product.name.clone(),
        lot: (!lots.is_empty()).then(|| lots.join(" + ")),
        dressing: product.dressing.clone(),
        pack_kg: product.pack_kg,
        treated: dressings.any(is_dressed),
    }
}

/// Kilograms of a volume of a product's hopper; `None` without its density.
fn litres(job: &Job, product: &Product, of: impl Fn(&crate::job::Hopper) -> f64) -> Option<f64> {
    let hopper = job
        .drill
        .hoppers
        .iter()
        .find(|own| own.name == product.hopper)?;
    Some(of(hopper) * product.bulk_density_kg_per_l?)
}

fn without_hours(folder: &Path, job: &Job) -> Box<Fault> {
    Fault::input(
        "week.no_hours",
        Place::file(folder),
        format!("The plan of '{}' gives no hours", job.plain_name()),
        "plans with hours, or --ha-per-h for those without",
        "Add field_efficiency_percent under [drive] of the job and plan it again, or give --ha-per-h.",
    )
}

fn without_place(folder: &Path, job: &Job) -> Box<Fault> {
    Fault::input(
        "week.no_place",
        Place::file(folder),
        format!("The plan of '{}' has no land", job.plain_name()),
        "plans of fields with land",
        "Leave it out.",
    )
}

/// Customer, farm and field, as they are told apart.
fn names(job: &Job) -> [String; 3] {
    let field = &job.field;
    [&field.customer, &field.farm, &field.name].map(|name| name.trim().to_lowercase())
}

fn same_field(folder: &Path, plan: &ToWeek, known: &Path) -> Box<Fault> {
    Fault::input(
        "week.same_field",
        Place::file(folder),
        format!(
            "Plan {} is of the field '{}', and so is the plan in {}",
            plan.id,
            plan.job.plain_name(),
            known.display()
        ),
        "one plan for each field",
        "Leave the older one out; if they are two fields, give them names of their own.",
    )
}

fn of_spreader(folder: &Path, plan: &str, drill: &str) -> Box<Fault> {
    Fault::input(
        "week.of_spreader",
        Place::file(folder),
        format!("This is plan {plan} of the spreader, which belongs to plan {drill} of the drill"),
        "plans of drills",
        "Name the drill's plan instead.",
    )
}

fn same_plan(folder: &Path, plan: &str, known: &Path) -> Box<Fault> {
    Fault::input(
        "week.same_plan",
        Place::file(folder),
        format!("This is plan {plan}, which {} is as well", known.display()),
        "each field once",
        "Name it once.",
    )
}
