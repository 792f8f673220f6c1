//! Fertiliser beside the seed: what is laid in the row against every limit that holds there. Fails closed: what no limit covers
//! is not laid, unless somebody has signed a number for it.

mod asked;
mod case;
mod own;
mod say;

use super::chain::{self, Draft};
use super::crop_tolerance::{self, Crop};
use super::library::Tables;
use super::nutrient;
use super::seed_safe::{
    Answer, Never, PH_MOST, needs_ph, never, row_load_g_per_m, seedbed_utilisation_percent,
};
use crate::findings::{Finding, Outcome};
use crate::job::{AboveLimit, Job, Kind, Nutrient, Product, row_spacing_m};
use crate::zones::Facts;
use asked::{Asked, Counted, Said, Verdicts};
use case::{OfCrop, Part};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What one limit beside the seed says about the land of one row of the rate table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeedSafeCheck {
    /// Title of the table.
    pub table: String,
    /// Who publishes it.
    pub source: String,
    /// Conditions that the publisher states.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// How the rate stands to its limit.
    pub verdict: Verdict,
    /// What the table adds up: "N", "N + K2O", or "product".
    pub counts: String,
    /// Of that, what would lie with the seed before the cap, kg/ha.
    pub wanted_kg_per_ha: f64,
    /// The same as it is sown, kg/ha.
    pub placed_kg_per_ha: f64,
    /// The limit, kg/ha; none where the table does not cover the case.
    pub limit_kg_per_ha: Option<f64>,
    /// What is left to the limit, kg/ha; none where the table does not cover the case.
    pub margin_kg_per_ha: Option<f64>,
    /// The cell, in words, or why the table does not cover the case.
    pub cell: String,
    /// True where the land is outside the table on the safe side: the true limit is higher.
    pub conservative_bound: bool,
    /// Width of the row by the spacing of rows, percent.
    pub seedbed_utilisation_percent: f64,
    /// As sown, all fertiliser in the air stream: kg/ha of N, P2O5, K2O, and N + K2O.
    pub laid: Laid,
    /// As sown: g of fertiliser in a metre of row.
    pub row_load_g_per_m: f64,
}

/// Nutrients laid in the row, kg/ha.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Laid {
    /// N.
    pub n: f64,
    /// P2O5.
    pub p2o5: f64,
    /// K2O.
    pub k2o: f64,
    /// N and K2O together.
    pub n_and_k2o: f64,
}

/// How a row stands to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    Within,
    /// The rate was cut.
    Capped,
    /// More than the table allows, as the job lets it be.
    Above,
    /// Nothing that is published covers the case, and nobody has signed a number: none of it lies there.
    NotCovered,
    /// The job names the table and it is not for this case; another one holds.
    NotUsed,
}

/// One limit on its way: the check without what is known only after rounding.
struct Open {
    check: SeedSafeCheck,
    counted: Counted,
    /// The products that it holds; none for all.
    only: Option<String>,
}

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
            chain::checked(&check, draft)?;
        }
    }
    Ok(())
}

/// Why nothing holds what lies there, and what can be said nevertheless.
struct Unheld {
    why: String,
    /// The part of what is wanted that the nearest covered case, made stricter, would allow.
    stricter_share: Option<f64>,
}

impl Unheld {
    fn no_limit() -> Self {
        Self {
            why: "the job has no [[seed_safe]], so neither crop nor seedbed is known".to_owned(),
            stricter_share: None,
        }
    }

    /// A seed that the limits are not for: their numbers say nothing about it.
    fn another_crop(job: &Job, crops: &[OfCrop]) -> Option<Self> {
        let of = |limit: &&str, sown: &str| {
            crop_tolerance::holds_for(limit, sown) || crop_tolerance::is_safe_for(limit, sown)
        };
        let limits: Vec<&str> = crops.iter().map(|of| of.case.crop.as_str()).collect();
        let other =
            case::sown_crops(job).find(|sown| !limits.iter().any(|limit| of(limit, sown)))?;
        Some(Self {
            why: format!(
                "the limits are for {}, and '{other}' is sown: name it as crop of [[seed_safe]]",
                super::text::list(limits)
            ),
            stricter_share: None,
        })
    }
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
        cap_one(drafts, &part.product.id, 0.0, &check, Rank::Table);
        open.push(Open {
            check,
            counted: Counted::Product,
            only: Some(part.product.id.clone()),
        });
    }
    left
}

/// Why no limit holds on this soil; none where it does.
fn unsafe_soil(job: &Job, facts: &Facts, parts: &[Part]) -> Outcome<Option<String>> {
    let tender = parts
        .iter()
        .find_map(|part| Some((part, part.form.filter(|form| needs_ph(*form))?)));
    let Some((part, form)) = tender else {
        return Ok(None);
    };
    let (id, form) = (&part.product.id, form.words());
    Ok(match case::soil_ph(job, facts)? {
        None => Some(format!(
            "'{id}' is {form}, which gives off ammonia above pH {PH_MOST}, and no soil_ph is said"
        )),
        Some(ph) if ph > PH_MOST => Some(format!(
            "'{id}' is {form}, which gives off ammonia above pH {PH_MOST}, and the soil has pH {}",
            super::text::given(ph)
        )),
        Some(_) => None,
    })
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
        let again = |known: &&Said| known.title == one.title && known.answer == one.answer;
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

/// A check before anything is known of it.
fn blank(job: &Job, spread_m: f64) -> SeedSafeCheck {
    let row_m = row_spacing_m(job).unwrap_or(0.0);
    let utilisation = match row_m > 0.0 {
        true => seedbed_utilisation_percent(spread_m, row_m),
        false => 0.0,
    };
    SeedSafeCheck {
        table: String::new(),
        source: String::new(),
        note: String::new(),
        verdict: Verdict::NotUsed,
        counts: Counted::Product.words(),
        wanted_kg_per_ha: 0.0,
        placed_kg_per_ha: 0.0,
        limit_kg_per_ha: None,
        margin_kg_per_ha: None,
        cell: String::new(),
        conservative_bound: false,
        seedbed_utilisation_percent: utilisation,
        laid: Laid::default(),
        row_load_g_per_m: 0.0,
    }
}

fn opened(job: &Job, said: &Said) -> Open {
    let (cell, conservative_bound) = match &said.answer {
        Answer::Limit(limit) => (limit.cell.clone(), limit.conservative_bound),
        Answer::NotCovered(of) if of.ceiling_kg_per_ha.is_some() => {
            (format!("{}; a milder case is its ceiling", of.why), false)
        }
        Answer::NotCovered(of) => (of.why.clone(), false),
    };
    Open {
        check: SeedSafeCheck {
            table: said.title.clone(),
            source: said.source.clone(),
            note: said.note.clone(),
            counts: said.counted.words(),
            wanted_kg_per_ha: said.wanted_kg_per_ha,
            limit_kg_per_ha: said.most_kg_per_ha(),
            cell,
            conservative_bound,
            ..blank(job, said.spread_m)
        },
        counted: said.counted.clone(),
        only: None,
    }
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
        cap_one(drafts, &id, kg_per_ha, &check, Rank::Table);
    }
}

fn cap_one(drafts: &mut [Draft], id: &str, kg_per_ha: f64, check: &SeedSafeCheck, rank: Rank) {
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
            counts: check.counts.clone(),
            cell: check.cell.clone(),
            source: check.source.clone(),
        });
    }
}

/// Takes every fertiliser out of the row whose case nothing covers, but for what somebody has signed.
fn switch_off(
    job: &Job,
    crops: &[OfCrop],
    parts: &[Part],
    uncovered: &[Unheld],
    sown_twice: bool,
    (drafts, open, findings): (&mut [Draft], &mut Vec<Open>, &mut Vec<Finding>),
) {
    let mut whys: Vec<&str> = uncovered.iter().map(|of| of.why.as_str()).collect();
    whys.dedup();
    let why = whys.join("; ");
    let shares: Option<Vec<f64>> = uncovered.iter().map(|of| of.stricter_share).collect();
    let share = shares.and_then(|all| all.into_iter().reduce(f64::min));
    let signed = own::of(job, crops, parts, sown_twice);
    for (part, own) in parts.iter().zip(signed) {
        let id = &part.product.id;
        let refused = match own {
            None => None,
            Some(Err(refused)) => Some(refused),
            Some(Ok(signed)) => {
                let own = signed.own;
                let twice = match sown_twice {
                    true => ", halved where the headland is sown twice",
                    false => "",
                };
                let check = SeedSafeCheck {
                    table: "Own limit, signed".to_owned(),
                    source: format!("signed by {} on {}", own.by, own.on),
                    note: own.because.clone(),
                    wanted_kg_per_ha: part.kg_per_ha,
                    limit_kg_per_ha: Some(signed.most_kg_per_ha),
                    cell: format!(
                        "own limit of {}, signed on {}: {}{twice}",
                        own.by, own.on, own.because
                    ),
                    ..blank(job, job.drill.opener_spread_m.unwrap_or(0.0))
                };
                if part.kg_per_ha > signed.kg_per_ha {
                    cap_one(drafts, id, signed.kg_per_ha, &check, Rank::Table);
                }
                open.push(Open {
                    check,
                    counted: Counted::Product,
                    only: Some(id.clone()),
                });
                continue;
            }
        };
        let why = match refused {
            Some(refused) => format!("{why}; {refused}"),
            None => why.clone(),
        };
        let check = SeedSafeCheck {
            table: "Not covered".to_owned(),
            verdict: Verdict::NotCovered,
            wanted_kg_per_ha: part.kg_per_ha,
            cell: why.clone(),
            ..blank(job, job.drill.opener_spread_m.unwrap_or(0.0))
        };
        cap_one(drafts, id, 0.0, &check, Rank::NotCovered);
        open.push(Open {
            check,
            counted: Counted::Product,
            only: Some(id.clone()),
        });
        let offer = share.map(|share| part.kg_per_ha * share);
        findings.push(say::not_covered(job, part, &why, offer));
    }
}

/// Fills in what is known once the rates are final.
fn close(job: &Job, open: Open, drafts: &[Draft]) -> SeedSafeCheck {
    let mut check = open.check;
    let placed = || {
        drafts
            .iter()
            .filter(|draft| is_placed(draft.product))
            .map(|draft| Part {
                product: draft.product,
                grade: draft.product.grade.unwrap_or_default(),
                form: draft.product.form,
                kg_per_ha: draft.sown(),
            })
    };
    let held = |part: &Part| {
        open.only
            .as_ref()
            .is_none_or(|only| part.product.id == *only)
    };
    check.placed_kg_per_ha = placed()
        .filter(held)
        .map(|part| open.counted.of(&part))
        .sum();
    let laid = |of: Nutrient| -> f64 {
        placed()
            .map(|part| nutrient::supply_kg_per_ha(part.kg_per_ha, &part.grade, of))
            .sum()
    };
    let (n, p2o5, k2o) = (laid(Nutrient::N), laid(Nutrient::P2o5), laid(Nutrient::K2o));
    check.laid = Laid {
        n,
        p2o5,
        k2o,
        n_and_k2o: n + k2o,
    };
    let kg_per_ha = placed().map(|part| part.kg_per_ha).sum();
    check.row_load_g_per_m = row_load_g_per_m(kg_per_ha, row_spacing_m(job).unwrap_or(0.0));
    if let Some(limit) = check.limit_kg_per_ha {
        check.margin_kg_per_ha = Some(limit - check.placed_kg_per_ha);
        check.verdict = if check.placed_kg_per_ha > limit * (1.0 + 1e-9) {
            Verdict::Above
        } else if check.wanted_kg_per_ha > limit * (1.0 + 1e-12) {
            Verdict::Capped
        } else {
            Verdict::Within
        };
    }
    check
}
