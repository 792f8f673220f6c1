//! The heading of the interior bouts, and the strips of one working width side by side across it.

use super::SwitchRule;
use super::bands::Bands;
use super::frame::{self, Edge, Turned};
use super::lane;
use crate::job::{Heading, HeadingRange, Job, Start};
use crate::land::Land;

/// Heading of the interior bouts; `None` where the job asks for no drive.
pub(super) fn heading_deg(land: &Land, job: &Job) -> Option<f64> {
    let drive = job.drive.as_ref()?;
    if let Some([a, .., b]) = land.guide.as_deref() {
        let degrees = (b[0] - a[0]).atan2(b[1] - a[1]).to_degrees();
        return Some(degrees.rem_euclid(360.0));
    }
    Some(match (drive.heading_deg, drive.heading) {
        (Some(heading), _) => heading.rem_euclid(360.0),
        (None, Heading::LongestEdge) => frame::longest_side_deg(&land.land).unwrap_or(0.0),
        (None, Heading::FewestTurns) => fewest_bouts_deg(land, job),
    })
}

/// Lowest and highest place across the heading.
fn across(edges: &[Edge]) -> Option<[f64; 2]> {
    let places = edges.iter().map(|edge| [edge.from[1], edge.from[1]]);
    places.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

/// Strips of one working width, from the edge on the right of the heading; where tramlines start with half
/// a bout, the first strip lies half outside. Along an A-B line, one strip has it in its middle.
pub(super) fn strips(edges: &[Edge], land: &Land, job: &Job, heading_deg: f64) -> Vec<f64> {
    if let Some([a, ..]) = land.guide.as_deref() {
        let width_m = job.drill.working_width_m;
        let line = Turned::to(heading_deg).of(*a)[1];
        return strips_along(edges, width_m, line);
    }
    from_edge(edges, job)
}

/// Strips of which one has a line in its middle; `line` is its place across the heading.
pub(super) fn strips_along(edges: &[Edge], width_m: f64, line: f64) -> Vec<f64> {
    let Some([low, high]) = across(edges) else {
        return Vec::new();
    };
    let rim = line - width_m / 2.0;
    // A sliver within the plane's grid is no bout.
    let first = ((low - rim) / width_m + 1e-6).floor() as i64;
    let end = ((high - rim) / width_m - 1e-6).ceil() as i64;
    let place = |nth: i64| rim + nth as f64 * width_m;
    (first..end).map(place).collect()
}

fn from_edge(edges: &[Edge], job: &Job) -> Vec<f64> {
    let half = job
        .tramline
        .as_ref()
        .is_some_and(|tramline| tramline.start == Start::Half);
    strips_of(edges, job.drill.working_width_m, half)
}

pub(super) fn strips_of(edges: &[Edge], width_m: f64, half: bool) -> Vec<f64> {
    let [low, high] = across(edges).unwrap_or([0.0, 0.0]);
    let low = if half && high > low {
        low - width_m / 2.0
    } else {
        low
    };
    // A sliver within the plane's grid of a whole number of bouts is no bout.
    let count = ((high - low) / width_m - 1e-6).ceil().max(0.0) as usize;
    (0..count).map(|nth| low + nth as f64 * width_m).collect()
}

/// Number and length of the interior bouts at full width.
pub(super) fn straight(edges: &Bands, strips: &[f64], width_m: f64) -> (usize, f64) {
    let (mut bouts, mut metres) = (0, 0.0);
    for &low in strips {
        let slabs = lane::profile(edges, low, low + width_m);
        let on = lane::drilled(&slabs, width_m, SwitchRule::AnyPartIn).on_m;
        bouts += on.len();
        metres += on.iter().map(|[from, to]| to - from).sum::<f64>();
    }
    (bouts, metres)
}

/// The heading with the fewest bouts, of these the one with the shortest way: the longest edge and every
/// whole degree, but for those to avoid; of equal ones the first.
fn fewest_bouts_deg(land: &Land, job: &Job) -> f64 {
    let avoid: &[HeadingRange] = job.drive.as_ref().map_or(&[], |drive| &drive.avoid);
    let edge = frame::longest_side_deg(&land.land);
    let tried = edge.into_iter().chain((0..180).map(f64::from));
    let mut best: Option<(usize, f64, f64)> = None;
    for heading in tried {
        if avoid.iter().any(|range| range.holds(heading)) {
            continue;
        }
        let edges = frame::edges(&land.interior, heading);
        let strips = from_edge(&edges, job);
        let (bouts, metres) = straight(&Bands::of(edges), &strips, job.drill.working_width_m);
        let better = best.is_none_or(|(fewest, shortest, _)| {
            bouts < fewest || (bouts == fewest && metres < shortest - 1e-6)
        });
        if better {
            best = Some((bouts, metres, heading));
        }
    }
    best.map_or(0.0, |(_, _, heading)| heading)
}
