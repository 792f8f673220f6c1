//! Headland rings: their ways, and where the sections are on along them.
//!
//! A ring drills what of the headland no bout before it has drilled, its own way up to there among them: so it does
//! not drill twice where it meets itself, another ring, or interior bouts driven before. Method: docs/methods/drive.md.

use super::SwitchRule;
use super::bout::{Bout, Section, Sections};
use super::frame::Edge;
use super::open_width::{self, LandHere, Stretch};
use super::path::{Cell, Path};
use super::report::ring_count;
use crate::geometry::offset::inset;
use crate::geometry::{Pt, Ring, Shape};
use crate::job::{HeadlandTurn, Job, LandPart};
use crate::land::Land;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, Envelope, RTree, RTreeObject};

/// Less open width does not count, m: arcs are driven in chords, which lie within a few millimetres of those of
/// the ring beside them.
const LEAST_M: f64 = 0.02;

/// The headland and the rings around it; nothing where the job asks for no drive.
pub(super) struct Rings {
    /// From the border inwards.
    pub(super) ways: Vec<Path>,
    /// Each straight piece of each way by the box of its ground.
    legs: RTree<Boxed<Leg>>,
    /// Edges with headland on their left, in metres of the plane.
    edges: RTree<Boxed<Edge>>,
    pub(super) headland_m2: f64,
}

/// Something with its box.
type Boxed<T> = GeomWithData<Rectangle<[f64; 2]>, T>;

/// A straight piece of a ring: which way, and which of its pieces.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Leg {
    way: usize,
    leg: usize,
}

/// Convex ground, counter-clockwise.
type Piece = Vec<[f64; 2]>;

impl Rings {
    /// The rings of a job; each begins at its corner that `starts_at` names.
    pub(super) fn of(land: &Land, job: &Job, starts_at: impl Fn(&[[f64; 2]]) -> usize) -> Self {
        let base = if job.headland.around_exclusions {
            &land.land
        } else {
            &land.field
        };
        let count = job.drive.as_ref().map_or(0, |_| ring_count(land, job));
        let middles =
            (0..count).map(|nth| inset(base, (nth as f64 + 0.5) * job.drill.working_width_m));
        let way = |ring: &Ring| Path::new(&started(ring, &starts_at), true);
        let ways: Vec<Path> = middles
            .flat_map(|middle| {
                middle
                    .iter()
                    .flat_map(Shape::rings)
                    .map(way)
                    .collect::<Vec<_>>()
            })
            .collect();
        let edges = match ways.is_empty() {
            true => Vec::new(),
            false => edges(land),
        };
        let half_m = job.drill.working_width_m / 2.0;
        let legs = ways.iter().enumerate().flat_map(|(nth, way)| {
            let cells = way.cells([-half_m, half_m]).into_iter();
            cells.map(move |cell| {
                let leg = Leg {
                    way: nth,
                    leg: cell.leg,
                };
                GeomWithData::new(rectangle(&cell.ring), leg)
            })
        });
        let area = |shapes: &[Shape]| shapes.iter().map(Shape::area_m2).sum::<f64>();
        Self {
            legs: RTree::bulk_load(legs.collect()),
            ways,
            edges: RTree::bulk_load(edges),
            headland_m2: area(&land.land) - area(&land.interior),
        }
    }

    /// How many times a place is on the headland: crossings of the ray to the east.
    fn at(&self, [x, y]: [f64; 2]) -> i32 {
        let ray = AABB::from_corners([x, y], [f64::MAX, y]);
        let edges = self.edges.locate_in_envelope_intersecting(&ray);
        let crossing = |edge: &Boxed<Edge>| {
            let [a, b] = [edge.data.from, edge.data.to];
            let up = b[1] > y;
            if up == (a[1] > y) || a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) <= x {
                0
            } else if up {
                1
            } else {
                -1
            }
        };
        edges.map(crossing).sum()
    }
}

/// The edges of the headland: the land, and the interior, which lies in it, backwards as a hole.
fn edges(land: &Land) -> Vec<Boxed<Edge>> {
    let edge = |from: &Pt, to: &Pt| {
        let [from, to] = [from.metres(), to.metres()];
        GeomWithData::new(rectangle(&[from, to]), Edge { from, to })
    };
    let mut edges = Vec::new();
    for (shapes, is_hole) in [(&land.land, false), (&land.interior, true)] {
        for ring in shapes.iter().flat_map(Shape::rings) {
            let ends = ring.iter().skip(1).chain(ring.first());
            edges.extend(ring.iter().zip(ends).map(|(a, b)| match is_hole {
                false => edge(a, b),
                true => edge(b, a),
            }));
        }
    }
    edges
}

/// The corners of a ring from where it is begun.
fn started(ring: &Ring, starts_at: impl Fn(&[[f64; 2]]) -> usize) -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = ring.iter().map(|point: &Pt| point.metres()).collect();
    let first = starts_at(&points);
    if first < points.len() {
        points.rotate_left(first);
    }
    points
}

/// What the rings drill, before any delay.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Drilled {
    /// Width times way with sections on, m2.
    pub driven_m2: f64,
    /// Headland that they drill, m2.
    pub headland_m2: f64,
}

/// The rings as bouts, in the order in which they are driven; `before` has been driven already.
pub(super) fn bouts(
    rings: &Rings,
    before: &[Bout],
    job: &Job,
    sections: &Sections,
) -> (Vec<Bout>, Drilled) {
    let drill = &job.drill;
    let mut ground = Ground::of(rings, before);
    let rims = sections.rims(job);
    let mut sums = Drilled::default();
    let mut bouts = Vec::new();
    let mut order: Vec<(usize, &Path)> = rings.ways.iter().enumerate().collect();
    if job.drive.as_ref().map(|drive| drive.headland) == Some(HeadlandTurn::Last) {
        order.reverse();
    }
    for (nth, way) in order {
        bouts.push(Bout {
            number: 0,
            part: LandPart::Headland,
            strip: None,
            sections: ground.along(nth, way, &rims, sections.rule, &mut sums),
            closed: Vec::new(),
            speed_km_per_h: drill
                .headland_speed_km_per_h
                .unwrap_or(drill.speed_km_per_h),
            path: way.clone(),
        });
    }
    (bouts, sums)
}

/// Headland that bouts before the rings drill, m2.
pub(super) fn drilled_m2(rings: &Rings, before: &[Bout]) -> f64 {
    let ground = Ground::of(rings, before);
    let mut sum = 0.0;
    for (nth, piece) in before.iter().flat_map(pieces).enumerate() {
        let &[start, next, ..] = piece.as_slice() else {
            continue;
        };
        let way = [next[0] - start[0], next[1] - start[1]];
        let length_m = way[0].hypot(way[1]);
        if length_m <= 0.0 {
            continue;
        }
        // Looked at along any of its edges.
        let cell = Cell {
            leg: 0,
            start,
            along: way.map(|d| d / length_m),
            length_m,
            from_m: 0.0,
            ring: piece,
        };
        let widths = ground.widths(&cell, |around| ground.before(around, nth).collect());
        sum += widths.iter().map(Stretch::open_m2).sum::<f64>();
    }
    sum
}

/// The ground of a bout's sections while they are on.
fn pieces(bout: &Bout) -> impl Iterator<Item = Piece> {
    bout.sections.iter().flat_map(|section| {
        let on = section.on_m.iter();
        on.flat_map(|on| bout.path.ground(*on, section.left_m))
    })
}

fn rectangle(ground: &[[f64; 2]]) -> Rectangle<[f64; 2]> {
    let [low, high] = bounds(ground);
    Rectangle::from_corners(low, high)
}

/// The headland, and what has been drilled.
struct Ground<'a> {
    rings: &'a Rings,
    /// By the bouts before the rings, numbered in the order in which they are driven.
    before: RTree<Boxed<(usize, Piece)>>,
    /// By each straight piece of each ring so far.
    by_rings: Vec<Vec<Vec<Piece>>>,
}

impl<'a> Ground<'a> {
    fn of(rings: &'a Rings, before: &[Bout]) -> Self {
        let before = before.iter().flat_map(pieces).enumerate();
        let before = before.map(|(nth, piece)| GeomWithData::new(rectangle(&piece), (nth, piece)));
        let by_rings = rings.ways.iter();
        Self {
            rings,
            before: RTree::bulk_load(before.collect()),
            by_rings: by_rings.map(|way| vec![Vec::new(); way.legs()]).collect(),
        }
    }

    /// What the first of the bouts before the rings have drilled near a box, up to the piece with this number.
    fn before(&self, around: AABB<[f64; 2]>, end: usize) -> impl Iterator<Item = &Piece> {
        let met = self.before.locate_in_envelope_intersecting(&around);
        let met = met.map(|before| &before.data);
        met.filter_map(move |(nth, piece)| (*nth < end).then_some(piece))
    }

    /// What has been drilled near a box, but for what one piece of a ring has: its sections lie side by side.
    fn but_for(&self, own: Leg, around: AABB<[f64; 2]>) -> Vec<&Piece> {
        let near = self.rings.legs.locate_in_envelope_intersecting(&around);
        let others = near.map(|leg| leg.data).filter(|leg| *leg != own);
        let others = others.flat_map(|Leg { way, leg }| &self.by_rings[way][leg]);
        let meets = |piece: &&Piece| rectangle(piece).envelope().intersects(&around);
        let by_rings = others.filter(meets);
        self.before(around, usize::MAX).chain(by_rings).collect()
    }

    fn drill(&mut self, by: Leg, ground: Vec<Piece>) {
        self.by_rings[by.way][by.leg].extend(ground);
    }

    /// The sections along a way, which is drilled piece by piece.
    fn along(
        &mut self,
        nth: usize,
        way: &Path,
        rims: &[[f64; 2]],
        rule: SwitchRule,
        sums: &mut Drilled,
    ) -> Vec<Section> {
        let mut sections: Vec<Section> = rims
            .iter()
            .map(|left_m| Section {
                left_m: *left_m,
                on_m: Vec::new(),
            })
            .collect();
        let mut cells: Vec<(usize, Cell)> = rims
            .iter()
            .enumerate()
            .flat_map(|(section, rim)| way.cells(*rim).into_iter().map(move |cell| (section, cell)))
            .collect();
        cells.sort_by_key(|(section, cell)| (cell.leg, *section));
        // Per section: whether it is on, and the station up to which it has been looked at.
        let mut states: Vec<(bool, f64)> = vec![(true, 0.0); rims.len()];
        for (nth_section, cell) in cells {
            let (section, state) = (&mut sections[nth_section], &mut states[nth_section]);
            let leg = Leg {
                way: nth,
                leg: cell.leg,
            };
            for [from, to] in self.on(leg, &cell, rule, &mut state.0, sums) {
                let [begin, end] = [from + cell.from_m, to + cell.from_m];
                self.drill(leg, way.ground([begin, end], section.left_m));
                // Pieces on which it has no ground of its own, inside a bend, do not shut it.
                let at_start = from <= SAME_M;
                match section.on_m.last_mut() {
                    Some(last) if at_start && last[1] >= state.1 - SAME_M => last[1] = end,
                    _ => section.on_m.push([begin, end]),
                }
            }
            state.1 = cell.from_m + cell.length_m;
        }
        sections
    }

    /// Where on a piece the section is on, metres along it. `is_on` is its state before and afterwards.
    fn on(
        &self,
        leg: Leg,
        cell: &Cell,
        rule: SwitchRule,
        is_on: &mut bool,
        sums: &mut Drilled,
    ) -> Vec<[f64; 2]> {
        let mut on: Vec<[f64; 2]> = Vec::new();
        // What lies beyond the piece's ends, around a corner, goes with the end.
        let widths = self.widths(cell, |around| self.but_for(leg, around));
        let [corner_before, inside, corner_after] = split(widths, cell.length_m);
        let ends = inside.first().zip(inside.last());
        let ends = ends.map(|(first, last)| [first.along_m[0], last.along_m[1]]);
        for stretch in inside {
            for (part, part_on) in switched(&stretch, rule, *is_on) {
                *is_on = part_on;
                if !part_on {
                    continue;
                }
                sums.add(&part);
                let [from, to] = part.along_m;
                match on.last_mut() {
                    Some(last) if from - last[1] <= SAME_M => last[1] = to,
                    _ => on.push([from, to]),
                }
            }
        }
        // Inside a bend its ground begins after the piece and ends before it.
        if let Some([begin, end]) = ends {
            if let Some(first) = on.first_mut().filter(|first| first[0] <= begin + SAME_M) {
                first[0] = 0.0;
            }
            if let Some(last) = on.last_mut().filter(|last| last[1] >= end - SAME_M) {
                last[1] = cell.length_m;
            }
        }
        if on.first().is_some_and(|first| first[0] <= SAME_M) {
            corner_before.iter().for_each(|stretch| sums.add(stretch));
        }
        if on
            .last()
            .is_some_and(|last| last[1] >= cell.length_m - SAME_M)
        {
            corner_after.iter().for_each(|stretch| sums.add(stretch));
        }
        on
    }

    /// How much of a piece is open along it, where `drilled` gives what has been drilled near a box.
    fn widths<'b>(
        &'b self,
        cell: &Cell,
        drilled: impl FnOnce(AABB<[f64; 2]>) -> Vec<&'b Piece>,
    ) -> Vec<Stretch> {
        let turned = |ring: &[[f64; 2]]| ring.iter().map(|at| cell.turned(*at)).collect::<Vec<_>>();
        let piece = turned(&cell.ring);
        // Its box along the way, and the box of that on the plane.
        let [low, high] = bounds(&piece);
        let corners = [low, [high[0], low[1]], high, [low[0], high[1]]].map(|at| cell.back(at));
        let [low, high] = bounds(&corners);
        let around = AABB::from_corners(low, high);
        let drilled = drilled(around);
        let drilled: Vec<Piece> = drilled.into_iter().map(|ring| turned(ring)).collect();
        let near = self.rings.edges.locate_in_envelope_intersecting(&around);
        let land = LandHere {
            edges: near
                .map(|edge| Edge {
                    from: cell.turned(edge.data.from),
                    to: cell.turned(edge.data.to),
                })
                .collect(),
            at: |place| self.rings.at(cell.back(place)),
        };
        open_width::widths(&piece, land, &drilled, [0.0, cell.length_m])
    }
}

/// Stations that differ by less are the same, m.
const SAME_M: f64 = 1e-7;

impl Drilled {
    fn add(&mut self, stretch: &Stretch) {
        self.driven_m2 += stretch.own_m2();
        self.headland_m2 += stretch.open_m2();
    }
}

/// Before the piece, along it, past it.
fn split(stretches: Vec<Stretch>, length_m: f64) -> [Vec<Stretch>; 3] {
    let mut parts = [Vec::new(), Vec::new(), Vec::new()];
    for stretch in stretches {
        let middle = (stretch.along_m[0] + stretch.along_m[1]) / 2.0;
        let [before, inside, after] = &mut parts;
        if middle < 0.0 {
            before.push(stretch);
        } else if middle > length_m {
            after.push(stretch);
        } else {
            inside.push(stretch);
        }
    }
    parts
}

/// A stretch cut where the rule changes its answer, each part with whether the section is on. Where the section has no
/// ground of its own, as at the inside of a corner, it stays as it was.
fn switched(stretch: &Stretch, rule: SwitchRule, was_on: bool) -> Vec<(Stretch, bool)> {
    let [own, open] = [stretch.own_m, stretch.open_m];
    if own[0].max(own[1]) <= LEAST_M {
        return vec![(*stretch, was_on)];
    }
    // How much more is open than the rule asks for.
    let more = [0, 1].map(|end| match rule {
        SwitchRule::AnyPartIn => open[end] - LEAST_M,
        SwitchRule::HalfIn => open[end] - own[end] / 2.0,
        SwitchRule::AllIn => open[end] - (own[end] - LEAST_M).max(own[end] / 2.0),
    });
    // Where its ground ends in a point, both are nothing but for rounding.
    match more.map(|more| more >= -SAME_M) {
        [true, true] => vec![(*stretch, true)],
        [false, false] => vec![(*stretch, false)],
        // Any part counts from the first touch on.
        _ if rule == SwitchRule::AnyPartIn => vec![(*stretch, true)],
        [first, _] => {
            let [from, to] = stretch.along_m;
            let at = from + more[0] / (more[0] - more[1]) * (to - from);
            let parts = [[from, at], [at, to]];
            let parts = parts.into_iter().zip([first, !first]);
            parts
                .filter(|([a, b], _)| b > a)
                .map(|(part, on)| (stretch.part(part), on))
                .collect()
        }
    }
}

/// South-west and north-east corner.
fn bounds(ring: &[[f64; 2]]) -> [[f64; 2]; 2] {
    ring.iter()
        .fold([[f64::MAX; 2], [f64::MIN; 2]], |[low, high], [x, y]| {
            [
                [low[0].min(*x), low[1].min(*y)],
                [high[0].max(*x), high[1].max(*y)],
            ]
        })
}

#[cfg(test)]
mod tests;
