//! Fertiliser beside the seed: what is laid in the row against every limit that holds there. Fails closed: what no limit covers
//! is not laid, unless somebody has signed a number for it.

mod asked;
mod case;
mod check;
mod own;
mod say;
mod uncovered;

pub use check::{Laid, SeedSafeCheck, Verdict};

use super::chain::{self, Draft};
use super::crop_tolerance::Crop;
use super::library::Tables;
use super::seed_safe::{Never, never};
use crate::findings::{Finding, Outcome};
use crate::job::{AboveLimit, Job, Kind, Product};
use crate::texts::Words;
use crate::zones::Facts;
use asked::{Asked, Counted, Said, Verdicts};
use case::{OfCrop, Part};
use check::{Open, blank, close, opened};
use uncovered::{Unheld, switch_off, unsafe_soil};

/// Whether a product is fertiliser that lies with the seed.
pub(super) fn is_placed(product: &Product) -> bool {
    product.kind == Kind::Fertiliser && !product.surface_applied
}

/// Whether a seed goes through the air stream, so that fertiliser lies beside it.
pub(super) fn is_sown(job: &Job) -> bool {
    job.products
        .iter()
        .any(|product| product.kind == Kind::Seed && !product.surface_applied)
}

/// Holds the drafts of all products (job order) against every limit beside the seed: gives those that lay too much a
/// cap, those that nothing covers none at all, finishes all limits of rates, and writes the outcome to the fertilisers.
///
/// # Errors
/// A class without a texture, a table that was not read, limits that cannot be.
pub(super) fn settle(
    job: &Job,
    tables: &Tables,
    facts: &Facts,
    drafts: &mut [Draft],
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let mut open = Vec::new();
    let mut uncovered = Vec::new();
    let crops = case::by_crop(job, facts)?;
    // Fertiliser that is drilled alone lies beside no seed, unless the job says so.
    let parts = match is_sown(job) || !crops.is_empty() {
        true => forbid(job, &crops, drafts, &mut open),
        false => Vec::new(),
    };
    if !parts.is_empty() {
        match unsafe_soil(job, facts, &parts)? {
            None if crops.is_empty() => uncovered.push(Unheld::no_limit()),
            None => uncovered.extend(Unheld::another_crop(job, &crops)),
            Some(why) => uncovered.push(Unheld {
                why,
                stricter_share: None,
            }),
        }
    }
    for of in &crops {
        if parts.is_empty() {
            break;
        }
        match Asked::of(tables, of, &parts)?.together()? {
            Verdicts::Covered(said) => hold(job, said, drafts, &mut open),
            Verdicts::BelowAll(said) => open.extend(said.iter().map(|said| opened(job, said))),
            Verdicts::NotCovered {
                why,
                ceilings,
                stricter_share,
            } => {
                hold(job, ceilings, drafts, &mut open);
                // What nobody has signed does not lie there.
                let signed = own::signed(job, &crops, &parts);
                let bounds = Asked::of(tables, of, &signed)?.bounds_of_milder()?;
                hold(job, bounds, drafts, &mut open);
                uncovered.push(Unheld {
                    why,
                    stricter_share,
                });
            }
        }
    }
    if !uncovered.is_empty() {
        let sown_twice = case::sown_twice(job, facts);
        let to = (&mut *drafts, &mut open, &mut *findings);
        switch_off(job, &crops, &parts, &uncovered, sown_twice, to);
    }
    for draft in drafts.iter_mut() {
        chain::limit(draft)
            .map_err(|fault| chain::blame(job, draft.product, Some(facts), *fault))?;
    }
    for open in open {
        let only = open.only.clone();
        let check = close(job, open, drafts);
        say::finding(job, &check, drafts, findings);
        let concerned = |draft: &&mut Draft| {
            is_placed(draft.product) && only.as_ref().is_none_or(|id| draft.product.id == *id)
        };
        for draft in drafts.iter_mut().filter(concerned) {
            chain::checked(&check, draft, Words::of(job))?;
        }
    }
    Ok(())
}

/// Takes what must never lie beside the seed out of the row, and gives the parts that are left.
fn forbid<'a>(
    job: &Job,
    crops: &[OfCrop],
    drafts: &mut [Draft<'a>],
    open: &mut Vec<Open>,
) -> Vec<Part<'a>> {
    let known: Vec<Option<Crop>> = match crops.is_empty() {
        true => vec![None],
        false => crops.iter().map(OfCrop::crop).collect(),
    };
    let forbidden = |part: &Part| -> Option<Never> {
        let boron = part.grade.boron_percent;
        known.iter().find_map(|crop| never(part.form, boron, *crop))
    };
    let (out, left): (Vec<Part>, Vec<Part>) = case::parts(drafts)
        .into_iter()
        .partition(|part| forbidden(part).is_some());
    for part in out {
        let Some(never) = forbidden(&part) else {
            continue;
        };
        let check = SeedSafeCheck {
            table: "Never beside the seed".to_owned(),
            source: never.source.to_owned(),
            wanted_kg_per_ha: part.kg_per_ha,
            limit_kg_per_ha: Some(0.0),
            cell: never.why.to_owned(),
            ..blank(job, job.drill.opener_spread_m.unwrap_or(0.0))
        };
        cap_one(job, drafts, &part.product.id, 0.0, &check, Rank::Table);
        open.push(Open {
            check,
            counted: Counted::Product,
            only: Some(part.product.id.clone()),
        });
    }
    left
}

/// Opens the limits that are told, and caps by all of them.
fn hold(job: &Job, said: Vec<Said>, drafts: &mut [Draft], open: &mut Vec<Open>) {
    for said in &said {
        if said.above == AboveLimit::Cap {
            cap(job, said, drafts);
        }
    }
    let lower = |one: &Said, other: &Said| one.most_kg_per_ha() < other.most_kg_per_ha();
    let mut told: Vec<&Said> = Vec::new();
    for one in &said {
        if !one.named && one.most_kg_per_ha().is_none() {
            continue;
        }
        // Of those that are built in and not named, the strictest of each kind is told.
        let kind = |known: &&Said| !known.named && !one.named && known.counted == one.counted;
        let again = |known: &&Said| known.title() == one.title() && known.answer == one.answer;
        let said_before = told.iter().any(again);
        match told.iter_mut().find(|known| kind(known)) {
            Some(known) if lower(one, known) => *known = one,
            Some(_) => {}
            None if said_before => {}
            None => told.push(one),
        }
    }
    open.extend(told.into_iter().map(|said| opened(job, said)));
}

/// Which of two caps of one rate is told.
#[derive(PartialEq, Eq)]
enum Rank {
    Table,
    /// Nothing covers the case: told whatever else holds.
    NotCovered,
}

/// Cuts all fertilisers in the stream that bring what is counted.
fn cap(job: &Job, said: &Said, drafts: &mut [Draft]) {
    let Some(most) = said.most_kg_per_ha() else {
        return;
    };
    if said.wanted_kg_per_ha <= most * (1.0 + 1e-12) {
        return;
    }
    let share = most / said.wanted_kg_per_ha;
    let check = opened(job, said).check;
    let ids: Vec<(String, f64)> = case::parts(drafts)
        .iter()
        // A product with nothing of what is counted harms nobody by this table.
        .filter(|part| said.counted.of(part) > 0.0)
        .map(|part| (part.product.id.clone(), part.kg_per_ha * share))
        .collect();
    for (id, kg_per_ha) in ids {
        cap_one(job, drafts, &id, kg_per_ha, &check, Rank::Table);
    }
}

fn cap_one(
    job: &Job,
    drafts: &mut [Draft],
    id: &str,
    kg_per_ha: f64,
    check: &SeedSafeCheck,
    rank: Rank,
) {
    let Some(draft) = drafts.iter_mut().find(|draft| draft.product.id == id) else {
        return;
    };
    let lower = draft
        .cap
        .as_ref()
        .is_none_or(|known| kg_per_ha < known.kg_per_ha);
    if lower || rank == Rank::NotCovered {
        draft.cap = Some(chain::Cap {
            kg_per_ha,
            covered: rank == Rank::Table,
            limit_kg_per_ha: check.limit_kg_per_ha.unwrap_or(0.0),
            wanted_kg_per_ha: check.wanted_kg_per_ha,
            counts: check.counts_said(Words::of(job)),
            cell: check.cell.clone(),
            source: check.source.clone(),
        });
    }
}
