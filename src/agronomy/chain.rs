//! The steps of one product's rate, in order.

use super::apply_limits::Told;
use super::base::Needed;
use super::library::Tables;
use super::limit::Limited;
use super::reasons::{RateSoFar, Step};
use super::seed_row::{SeedSafeCheck, Verdict};
use super::trial_strip::{Asked, Strip};
use super::why::SetbackStart;
use super::{
    Rate, Rule, Why, adjust, apply_limits, balance, base, local_rules, lot_by_class, mixture,
    other_nutrients, seed_row, stand, trial_strip,
};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{AtZero, Job, LandPart, Product};
use crate::texts::{Words, quantity};
use crate::zones::Facts;
use std::borrow::Cow;

/// The rate of one product on its way: everything but its limits.
pub(super) struct Draft<'a> {
    pub product: &'a Product,
    /// The product as the lot that is sown here, and that lot's place in the list.
    pub sown: Cow<'a, Product>,
    pub lot: Option<usize>,
    pub limited: Limited,
    pub so_far: RateSoFar,
    /// The whole rate before a share of it was taken for the row, kg/ha.
    pub full_kg_per_ha: f64,
    /// The nutrients the rate is for.
    pub needed: Needed,
    /// Whether a setback switches the product off.
    pub off: bool,
    /// Whether something of the whole rate was left out on purpose.
    pub left_over: bool,
    /// What a strip of a trial asks for.
    pub asked: Option<Asked>,
    /// Its part in a mixture of two species.
    pub part: Option<mixture::Part>,
    pub cap: Option<Cap>,
    pub checks: Vec<SeedSafeCheck>,
    /// What the limits did, to be told.
    told: Vec<Told>,
}

/// A seed-safe limit as the most of a product's rate.
pub(super) struct Cap {
    pub kg_per_ha: f64,
    /// False where nothing covers the case, so that nothing is laid.
    pub covered: bool,
    pub limit_kg_per_ha: f64,
    pub wanted_kg_per_ha: f64,
    pub counts: String,
    pub cell: String,
    pub source: String,
}

impl Draft<'_> {
    /// The rate after the product's own limits, kg/ha; before a cap.
    pub fn expected(&self) -> f64 {
        match self.off {
            true => 0.0,
            false => self.limited.apply(self.so_far.kg_per_ha()),
        }
    }

    /// The rate so far, kg/ha; final once the limits have been taken.
    pub fn sown(&self) -> f64 {
        match self.off {
            true => 0.0,
            false => self.so_far.kg_per_ha(),
        }
    }
}

/// The rates of all products on land with these facts, in job order.
///
/// # Errors
/// See [`super::rates`].
pub(super) fn rates(
    job: &Job,
    tables: &Tables,
    facts: &Facts,
    strip: Option<&Strip>,
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<Rate>> {
    let mut drafts = Vec::with_capacity(job.products.len());
    for (nth, product) in job.products.iter().enumerate() {
        let mut draft = draft(job, tables, product, facts)
            .map_err(|fault| blame(job, product, Some(facts), *fault))?;
        if let Some(strip) = strip
            && let Some(asked) = strip.asked.get(nth).copied().flatten()
        {
            draft.asked = Some(asked);
            trial_strip::ask(strip.trial, asked, product, &mut draft.so_far)
                .map_err(|fault| blame(job, product, Some(facts), *fault))?;
        }
        drafts.push(draft);
    }
    mixture::tie(job, facts, &mut drafts)?;
    local_rules::hold(job, facts, &mut drafts, findings)?;
    for draft in &mut drafts {
        share_out(draft).map_err(|fault| blame(job, draft.product, Some(facts), *fault))?;
    }
    seed_row::settle(job, tables, facts, &mut drafts, findings)?;
    let mut rates = Vec::with_capacity(drafts.len());
    let shares = mixture::shares(&drafts);
    for (draft, share) in drafts.into_iter().zip(shares) {
        let product = draft.product;
        let rate = finish(job, facts, draft, share, findings)
            .map_err(|fault| blame(job, product, Some(facts), *fault))?;
        rates.push(rate);
    }
    local_rules::verify(job, facts, &rates, findings)?;
    Ok(rates)
}

fn draft<'a>(
    job: &Job,
    tables: &Tables,
    product: &'a Product,
    facts: &Facts,
) -> Outcome<Draft<'a>> {
    let limited = Limited::new(&product.limits)?;
    let mut so_far = RateSoFar::new(Words::of(job));
    let lot = lot_by_class::lot_on(job, product, facts)?;
    let of_list = lot.and_then(|nth| product.each_lot().get(nth));
    let sown = match of_list {
        Some(lot) => Cow::Owned(product.as_lot(lot)),
        None => Cow::Borrowed(product),
    };
    let needed = base::begin(job, tables, &sown, facts, &mut so_far)?;
    if let (Some(lots), Some(lot)) = (&product.lots, of_list) {
        lot_by_class::say(lots, lot, &sown, Words::of(job), &mut so_far);
    }
    adjust::adjustments(job, product, facts, &mut so_far)?;
    adjust::special_areas(job, product, facts, &mut so_far)?;
    let off = facts.setbacks.iter().any(|&index| {
        let setback = job.setbacks.get(index);
        setback.is_some_and(|setback| setback.products.contains(&product.id))
    });
    Ok(Draft {
        product,
        sown,
        lot,
        limited,
        so_far,
        full_kg_per_ha: 0.0,
        needed,
        off,
        left_over: false,
        asked: None,
        part: None,
        cap: None,
        checks: Vec::new(),
        told: Vec::new(),
    })
}

/// What of the whole rate goes into the row, once it is known.
fn share_out(draft: &mut Draft) -> Outcome<()> {
    if draft.so_far.kg_per_ha() == 0.0 && draft.product.at_zero == AtZero::LeastRate && !draft.off {
        let least = draft.limited.rounded(draft.limited.min);
        let why = Why::LeastForZero {
            least: quantity::GivenRate(least),
        };
        take(
            &mut draft.so_far,
            Rule::ZeroLeastRate,
            why,
            &[("least kg/ha", draft.limited.min)],
            least,
        )?;
    }
    draft.full_kg_per_ha = draft.so_far.kg_per_ha();
    let whole = draft.full_kg_per_ha;
    let in_strip = draft.asked.and_then(|asked| asked.placed_of(whole));
    let share = match (in_strip, draft.product.rate.placed_percent) {
        // Said to a tenth; the rate is exact.
        (Some(placed), _) => Some(((placed / whole * 1000.0).round() / 10.0, placed)),
        (None, Some(percent)) => Some((percent, whole * percent / 100.0)),
        (None, None) => None,
    };
    if let Some((percent, placed)) = share
        && placed < whole
        && whole > 0.0
    {
        let why = Why::Placed {
            percent: quantity::Given(percent),
            placed: quantity::Rate(placed),
        };
        take(
            &mut draft.so_far,
            Rule::BalancePlaced,
            why,
            &[("placed %", percent)],
            placed,
        )?;
        draft.left_over = true;
    }
    Ok(())
}

/// Takes the limits of a draft.
///
/// # Errors
/// None that the limits' own check would not have found.
pub(super) fn limit(draft: &mut Draft) -> Outcome<()> {
    let mut told = Vec::new();
    let before = draft.so_far.kg_per_ha();
    let limited = draft.limited;
    if limited.at_most(before) < before {
        draft.left_over = true;
    }
    apply_limits::apply(&limited, draft.cap.as_ref(), &mut draft.so_far, &mut told)?;
    draft.left_over |= draft.cap.is_some();
    draft.told = told;
    Ok(())
}

/// Writes the outcome of a seed-safe limit to a fertiliser.
///
/// # Errors
/// None: the rate stays.
pub(super) fn checked(check: &SeedSafeCheck, draft: &mut Draft, words: Words) -> Outcome<()> {
    draft.checks.push(check.clone());
    let told = matches!(check.verdict, Verdict::Capped | Verdict::NotCovered);
    if draft.off || draft.sown() == 0.0 && !told {
        return Ok(());
    }
    let placed = quantity::Rate(check.placed_kg_per_ha);
    let (cell, counts) = (check.cell.clone(), check.counts_said(words));
    let why = match (check.verdict, check.limit_kg_per_ha, check.margin_kg_per_ha) {
        (Verdict::NotCovered, ..) => Why::CheckNotCovered { cell },
        (Verdict::NotUsed, ..) => Why::CheckNotUsed { cell },
        (Verdict::Above, Some(limit), _) => Why::CheckAbove {
            placed,
            counts,
            limit: quantity::Rate(limit),
            cell,
        },
        (_, limit, margin) => Why::CheckWithin {
            placed,
            counts,
            limit: quantity::Rate(limit.unwrap_or(0.0)),
            cell,
            margin: quantity::Rate(margin.unwrap_or(0.0)),
            load: quantity::RowLoad(check.row_load_g_per_m),
        },
    };
    let mut inputs = vec![
        ("wanted kg/ha", check.wanted_kg_per_ha),
        ("placed kg/ha", check.placed_kg_per_ha),
        ("seedbed utilisation %", check.seedbed_utilisation_percent),
        ("row load g/m", check.row_load_g_per_m),
    ];
    if let Some(limit) = check.limit_kg_per_ha {
        inputs.push(("limit kg/ha", limit));
    }
    let kg_per_ha = draft.sown();
    draft.so_far.take(Step {
        rule: Rule::SeedSafeCheck,
        why,
        inputs: &inputs,
        kg_per_ha,
        source: Some(with_note(check).into()),
    })
}

/// The source with the conditions that its publisher states.
fn with_note(check: &SeedSafeCheck) -> String {
    match check.note.is_empty() {
        true => check.source.clone(),
        false => format!("{}. {}", check.source.trim_end_matches('.'), check.note),
    }
}

fn finish(
    job: &Job,
    facts: &Facts,
    mut draft: Draft,
    share: Option<mixture::Share>,
    findings: &mut Vec<Finding>,
) -> Outcome<Rate> {
    let product = draft.product;
    let balance = balance::settle(job, &mut draft)?;
    other_nutrients::compare(job, facts, &mut draft, balance.as_ref(), findings)?;
    let told = std::mem::take(&mut draft.told);
    if !setbacks(job, product, facts, &mut draft.so_far)? {
        // What the limits did to a rate that a setback then switches off is of no concern.
        findings.extend(told.iter().map(|told| {
            let message = told.words(job.report.units);
            Finding::warning(
                told.code(),
                job_file(job),
                format!("{}: {message}", who(job, product, Some(facts))),
            )
        }));
    }
    if let Some(share) = &share {
        mixture::say(share, &mut draft)?;
    }
    let stand = stand::of(job, &draft.sown, facts, draft.so_far.kg_per_ha())?;
    if let Some(stand) = &stand {
        stand::say(job, &draft.sown, facts, stand, &mut draft.so_far)?;
    }
    let mut rate = draft.so_far.finish();
    rate.lot = draft.lot;
    rate.asked = draft.asked;
    rate.stand = stand;
    rate.share = share;
    rate.seed_safe = match draft.off {
        true => Vec::new(),
        false => draft.checks,
    };
    rate.balance = balance;
    Ok(rate)
}

/// Switches the product off where a setback covers the land; true if one does.
fn setbacks(job: &Job, product: &Product, facts: &Facts, so_far: &mut RateSoFar) -> Outcome<bool> {
    let words = Words::of(job);
    let mut names = Vec::new();
    let mut inputs = Vec::new();
    for &index in &facts.setbacks {
        let setback = job.setbacks.get(index).ok_or_else(|| {
            Fault::program(
                "agronomy.facts",
                Place::nowhere(),
                format!(
                    "land lies in setback {}, and the job has {}",
                    index + 1,
                    job.setbacks.len()
                ),
                "land that was cut with this job",
            )
        })?;
        if setback.products.contains(&product.id) {
            let name = setback.name.clone();
            let distance = quantity::GivenLength(setback.distance_m);
            names.push(words.say(&match setback.measured_from {
                Some(from) => Why::SetbackFrom {
                    name,
                    distance,
                    from: words.text(&SetbackStart::of(from)),
                },
                None => Why::SetbackOf { name, distance },
            }));
            inputs.push(("distance m", setback.distance_m));
        }
    }
    if names.is_empty() {
        return Ok(false);
    }
    let why = Why::Setback {
        names: names.join(words.text(&Why::And)),
        rate: quantity::Rate(0.0),
    };
    take(so_far, Rule::SetbackOff, why, &inputs, 0.0)?;
    Ok(true)
}

pub(super) fn take(
    so_far: &mut RateSoFar,
    rule: Rule,
    why: Why,
    inputs: &[(&str, f64)],
    kg_per_ha: f64,
) -> Outcome<()> {
    so_far.take(Step {
        rule,
        why,
        inputs,
        kg_per_ha,
        source: None,
    })
}

/// The same fault with the job's file, the product and the land in it.
pub(super) fn blame(
    job: &Job,
    product: &Product,
    facts: Option<&Facts>,
    mut fault: Fault,
) -> Box<Fault> {
    fault.found = format!("{}: {}", who(job, product, facts), fault.found);
    fault.place = job_file(job);
    Box::new(fault)
}

/// The job's file as a place, if the job came from one.
pub(super) fn job_file(job: &Job) -> Place {
    if job.file.as_os_str().is_empty() {
        Place::nowhere()
    } else {
        Place::file(&job.file)
    }
}

/// Product and land, such as: product 'barley' (headland, soil 'clay').
pub(super) fn who(job: &Job, product: &Product, facts: Option<&Facts>) -> String {
    let Some(facts) = facts else {
        return format!("product '{}'", product.id);
    };
    let part = match facts.part {
        LandPart::Headland => "headland",
        LandPart::Interior => "interior",
    };
    let classes = job
        .layers
        .iter()
        .zip(&facts.classes)
        .map(|(layer, class)| format!(", {} '{class}'", layer.name));
    format!(
        "product '{}' ({part}{})",
        product.id,
        classes.collect::<String>()
    )
}
