//! Faults of the land: missed, doubled, beyond the field, in a setback.

use super::samples::{Sample, Samples, runs};
use super::squares::{opened, parts, shrunk};
use super::{Case, Told, Trouble};
use crate::compare::land::OUTSIDE;
use crate::units::M2_PER_HA;

/// Of the working width, and how long, m: less is the overlap that steering leaves.
const OF_WIDTH: f64 = 0.3;
const WAY_M: f64 = 20.0;
/// From this share of the width on nothing could have been spared by a section.
const WHOLE_WIDTH: f64 = 0.9;
/// Land left out that is wider than so many working widths is not drilled yet, rather than missed.
const NOT_YET_WIDTHS: f64 = 2.5;
/// Least that counts in a setback, kg.
const LEAST_KG: f64 = 0.5;
/// Error of the position by its status, m: fixed to the centimetre, float or precise, differential, plain. Common practice, no
/// source.
const POSITION_M: [(u8, f64); 6] = [(4, 0.1), (5, 0.5), (3, 0.5), (2, 1.0), (1, 3.0), (6, 3.0)];
const POSITION_UNKNOWN_M: f64 = 3.0;
/// Without a position for so long, s, land cannot be told; the same of gaps.
const LOST_S: f64 = 10.0;

pub(super) fn judge(case: &Case, samples: &Samples) -> Vec<Told> {
    let mut told = left_out(case);
    told.extend(again(case, samples));
    told.extend(beyond(case, samples));
    for product in 0..case.plan.products.len() {
        told.extend(in_setback(case, product));
    }
    let track = case.track;
    if track.lost_s >= LOST_S {
        let found = format!(
            "For {:.0} s of work there was no usable position.",
            track.lost_s
        );
        told.push(Told {
            seconds: Some(track.lost_s),
            ..Told::of(Trouble::PositionLost, found)
        });
    }
    if track.gap_m >= WAY_M {
        let found = format!(
            "The logs have {} gaps while the drill worked, {:.0} m in straight lines.",
            track.gaps, track.gap_m
        );
        told.push(Told::of(Trouble::Gaps, found));
    }
    told
}

/// Land that was left out: missed, or a part of the field that is not drilled yet.
fn left_out(case: &Case) -> Vec<Told> {
    let (plan, ground) = (case.plan, case.ground);
    let wants = |zone: &u16| {
        let zone = plan
            .zones
            .get(usize::from(*zone))
            .filter(|_| *zone != OUTSIDE);
        zone.is_some_and(|zone| zone.kg_per_ha.iter().any(|rate| *rate > 0.0))
    };
    let open: Vec<bool> = ground
        .zone
        .iter()
        .zip(&ground.passes)
        .map(|(zone, passes)| wants(zone) && *passes == 0)
        .collect();
    let window = |widths: f64| ((plan.width_m * widths / ground.edge_m).ceil() as usize).max(1);
    let strips = opened(&open, ground, window(OF_WIDTH));
    let wide = opened(&open, ground, window(NOT_YET_WIDTHS));
    let (mut missed, mut not_yet) = ((0.0, 0.0, None), (0.0, 0.0, None));
    for part in parts(&strips, ground) {
        let is_wide = part.squares.iter().any(|at| wide.get(*at) == Some(&true));
        let sum = if is_wide { &mut not_yet } else { &mut missed };
        let m2 = part.squares.len() as f64 * ground.square_m2();
        if !is_wide && part.longest_m < WAY_M {
            continue;
        }
        sum.0 += m2;
        if m2 > sum.1 {
            sum.1 = m2;
            sum.2 = part.squares.get(part.squares.len() / 2).copied();
        }
    }
    let mut told = Vec::new();
    for (trouble, (m2, largest, at)) in [(Trouble::Missed, missed), (Trouble::NotFinished, not_yet)]
    {
        if m2 == 0.0 {
            continue;
        }
        let land = case.land(m2);
        let found = match trouble {
            Trouble::Missed => format!(
                "{land} inside the field were left out, the largest piece {}.",
                case.land(largest)
            ),
            _ => format!("{land} of the field are not drilled yet."),
        };
        let own = Told::of(trouble, found).area(m2);
        told.push(match at {
            Some(at) => own.at(case, ground.middle(at)),
            None => own,
        });
    }
    told
}

/// Stretches whose width lies to a large part on land that was drilled before.
fn again(case: &Case, samples: &Samples) -> Vec<Told> {
    let holds = |own: &Sample| own.on_land && own.again >= OF_WIDTH;
    of_width(case, samples, holds, |own| own.again, Trouble::Doubled)
}

fn beyond(case: &Case, samples: &Samples) -> Vec<Told> {
    let holds = |own: &Sample| own.beyond >= OF_WIDTH;
    of_width(
        case,
        samples,
        holds,
        |own| own.beyond,
        Trouble::BeyondTheLand,
    )
}

/// What could have been spared by shutting a section is told apart, where the drill has several.
fn of_width(
    case: &Case,
    samples: &Samples,
    holds: impl Fn(&Sample) -> bool,
    share: impl Fn(&Sample) -> f64,
    whole: Trouble,
) -> Vec<Told> {
    let several = case.plan.sections_m.len() > 1;
    let is_part = |own: &Sample| several && share(own) < WHOLE_WIDTH;
    let mut told = Vec::new();
    for part in [false, true] {
        let found: Vec<(&Sample, f64, f64)> =
            runs(&samples.all, |own| holds(own) && is_part(own) == part)
                .into_iter()
                .filter(|(_, metres, _)| *metres >= WAY_M)
                .collect();
        let Some((first, _, _)) = found.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else {
            continue;
        };
        let metres: f64 = found.iter().map(|(_, metres, _)| metres).sum();
        let m2: f64 = found.iter().map(|(first, _, m2)| m2 * share(first)).sum();
        let (land, way) = (case.land(m2), case.way(metres, 0));
        let what = match whole {
            Trouble::Doubled => "again over land that was drilled already",
            _ => "beyond the plan's land",
        };
        let (trouble, found) = match part {
            true => (
                Trouble::SectionsStayedOn,
                format!(
                    "Sections stayed on over {way} where part of the width went {what}, some {land}."
                ),
            ),
            false => (
                whole,
                format!("The drill went {what} over {way}, some {land}."),
            ),
        };
        told.push(Told::of(trouble, found).at(case, first.at).area(m2));
    }
    told
}

/// Product on land that a setback keeps free of it, further in than the position may be wrong.
fn in_setback(case: &Case, product: usize) -> Option<Told> {
    let (plan, ground) = (case.plan, case.ground);
    let kept: Vec<bool> = ground
        .zone
        .iter()
        .map(|zone| {
            let zone = plan
                .zones
                .get(usize::from(*zone))
                .filter(|_| *zone != OUTSIDE);
            zone.is_some_and(|zone| zone.kept_off.get(product) == Some(&true))
        })
        .collect();
    if !kept.contains(&true) {
        return None;
    }
    let error_m = position_error_m(case);
    // The map keeps off more than the strip. Half a square more, for a square counts by its middle.
    let margin = ((plan.widened_m + error_m) / ground.edge_m + 0.5).ceil() as usize;
    // Towards the edge of the field nobody else's land is spared.
    let or_outside = kept.iter().zip(&ground.zone);
    let or_outside: Vec<bool> = or_outside
        .map(|(kept, zone)| *kept || *zone == OUTSIDE)
        .collect();
    let inside = shrunk(&or_outside, ground, margin);
    let rates = ground.kg_per_ha.get(product)?;
    let (mut kg, mut m2, mut worst) = (0.0, 0.0, (0.0_f32, None));
    for (at, rate) in rates.iter().enumerate() {
        let is_inside = kept.get(at) == Some(&true) && inside.get(at) == Some(&true);
        if is_inside && *rate > 0.0 {
            kg += f64::from(*rate) * ground.square_m2() / M2_PER_HA;
            m2 += ground.square_m2();
            if *rate > worst.0 {
                worst = (*rate, Some(at));
            }
        }
    }
    if kg < LEAST_KG {
        return None;
    }
    let found = format!(
        "{} of '{}' lie on {} of a strip that a setback keeps free of it, further in than the position may be wrong ({}).",
        case.mass(kg, 1),
        case.id(product),
        case.spot(m2),
        case.way(error_m, 1)
    );
    let told = Told::of(Trouble::InSetback, found)
        .product(case, product)
        .area(m2);
    let told = match worst.1 {
        Some(at) => told.at(case, ground.middle(at)),
        None => told,
    };
    Some(Told {
        kg: Some(kg),
        ..told
    })
}

/// By the status that most records have.
fn position_error_m(case: &Case) -> f64 {
    let mut counts = [0_usize; 256];
    let logs = case.tasks.iter().flat_map(|task| &task.logs);
    for status in logs
        .flat_map(|(_, log)| &log.records)
        .filter_map(|own| own.status)
    {
        if let Some(count) = counts.get_mut(usize::from(status)) {
            *count += 1;
        }
    }
    let known = POSITION_M
        .iter()
        .map(|(status, m)| (counts.get(usize::from(*status)).copied().unwrap_or(0), *m));
    let most = known
        .filter(|(count, _)| *count > 0)
        .max_by_key(|(count, _)| *count);
    most.map_or(POSITION_UNKNOWN_M, |(_, m)| m)
}
