//! What of each plot was cut, told by raw readings: whatever cleaning takes later, the harvester has been there.

use super::clean::Cleaned;
use super::passes::headings;
use crate::coordinates::PlaneXy;
use crate::read::Polygon;

/// What a reading mixes, m (Knight and Pettitt 2003). Half of it is the least that has to be left of a plot between its ends, and what one plot may
/// be cut shorter than the others of its block unnoticed (common practice, no source).
const MIXED_M: f64 = 30.0;

/// Half of a right angle and more: the harvester drives on the same way.
const SAME_WAY: f64 = 0.5;

/// A plot, of which a reading can tell: treatment, block, and a number of the shape.
pub(super) type Place = (String, String, usize);

/// Readings along one swath through a plot.
pub(super) struct Run {
    pub place: Place,
    pub members: Vec<usize>,
    /// Per member: metres along the swath.
    pub along_m: Vec<f64>,
}

impl Run {
    /// Members that lie so far from both ends of what was cut.
    pub fn inner(&self, ends_m: f64) -> impl Iterator<Item = usize> {
        let last = self.along_m.last().copied().unwrap_or(0.0);
        let each = self.members.iter().zip(&self.along_m);
        each.filter(move |(_, along)| **along >= ends_m && last - **along >= ends_m)
            .map(|(at, _)| *at)
    }
}

/// The swaths through all plots. A place that jumps aside, a stop or a short gap does not end a swath, if within `ends_m` it goes on the same way
/// with no other plot between: ends of a plot are where something else begins.
pub(super) fn runs(
    cleaned: &Cleaned,
    of: &dyn Fn(usize) -> Option<Place>,
    ends_m: f64,
) -> Vec<Run> {
    let readings = &cleaned.readings;
    let headings = headings(readings, &cleaned.passes);
    let mut runs: Vec<Run> = Vec::new();
    let mut open: Option<Run> = None;
    for pass in &cleaned.passes {
        for at in pass.clone() {
            let is_cut = !readings[at].header_up && !readings[at].outside;
            let Some(here) = is_cut.then(|| of(at)).flatten() else {
                continue;
            };
            let step_m = open.as_ref().and_then(|run| {
                let before = *run.members.last()?;
                if run.place != here {
                    return None;
                }
                if before + 1 == at && pass.contains(&before) {
                    return Some(cleaned.travelled_m[at] - cleaned.travelled_m[before]);
                }
                let [[x, y], [to_x, to_y]] = [readings[before].xy, readings[at].xy];
                let gap_m = (to_x - x).hypot(to_y - y);
                let [a, b] = [headings[before], headings[at]];
                let on = a[0] * b[0] + a[1] * b[1] > SAME_WAY
                    && readings[before].machine == readings[at].machine;
                (on && gap_m <= ends_m).then_some(gap_m)
            });
            match (&mut open, step_m) {
                (Some(run), Some(step_m)) => {
                    let so_far = run.along_m.last().copied().unwrap_or(0.0);
                    run.members.push(at);
                    run.along_m.push(so_far + step_m);
                }
                _ => {
                    runs.extend(open.take());
                    open = Some(Run {
                        place: here,
                        members: vec![at],
                        along_m: vec![0.0],
                    });
                }
            }
        }
    }
    runs.extend(open);
    runs
}

/// A plot that was cut over a part of its length only, so that the plots beside it count over the same stretch.
#[derive(Debug, Clone, PartialEq)]
pub struct CutShort {
    /// What is tried on it.
    pub treatment: String,
    /// Its block.
    pub block: String,
    /// Its length, m.
    pub length_m: f64,
    /// From its first to its last raw reading, m.
    pub cut_m: f64,
    /// Whether too little is left of it between its ends to count at all.
    pub left_out: bool,
}

/// Per plot the stretch along it that counts: what all plots beside it in its block have in common.
pub(super) struct Common {
    /// Along the plots.
    way: [f64; 2],
    /// Per plot: first and last place that counts, metres along the way; none of it where it is left out.
    stretches: Vec<Option<[f64; 2]>>,
    pub short: Vec<CutShort>,
}

impl Common {
    /// `plots`: treatment and block of each with its outline, a strip or cell along the bouts.
    pub fn of(
        cleaned: &Cleaned,
        runs: &[Run],
        plots: &[(Place, Polygon<PlaneXy>)],
        ends_m: f64,
    ) -> Self {
        let way = plots.iter().find_map(|(_, own)| longest_edge(own));
        let way = way.unwrap_or([1.0, 0.0]);
        let along = |[x, y]: [f64; 2]| x * way[0] + y * way[1];
        let range = |values: &mut dyn Iterator<Item = f64>| {
            values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], own| {
                [low.min(own), high.max(own)]
            })
        };
        let ground: Vec<[f64; 2]> = plots
            .iter()
            .map(|(_, own)| range(&mut own.exterior.iter().map(|at| along(at.pair()))))
            .collect();
        let mut cut = vec![[f64::INFINITY, f64::NEG_INFINITY]; plots.len()];
        for run in runs {
            if let Some([low, high]) = cut.get_mut(run.place.2) {
                let places = run.members.iter().map(|&at| cleaned.readings[at].xy);
                let [from, to] = range(&mut places.map(along));
                (*low, *high) = (low.min(from), high.max(to));
            }
        }
        let length = |[from, to]: [f64; 2]| to - from;
        let need_m = 2.0 * ends_m + MIXED_M / 2.0;
        let too_little = |nth: usize| {
            cut[nth][0].is_finite() && length(ground[nth]) > need_m && length(cut[nth]) < need_m
        };
        let mut own = Self {
            way,
            stretches: Vec::new(),
            short: Vec::new(),
        };
        let mut is_short = vec![false; plots.len()];
        for (nth, (place, _)) in plots.iter().enumerate() {
            if too_little(nth) {
                is_short[nth] = true;
                own.stretches.push(None);
                continue;
            }
            let mut stretch = [f64::NEG_INFINITY, f64::INFINITY];
            for (other, (beside, _)) in plots.iter().enumerate() {
                let shared =
                    ground[nth][1].min(ground[other][1]) - ground[nth][0].max(ground[other][0]);
                let side_by_side = shared > length(ground[nth]) / 2.0;
                if other == nth
                    || beside.1 != place.1
                    || !side_by_side
                    || too_little(other)
                    || !cut[other][0].is_finite()
                {
                    continue;
                }
                let unlike_m = MIXED_M / 2.0;
                if cut[other][0] > cut[nth][0] + unlike_m {
                    stretch[0] = f64::max(stretch[0], cut[other][0] + ends_m);
                    is_short[other] = true;
                }
                if cut[other][1] < cut[nth][1] - unlike_m {
                    stretch[1] = f64::min(stretch[1], cut[other][1] - ends_m);
                    is_short[other] = true;
                }
            }
            own.stretches.push(Some(stretch));
        }
        for (nth, ((treatment, block, _), _)) in plots.iter().enumerate() {
            if is_short[nth] {
                own.short.push(CutShort {
                    treatment: treatment.clone(),
                    block: block.clone(),
                    length_m: length(ground[nth]),
                    cut_m: length(cut[nth]),
                    left_out: too_little(nth),
                });
            }
        }
        own
    }

    /// Whether a place in a plot counts.
    pub fn holds(&self, plot: usize, [x, y]: [f64; 2]) -> bool {
        let along = x * self.way[0] + y * self.way[1];
        let stretch = self.stretches.get(plot).copied().flatten();
        stretch.is_some_and(|[from, to]| (from..=to).contains(&along))
    }
}

/// Unit vector along the longest edge.
fn longest_edge(polygon: &Polygon<PlaneXy>) -> Option<[f64; 2]> {
    let edges = polygon.exterior.windows(2);
    let edges = edges.map(|ends| [ends[1].x - ends[0].x, ends[1].y - ends[0].y]);
    let longest = edges.max_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])))?;
    let long = longest[0].hypot(longest[1]);
    (long > 0.0).then(|| longest.map(|of| of / long))
}
