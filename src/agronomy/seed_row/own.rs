//! Limits that somebody has signed for cases that no table covers: whether they hold for the job as it stands, and what
//! they allow where several fertilisers lie together.

use super::case::{self, OfCrop, Part};
use crate::agronomy::crop_tolerance;
use crate::agronomy::seed_safe::strictness::{Texture, at_least_as_harmful};
use crate::agronomy::text;
use crate::job::{FertiliserForm, Grade, Job, OwnSeedLimit, row_spacing_m};
use crate::texts::Words;
use crate::texts::quantity::GivenRowWidth;

/// Lengths agree within this share.
const SLACK: f64 = 1e-9;

/// A signed limit that holds for one fertiliser of the row.
pub(super) struct Signed<'a> {
    pub own: &'a OwnSeedLimit,
    /// The most of its product, kg/ha: half of what was signed where the land is sown twice.
    pub most_kg_per_ha: f64,
    /// What may lie there beside the other signed ones: of the limits that several take up together, no more than one.
    pub kg_per_ha: f64,
}

/// The signed limit of a part, or why there is none; none at all where nobody signed.
pub(super) type Own<'a> = Option<Result<Signed<'a>, String>>;

/// The parts for which a signed limit holds.
pub(super) fn signed<'a>(job: &Job, crops: &[OfCrop], parts: &[Part<'a>]) -> Vec<Part<'a>> {
    let holds = |part: &&Part| {
        let mut limits = job.own_seed_limits.iter();
        let own = limits.find(|own| own.product == part.product.id);
        own.is_some_and(|own| no_longer_holds(job, crops, part, own).is_none())
    };
    parts.iter().filter(holds).cloned().collect()
}

/// What is signed for each part, in their order.
pub(super) fn of<'a>(
    job: &'a Job,
    crops: &[OfCrop],
    parts: &[Part],
    sown_twice: bool,
) -> Vec<Own<'a>> {
    let mut all: Vec<Own> = parts
        .iter()
        .map(|part| {
            let mut limits = job.own_seed_limits.iter();
            let own = limits.find(|own| own.product == part.product.id)?;
            Some(match no_longer_holds(job, crops, part, own) {
                Some(why) => Err(why),
                None => {
                    let most = match sown_twice {
                        true => own.max_kg_per_ha / 2.0,
                        false => own.max_kg_per_ha,
                    };
                    Ok(Signed {
                        own,
                        most_kg_per_ha: most,
                        kg_per_ha: part.kg_per_ha.min(most),
                    })
                }
            })
        })
        .collect();
    // Each was signed for its product alone. Together they may take up one whole limit, not one each.
    let share = |(part, own): (&Part, &Own)| match own {
        Some(Ok(signed)) if signed.most_kg_per_ha > 0.0 => part.kg_per_ha / signed.most_kg_per_ha,
        _ => 0.0,
    };
    let shares: Vec<f64> = parts.iter().zip(&all).map(share).collect();
    let taken: f64 = shares.iter().sum();
    if taken > 1.0 && shares.iter().filter(|share| **share > 0.0).count() > 1 {
        for (part, own) in parts.iter().zip(&mut all) {
            if let Some(Ok(signed)) = own {
                signed.kg_per_ha = signed.kg_per_ha.min(part.kg_per_ha / taken);
            }
        }
    }
    all
}

/// Why a signed limit does not hold for the job as it stands; none where it does. A number that was signed for one case
/// holds for no stricter one.
fn no_longer_holds(job: &Job, crops: &[OfCrop], part: &Part, own: &OwnSeedLimit) -> Option<String> {
    let why = crop(job, crops, own)
        .or_else(|| seedbed(job, crops, own))
        .or_else(|| widths(job, crops, own))
        .or_else(|| fertiliser(part, own))?;
    Some(format!(
        "the limit of {} of {} was signed for {why}",
        own.by, own.on
    ))
}

/// The crops of the limits and those of the seeds.
fn crop(job: &Job, crops: &[OfCrop], own: &OwnSeedLimit) -> Option<String> {
    let limits = crops.iter().map(|of| of.case.crop.as_str());
    let mut sown = limits.chain(case::sown_crops(job));
    let holds = |of: &String, sown: &str| {
        crop_tolerance::holds_for(of, sown) || crop_tolerance::is_safe_for(of, sown)
    };
    let other = sown.find(|sown| !own.crop.as_ref().is_some_and(|of| holds(of, sown)))?;
    let of = own.crop.as_deref().unwrap_or("no crop by name");
    Some(format!("{of}, and '{other}' is sown"))
}

fn seedbed(job: &Job, crops: &[OfCrop], own: &OwnSeedLimit) -> Option<String> {
    let dry = job.seedbed_is_dry() || crops.iter().any(|of| of.case.dry);
    if dry && !own.dry {
        return Some("a moist seedbed, and this one is dry".to_owned());
    }
    let textures = crops.iter().map(|of| of.case.texture.as_str());
    let lighter = textures
        .filter(|here| !here.trim().is_empty())
        .find(|here| {
            let Some(of) = &own.texture else {
                return true;
            };
            match (Texture::of(of), Texture::of(here)) {
                (Some(of), Some(here)) => here < of,
                // Words of the user's own do not compare.
                _ => !of.trim().eq_ignore_ascii_case(here.trim()),
            }
        })?;
    let of = own.texture.as_deref().unwrap_or("no texture by name");
    Some(format!("{of}, and the soil is '{lighter}'"))
}

fn widths(job: &Job, crops: &[OfCrop], own: &OwnSeedLimit) -> Option<String> {
    let shown = |m| Words::of(job).amount(&GivenRowWidth(m));
    if let (Some(rows), Some(widest)) = (row_spacing_m(job), own.row_spacing_m)
        && rows > widest * (1.0 + SLACK)
    {
        return Some(format!(
            "rows up to {}, and these are {} apart",
            shown(widest),
            shown(rows)
        ));
    }
    let spreads = crops.iter().map(|of| of.case.spread_m);
    let spread = spreads.chain(job.drill.opener_spread_m).reduce(f64::min)?;
    match own.spread_m {
        None => Some(format!(
            "no spread by number, and at this opener it is {}",
            shown(spread)
        )),
        Some(narrowest) if spread < narrowest * (1.0 - SLACK) => Some(format!(
            "a spread of at least {}, and at this opener it is {}",
            shown(narrowest),
            shown(spread)
        )),
        Some(_) => None,
    }
}

/// Whether somebody noted the sulphur makes it no other fertiliser.
fn without_sulphur(grade: Option<Grade>) -> Option<Grade> {
    grade.map(|grade| Grade {
        s_percent: None,
        ..grade
    })
}

/// Another grade is another fertiliser by whatever name, and so is a form that harms more.
fn fertiliser(part: &Part, own: &OwnSeedLimit) -> Option<String> {
    let no_worse = |of: FertiliserForm| own.form.is_some_and(|own| at_least_as_harmful(own, of));
    if part.product.form.is_some_and(|of| !no_worse(of)) {
        let words =
            |form: Option<FertiliserForm>| form.map_or("no form by name", FertiliserForm::words);
        return Some(format!(
            "{}, and this is {}",
            words(own.form),
            words(part.product.form)
        ));
    }
    if part.product.grade.is_some()
        && without_sulphur(part.product.grade) != without_sulphur(own.grade)
    {
        let words = |grade: Option<Grade>| {
            grade.map_or("no grade".to_owned(), |of| {
                let all = [of.n_percent, of.p2o5_percent, of.k2o_percent];
                let boron = match of.boron_percent > 0.0 {
                    true => format!(" with {} % boron", text::given(of.boron_percent)),
                    false => String::new(),
                };
                format!("{}{boron}", all.map(text::given).join("-"))
            })
        };
        return Some(format!(
            "{}, and this is {}",
            words(own.grade),
            words(part.product.grade)
        ));
    }
    None
}
