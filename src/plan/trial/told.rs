//! What there is to say about a trial, and what stops it.

use super::blocks::{Found, LEAST_CONTRAST, Search, Zones};
use super::job_file;
use super::laid::{Laying, TrialCost};
use super::land::Why;
use crate::agronomy::balance_name;
use crate::findings::{Fault, Finding, Place, number};
use crate::job::{Job, Trial, TrialDesign};
use std::collections::BTreeMap;

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
    let costs = trial.costs.iter().flat_map(|cost| {
        let priced = |kg: f64, money: Option<f64>| {
            let money = money.map(|money| format!(" ({money:+.2} at its price)"));
            format!("{}{}", units.more_mass(kg, 1), money.unwrap_or_default())
        };
        let drilled = format!(
            "'{}' {}",
            cost.product,
            priced(cost.more_kg, cost.more_money)
        );
        let spread = cost.changes_balance().then(|| {
            let product = job.products.iter().find(|of| of.id == cost.product);
            format!(
                "{} that is broadcast {}",
                product.map_or("", |of| balance_name(of)),
                priced(cost.more_balance_kg, cost.more_balance_money)
            )
        });
        std::iter::once(drilled).chain(spread)
    });
    let costs: Vec<String> = costs.collect();
    let costs = match costs.is_empty() {
        true => "nothing".to_owned(),
        false => costs.join(", "),
    };
    let board = trial.chessboard.map(|board| {
        format!(
            " in a chessboard of {} by {} blocks across and along the bouts",
            board.blocks_across, board.blocks_along
        )
    });
    let board = board.unwrap_or_default();
    let message = format!(
        "the trial '{}' is in the map: {} blocks of {} plots{board}, strips {} wide ({} bouts), plots from {} long, of which {} are left out at both ends at harvest. 8 of 10 such trials show a difference of {} or more. Against the map it takes {costs}",
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
    for flat in &trial.flat_in_all {
        let product = job.products.iter().find(|of| of.id == flat.product);
        let message = format!(
            "flat plots of the trial '{}' get {} of '{}' in all, as the map gives in the mean: {} by the drill, and {} of {} are left to broadcast. So plots differ in where it goes and not in how much; order and the balance map have it",
            trial.name,
            units.rate(flat.in_all_kg_per_ha, 1),
            flat.product,
            units.rate(flat.drilled_kg_per_ha, 1),
            units.rate(flat.broadcast_kg_per_ha, 1),
            product.map_or("", |of| balance_name(of)),
        );
        findings.push(Finding::note("trial.flat_in_all", place(), message));
        if let Some(given) = flat.spread_kg_per_ha {
            let message = format!(
                "the spreader's own most, least and step do not allow what flat plots of the trial '{}' leave to it of '{}': {} at the widest instead of {} in the mean, so that there they get in all more than 5 % more or less than the map gives. Set limits under [spreader] that hold it, or a flat rate that the drill lays as a whole",
                trial.name,
                flat.product,
                units.rate(given, 1),
                units.rate(flat.broadcast_kg_per_ha, 1),
            );
            findings.push(
                Finding::warning("trial.spread_otherwise", place(), message)
                    .area(flat.spread_otherwise_m2),
            );
        }
    }
    let spread = job
        .spreader
        .as_ref()
        .filter(|_| trial.costs.iter().any(TrialCost::changes_balance));
    if let Some(spreader) = spread.filter(|of| of.working_width_m > trial.strip_width_m + 1e-6) {
        let message = format!(
            "the spreader is {} wide and a strip of the trial '{}' {}: what is left to broadcast changes from strip to strip, and only a spreader that sets its sides or sections by themselves lays it so",
            units.length(spreader.working_width_m, 1),
            trial.name,
            units.length(trial.strip_width_m, 1),
        );
        findings.push(Finding::warning("trial.spreader_width", place(), message));
    }
    for cost in &trial.costs {
        // Of flat plots it is said above.
        let flat = trial
            .flat_in_all
            .iter()
            .any(|of| of.product == cost.product);
        if flat || !cost.changes_balance() {
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
    let between = match trial.chessboard {
        Some(_) => "one reading's worth",
        None => "two readings' worth",
    };
    Fault::input(
        "trial.too_short",
        job_file(job),
        format!(
            "the trial '{}': plots of {}",
            trial.name,
            units.length(trial.length_m.unwrap_or(0.0), 1)
        ),
        format!(
            "{} or more: both ends are left out for what a harvester mixes and the drill takes to come to a rate, and between them lies {between}",
            units.length(least_m, 1)
        ),
        "Make length_m longer, or leave it out.",
    )
}

/// The area that all plots have to lie in, in words.
fn area_name(trial: &Trial, job: &Job) -> Option<String> {
    let special = trial.here.as_ref();
    let special = special.map(|name| format!("the special area '{name}'"));
    let of_file = trial.here_source.as_ref().map(|source| {
        let file = job.folder.join(&source.file);
        format!("the area in '{}'", file.display())
    });
    special.or(of_file)
}

/// The area of a trial lies beside the field, or has no polygons.
pub(super) fn area_elsewhere(trial: &Trial, job: &Job) -> Box<Fault> {
    let file = trial.here_source.as_ref().map(|source| &source.file);
    Fault::input(
        "trial.area_elsewhere",
        file.map_or_else(|| job_file(job), |file| Place::file(job.folder.join(file))),
        format!(
            "the trial '{}' is to lie in an area that has no polygon on this field",
            trial.name
        ),
        "polygons on the field in 'here_source', by its 'only' if it has one",
        "Draw the area on the field, correct its CRS or 'only', or leave 'here_source' out.",
    )
}

/// The size of an area that holds the trial wherever its bouts lie in it: across the bouts and along them, m. One strip more than the
/// trial has, for the first may begin anywhere in the area, and a metre for rounding.
fn would_do(search: &Search, strip_m: f64) -> [f64; 2] {
    let trial = search.tried.trial;
    let plot_m = trial.length_m.unwrap_or(search.least_m());
    let (plots, blocks) = (search.tried.treatments.len(), trial.blocks());
    if let Some((board, cells_across)) = search.board() {
        let across = board.blocks_across as usize * cells_across + 1;
        let along = board.blocks_along as usize * (plots / cells_across);
        return [
            (across as f64 * strip_m).ceil(),
            (along as f64 * plot_m).ceil() + 1.0,
        ];
    }
    let size = |beside: usize| {
        let strips = (beside * plots + 1) as f64;
        [
            (strips * strip_m).ceil(),
            (blocks.div_ceil(beside) as f64 * plot_m).ceil() + 1.0,
        ]
    };
    let sizes = (1..=blocks.max(1)).map(size);
    let longer = |[across, along]: &[f64; 2]| across.max(*along);
    let least = sizes.min_by(|a, b| longer(a).total_cmp(&longer(b)));
    least.unwrap_or_default()
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
    let [across_m, along_m] = would_do(search, strip_m);
    let plots = search.tried.treatments.len();
    let (asked, room) = match search.board() {
        Some((board, cells_across)) => (
            format!(
                "is a chessboard of {} by {} blocks, {} by {} cells across and along the bouts",
                board.blocks_across,
                board.blocks_along,
                board.blocks_across as usize * cells_across,
                board.blocks_along as usize * (plots / cells_across)
            ),
            "none in one piece".to_owned(),
        ),
        None => (
            format!("takes {} blocks of {plots} strips", trial.blocks()),
            found.most.to_string(),
        ),
    };
    if let Some(area) = area_name(trial, job) {
        let each_zone = match trial.design {
            TrialDesign::FlatStamps => " in each zone",
            _ => "",
        };
        return Fault::input(
            "trial.area_too_small",
            job_file(job),
            format!(
                "the trial '{}' {asked}{each_zone}, each {} wide and {} long or more, and {area} has room for {room}{without}",
                trial.name,
                units.length(strip_m, 2),
                units.length(trial.length_m.unwrap_or(search.least_m()), 0),
            ),
            format!(
                "an area that holds them: {} across the bouts by {} along them ({}) would do{each_zone}, clear of headland, setbacks and special areas, on land whose rates differ by {} % or more between treatments",
                units.length(across_m, 0),
                units.length(along_m, 0),
                units.area(across_m * along_m, 2),
                number(LEAST_CONTRAST * 100.0)
            ),
            "Make the area so large, ask for fewer blocks, or let the trial lie anywhere.",
        );
    }
    Fault::input(
        "trial.no_room",
        job_file(job),
        format!(
            "the trial '{}' {asked}, each {} wide and {} long or more, and there is room for {room}{without}",
            trial.name,
            units.length(strip_m, 2),
            units.length(trial.length_m.unwrap_or(search.least_m()), 0),
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
