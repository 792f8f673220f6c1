//! What somebody should look at, of what lies beside the seed.

use super::super::balance::has_balance;
use super::super::chain::{self, Draft};
use super::super::text;
use super::case::Part;
use super::{SeedSafeCheck, Verdict, is_placed};
use crate::findings::{Decision, Extent, Finding, Place};
use crate::job::Job;

/// The decision about a fertiliser that nothing covers, with what can be said; `offer_kg_per_ha` is what the nearest
/// covered case, made stricter, would allow.
pub(super) fn not_covered(
    job: &Job,
    part: &Part,
    why: &str,
    offer_kg_per_ha: Option<f64>,
) -> Finding {
    let id = &part.product.id;
    let offer = offer_kg_per_ha.map_or(String::new(), |kg_per_ha| {
        format!(
            ", such as {}, which is what the nearest covered case allows, made stricter (wider rows: the same grams per metre of row; dry soil: half)",
            text::rate_in(job.report.units, kg_per_ha)
        )
    });
    let mut finding = Finding::decision(
        Decision::SeedRowNotCovered,
        chain::job_file(job),
        format!(
            "'{id}' with the seed: {why}. Nothing of it is laid. Let it be 0, all of it the balance to broadcast, and sign for that as [[accepted]]; name a table or a case that covers it in [[seed_safe]]; or sign a number of your own as [[own_seed_limit]] for '{id}'{offer}"
        ),
    );
    finding.place = finding.place.feature(id);
    finding
        .of_products([id.as_str()])
        .extent(Extent::KgPerHa(part.kg_per_ha))
}

/// What a limit did.
pub(super) fn finding(
    job: &Job,
    check: &SeedSafeCheck,
    drafts: &[Draft],
    findings: &mut Vec<Finding>,
) {
    let placed = drafts
        .iter()
        .filter(|draft| is_placed(draft.product) && draft.full_kg_per_ha > 0.0);
    let ids = || placed.clone().map(|draft| draft.product.id.as_str());
    let who = text::list(ids());
    let place: Place = chain::job_file(job);
    let rate = |kg_per_ha| text::rate_in(job.report.units, kg_per_ha);
    // Where nothing is laid for want of a limit the decision says so, and a ceiling of a milder case is no news.
    let left_out = |draft: &Draft| draft.cap.as_ref().is_some_and(|cap| !cap.covered);
    if check.verdict == Verdict::Capped && drafts.iter().any(left_out) {
        return;
    }
    match (check.verdict, check.limit_kg_per_ha) {
        (Verdict::Above, Some(limit)) => findings.push(Finding::decision(
            Decision::AboveSeedRowLimit,
            place,
            format!(
                "{who}: {} {} with the seed is more than {} ({}); the job lets it be, and the stand is at risk",
                rate(check.placed_kg_per_ha),
                check.counts,
                rate(limit),
                check.cell
            ),
        )
        .of_products(ids())
        .extent(Extent::KgPerHa(check.placed_kg_per_ha))),
        (Verdict::Capped, Some(limit)) => findings.push(Finding::warning(
            "seed_safe.capped",
            place,
            format!(
                "{who}: {} {} wanted with the seed, at most {} ({}); cut to {}{}",
                rate(check.wanted_kg_per_ha),
                check.counts,
                rate(limit),
                check.cell,
                rate(check.placed_kg_per_ha),
                match drafts.iter().any(|draft| has_balance(job, draft.product)) {
                    true => ", the rest is the balance to broadcast",
                    false => "",
                }
            ),
        )),
        (Verdict::NotUsed, _) => findings.push(Finding::note(
            "seed_safe.not_used",
            place,
            format!("{}; another table holds here", check.cell),
        )),
        // The decision is told where the product is taken out.
        (Verdict::NotCovered | Verdict::Within | Verdict::Above | Verdict::Capped, _) => {}
    }
}
