//! One sweep along the rings for one set of sections and all rules that switch them: piece by piece of the way, section
//! by section. What is looked up (ground, borders, headland) is the same for all rules; what each has drilled so far is not.

use super::super::SwitchRule;
use super::super::borders::{Boxed, rectangle};
use super::super::bout::{Bout, Section, Sections};
use super::super::frame::Edge;
use super::super::open_width::{self, LandHere, Stretch};
use super::super::path::{Cell, Path};
use super::near::{Leg, Seen, apart, cell_edge};
use super::switching::{Drilled, SAME_M, switched_along};
use super::{Rings, order};
use crate::job::Job;
use rstar::primitives::GeomWithData;
use rstar::{AABB, Envelope, RTree, RTreeObject};

/// Convex ground, counter-clockwise, with its box.
pub(super) type Piece = Boxed<Vec<[f64; 2]>>;

pub(super) fn piece(ring: Vec<[f64; 2]>) -> Piece {
    GeomWithData::new(rectangle(&ring), ring)
}

/// The rings driven by one rule.
#[derive(Debug, Clone, PartialEq)]
pub(in super::super) struct Swept {
    /// Per way, in the order in which they are driven: its sections, left to right.
    pub(in super::super) sections: Vec<Vec<Section>>,
    pub(in super::super) drilled: Drilled,
}

/// Drives all rings with these sections, once for each of the rules (that of `sections` is not looked at); with each
/// goes what has been driven before by it.
pub(in super::super) fn sweep(
    rings: &Rings,
    job: &Job,
    sections: &Sections,
    rules: &[(SwitchRule, &[Bout])],
) -> Vec<Swept> {
    let grounds = rules.iter();
    let grounds = grounds.map(|(rule, before)| Ground::of(rings, *rule, before));
    along(rings, grounds.collect(), job, sections)
}

pub(super) fn along(
    rings: &Rings,
    mut grounds: Vec<Ground>,
    job: &Job,
    sections: &Sections,
) -> Vec<Swept> {
    let rims = sections.rims(job);
    for nth in order(rings, job) {
        let way = &rings.ways[nth];
        for ground in &mut grounds {
            ground.begin(&rims);
        }
        for leg in 0..way.legs() {
            let leg = Leg { way: nth, leg };
            for (section, rim) in rims.iter().enumerate() {
                if let Some(cell) = way.cell(leg.leg, *rim) {
                    let here = Here::of(rings, leg, &cell);
                    let widths = here.widths(&grounds);
                    for (ground, widths) in grounds.iter_mut().zip(widths) {
                        ground.section(section, &here, widths);
                    }
                }
            }
            for ground in &mut grounds {
                ground.end_of(leg, way, &rims);
            }
        }
    }
    let swept = grounds.into_iter().map(|ground| Swept {
        sections: ground.swept,
        drilled: ground.sums,
    });
    swept.collect()
}

/// A section on a straight piece of a ring.
struct Here<'a> {
    rings: &'a Rings,
    leg: Leg,
    cell: &'a Cell,
    seen: Seen,
    /// Borders of the headland that meet its box, as metres along the piece and to its left.
    borders: Vec<Edge>,
}

impl<'a> Here<'a> {
    fn of(rings: &'a Rings, leg: Leg, cell: &'a Cell) -> Self {
        let seen = Seen::of(cell);
        let borders = rings.near[leg.way].borders(leg.leg).iter();
        Self {
            borders: borders.copied().filter(|edge| seen.meets(edge)).collect(),
            rings,
            leg,
            cell,
            seen,
        }
    }

    /// How much of it is open to each of the rules: those that have drilled the same near it read the same.
    fn widths(&self, grounds: &[Ground]) -> Vec<Vec<Stretch>> {
        let near = grounds.iter().map(|ground| ground.near(self));
        let near: Vec<Vec<&Piece>> = near.collect();
        let mut widths: Vec<Vec<Stretch>> = Vec::with_capacity(near.len());
        for pieces in &near {
            let known = near[..widths.len()].iter().position(|of| same(of, pieces));
            widths.push(match known {
                Some(known) => widths[known].clone(),
                None => self.open(&met(self.cell, &self.seen, pieces.iter().copied())),
            });
        }
        widths
    }

    /// How much of it is headland and not drilled.
    fn open(&self, drilled: &[Vec<[f64; 2]>]) -> Vec<Stretch> {
        let near = &self.rings.near[self.leg.way];
        let land = LandHere {
            edges: &self.borders,
            at: |place| near.land_at(self.leg.leg, place),
        };
        open_width::widths(&self.seen.ground, land, drilled, [0.0, self.cell.length_m])
    }
}

/// What has been drilled by one rule.
pub(super) struct Ground {
    rule: SwitchRule,
    /// By the bouts before the rings, numbered in the order in which they are driven.
    before: RTree<Boxed<(usize, Piece)>>,
    /// By each straight piece of each ring so far.
    by_rings: Vec<Vec<Vec<Piece>>>,
    /// The ways up to here.
    swept: Vec<Vec<Section>>,
    sums: Drilled,
    /// Per section: whether it is on, and the station up to which the way has been looked at.
    states: Vec<(bool, f64)>,
    /// Where each section is on along the straight piece that is driven, by station.
    on_leg: Vec<(usize, [f64; 2])>,
}

impl Ground {
    pub(super) fn of(rings: &Rings, rule: SwitchRule, before: &[Bout]) -> Self {
        let before = before.iter().flat_map(pieces).enumerate();
        let before = before.map(|(nth, piece)| GeomWithData::new(*piece.geom(), (nth, piece)));
        let by_rings = rings.ways.iter();
        Self {
            rule,
            before: RTree::bulk_load(before.collect()),
            by_rings: by_rings.map(|way| vec![Vec::new(); way.legs()]).collect(),
            swept: Vec::new(),
            sums: Drilled::default(),
            states: Vec::new(),
            on_leg: Vec::new(),
        }
    }

    /// A new way begins, with its sections on.
    fn begin(&mut self, rims: &[[f64; 2]]) {
        let section = |left_m: &[f64; 2]| Section {
            left_m: *left_m,
            on_m: Vec::new(),
        };
        self.swept.push(rims.iter().map(section).collect());
        self.states = vec![(true, 0.0); rims.len()];
    }

    /// What the first of the bouts before the rings have drilled near a box, up to the piece with this number.
    fn before(&self, around: AABB<[f64; 2]>, end: usize) -> impl Iterator<Item = &Piece> {
        let met = self.before.locate_in_envelope_intersecting(&around);
        let met = met.map(|before| &before.data);
        met.filter_map(move |(nth, piece)| (*nth < end).then_some(piece))
    }

    /// What has been drilled near a section on a piece, but for what the piece itself has: its sections lie side by side.
    fn near(&self, here: &Here) -> Vec<&Piece> {
        let around = here.seen.around;
        let others = here.rings.near[here.leg.way].legs(here.leg.leg).iter();
        let others = others.flat_map(|of| &self.by_rings[of.way][of.leg]);
        let by_rings = others.filter(|piece| piece.geom().envelope().intersects(&around));
        self.before(around, usize::MAX).chain(by_rings).collect()
    }

    /// Drives a section along a piece.
    fn section(&mut self, nth: usize, here: &Here, widths: Vec<Stretch>) {
        let cell = here.cell;
        let (mut is_on, seen_to_m) = self.states[nth];
        let on = switched_along(widths, cell.length_m, self.rule, &mut is_on, &mut self.sums);
        self.states[nth] = (is_on, cell.from_m + cell.length_m);
        let Some(section) = self.swept.last_mut().and_then(|way| way.get_mut(nth)) else {
            return;
        };
        for [from, to] in on {
            let [begin, end] = [from + cell.from_m, to + cell.from_m];
            self.on_leg.push((nth, [begin, end]));
            // Pieces on which it has no ground of its own, inside a bend, do not shut it.
            let at_start = from <= SAME_M;
            match section.on_m.last_mut() {
                Some(last) if at_start && last[1] >= seen_to_m - SAME_M => last[1] = end,
                _ => section.on_m.push([begin, end]),
            }
        }
    }

    /// All sections have been along a piece: what they have drilled is known from here on, sections side by side that
    /// were on together as one.
    fn end_of(&mut self, leg: Leg, way: &Path, rims: &[[f64; 2]]) {
        let on = std::mem::take(&mut self.on_leg);
        let side_by_side =
            |a: &(usize, [f64; 2]), b: &(usize, [f64; 2])| a.0 + 1 == b.0 && a.1 == b.1;
        let drilled = &mut self.by_rings[leg.way][leg.leg];
        for together in on.chunk_by(side_by_side) {
            let (Some((first, stations)), Some((last, _))) = (together.first(), together.last())
            else {
                continue;
            };
            let left_m = [rims[*last][0], rims[*first][1]];
            drilled.extend(way.ground(*stations, left_m).into_iter().map(piece));
        }
    }
}

/// Whether two rules have drilled the same.
fn same(one: &[&Piece], other: &[&Piece]) -> bool {
    let pairs = one.iter().zip(other);
    one.len() == other.len() && pairs.into_iter().all(|(a, b)| a.data == b.data)
}

/// Ground that meets a piece, as metres along that and to its left: not what lies beside it.
fn met<'a>(
    cell: &Cell,
    seen: &Seen,
    ground: impl Iterator<Item = &'a Piece>,
) -> Vec<Vec<[f64; 2]>> {
    let turned = |piece: &Piece| piece.data.iter().map(|at| cell.turned(*at)).collect();
    let turned = ground.map(turned);
    turned
        .filter(|ring: &Vec<[f64; 2]>| !apart(&seen.ground, ring))
        .collect()
}

/// Headland that bouts before the rings drill, m2.
pub(in super::super) fn drilled_m2(rings: &Rings, before: &[Bout]) -> f64 {
    // No rule has a say in it.
    let ground = Ground::of(rings, SwitchRule::AnyPartIn, before);
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
        let borders = rings.borders.near(&seen.around);
        let borders: Vec<Edge> = borders.map(|edge| cell_edge(&cell, edge)).collect();
        // Most of the interior bouts lies in the interior.
        if borders.is_empty() && rings.borders.at(start) <= 0 {
            continue;
        }
        let drilled = met(&cell, &seen, ground.before(seen.around, nth));
        let land = LandHere {
            edges: &borders,
            at: |place| rings.borders.at(cell.back(place)),
        };
        let widths = open_width::widths(&seen.ground, land, &drilled, [0.0, cell.length_m]);
        sum += widths.iter().map(Stretch::open_m2).sum::<f64>();
    }
    sum
}

/// Ground is looked up in parts of this length, so that the box of a long bout does not meet all others, m.
const PART_M: f64 = 100.0;

/// The ground of a bout's sections while they are on.
pub(super) fn pieces(bout: &Bout) -> impl Iterator<Item = Piece> {
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
