//! What no limit covers is not laid, but for what somebody has signed.

use super::asked::Counted;
use super::case::{self, OfCrop, Part};
use super::check::{Open, SeedSafeCheck, Verdict, blank};
use super::{Rank, cap_one, own, say};
use crate::agronomy::chain::Draft;
use crate::agronomy::seed_safe::{PH_MOST, needs_ph};
use crate::agronomy::{crop_tolerance, text};
use crate::findings::{Finding, Outcome};
use crate::job::Job;
use crate::zones::Facts;

/// Why nothing holds what lies there, and what can be said nevertheless.
pub(super) struct Unheld {
    pub why: String,
    /// The part of what is wanted that the nearest covered case, made stricter, would allow.
    pub stricter_share: Option<f64>,
}

impl Unheld {
    pub fn no_limit() -> Self {
        Self {
            why: "the job has no [[seed_safe]], so neither crop nor seedbed is known".to_owned(),
            stricter_share: None,
        }
    }

    /// A seed that the limits are not for: their numbers say nothing about it.
    pub fn another_crop(job: &Job, crops: &[OfCrop]) -> Option<Self> {
        let of = |limit: &&str, sown: &str| {
            crop_tolerance::holds_for(limit, sown) || crop_tolerance::is_safe_for(limit, sown)
        };
        let limits: Vec<&str> = crops.iter().map(|of| of.case.crop.as_str()).collect();
        let other =
            case::sown_crops(job).find(|sown| !limits.iter().any(|limit| of(limit, sown)))?;
        Some(Self {
            why: format!(
                "the limits are for {}, and '{other}' is sown: name it as crop of [[seed_safe]]",
                text::list(limits)
            ),
            stricter_share: None,
        })
    }
}

/// Why no limit holds on this soil; none where it does.
pub(super) fn unsafe_soil(job: &Job, facts: &Facts, parts: &[Part]) -> Outcome<Option<String>> {
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
            text::given(ph)
        )),
        Some(_) => None,
    })
}

/// Takes every fertiliser out of the row whose case nothing covers, but for what somebody has signed.
pub(super) fn switch_off(
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
                    cap_one(job, drafts, id, signed.kg_per_ha, &check, Rank::Table);
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
        cap_one(job, drafts, id, 0.0, &check, Rank::NotCovered);
        open.push(Open {
            check,
            counted: Counted::Product,
            only: Some(id.clone()),
        });
        let offer = share.map(|share| part.kg_per_ha * share);
        findings.push(say::not_covered(job, part, &why, offer));
    }
}
