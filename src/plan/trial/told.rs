//! What there is to say about a trial, and what stops it.

use super::blocks::{Found, LEAST_CONTRAST, Search, Zones};
use super::job_file;
use super::laid::Laying;
use super::land::Why;
use crate::findings::{Fault, Finding, Place, number};
use crate::job::{Job, Trial};
use std::collections::BTreeMap;

/// A change of what is left to broadcast that is worth a word, kg. Our own choice, no source.
const LEAST_BALANCE_KG: f64 = 0.1;

/// What is said of a trial that is laid out: what it is, what it sees and costs, and what was held, moved or left out.
pub(super) fn findings(
    laying: &Laying,
    zones: &Zones,
    found: &Found,
    moved: usize,
    at_stops: usize,
    job: &Job,
) -> Vec<Finding> {
    let units = job.report.units;
    let trial = &laying.trial;
    let sight = &trial.sight;
    let place = || job_file(job);
    let area_m2: f64 = trial.plots.iter().map(|plot| plot.area_m2).sum();
    let shortest = trial
        .plots
        .iter()
        .map(|plot| plot.length_m)
        .fold(f64::INFINITY, f64::min);
    let costs = trial.costs.iter().map(|cost| {
        let money = cost
            .more_money
            .map(|money| format!(" ({money:+.2} at its price)"));
        format!(
            "'{}' {}{}",
            cost.product,
            units.more_mass(cost.more_kg, 1),
            money.unwrap_or_default()
        )
    });
    let costs: Vec<String> = costs.collect();
    let costs = match costs.is_empty() {
        true => "nothing".to_owned(),
        false => costs.join(", "),
    };
    let message = format!(
        "the trial '{}' is in the map: {} blocks of {} plots, strips {} wide ({} bouts), plots from {} long, of which {} are left out at both ends at harvest. 8 of 10 such trials show a difference of {} or more. Against the map it takes {costs}",
        trial.name,
        sight.blocks,
        trial.treatments.len(),
        units.length(trial.strip_width_m, 2),
        trial.strip_bouts,
        units.length(shortest, 0),
        units.length(trial.ends_m, 0),
        units.given_rate(sight.sees_kg_per_ha),
    );
    let mut findings = vec![Finding::note("trial.laid", place(), message).area(area_m2)];
    if sight
        .blocks_needed
        .is_none_or(|needed| needed > sight.blocks)
    {
        let enough = match sight.blocks_needed {
            Some(needed) => format!("{needed} blocks would do, or longer plots"),
            None => "no number of blocks that anybody drives would do".to_owned(),
        };
        let message = format!(
            "the trial '{}' is too small: it sees {}, and it should see {}. {enough}",
            trial.name,
            units.given_rate(sight.sees_kg_per_ha),
            units.given_rate(sight.should_see_kg_per_ha),
        );
        findings.push(Finding::warning("trial.too_small", place(), message));
    }
    for cost in &trial.costs {
        // Less than this nobody broadcasts.
        if cost.more_balance_kg.abs() < LEAST_BALANCE_KG {
            continue;
        }
        let message = format!(
            "strips of the trial '{}' ask for all that their land gets of '{}', so that what is left to broadcast changes there by {}. Plots with and without it differ by that too",
            trial.name,
            cost.product,
            units.more_mass(cost.more_balance_kg, 1),
        );
        findings.push(Finding::warning("trial.balance", place(), message));
    }
    for held in &laying.held {
        let id = job
            .products
            .get(held.product)
            .map_or("", |product| product.id.as_str());
        let message = format!(
            "limits and steps hold in the strips of the trial '{}' too: '{id}' has {} where {} was asked for, at the widest",
            trial.name,
            units.given_rate(held.kg_per_ha),
            units.given_rate(held.asked_kg_per_ha),
        );
        findings.push(Finding::note("trial.held", place(), message).area(held.area_m2));
    }
    for (zone, room) in &found.too_small {
        let rates = zones.rates.get(*zone as usize).into_iter().flatten();
        let rates: Vec<String> = rates.map(|rate| units.given_rate(*rate)).collect();
        let message = format!(
            "the trial '{}' leaves out the zone of {}: there is room for {room} of its blocks",
            trial.name,
            rates.join(" and ")
        );
        findings.push(Finding::note("trial.zone_too_small", place(), message));
    }
    if moved > 0 {
        let message = format!(
            "the trial '{}' was moved away from {moved} places where the drill would not sow a plot as it asks, or is filled",
            trial.name
        );
        findings.push(Finding::note("trial.moved", place(), message));
    }
    if at_stops > 0 {
        let message = format!(
            "the hoppers are filled within {at_stops} plots of the trial '{}', and no other place was found for them; fill earlier there",
            trial.name
        );
        findings.push(Finding::warning("trial.refill_in_plot", place(), message));
    }
    findings
}

/// Bouts that no strip can lie along.
pub(super) fn no_bouts(trial: &Trial, curved: bool, job: &Job) -> Box<Fault> {
    let found = match curved {
        true => "the bouts run along a curve, and strips are laid out along straight bouts",
        false => "no bout sows the interior of this field",
    };
    Fault::input(
        "trial.no_bouts",
        job_file(job),
        format!("the trial '{}': {found}", trial.name),
        "a field with straight interior bouts",
        "Drive it along a heading or an A-B line, or remove the [[trial]].",
    )
}

pub(super) fn too_short(trial: &Trial, least_m: f64, job: &Job) -> Box<Fault> {
    let units = job.report.units;
    Fault::input(
        "trial.too_short",
        job_file(job),
        format!(
            "the trial '{}': plots of {}",
            trial.name,
            units.length(trial.length_m.unwrap_or(0.0), 1)
        ),
        format!(
            "{} or more: both ends are left out for what a harvester mixes and the drill takes to come to a rate, and between them lie two readings' worth",
            units.length(least_m, 1)
        ),
        "Make length_m longer, or leave it out.",
    )
}

/// No room for the blocks, with the land that no plot may lie on.
pub(super) fn no_room(search: &Search, found: &Found, strip_m: f64) -> Box<Fault> {
    let (trial, job) = (search.tried.trial, search.job);
    let units = job.report.units;
    let mut without: BTreeMap<Why, f64> = BTreeMap::new();
    for (of, row) in search.rows.iter().zip(&search.land.rates.rows) {
        if let Err(why) = &of.strips {
            *without.entry(*why).or_default() += row.area_m2;
        }
    }
    let without = without
        .iter()
        .map(|(why, m2)| format!("{} of {}", units.area(*m2, 2), why.words()));
    let without: Vec<String> = without.collect();
    let without = match without.is_empty() {
        true => String::new(),
        false => format!(". No plot may lie on {}", without.join(", ")),
    };
    Fault::input(
        "trial.no_room",
        job_file(job),
        format!(
            "the trial '{}' takes {} blocks of {} strips, each {} wide and {} long or more, and there is room for {}{without}",
            trial.name,
            trial.blocks(),
            search.tried.treatments.len(),
            units.length(strip_m, 2),
            units.length(trial.length_m.unwrap_or(search.least_m()), 0),
            found.most
        ),
        format!(
            "room for all blocks on land whose rates differ by {} % or more between treatments, clear of headland, setbacks and special areas",
            number(LEAST_CONTRAST * 100.0)
        ),
        "Ask for fewer blocks, rates that are further apart or nearer to what the limits allow, or lay it out in a larger field.",
    )
}

/// A plot that the drill does not sow as it asks, wherever it was moved.
pub(super) fn not_driven(laying: &Laying, plot: usize, job: &Job) -> Box<Fault> {
    let units = job.report.units;
    let of = laying.trial.plots.get(plot);
    let place = of.and_then(|of| of.outline_lon_lat.first());
    let place = match place {
        Some(lon_lat) => job_file(job).at(*lon_lat),
        None => job_file(job),
    };
    let each = job
        .products
        .iter()
        .enumerate()
        .filter(|(_, product)| laying.trial.products.contains(&product.id));
    let each = each.filter_map(|(nth, product)| {
        let of = of?;
        Some(format!(
            "'{}' {} instead of {} in the mean, {:.0} % of its land within 5 %",
            product.id,
            units.rate(*of.sown_kg_per_ha.get(nth)?, 1),
            units.rate(*of.asked_kg_per_ha.get(nth)?, 1),
            of.within_5_percent.get(nth)?
        ))
    });
    let each: Vec<String> = each.collect();
    Fault::input(
        "trial.not_driven",
        place,
        format!(
            "the drill would not sow plot {} ('{}') of the trial '{}' as it asks: {}",
            of.map_or("", |of| of.id.as_str()),
            of.map_or("", |of| of.treatment.as_str()),
            laying.trial.name,
            each.join("; ")
        ),
        "plots that are sown within 5 % of what was asked in the mean, and at one rate on 95 % of their land",
        format!(
            "Set cell_m of [grid] to {} or less, so that no cell of the terminal's map lies half beside a bout (or follows = \"polygons\" where the terminal follows those), look at the meter's delays and closed rows, or ask for fewer blocks.",
            number(job.drill.working_width_m / 2.0)
        ),
    )
}

/// Blocks were moved too often.
pub(super) fn nowhere(trial: &Trial, job: &Job) -> Box<Fault> {
    Fault::input(
        "trial.nowhere",
        Place::file(&job.file),
        format!("the trial '{}' found no place clear of refills", trial.name),
        "a place for all blocks",
        "Ask for fewer blocks.",
    )
}
