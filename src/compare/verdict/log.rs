//! Faults of the log itself: another plan's, another field's, two drills, work taken up again, totals set to zero.

use super::{Case, Told, Trouble};
use crate::codec::taskdata::Log;
use crate::compare::channels::{Channel, Growth};
use crate::plan::is_id;

/// Share of the work that lies beyond the plan's land if the log is that of another field.
const ELSEWHERE: f64 = 0.5;
/// Two places at the same moment are two drills if they lie further apart than so many working widths.
const APART_WIDTHS: f64 = 3.0;
/// For so many records.
const TIMES: usize = 10;
/// After so long without work it was taken up again, s: longer than any turn, refill or talk. Assumption, no source.
const BROKEN_OFF_S: f64 = 2.0 * 3600.0;

pub(super) fn judge(case: &Case) -> Vec<Told> {
    let mut told: Vec<Told> = Vec::new();
    told.extend(other_plan(case));
    told.extend(other_field(case));
    told.extend(two_drills(case));
    told.extend(resumed(case));
    told.extend(resets(case));
    if case.track.said_twice > 0 {
        let found = format!(
            "Logs run beside each other in time and give the same values; {} of them were left out.",
            case.track.said_twice
        );
        told.push(Told::of(Trouble::LogsBeside, found));
    }
    told
}

/// Whether the name of a task begins with the id of a plan. One id in five has no digit and reads like a name in capitals: then
/// the name has to go on as that of a task of this field does.
fn begins_with_id(case: &Case, name: &str, id: &str) -> bool {
    let has_digit = id.bytes().any(|letter| letter.is_ascii_digit());
    is_id(id) && (has_digit || case.plan.names_task(name, id))
}

fn other_plan(case: &Case) -> Option<Told> {
    let mut names = case.tasks.iter().map(|task| task.name.as_str());
    let (name, id) = names.find_map(|name| {
        let id = name.split_whitespace().next()?;
        (id != case.plan.id && begins_with_id(case, name, id)).then_some((name, id))
    })?;
    Some(Told::of(
        Trouble::OtherPlan,
        format!(
            "The task is named '{name}': it was made from plan {id}, and this is plan {}.",
            case.plan.id
        ),
    ))
}

fn other_field(case: &Case) -> Option<Told> {
    let beyond_m2 = case.figures.beyond_m2;
    let worked_m2 = beyond_m2 + case.figures.drilled_m2;
    let first = case.track.segments.first()?;
    (beyond_m2 > ELSEWHERE * worked_m2).then(|| {
        let found = format!(
            "{} of the {} that were drilled lie beyond the plan's land.",
            case.land(beyond_m2),
            case.land(worked_m2)
        );
        Told::of(Trouble::OtherField, found)
            .at(case, first.from)
            .area(beyond_m2)
    })
}

fn logs<'a>(case: &'a Case) -> impl Iterator<Item = &'a Log> {
    let logs = case.tasks.iter().flat_map(|task| &task.logs);
    logs.map(|(_, log)| log)
}

/// Stretches of different logs that begin in the same second, far from each other.
fn two_drills(case: &Case) -> Option<Told> {
    let mut in_time: Vec<&crate::compare::track::Segment> = case.track.segments.iter().collect();
    in_time.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    let apart_m = APART_WIDTHS * case.plan.width_m;
    let mut times = 0;
    let mut first = None;
    for pair in in_time.windows(2) {
        let [a, b] = pair else { continue };
        let metres = (a.from[0] - b.from[0]).hypot(a.from[1] - b.from[1]);
        if a.log != b.log && b.start_s - a.start_s < 1.0 && metres > apart_m {
            times += 1;
            first.get_or_insert(b.from);
        }
    }
    let first = first.filter(|_| times >= TIMES)?;
    let found =
        "Two drills worked in the field at the same time; their land and kilograms were added up."
            .to_owned();
    Some(Told::of(Trouble::TwoDrills, found).at(case, first))
}

/// The longest break between two stretches.
fn resumed(case: &Case) -> Option<Told> {
    let mut spans: Vec<(f64, f64, [f64; 2])> = case
        .track
        .segments
        .iter()
        .map(|own| (own.start_s, own.start_s + own.lasts_s, own.from))
        .collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut end = spans.first()?.1;
    let mut longest: Option<(f64, [f64; 2])> = None;
    for (start, stops, at) in spans {
        let pause = start - end;
        if pause >= BROKEN_OFF_S && longest.is_none_or(|(known, _)| pause > known) {
            longest = Some((pause, at));
        }
        end = end.max(stops);
    }
    let (seconds, at) = longest?;
    let found = format!(
        "The work was broken off and taken up again after {:.1} h.",
        seconds / 3600.0
    );
    Some(Told {
        seconds: Some(seconds),
        ..Told::of(Trouble::Resumed, found).at(case, at)
    })
}

/// Totals that fell inside a log.
fn resets(case: &Case) -> Vec<Told> {
    let mut falls = vec![0_usize; case.plan.products.len()];
    for (log, (_, columns, _)) in logs(case).zip(&case.channels.logs) {
        let mut totals = vec![Growth::from_its_first(); columns.len()];
        for (column, raw) in log.records.iter().flat_map(|record| &record.values) {
            let at = usize::from(*column);
            let Some(Channel::Total(meter, _)) = columns.get(at) else {
                continue;
            };
            let meter = case.channels.meters.get(*meter);
            let fell = totals
                .get_mut(at)
                .is_some_and(|own| own.falls_to(f64::from(*raw)));
            if let (Some(meter), true) = (meter, fell)
                && let Some(own) = falls.get_mut(meter.product)
            {
                *own += 1;
            }
        }
    }
    let products = falls
        .into_iter()
        .enumerate()
        .filter(|(_, times)| *times > 0);
    products
        .map(|(product, times)| {
            let found = format!(
                "The total of '{}' was set to zero {times} times on the way; what it counted before was added.",
                case.id(product)
            );
            Told::of(Trouble::TotalReset, found).product(case, product)
        })
        .collect()
}
