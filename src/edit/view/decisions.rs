//! Decisions, open and signed: what each is about, where, and which key of the job settles it.

use super::super::key::KeyPath;
use super::{area, placed_lon_lat};
use crate::agronomy::Rule;
use crate::findings::{Concerns, Decision, Settled};
use crate::job::{Accepted, Job};
use crate::plan::{Case, Combination, Plan, SpreaderPlan, cases};
use crate::report::number::Numbers;
use serde_json::{Map, Value, json};

/// What tells a decision from all others of a plan.
fn key(case: &Case) -> String {
    let products = match &case.concerns {
        Concerns::Field => String::new(),
        Concerns::Products(ids) => ids.join(","),
    };
    let about = case.about.as_deref().unwrap_or_default();
    format!("{}/{products}/{about}", case.decision.code())
}

/// All of them, those that are open first; behind those of the drill's plan those that only the plan of a spreader asks for.
pub(super) fn of_all(plan: &Plan) -> Vec<Value> {
    let mut all: Vec<(Case, &Plan)> = cases(&plan.findings)
        .into_iter()
        .map(|case| (case, plan))
        .collect();
    for own in &plan.spreaders {
        all.extend(of_spreader(own).into_iter().map(|case| (case, &own.plan)));
    }
    all.sort_by_key(|(case, _)| case.accepted.is_some());
    let accepted = &plan.job.accepted;
    all.iter()
        .map(|(case, of)| view(case, of, accepted))
        .collect()
}

/// The decisions of a spreader's plan without those of the drill's that hold it, too.
fn of_spreader(own: &SpreaderPlan) -> Vec<Case> {
    let cases = cases(&own.plan.findings).into_iter();
    let of_drill = |case: &Case| {
        own.plan
            .of_drill
            .iter()
            .any(|known| key(known) == key(case))
    };
    cases.filter(|case| !of_drill(case)).collect()
}

/// So many decisions are open in a plan and in those of its spreaders, each counted once.
pub(in crate::edit) fn open_in(plan: &Plan) -> usize {
    let of_spreaders = plan.spreaders.iter().flat_map(of_spreader);
    let of_spreaders = of_spreaders.filter(|case| case.accepted.is_none());
    plan.open().len() + of_spreaders.count()
}

/// A decision of the drill's or of a spreader's plan; `accepted`: the entries of the job file.
fn view(case: &Case, plan: &Plan, accepted: &[Accepted]) -> Value {
    let job = &plan.job;
    let of_drill = plan.spreader_of.is_none();
    // An entry for the spreader's plan is known by what is broadcast.
    let signable = case.decision.settled() == Settled::ByChangeOrSignature
        && (of_drill || case.concerns != Concerns::Field);
    let products: &[String] = match &case.concerns {
        Concerns::Field => &[],
        Concerns::Products(ids) => ids,
    };
    let mut findings = plan
        .findings
        .iter()
        .filter(|finding| finding.code == case.decision.code() && finding.about == case.about);
    let at = findings.find_map(|finding| finding.place.lon_lat);
    let signed = accepted.iter().position(|entry| {
        let same = case.accepted.as_ref();
        same.is_some_and(|by| by.by == entry.by && by.on == entry.on && by.why == entry.why)
            && entry.finding == case.decision
    });
    json!({
        "key": key(case),
        "code": case.decision.code(),
        "message": case.message,
        "field": case.concerns == Concerns::Field,
        "products": products,
        "about": case.about,
        "area_text": case.area_m2.map(|m2| area(&Numbers::of_pages(job.report), m2)),
        "signable": signable,
        "at": at.map(|lon_lat| placed_lon_lat(lon_lat, &plan.land.frame)),
        // The rows and products of a spreader's plan are none of the page's.
        "rows": if of_drill { rows(case, plan) } else { Vec::new() },
        "path": if of_drill { settled_at(case, job) } else { settled_in_spreader(case) },
        "of_spreader": !of_drill,
        "open": case.accepted.is_none(),
        "signed": case.accepted,
        "signed_on": case.accepted.as_ref().map(|own| job.report.language.date(&own.on)),
        "signature_nth": signed,
    })
}

/// Rows of the rate table whose land a decision is about, where that can be told; from 1.
fn rows(case: &Case, plan: &Plan) -> Vec<usize> {
    let areas = &plan.job.special_areas;
    let about = areas
        .iter()
        .position(|area| Some(&area.name) == case.about.as_ref());
    let is_it = |row: &Combination| match case.decision {
        Decision::SeedRowNotCovered => row.rates.iter().any(|rate| {
            let mut reasons = rate.reasons.iter();
            reasons.any(|reason| reason.rule == Rule::SeedSafeNotCovered)
        }),
        _ => about.is_some_and(|nth| row.facts.special_areas.contains(&nth)),
    };
    let rows = plan.rates.rows.iter().enumerate();
    let own = rows.filter(|(_, row)| is_it(row));
    own.map(|(nth, _)| nth + 1).collect()
}

/// The entry of `[[accepted]]` that settles the open decision with this key; none where none can.
pub(in crate::edit) fn entry(
    plan: &Plan,
    wanted: &str,
    why: &str,
    by: &str,
    on: &str,
) -> Option<Map<String, Value>> {
    let of_drill = plan.open().into_iter().map(|case| (case, &plan.job));
    let of_spreaders = plan.spreaders.iter().flat_map(|own| {
        let open = of_spreader(own).into_iter();
        let open = open.filter(|case| case.accepted.is_none());
        open.map(|case| (case, &own.plan.job))
    });
    let mut open = of_drill.chain(of_spreaders);
    let (case, job) = open.find(|(case, _)| key(case) == wanted)?;
    let text = case.entry(job)?;
    let (mut root, _) = super::values::of(&text);
    let mut entry = root.pointer_mut("/accepted/0")?.take();
    let entry = entry.as_object_mut()?;
    for (key, value) in [("why", why), ("by", by), ("on", on)] {
        entry.insert(key.to_owned(), Value::from(value));
    }
    Some(entry.clone())
}

/// The key of the spreader whose change settles a decision of its plan.
fn settled_in_spreader(case: &Case) -> Option<KeyPath> {
    let spreader = KeyPath::of(&["spreader"]);
    match case.decision {
        Decision::ClosedPeriod | Decision::ClosedPeriodWithoutDate => {
            Some(spreader.key("spreading_date"))
        }
        _ => None,
    }
}

/// The key whose change settles a decision, where it is one.
fn settled_at(case: &Case, job: &Job) -> Option<KeyPath> {
    let product = || {
        let Concerns::Products(ids) = &case.concerns else {
            return None;
        };
        let id = ids.first()?;
        let nth = job.products.iter().position(|own| own.id == *id)?;
        Some((KeyPath::of(&["product"]).nth(nth), job.products.get(nth)?))
    };
    let named = |list: &str, mut names: Box<dyn Iterator<Item = &String> + '_>| {
        let nth = names.position(|name| Some(name) == case.about.as_ref())?;
        Some(KeyPath::of(&[list]).nth(nth))
    };
    let layer = || named("layer", Box::new(job.layers.iter().map(|of| &of.name)));
    let top = |key: &str| Some(KeyPath::of(&[key]));
    let of_product = |key: &str| Some(product()?.0.key(key));
    match case.decision {
        Decision::LabelPending => of_product("label_pending"),
        Decision::CropNotNamed | Decision::CropWithoutRange => of_product("crop"),
        Decision::UnusualGrainWeight => of_product("thousand_grain_weight_g"),
        Decision::UnusualGermination => of_product("germination_percent"),
        Decision::UnusualDepth => of_product("depth_mm"),
        Decision::UnusualPlants
        | Decision::UnusualSeeds
        | Decision::UnusualSeedRate
        | Decision::UnusualNeed => of_product("rate"),
        Decision::GradeDoubtful => of_product("grade"),
        Decision::NamesAlike => of_product("name"),
        Decision::AirStreamFull => Some(KeyPath::of(&["drill", "fastest_speed_km_per_h"])),
        Decision::NoRotor => {
            let (_, product) = product()?;
            let mut hoppers = job.drill.hoppers.iter();
            let nth = hoppers.position(|hopper| hopper.name == product.hopper)?;
            Some(KeyPath::of(&["drill", "hopper"]).nth(nth).key("rotor"))
        }
        Decision::ExclusionOutside => named(
            "exclusion",
            Box::new(job.exclusions.iter().map(|of| &of.name)),
        ),
        Decision::SetbackOutside => {
            named("setback", Box::new(job.setbacks.iter().map(|of| &of.name)))
        }
        Decision::SpecialAreaOutside => {
            let names = job.special_areas.iter().map(|of| &of.name);
            named("special_area", Box::new(names))
        }
        Decision::GapsLarge => Some(layer()?.key("class_of_gaps")),
        Decision::OverlapsLarge => Some(layer()?.key("overlaps")),
        Decision::ClosedPeriod
        | Decision::ClosedPeriodWithoutDate
        | Decision::DatesOfAnotherSeason => top("sowing_date"),
        Decision::TooFewChannels | Decision::ElementTakesNoMass => top("terminal"),
        Decision::AboveSeedRowLimit | Decision::SeedRowNotCovered => top("seed_safe"),
        Decision::ProductInSetback => top("drive"),
        Decision::AbovePlaceLimit => top("place_limit"),
        Decision::Across180 | Decision::LogLacksProduct | Decision::EstablishmentBeyond => None,
    }
}
