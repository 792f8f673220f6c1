//! What one field needs: from a job that is planned here, or from a plan made earlier.

use super::seeds::by_seeds;
use crate::cli::ordered::in_order;
use crate::document::{self, ToOrder};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{Job, Kind, Language, Product};
use crate::plan::{self, Disk, Options, Plan, SharedInputs};
use crate::tally::farm_order::{Article, FieldKg, Need, Wanted};
use crate::tally::{BalanceTally, Price, Step, StepName, Tally, seeds_of_kg};
use crate::units::M2_PER_HA;
use serde::Serialize;
use std::ops::ControlFlow;
use std::path::Path;

/// Where the needs of a field come from.
#[derive(Debug, Serialize)]
pub(in crate::cli) struct Source {
    pub file: String,
    pub plan: String,
    pub field: String,
    pub farm: String,
    pub mapped_ha: f64,
    /// Decisions that are open, at least one for each map of the spreader that is held back.
    pub to_decide: usize,
    /// Language of the job's pages.
    #[serde(skip)]
    pub language: Language,
    /// The plan of the same field for the other seedbed: the order of each covers both.
    #[serde(skip)]
    pub other_plan: Option<String>,
}

/// The needs of a field, by product.
pub(super) type Needs = (Source, Vec<Wanted>);

/// The needs of every field that a path stands for: one, or with `split_by` all that the boundary holds.
pub(super) fn of(path: &Path) -> Outcome<Vec<Needs>> {
    let inside = path.join("plan.json");
    if path.is_dir() && inside.is_file() {
        return Ok(vec![from_plan(&inside)?]);
    }
    let ending = path.extension().unwrap_or_default();
    if ending.eq_ignore_ascii_case("json") {
        return Ok(vec![from_plan(path)?]);
    }
    let (job, seeds_only) = by_seeds(Job::load(path)?);
    let Some(attribute) = &job.field.split_by else {
        let plans = plan::plans(&job, &Disk, &Options::rates_only())?;
        return Ok(first_of(path, plans, &seeds_only));
    };
    let shared = SharedInputs::of(&job, attribute)?;
    let values: Vec<&str> = shared.fields().collect();
    let one = |nth: usize| {
        let inputs = shared.field(nth);
        let plans = plan::plans(&shared.job(nth), &inputs, &Options::rates_only()).map_err(
            |mut fault| {
                let field = values.get(nth).copied().unwrap_or_default();
                fault.found = format!("field {field}: {}", fault.found);
                fault
            },
        )?;
        Ok(first_of(path, plans, &seeds_only))
    };
    let mut all = Ok(Vec::new());
    in_order(0..values.len(), one, |needs| match (&mut all, needs) {
        (Ok(known), Ok(needs)) => {
            known.extend(needs);
            ControlFlow::Continue(())
        }
        (_, Err(fault)) => {
            all = Err(fault);
            ControlFlow::Break(())
        }
        (Err(_), _) => ControlFlow::Break(()),
    });
    all
}

/// What a field needs: of two plans for its two seedbeds the order of the first covers both.
fn first_of(path: &Path, plans: Vec<Plan>, seeds_only: &[String]) -> Vec<Needs> {
    let open = plans
        .iter()
        .map(|plan| to_decide(&plan.findings, &plan.tally.planned))
        .max();
    let first = plans.into_iter().next().map(|plan| {
        let (mut source, wanted) = from_plan_of_job(path, plan, seeds_only);
        source.to_decide = open.unwrap_or(source.to_decide);
        (source, wanted)
    });
    first.into_iter().collect()
}

fn from_plan_of_job(path: &Path, plan: Plan, seeds_only: &[String]) -> Needs {
    let to_decide = to_decide(&plan.findings, &plan.tally.planned);
    let (source, mut wanted) = needs(path, plan.id, &plan.job, &plan.tally.planned, to_decide);
    for (id, line) in &mut wanted {
        line.article.seeds_only = seeds_only.contains(id);
    }
    (source, lines(wanted))
}

fn from_plan(path: &Path) -> Outcome<Needs> {
    let plan: ToOrder = document::read(path)?;
    if let Some(drill) = &plan.spreader_of {
        return Err(of_spreader(path, &plan.id, drill));
    }
    let to_decide = to_decide(&plan.findings, &plan.tally);
    let (mut source, wanted) = needs(path, plan.id, &plan.job, &plan.tally, to_decide);
    source.other_plan = plan.seedbed.map(|own| own.other_plan);
    Ok((source, lines(wanted)))
}

/// A decision of the drill's plan may be what holds back the spreader's map, so the two are not added.
fn to_decide(findings: &[Finding], tally: &Tally) -> usize {
    let cases = plan::cases(findings);
    let open = cases.iter().filter(|case| case.accepted.is_none());
    let of_spreader = tally.balances.iter().filter_map(|of| of.spreader.as_ref());
    open.count()
        .max(of_spreader.filter(|own| own.held_back).count())
}

fn of_spreader(path: &Path, plan: &str, drill: &str) -> Box<Fault> {
    Fault::input(
        "order.of_spreader",
        Place::file(path),
        format!(
            "this is plan {plan} of the spreader; the order of the drill's plan {drill} holds what it spreads"
        ),
        "plans of the drill, or job files",
        "leave it out, and name the drill's plan",
    )
}

fn lines(wanted: Vec<(String, Wanted)>) -> Vec<Wanted> {
    wanted.into_iter().map(|(_, line)| line).collect()
}

/// The articles of a field, each with the id of its product.
fn needs(
    path: &Path,
    plan: String,
    job: &Job,
    tally: &Tally,
    to_decide: usize,
) -> (Source, Vec<(String, Wanted)>) {
    let mut wanted = Vec::new();
    for part in &tally.products {
        let Some(product) = job.products.iter().find(|known| known.id == part.id) else {
            continue;
        };
        if part.lots.is_empty() {
            let line = one(path, job, product, &part.steps);
            wanted.push((product.id.clone(), line));
        }
        for of_lot in &part.lots {
            let mut each = product.each_lot().iter();
            if let Some(lot) = each.find(|known| known.lot == of_lot.lot) {
                let mut line = one(path, job, &product.as_lot(lot), &of_lot.steps);
                if let Some(variety) = &lot.variety {
                    line.article.product = format!("{}, {variety}", product.name);
                }
                wanted.push((product.id.clone(), line));
            }
        }
    }
    for part in &tally.balances {
        let product = job.products.iter().find(|known| known.id == part.of);
        let needed = part.steps.iter().any(|step| step.kg > 0.0);
        if let Some(product) = product.filter(|_| needed) {
            wanted.push((part.of.clone(), balance(path, job, product, part)));
        }
    }
    let source = Source {
        file: path.display().to_string(),
        plan,
        field: job.field.name.clone(),
        farm: job.field.farm.clone(),
        mapped_ha: tally.mapped_m2 / M2_PER_HA,
        language: job.report.language,
        to_decide,
        other_plan: None,
    };
    (source, wanted)
}

/// One article with what the field needs of it.
fn one(path: &Path, job: &Job, product: &Product, steps: &[Step]) -> Wanted {
    let kg = field_kg(steps);
    Wanted {
        article: Article {
            product: product.name.clone(),
            kind: match product.kind {
                Kind::Seed => "seed".to_owned(),
                Kind::Fertiliser => "fertiliser".to_owned(),
            },
            lot: product.lot.clone(),
            dressing: product.dressing.clone(),
            pack_kg: product.pack_kg,
            seeds_per_pack: product.seeds_per_pack,
            seeds_only: false,
        },
        need: Need {
            field: job.field.name.clone(),
            kg,
            seeds: product
                .thousand_grain_weight_g
                .map(|weight| seeds_of_kg(kg.sown + kg.reserve + kg.residue, weight)),
            broadcast: false,
        },
        price: Price::of(product),
        place: Place::file(path),
    }
}

/// What the field needs of what is broadcast for the balance: the placed product, or one of its own.
fn balance(path: &Path, job: &Job, product: &Product, part: &BalanceTally) -> Wanted {
    let placed = one(path, job, product, &part.steps);
    let mut article = placed.article;
    if let Some(own) = &product.balance {
        article.product.clone_from(&part.name);
        article.lot = None;
        article.dressing = None;
        article.pack_kg = own.pack_kg;
    }
    Wanted {
        article,
        need: Need {
            seeds: None,
            broadcast: true,
            ..placed.need
        },
        price: Price::of_balance(product),
        place: placed.place,
    }
}

/// Kilograms by what the list tells apart.
fn field_kg(steps: &[Step]) -> FieldKg {
    let mut kg = FieldKg::default();
    for step in steps {
        match step.step {
            StepName::Reserve => kg.reserve += step.kg,
            StepName::Residue => kg.residue += step.kg,
            // The list rounds to packs itself.
            // The list adds up by itself what is one article.
            StepName::OneOrder | StepName::Packs => {}
            StepName::Map
            | StepName::Tramlines
            | StepName::Sections
            | StepName::Overlap
            | StepName::Missed
            | StepName::SpreaderSteps
            | StepName::SpreaderSetbacks
            | StepName::Following
            | StepName::OtherSeedbed => kg.sown += step.kg,
        }
    }
    kg
}
