//! Hoppers along the drive: what both halves hold after each bout, and where they are refilled.
//!
//! Method: docs/methods/refills.md.

mod greedy;
mod levels;
mod split;

pub use split::BestSplit;

use super::as_driven::{AsDriven, BoutSums};
use super::bout::Bout;
use super::spread::Spread;
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Finding, Place};
use crate::frame::Frame;
use crate::job::{Hopper, Job, Product};
use greedy::{Tank, TooLong};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Both halves along the drive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Refills {
    /// The products of the air stream that are sown, in job order, then those that a unit of its own spreads.
    pub halves: Vec<Half>,
    /// In the order in which they come, the first before the first bout. Empty if a fill cannot last.
    pub stops: Vec<Stop>,
    /// Per bout, per half: kg left when it ends. Empty if a fill cannot last.
    pub left_kg: Vec<Vec<f64>>,
    /// Where the divider moves: the split of the volume with the fewest stops.
    pub best_split: Option<BestSplit>,
    /// The first bout that no fill lasts for.
    pub cannot_last: Option<CannotLast>,
}

/// One half of the hopper, or the container of a unit that spreads on the surface.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Half {
    /// Id of the product.
    pub product: String,
    /// Name of the hopper.
    pub hopper: String,
    /// Most that it holds, kg.
    pub full_kg: f64,
    /// What must stay in it, kg.
    pub least_kg: f64,
    /// What leaves it over the whole drive, kg.
    pub sown_kg: f64,
    /// What is filled in all, kg.
    pub filled_kg: f64,
    /// What is left when the field is done, kg.
    pub left_kg: f64,
}

/// A stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stop {
    /// From 1.
    pub number: usize,
    /// The bout after which it comes; 0 for before the first.
    pub after_bout: usize,
    /// Where, degrees.
    pub lon_lat: LonLat,
    /// No place of the tender's was within reach.
    pub away: bool,
    /// Id of the product that would not have lasted to a later stop; none at the start.
    pub governs: Option<String>,
    /// Per half.
    pub fills: Vec<Fill>,
}

/// A half at a stop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Fill {
    /// In it before filling, kg.
    pub left_kg: f64,
    /// What is filled, kg.
    pub fill_kg: f64,
    /// Whole packs, where only such are filled.
    pub packs: Option<u64>,
    /// Level before and after filling, cm; with a table of the hopper's levels.
    pub level_cm: Option<[f64; 2]>,
}

/// A bout that no fill lasts for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CannotLast {
    /// The bout, from 1.
    pub bout: usize,
    /// Id of the product.
    pub product: String,
    /// What the bout takes, kg.
    pub takes_kg: f64,
    /// What is in the half at most when it begins, kg.
    pub filled_kg: f64,
    /// Where it begins, degrees.
    pub lon_lat: LonLat,
}

/// A product with its hopper.
#[derive(Clone, Copy)]
struct Loaded<'a> {
    product: &'a Product,
    hopper: &'a Hopper,
    kg_per_l: f64,
}

/// The hoppers along the drive; `None` where no product of the air stream is sown, or one has no bulk
/// density. The container of a surface unit is followed if its hopper and the bulk density are known. `at_tender` says
/// for each bout whether its end is where the tender stands.
pub fn refills(
    bouts: &[Bout],
    stream: &AsDriven,
    spread: &[Spread],
    at_tender: &[bool],
    job: &Job,
    frame: &Frame,
) -> Option<Refills> {
    let mut loaded = Vec::new();
    let mut tanks = Vec::new();
    for (nth, product) in job.products.iter().enumerate() {
        let takes_kg = takes(stream, nth);
        if takes_kg.iter().sum::<f64>() > 0.0 {
            let of = load(job, product)?;
            tanks.push(tank(&of, takes_kg, job));
            loaded.push(of);
        }
    }
    let in_stream = loaded.len();
    for (nth, product) in job.products.iter().enumerate() {
        let own = spread.iter().find(|of| of.product == product.id);
        let takes_kg = own.map_or_else(Vec::new, |own| takes(&own.as_driven, nth));
        if takes_kg.iter().sum::<f64>() > 0.0
            && let Some(of) = load(job, product)
        {
            tanks.push(tank(&of, takes_kg, job));
            loaded.push(of);
        }
    }
    if in_stream == 0 {
        return None;
    }
    let start = |bout: usize| {
        let bout = bouts.get(bout)?;
        Some(frame.to_lon_lat(PlaneXy::of_pair(bout.path.at(0.0))))
    };
    let end = |bout: usize| {
        let bout = bouts.get(bout)?;
        Some(frame.to_lon_lat(PlaneXy::of_pair(bout.path.at(bout.path.length_m()))))
    };
    let mut refills = Refills {
        halves: loaded
            .iter()
            .zip(&tanks)
            .map(|(of, tank)| half(of, tank))
            .collect(),
        stops: Vec::new(),
        left_kg: Vec::new(),
        best_split: None,
        cannot_last: None,
    };
    if job.refill.movable_divider {
        refills.best_split = split::best(&loaded, &tanks, in_stream, at_tender);
    }
    match greedy::stops(&tanks, at_tender) {
        Err(told) => refills.cannot_last = Some(cannot_last(told, &loaded, &tanks, start)?),
        Ok(stops) => {
            for (number, stop) in stops.iter().enumerate() {
                let place = match stop.after.checked_sub(1) {
                    None => start(0)?,
                    Some(bout) => end(bout)?,
                };
                refills.stops.push(Stop {
                    number: number + 1,
                    after_bout: stop.after,
                    lon_lat: place,
                    away: stop.away,
                    governs: stop
                        .governs
                        .and_then(|tank| loaded.get(tank))
                        .map(|of| of.product.id.clone()),
                    fills: loaded
                        .iter()
                        .zip(&tanks)
                        .zip(stop.left_kg.iter().zip(&stop.fill_kg))
                        .map(|((of, tank), (left_kg, fill_kg))| fill(of, tank, *left_kg, *fill_kg))
                        .collect(),
                });
            }
            refills.left_kg = left_kg(&stops, &tanks);
            for (nth, half) in refills.halves.iter_mut().enumerate() {
                let fills = stops.iter().map(|stop| stop.fill_kg[nth]);
                half.filled_kg = fills.sum();
                half.left_kg = half.filled_kg - half.sown_kg;
            }
        }
    }
    Some(refills)
}

/// Per bout, kg.
fn takes(driven: &AsDriven, product: usize) -> Vec<f64> {
    let of_bout = |bout: &BoutSums| bout.kg.get(product).copied().unwrap_or(0.0);
    driven.bouts.iter().map(of_bout).collect()
}

/// A product and its hopper; `None` where the job does not tell enough.
fn load<'a>(job: &'a Job, product: &'a Product) -> Option<Loaded<'a>> {
    let mut hoppers = job.drill.hoppers.iter();
    Some(Loaded {
        product,
        hopper: hoppers.find(|hopper| hopper.name == product.hopper)?,
        kg_per_l: product.bulk_density_kg_per_l?,
    })
}

fn tank(of: &Loaded, takes_kg: Vec<f64>, job: &Job) -> Tank {
    let whole = job.refill.whole_packs_of.contains(&of.product.id);
    Tank {
        full_kg: of.hopper.usable_l * of.kg_per_l,
        least_kg: of.hopper.min_level_l * of.kg_per_l,
        pack_kg: of.product.pack_kg.filter(|_| whole),
        takes_kg,
    }
}

fn half(of: &Loaded, tank: &Tank) -> Half {
    Half {
        product: of.product.id.clone(),
        hopper: of.hopper.name.clone(),
        full_kg: tank.full_kg,
        least_kg: tank.least_kg,
        sown_kg: tank.takes_kg.iter().sum(),
        filled_kg: 0.0,
        left_kg: 0.0,
    }
}

fn fill(of: &Loaded, tank: &Tank, left_kg: f64, fill_kg: f64) -> Fill {
    let level = |kg: f64| {
        // The table measures all that is in the hopper, what the meter cannot empty included.
        levels::cm(&of.hopper.levels, kg / of.kg_per_l + of.hopper.residue_l)
    };
    Fill {
        left_kg,
        fill_kg,
        packs: tank.pack_kg.map(|pack| (fill_kg / pack).round() as u64),
        level_cm: level(left_kg)
            .zip(level(left_kg + fill_kg))
            .map(|(before, after)| [before, after]),
    }
}

/// What is in each tank when each bout ends.
fn left_kg(stops: &[greedy::Stop], tanks: &[Tank]) -> Vec<Vec<f64>> {
    let bouts = tanks.first().map_or(0, |tank| tank.takes_kg.len());
    let mut content = vec![0.0; tanks.len()];
    let mut next = stops.iter().peekable();
    let of_bout = |bout: usize| {
        while let Some(stop) = next.next_if(|stop| stop.after == bout) {
            for (content, fill) in content.iter_mut().zip(&stop.fill_kg) {
                *content += fill;
            }
        }
        for (content, tank) in content.iter_mut().zip(tanks) {
            *content -= tank.takes_kg.get(bout).copied().unwrap_or(0.0);
        }
        content.clone()
    };
    (0..bouts).map(of_bout).collect()
}

fn cannot_last(
    told: TooLong,
    loaded: &[Loaded],
    tanks: &[Tank],
    start: impl Fn(usize) -> Option<LonLat>,
) -> Option<CannotLast> {
    Some(CannotLast {
        bout: told.bout + 1,
        product: loaded[told.tank].product.id.clone(),
        takes_kg: tanks[told.tank].takes_kg[told.bout],
        filled_kg: told.filled_kg,
        lon_lat: start(told.bout)?,
    })
}

/// What the refills ask the user to look at.
pub fn findings(refills: &Refills, job: &Job) -> Vec<Finding> {
    let mut findings = Vec::new();
    let units = job.report.units;
    if let Some(told) = &refills.cannot_last {
        let half = refills
            .halves
            .iter()
            .find(|half| half.product == told.product);
        let [full, least] = half.map_or([0.0; 2], |half| [half.full_kg, half.least_kg]);
        findings.push(Finding::warning(
            "refill.cannot_last",
            Place::file(&job.file).at(told.lon_lat),
            format!(
                "bout {} takes {} of '{}', and its hopper holds {} at most when it begins (full {}, {} must stay), so no fill lasts to its end: no stops are given. Plan a stop in mid-bout, a lower min_level_l, smaller packs, or a larger hopper",
                told.bout,
                units.mass(told.takes_kg, 0),
                told.product,
                units.mass(told.filled_kg, 0),
                units.mass(full, 0),
                units.mass(least, 0),
            ),
        ));
    }
    for stop in refills.stops.iter().filter(|stop| stop.away) {
        findings.push(Finding::warning(
            "refill.away",
            Place::file(&job.file).at(stop.lon_lat),
            format!(
                "stop {} after bout {} is not where the tender stands: {} does not last to a bout end there",
                stop.number,
                stop.after_bout,
                stop.governs.as_deref().unwrap_or("a hopper"),
            ),
        ));
    }
    findings
}
