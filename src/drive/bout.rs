//! The bouts, each with its way, where its sections are on, and the rows that stay closed.

use super::SwitchRule;
use super::curved;
use super::frame::Turned;
use super::lane;
use super::path::Path;
use super::ring_drives;
use super::rings;
use super::tramline::Rhythm;
use super::ways::Ways;
use super::work_rate;
use crate::job::{HeadlandTurn, Job, LandPart};
use crate::land::Land;

/// One pass of the drill.
#[derive(Debug, Clone, PartialEq)]
pub struct Bout {
    /// From 1, in the order in which they are driven.
    pub number: usize,
    pub part: LandPart,
    /// Of the interior: which strip it lies in, from 1, beginning at the edge where the tramlines begin.
    pub strip: Option<usize>,
    pub path: Path,
    /// Left to right, looking ahead.
    pub sections: Vec<Section>,
    /// Rows that are closed, from the left looking ahead.
    pub closed: Vec<ClosedRow>,
    /// Where along the way they are.
    pub closed_along: ClosedAlong,
    pub speed_km_per_h: f64,
}

/// A section during a bout.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Its right and its left rim, metres to the left of the way.
    pub left_m: [f64; 2],
    /// Stations between which it is on, ascending.
    pub on_m: Vec<[f64; 2]>,
}

/// A closed row during a bout.
#[derive(Debug, Clone, PartialEq)]
pub struct ClosedRow {
    /// From 1, from the left looking ahead.
    pub outlet: u32,
    /// Its right and its left rim, metres to the left of the way.
    pub left_m: [f64; 2],
}

/// Where along a bout its closed rows are closed.
#[derive(Debug, Clone, Default, PartialEq)]
pub enum ClosedAlong {
    /// From where the bout begins to where it ends, and beyond.
    #[default]
    AllTheWay,
    /// Between these stations, ascending: not in the corners of a ring.
    Between(Vec<[f64; 2]>),
}

impl ClosedAlong {
    /// Where they are closed between two stations, ascending.
    pub fn within(&self, [from, to]: [f64; 2]) -> Vec<[f64; 2]> {
        match self {
            Self::AllTheWay => vec![[from, to]],
            Self::Between(parts) => {
                let parts = parts.iter().map(|[a, b]| [a.max(from), b.min(to)]);
                parts.filter(|[a, b]| a < b).collect()
            }
        }
    }

    /// Stations at which they close or open.
    pub(super) fn changes(&self) -> &[[f64; 2]] {
        match self {
            Self::AllTheWay => &[],
            Self::Between(parts) => parts,
        }
    }

    /// Whether they are closed at a station.
    pub(super) fn at(&self, station: f64) -> bool {
        match self {
            Self::AllTheWay => true,
            Self::Between(parts) => parts.iter().any(|[a, b]| (*a..=*b).contains(&station)),
        }
    }
}

impl Bout {
    /// Metres along the way at which a delay of these seconds is over.
    pub fn metres(&self, seconds: f64) -> f64 {
        work_rate::metres(self.speed_km_per_h, seconds)
    }
}

/// The sections that switch along the bouts, and by which rule.
#[derive(Debug, Clone, PartialEq)]
pub struct Sections {
    /// Left to right; together the working width.
    pub widths_m: Vec<f64>,
    pub rule: SwitchRule,
}

impl Sections {
    /// Those of the drill; `None` where the job asks for no drive.
    pub fn of_drill(job: &Job) -> Option<Self> {
        Some(Self {
            widths_m: job.drill.sections_m.clone(),
            rule: job.drive.as_ref()?.switch_rule,
        })
    }

    /// The whole width as one, by the drill's rule; `None` where the job asks for no drive.
    pub fn one(job: &Job) -> Option<Self> {
        Some(Self {
            widths_m: vec![job.drill.working_width_m],
            ..Self::of_drill(job)?
        })
    }

    /// Right and left rim of each, metres to the left of the way.
    pub(super) fn rims(&self, job: &Job) -> Vec<[f64; 2]> {
        let mut left = job.drill.working_width_m / 2.0;
        let rims = self.widths_m.iter().map(|width| {
            let rim = [left - width, left];
            left -= width;
            rim
        });
        rims.collect()
    }
}

/// All bouts in the order in which they are driven: headland rings from the border inwards, then the
/// interior, strip by strip, or the other way round with the innermost ring first; empty where the job asks for no
/// drive.
pub fn bouts(
    land: &Land,
    job: &Job,
    rhythm: Option<&Rhythm>,
    sections: &Sections,
    ways: &Ways,
) -> Vec<Bout> {
    let Some(drive) = &job.drive else {
        return Vec::new();
    };
    let interior = interior(ways, land, job, rhythm, sections);
    let swept = ring_drives::one(ways, land, job, sections);
    let swept = swept.map_or_else(Vec::new, |drive| drive.sections);
    let rings = rings::bouts(&ways.rings, swept, job, rhythm);
    let mut bouts: Vec<Bout> = match drive.headland {
        HeadlandTurn::First => rings.into_iter().chain(interior).collect(),
        HeadlandTurn::Last => interior.into_iter().chain(rings).collect(),
    };
    for (nth, bout) in bouts.iter_mut().enumerate() {
        bout.number = nth + 1;
    }
    bouts
}

/// Straight bouts, up and down, the first with the edge on its left.
pub(super) fn interior(
    ways: &Ways,
    land: &Land,
    job: &Job,
    rhythm: Option<&Rhythm>,
    sections_of: &Sections,
) -> Vec<Bout> {
    if land.is_curved() {
        return curved::bouts(ways, job, rhythm, sections_of);
    }
    let rule = sections_of.rule;
    let turned = Turned::to(ways.heading_deg);
    let edges = &ways.edges;
    let width_m = job.drill.working_width_m;
    let mut bouts = Vec::new();
    for (nth, &low) in ways.strips.iter().enumerate() {
        let strip = Strip {
            nth,
            low,
            width_m,
            backwards: nth.is_multiple_of(2),
        };
        let whole = lane::profile(edges, low, low + width_m);
        let mut ways = lane::drilled(&whole, width_m, SwitchRule::AnyPartIn).on_m;
        let sections: Vec<([f64; 2], Vec<[f64; 2]>)> = sections_of
            .rims(job)
            .into_iter()
            .map(|rims| {
                let [a, b] = strip.across(rims);
                let slabs = lane::profile(edges, a, b);
                (rims, lane::drilled(&slabs, b - a, rule).on_m)
            })
            .collect();
        if strip.backwards {
            ways.reverse();
        }
        for way in ways {
            bouts.push(bout(&strip, way, &sections, job, rhythm, &turned));
        }
    }
    bouts
}

/// A strip of the interior, in the turned plane.
struct Strip {
    nth: usize,
    low: f64,
    width_m: f64,
    backwards: bool,
}

impl Strip {
    fn middle(&self) -> f64 {
        self.low + self.width_m / 2.0
    }

    /// Distances to the left of the way as places across the heading, ascending. The rims of the strip
    /// are exactly those of its neighbours.
    fn across(&self, [right, left]: [f64; 2]) -> [f64; 2] {
        let place = |left_m: f64| {
            if self.backwards {
                self.low + (self.width_m / 2.0 - left_m)
            } else {
                self.low + (self.width_m / 2.0 + left_m)
            }
        };
        let [a, b] = [place(right), place(left)];
        [a.min(b), a.max(b)]
    }
}

fn bout(
    strip: &Strip,
    [from, to]: [f64; 2],
    sections: &[([f64; 2], Vec<[f64; 2]>)],
    job: &Job,
    rhythm: Option<&Rhythm>,
    turned: &Turned,
) -> Bout {
    let mut ends = [[from, strip.middle()], [to, strip.middle()]].map(|uv| turned.back(uv));
    let station = |u: f64| if strip.backwards { to - u } else { u - from };
    if strip.backwards {
        ends.reverse();
    }
    let of_section = |(left_m, on): &([f64; 2], Vec<[f64; 2]>)| {
        let inside = on.iter().filter(|[a, b]| *b > from && *a < to);
        let mut on_m: Vec<[f64; 2]> = inside
            .map(|&[a, b]| {
                let [a, b] = [station(a.max(from)), station(b.min(to))];
                [a.min(b), a.max(b)]
            })
            .collect();
        on_m.sort_by(|a, b| a[0].total_cmp(&b[0]));
        Section {
            left_m: *left_m,
            on_m,
        }
    };
    Bout {
        number: 0,
        part: LandPart::Interior,
        strip: Some(strip.nth + 1),
        path: Path::new(&ends, false),
        sections: sections.iter().map(of_section).collect(),
        closed: closed_rows(strip.nth, job, rhythm),
        closed_along: ClosedAlong::AllTheWay,
        speed_km_per_h: job.drill.speed_km_per_h,
    }
}

/// The rows that a strip (from 0) closes.
pub(super) fn closed_rows(strip: usize, job: &Job, rhythm: Option<&Rhythm>) -> Vec<ClosedRow> {
    let (Some(rhythm), Some(rows)) = (rhythm, job.drill.rows) else {
        return Vec::new();
    };
    let in_cycle = strip as u64 % rhythm.drill_bouts.max(1) + 1;
    let bout = rhythm.closed.iter().find(|bout| bout.bout == in_cycle);
    // Strips driven backwards have the side where the cycle begins on their left.
    let outlet = |row: u32| {
        if strip.is_multiple_of(2) {
            row
        } else {
            rows + 1 - row
        }
    };
    let rows = bout.iter().flat_map(|bout| &bout.rows);
    rows_of_outlets(rows.map(|row| outlet(*row)), job)
}

/// The rows of outlets, from the left.
pub(super) fn rows_of_outlets(outlets: impl Iterator<Item = u32>, job: &Job) -> Vec<ClosedRow> {
    let Some(spacing_m) = job.drill.row_spacing_m else {
        return Vec::new();
    };
    let row = |outlet: u32| {
        let left = job.drill.working_width_m / 2.0 - f64::from(outlet - 1) * spacing_m;
        ClosedRow {
            outlet,
            left_m: [left - spacing_m, left],
        }
    };
    let mut closed: Vec<ClosedRow> = outlets.map(row).collect();
    closed.sort_by_key(|row| row.outlet);
    closed
}
