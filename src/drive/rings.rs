//! Headland rings: their ways, and where the sections are on along them.
//!
//! A ring drills what of the headland no bout before it has drilled, its own way up to there among them: so it does
//! not drill twice where it meets itself, another ring, or interior bouts driven before. Method: docs/methods/drive.md.

use super::SwitchRule;
use super::borders::{Borders, Boxed, bounds, rectangle};
use super::bout::{Bout, Section, Sections};
use super::frame::Edge;
use super::open_width::{self, LandHere, Stretch};
use super::path::{Cell, Path};
use super::report::ring_count;
use super::tramline::{Rhythm, headland};
use crate::geometry::offset::inset;
use crate::geometry::{Csr, Pt, Ring, Shape};
use crate::job::{HeadlandTurn, Job, LandPart};
use crate::land::Land;
use rstar::primitives::GeomWithData;
use rstar::{AABB, Envelope, RTree, RTreeObject};

/// Less open width does not count, m: arcs are driven in chords, which lie within a few millimetres of those of
/// the ring beside them.
const LEAST_M: f64 = 0.02;

/// The headland and the rings around it; nothing where the job asks for no drive.
pub(super) struct Rings {
    /// From the border inwards.
    pub(super) ways: Vec<Path>,
    /// Per way the ring that it belongs to, from 1 at the border.
    numbers: Vec<usize>,
    /// What lies near each straight piece of each way.
    near: Vec<Near>,
    /// Borders of the headland.
    borders: Borders,
    pub(super) headland_m2: f64,
}

/// A straight piece of a ring: which way, and which of its pieces.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Leg {
    way: usize,
    leg: usize,
}

/// What lies near the straight pieces of a way, found once for all sections and rules.
struct Near {
    /// Others whose ground may meet that of a piece.
    legs: Csr<Leg>,
    /// Borders of the headland in its box, as metres along the piece and to its left.
    borders: Csr<Edge>,
}

/// Convex ground, counter-clockwise, with its box.
type Piece = Boxed<Vec<[f64; 2]>>;

fn piece(ring: Vec<[f64; 2]>) -> Piece {
    GeomWithData::new(rectangle(&ring), ring)
}

impl Rings {
    /// The rings of a job; each begins at its corner that `starts_at` names.
    pub(super) fn of(land: &Land, job: &Job, starts_at: impl Fn(&[[f64; 2]]) -> usize) -> Self {
        let base = base(land, job);
        let count = job.drive.as_ref().map_or(0, |_| ring_count(land, job));
        let way = |ring: &Ring| Path::new(&started(ring, &starts_at), true);
        let numbered = (1..=count).flat_map(|number| {
            let middles = middle_lines(base, number, job);
            let ways = middles.iter().flat_map(Shape::rings).map(way);
            ways.map(|way| (number, way)).collect::<Vec<_>>()
        });
        let (numbers, ways): (Vec<usize>, Vec<Path>) = numbered.unzip();
        // The interior lies in the land: what is left is the headland.
        let borders = match ways.is_empty() {
            true => Borders::of(&[], &[]),
            false => Borders::of(&land.land, &land.interior),
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
        let legs: RTree<Boxed<Leg>> = RTree::bulk_load(legs.collect());
        let near = ways.iter().enumerate();
        let near = near.map(|(nth, way)| Near::of(nth, way, half_m, &legs, &borders));
        let near = near.collect();
        let area = |shapes: &[Shape]| shapes.iter().map(Shape::area_m2).sum::<f64>();
        Self {
            near,
            ways,
            numbers,
            borders,
            headland_m2: area(&land.land) - area(&land.interior),
        }
    }
}

impl Near {
    fn of(nth: usize, way: &Path, half_m: f64, legs: &RTree<Boxed<Leg>>, land: &Borders) -> Self {
        let mut near = Self {
            legs: Csr::new(),
            borders: Csr::new(),
        };
        let mut cells = way.cells([-half_m, half_m]).into_iter().peekable();
        for leg in 0..way.legs() {
            let Some(cell) = cells.next_if(|cell| cell.leg == leg) else {
                near.legs.push([]);
                near.borders.push([]);
                continue;
            };
            let seen = Seen::of(&cell);
            let found = legs.locate_in_envelope_intersecting(&seen.around);
            let others = found.map(|leg| leg.data);
            near.legs
                .push(others.filter(|of| *of != Leg { way: nth, leg }));
            let borders = land.near(&seen.around).map(|edge| cell_edge(&cell, edge));
            near.borders.push(borders.filter(|edge| seen.meets(edge)));
        }
        near
    }
}

fn cell_edge(cell: &Cell, edge: &Edge) -> Edge {
    Edge {
        from: cell.turned(edge.from),
        to: cell.turned(edge.to),
    }
}

/// The ground of a piece as metres along it and to its left, and where to look for what meets it.
struct Seen {
    ground: Vec<[f64; 2]>,
    low: [f64; 2],
    high: [f64; 2],
    /// The box of that box on the plane.
    around: AABB<[f64; 2]>,
}

impl Seen {
    fn of(cell: &Cell) -> Self {
        let ground: Vec<[f64; 2]> = cell.ring.iter().map(|at| cell.turned(*at)).collect();
        let [low, high] = bounds(&ground);
        let corners = [low, [high[0], low[1]], high, [low[0], high[1]]].map(|at| cell.back(at));
        let [south_west, north_east] = bounds(&corners);
        Self {
            ground,
            low,
            high,
            around: AABB::from_corners(south_west, north_east),
        }
    }

    /// Whether the box of an edge meets that of the ground.
    fn meets(&self, edge: &Edge) -> bool {
        let [low, high] = bounds(&[edge.from, edge.to]);
        (0..2).all(|axis| low[axis] <= self.high[axis] && high[axis] >= self.low[axis])
    }
}

/// Convex ground that overlaps by less lies side by side, m: corners are rounded sums.
const APART_M: f64 = 1e-9;

/// Whether two convex rings, counter-clockwise, lie side by side: an edge of one has all of the other on its right.
fn apart(a: &[[f64; 2]], b: &[[f64; 2]]) -> bool {
    let beyond_an_edge = |ring: &[[f64; 2]], other: &[[f64; 2]]| {
        let ends = ring.iter().skip(1).chain(ring.first());
        ring.iter().zip(ends).any(|([ax, ay], [bx, by])| {
            let [dx, dy] = [bx - ax, by - ay];
            let far = APART_M * dx.hypot(dy);
            let left = |[x, y]: &[f64; 2]| dx * (y - ay) - dy * (x - ax);
            far > 0.0 && other.iter().all(|at| left(at) <= far)
        })
    };
    beyond_an_edge(a, b) || beyond_an_edge(b, a)
}

/// What the rings go around: the field, or the land where they go around exclusions as well.
fn base<'a>(land: &'a Land, job: &Job) -> &'a [Shape] {
    match job.headland.around_exclusions {
        true => &land.land,
        false => &land.field,
    }
}

/// The middle lines of a ring, from 1 at the border.
fn middle_lines(base: &[Shape], number: usize, job: &Job) -> Vec<Shape> {
    inset(base, (number as f64 - 0.5) * job.drill.working_width_m)
}

/// The ways of a ring, from 1 at the border, wherever they begin.
pub(super) fn ways_of(land: &Land, number: usize, job: &Job) -> Vec<Path> {
    let middles = middle_lines(base(land, job), number, job);
    let rings = middles.iter().flat_map(Shape::rings);
    let way = |ring: &Ring| Path::new(&started(ring, |_| 0), true);
    rings.map(way).collect()
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
    rhythm: Option<&Rhythm>,
    sections: &Sections,
) -> (Vec<Bout>, Drilled) {
    along(Ground::of(rings, before), job, rhythm, sections)
}

fn along(
    mut ground: Ground,
    job: &Job,
    rhythm: Option<&Rhythm>,
    sections: &Sections,
) -> (Vec<Bout>, Drilled) {
    let drill = &job.drill;
    let rings = ground.rings;
    let rims = sections.rims(job);
    let mut sums = Drilled::default();
    let mut bouts = Vec::new();
    let mut order: Vec<(usize, &Path)> = rings.ways.iter().enumerate().collect();
    if job.drive.as_ref().map(|drive| drive.headland) == Some(HeadlandTurn::Last) {
        order.reverse();
    }
    for (nth, way) in order {
        let (closed, closed_along) = headland::on_ring(rhythm, rings.numbers[nth], way, job);
        bouts.push(Bout {
            number: 0,
            part: LandPart::Headland,
            strip: None,
            sections: ground.along(nth, way, &rims, sections.rule, &mut sums),
            closed,
            closed_along,
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
        let &[start, next, ..] = piece.data.as_slice() else {
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
            ring: piece.data,
        };
        let seen = Seen::of(&cell);
        let borders = ground.rings.borders.near(&seen.around);
        let borders: Vec<Edge> = borders.map(|edge| cell_edge(&cell, edge)).collect();
        // Most of the interior bouts lies in the interior.
        if borders.is_empty() && rings.borders.at(start) <= 0 {
            continue;
        }
        let before = ground.before(seen.around, nth);
        let widths = ground.widths(&cell, &seen, borders, before);
        sum += widths.iter().map(Stretch::open_m2).sum::<f64>();
    }
    sum
}

/// Ground is looked up in parts of this length, so that the box of a long bout does not meet all others, m.
const PART_M: f64 = 100.0;

/// The ground of a bout's sections while they are on.
fn pieces(bout: &Bout) -> impl Iterator<Item = Piece> {
    let rings = bout.sections.iter().flat_map(|section| {
        let on = section.on_m.iter();
        let parts = on.flat_map(|[from, to]| {
            let count = ((to - from) / PART_M).ceil().max(1.0);
            let at = move |nth: usize| from + nth as f64 / count * (to - from);
            (0..count as usize).map(move |nth| [at(nth), at(nth + 1)])
        });
        parts.flat_map(|part| bout.path.ground(part, section.left_m))
    });
    rings.map(piece)
}

/// Whether two rings have no land in common.
type Apart = fn(&[[f64; 2]], &[[f64; 2]]) -> bool;

/// The headland, and what has been drilled.
struct Ground<'a> {
    rings: &'a Rings,
    /// By the bouts before the rings, numbered in the order in which they are driven.
    before: RTree<Boxed<(usize, Piece)>>,
    /// By each straight piece of each ring so far.
    by_rings: Vec<Vec<Vec<Piece>>>,
    /// Whether what has been drilled is left out, as it lies beside what is to be.
    apart: Apart,
}

impl<'a> Ground<'a> {
    fn of(rings: &'a Rings, before: &[Bout]) -> Self {
        let before = before.iter().flat_map(pieces).enumerate();
        let before = before.map(|(nth, piece)| GeomWithData::new(*piece.geom(), (nth, piece)));
        let by_rings = rings.ways.iter();
        Self {
            rings,
            before: RTree::bulk_load(before.collect()),
            by_rings: by_rings.map(|way| vec![Vec::new(); way.legs()]).collect(),
            apart,
        }
    }

    /// What the first of the bouts before the rings have drilled near a box, up to the piece with this number.
    fn before(&self, around: AABB<[f64; 2]>, end: usize) -> impl Iterator<Item = &Piece> {
        let met = self.before.locate_in_envelope_intersecting(&around);
        let met = met.map(|before| &before.data);
        met.filter_map(move |(nth, piece)| (*nth < end).then_some(piece))
    }

    /// What has been drilled near a box, but for what one piece of a ring has: its sections lie side by side.
    fn but_for(&self, own: Leg, around: AABB<[f64; 2]>) -> impl Iterator<Item = &Piece> {
        let others = self.rings.near[own.way].legs.list(own.leg).iter();
        let others = others.flat_map(|of| &self.by_rings[of.way][of.leg]);
        let by_rings = others.filter(move |piece| piece.geom().envelope().intersects(&around));
        self.before(around, usize::MAX).chain(by_rings)
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
                let ground = way.ground([begin, end], section.left_m);
                self.drill(leg, ground.into_iter().map(piece).collect());
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
        let seen = Seen::of(cell);
        let borders = self.rings.near[leg.way].borders.list(leg.leg).iter();
        let borders = borders.copied().filter(|edge| seen.meets(edge)).collect();
        let widths = self.widths(cell, &seen, borders, self.but_for(leg, seen.around));
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

    /// How much of a piece is open along it; with the borders of the headland that meet its box, as metres along it and to
    /// its left, and what has been drilled near it.
    fn widths<'b>(
        &self,
        cell: &Cell,
        seen: &Seen,
        borders: Vec<Edge>,
        drilled: impl Iterator<Item = &'b Piece>,
    ) -> Vec<Stretch> {
        let turned = |piece: &Piece| piece.data.iter().map(|at| cell.turned(*at)).collect();
        let drilled: Vec<Vec<[f64; 2]>> = drilled
            .map(turned)
            .filter(|ring: &Vec<[f64; 2]>| !(self.apart)(&seen.ground, ring))
            .collect();
        let land = LandHere {
            edges: borders,
            at: |place| self.rings.borders.at(cell.back(place)),
        };
        open_width::widths(&seen.ground, land, &drilled, [0.0, cell.length_m])
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

#[cfg(test)]
mod tests;
