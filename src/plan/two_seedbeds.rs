//! Two plans of one field, where the moisture of the seedbed is known on the day of sowing only: one for a moist seedbed, one
//! for a dry one. Method: docs/methods/seed-safe.md.

use super::{Inputs, Options, Plan, Prepared, can_be, prepare, progress, rate, rates};
use crate::agronomy::seedbed;
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Kind, Moisture};
use crate::tally::{cover_both, in_one_order};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Rates agree within this, kg/ha.
const SLACK_KG_PER_HA: f64 = 1e-9;

/// The other of two plans of one field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OtherSeedbed {
    /// The seedbed that this plan is for.
    pub moisture: Moisture,
    /// Short id of the plan for the other seedbed.
    pub other_plan: String,
    /// Whether files of that plan for terminals wait for a decision.
    pub other_is_held_back: bool,
}

/// The plans of a job: one, or two where its seedbed is not known, that for a dry one first. Both of two are held against each
/// other, and the order of each covers what either needs.
///
/// # Errors
/// As [`super::plan()`]; for a dry seedbed more beside the seed than for a moist one, which is the program's own fault.
pub fn plans(job: &Job, inputs: &impl Inputs, options: &Options) -> Outcome<Vec<Plan>> {
    can_be(job)?;
    let prepared = prepare(job, inputs, options)?;
    progress::after(job, 2, options.tell);
    rate_each(&prepared, job, options)
}

/// As [`plans`], on land that is prepared.
///
/// # Errors
/// As [`plans`].
pub fn rate_each(prepared: &Prepared, job: &Job, options: &Options) -> Outcome<Vec<Plan>> {
    if !job.is_for_two_seedbeds() {
        return Ok(vec![alone(prepared, job, options)?]);
    }
    let [dry, moist] = Moisture::BOTH.map(|moisture| job.in_seedbed(moisture));
    never_more_when_dry(prepared, &dry, &moist)?;
    let mut dry = rate(prepared, &dry, options)?;
    let mut moist = rate(prepared, &moist, options)?;
    cover_both(&mut dry.tally.planned, &mut moist.tally.planned, job);
    in_one_order(&mut dry.tally.planned, job);
    in_one_order(&mut moist.tally.planned, job);
    dry.other_seedbed = other(&dry, &moist);
    moist.other_seedbed = other(&moist, &dry);
    Ok(vec![dry, moist])
}

/// One plan of a field, with its order.
pub(super) fn alone(prepared: &Prepared, job: &Job, options: &Options) -> Outcome<Plan> {
    let mut plan = rate(prepared, job, options)?;
    in_one_order(&mut plan.tally.planned, job);
    Ok(plan)
}

impl Plan {
    /// Of two plans of one field: which this is, whether the other may go to the terminal, and how to choose, a line each;
    /// empty for a plan that stands alone.
    pub fn seedbed_lines(&self) -> Vec<String> {
        let Some(of) = &self.other_seedbed else {
            return Vec::new();
        };
        let (own, other) = (of.moisture.mark(), of.moisture.other().mark());
        let mut lines = vec![format!(
            "This is the {own} map, plan {}. The {other} map of the same field is plan {}.",
            self.id, of.other_plan
        )];
        lines.push(match of.other_is_held_back {
            true => format!(
                "The {other} map waits for a decision and may not be at the terminal. {}",
                seedbed::only_one(of.moisture)
            ),
            false => "The folder TASKDATA of a plan holds its own map alone; 'twinsow stick' puts both on one stick.".to_owned(),
        });
        lines.extend(seedbed::how_to_choose().map(String::from));
        lines
    }
}

fn other(own: &Plan, of: &Plan) -> Option<OtherSeedbed> {
    Some(OtherSeedbed {
        moisture: own.job.moisture()?,
        other_plan: of.id.clone(),
        other_is_held_back: of.holds_any_back(),
    })
}

/// Holds the rates of what lies beside the seed against each other, on every piece of land.
fn never_more_when_dry(prepared: &Prepared, dry: &Job, moist: &Job) -> Outcome<()> {
    let (in_dry, _) = rates::table(prepared, dry)?;
    let (in_moist, _) = rates::table(prepared, moist)?;
    let rows = in_dry.iter().zip(&in_moist);
    for (dry_row, moist_row) in rows {
        let rates = dry_row.rates.iter().zip(&moist_row.rates);
        for (product, (less, more)) in dry.products.iter().zip(rates) {
            let placed = product.kind == Kind::Fertiliser && !product.surface_applied;
            if placed && less.kg_per_ha > more.kg_per_ha + SLACK_KG_PER_HA {
                return Err(Fault::program(
                    "plan.more_when_dry",
                    Place::file(&dry.file),
                    format!(
                        "'{}' would get {} kg/ha beside the seed in a dry seedbed and {} in a moist one",
                        product.id, less.kg_per_ha, more.kg_per_ha
                    ),
                    "no more in a dry seedbed than in a moist one",
                ));
            }
        }
    }
    Ok(())
}
