//! Borders between the zones of a layer, changed by hand. Neighbours keep the same points, so that zones tile the land as before.

use super::border_run;
use super::by_hand::{Zone, zones};
use super::draw::{Length, edges_of, outline_of, points, refused};
use super::work::Shown;
use crate::drive::joined::is_narrow;
use crate::findings::{Fault, Outcome};
use crate::geometry::simplify::simplify;
use crate::geometry::{Arrangement, Pt, Ring, Shape};
use crate::job::Job;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A change of borders. Places are those of the plane as they travel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum BorderChange {
    /// A corner of a border, or a place on it that becomes one, goes to another place.
    Move {
        /// The corner.
        from: Vec<i64>,
        /// Where it goes.
        to: Vec<i64>,
    },
    /// A border goes along between two places on it: by as much as from the first of them to the third place.
    Run {
        /// The two places, and where the first of them goes.
        line: Vec<i64>,
    },
    /// Land inside an outline gets a class, whatever zone it was in.
    Around {
        /// Corners of the outline.
        outline: Vec<i64>,
        /// The class.
        class: String,
    },
    /// Bends go from which the border moves by no more than this.
    Smooth {
        /// How far a border may move.
        within: Length,
    },
    /// Zones that are narrower everywhere than the drill go to the neighbour with the longest border.
    Narrow,
}

impl BorderChange {
    /// What it does, for people.
    pub(super) fn words(&self, layer: &str) -> String {
        match self {
            Self::Move { .. } => format!("Border of {layer} moved"),
            Self::Run { .. } => format!("Border of {layer} moved between two places"),
            Self::Around { class, .. } => format!("Land drawn around, {layer} made {class}"),
            Self::Smooth { within } => format!("Borders of {layer} smoothed by {}", within.words()),
            Self::Narrow => format!("Zones of {layer} too narrow for the drill joined"),
        }
    }
}

/// Land with its faces, and the class of each by its number in the list.
pub(super) type Classed = (Arrangement, Vec<Option<u32>>, Vec<String>);

/// A border moves by so much at most when it is smoothed, m: more is no smoothing.
const MOST_SMOOTH_M: f64 = 50.0;

/// Joining one zone can make another narrow or wide; rounds of it.
const MOST_ROUNDS: usize = 8;

/// The zones of a layer after a change of their borders.
///
/// # Errors
/// A change that changes nothing, or after which borders would cross.
pub(super) fn changed(shown: &Shown, layer: usize, change: &BorderChange) -> Outcome<Classed> {
    let zones = zones(shown, layer);
    match change {
        BorderChange::Move { from, to } => {
            moved(&zones, &points(from, shown)?, &points(to, shown)?)
        }
        BorderChange::Run { line } => border_run::moved(&zones, &points(line, shown)?),
        BorderChange::Around { outline, class } => {
            around(&zones, &outline_of(outline, shown)?, class.trim())
        }
        BorderChange::Smooth { within } => {
            let longest_m = shown.prepared.frame.longest_straight_m();
            smoothed(&zones, *within, longest_m)
        }
        BorderChange::Narrow => joined(zones, &shown.job),
    }
}

fn moved(zones: &[Zone], from: &[Pt], to: &[Pt]) -> Outcome<Classed> {
    let (&[from], &[to]) = (from, to) else {
        return Err(no_border());
    };
    if from == to {
        return Err(nothing());
    }
    let edges: BTreeSet<(Pt, Pt)> = zones
        .iter()
        .flat_map(|zone| zone.shape.rings())
        .flat_map(edges_of)
        .collect();
    let is_inner = |(a, b): &(Pt, Pt)| edges.contains(&(*b, *a));
    let mut at = edges.iter().filter(|(a, _)| *a == from).peekable();
    let split = match at.peek().is_some() {
        // A corner at the edge of the land belongs to the border of the field.
        true if at.all(is_inner) && inner_ways_to(from, &edges) => None,
        true => return Err(at_the_edge()),
        false => Some(nearest_edge(
            from,
            edges.iter().filter(|edge| is_inner(edge)),
        )?),
    };
    let ring = |ring: &Ring| -> Ring {
        edges_of(ring)
            .flat_map(|(a, b)| {
                let a_now = if a == from { to } else { a };
                let between = split.filter(|edge| *edge == (a.min(b), a.max(b)));
                std::iter::once(a_now).chain(between.map(|_| to))
            })
            .collect()
    };
    let shapes = zones.iter().map(|zone| Shape {
        exterior: ring(&zone.shape.exterior),
        holes: zone.shape.holes.iter().map(ring).collect(),
    });
    tiled(zones, &shapes.collect::<Vec<_>>())
}

/// Whether no edge of the land's own border leads to a point.
pub(super) fn inner_ways_to(point: Pt, edges: &BTreeSet<(Pt, Pt)>) -> bool {
    let to = edges.iter().filter(|(_, b)| *b == point);
    to.into_iter().all(|(a, b)| edges.contains(&(*b, *a)))
}

/// The edge that a place lies on, its lesser end first.
pub(super) fn nearest_edge<'a>(
    place: Pt,
    edges: impl Iterator<Item = &'a (Pt, Pt)>,
) -> Outcome<(Pt, Pt)> {
    let away = |(a, b): &(Pt, Pt)| {
        crate::geometry::thin::distance_m(place.metres(), [a.metres(), b.metres()])
    };
    let near = edges.map(|edge| (away(edge), edge));
    let nearest = near.fold(None, |best: Option<(f64, &(Pt, Pt))>, one| match best {
        Some(best) if best.0 <= one.0 => Some(best),
        _ => Some(one),
    });
    let (_, (a, b)) = nearest
        .filter(|(m, _)| *m <= ON_EDGE_M)
        .ok_or_else(no_border)?;
    Ok((*a.min(b), *a.max(b)))
}

/// A place this near to an edge lies on it, m: it was told in whole hundredths of a metre.
const ON_EDGE_M: f64 = 0.01;

fn around(zones: &[Zone], outline: &Shape, class: &str) -> Outcome<Classed> {
    if class.is_empty() {
        return Err(nothing());
    }
    let source = u32::try_from(zones.len()).unwrap_or(u32::MAX);
    let rings = rings_of(zones.iter().map(|zone| &zone.shape));
    let drawn = (source, outline.exterior.as_slice());
    let arrangement = Arrangement::new(rings.into_iter().chain([drawn]).collect::<Vec<_>>());
    let mut classes: Vec<String> = zones.iter().map(|zone| zone.class.clone()).collect();
    classes.push(class.to_owned());
    let (mut group, mut gained) = (vec![None; arrangement.faces()], false);
    for (face, group) in (0..).zip(&mut group) {
        let own = arrangement
            .windings(face)
            .iter()
            .find(|of| of.source < source);
        let Some(own) = own else { continue };
        let takes = arrangement.winding(face, source) != 0;
        let old = classes.get(own.source as usize).map(String::as_str);
        gained |= takes && old != Some(class);
        *group = Some(if takes { source } else { own.source });
    }
    match gained {
        true => Ok((arrangement, group, classes)),
        false => Err(nothing()),
    }
}

fn smoothed(zones: &[Zone], within: Length, longest_m: f64) -> Outcome<Classed> {
    let within_m = within.metres();
    if !(within_m > 0.0 && within_m <= MOST_SMOOTH_M) {
        return Err(refused(
            "edit.smooth",
            format!("borders cannot be smoothed by {}", within.words()),
            &format!("more than 0 and up to {MOST_SMOOTH_M} m"),
            "write how far a border may move, such as half the width of the drill",
        ));
    }
    let shapes: Vec<(u32, Shape)> = (0..)
        .zip(zones)
        .map(|(nth, zone)| (nth, zone.shape.clone()))
        .collect();
    let limits = |left: Option<u32>, right: Option<u32>| match left.is_some() && right.is_some() {
        true => [within_m; 2],
        // The border of the land stays.
        false => [0.0; 2],
    };
    let made = simplify(&shapes, longest_m, limits);
    let made: Vec<Shape> = made.into_iter().map(|(_, shape)| shape).collect();
    let same = made
        .iter()
        .zip(zones)
        .all(|(new, old)| new.area2() == old.shape.area2());
    match same {
        true => Err(nothing()),
        false => tiled(zones, &made),
    }
}

/// Shapes in the place of those of zones, if they still tile.
pub(super) fn tiled(zones: &[Zone], shapes: &[Shape]) -> Outcome<Classed> {
    let arrangement = Arrangement::new(rings_of(shapes.iter()));
    let mut group = vec![None; arrangement.faces()];
    for (face, group) in (0..).zip(&mut group) {
        match arrangement.windings(face) {
            [] => {}
            [one] if one.count == 1 => *group = Some(one.source),
            // Twice around, or the other way: a border has crossed another.
            _ => return Err(crosses()),
        }
    }
    let classes = zones.iter().map(|zone| zone.class.clone()).collect();
    Ok((arrangement, group, classes))
}

fn rings_of<'a>(shapes: impl Iterator<Item = &'a Shape>) -> Vec<(u32, &'a [Pt])> {
    let numbered = (0_u32..).zip(shapes);
    let rings = numbered.flat_map(|(nth, shape)| shape.rings().map(move |ring| (nth, ring)));
    rings.map(|(nth, ring)| (nth, ring.as_slice())).collect()
}

/// Zones too narrow for the drill joined to their neighbours, the smallest first.
fn joined(mut zones: Vec<Zone>, job: &Job) -> Outcome<Classed> {
    let width_m = job.drill.working_width_m;
    let mut any = false;
    for _ in 0..MOST_ROUNDS {
        let arrangement = Arrangement::new(rings_of(zones.iter().map(|zone| &zone.shape)));
        let of_face = |face: u32| match arrangement.windings(face) {
            [one] => Some(one.source),
            _ => None,
        };
        let mut beside: BTreeMap<u32, BTreeMap<u32, f64>> = BTreeMap::new();
        for ([a, b], [left, right]) in arrangement.edges() {
            if let (Some(left), Some(right)) = (of_face(left), of_face(right))
                && left != right
            {
                for (own, other) in [(left, right), (right, left)] {
                    *beside.entry(own).or_default().entry(other).or_default() += a.distance_m(b);
                }
            }
        }
        let mut narrow: Vec<(i128, u32)> = (0..)
            .zip(&zones)
            .filter(|(_, zone)| is_narrow(&zone.shape, width_m))
            .map(|(nth, zone)| (zone.shape.area2(), nth))
            .collect();
        narrow.sort_unstable();
        // Per zone: the class that it has, or gets. One that has gone to a neighbour, or got one, rests until the next round.
        let mut classes: Vec<String> = zones.iter().map(|zone| zone.class.clone()).collect();
        let mut resting: BTreeSet<u32> = BTreeSet::new();
        for (_, nth) in narrow {
            let next = beside.get(&nth).into_iter().flatten();
            let longest = next.fold(None, |best: Option<(u32, f64)>, (other, m)| match best {
                Some(best) if best.1 >= *m => Some(best),
                _ => Some((*other, *m)),
            });
            let Some((other, _)) = longest else { continue };
            if resting.contains(&nth) || resting.contains(&other) {
                continue;
            }
            let class = classes.get(other as usize).cloned();
            if let (Some(own), Some(class)) = (classes.get_mut(nth as usize), class) {
                resting.extend([nth, other]);
                *own = class;
            }
        }
        if resting.is_empty() {
            break;
        }
        any = true;
        let names: BTreeSet<&String> = classes.iter().collect();
        let names: Vec<String> = names.into_iter().cloned().collect();
        let faces = 0..arrangement.faces() as u32;
        let group = faces.map(|face| {
            let class = classes.get(of_face(face)? as usize)?;
            names
                .binary_search(class)
                .ok()
                .and_then(|at| u32::try_from(at).ok())
        });
        let group: Vec<Option<u32>> = group.collect();
        let shapes = arrangement.dissolve(&group).into_iter();
        zones = shapes
            .filter_map(|(class, shape)| {
                let class = names.get(class as usize)?.clone();
                Some(Zone { class, shape })
            })
            .collect();
    }
    match any {
        true => {
            let shapes: Vec<Shape> = zones.iter().map(|zone| zone.shape.clone()).collect();
            tiled(&zones, &shapes)
        }
        false => Err(refused(
            "edit.nothing_narrow",
            format!(
                "no zone is narrower everywhere than the drill ({}) and has a neighbour",
                job.report.units.given_length(width_m)
            ),
            "zones that the drill cannot follow",
            "nothing is to be done: the drill can follow the zones of this layer",
        )),
    }
}

pub(super) fn nothing() -> Box<Fault> {
    refused(
        "edit.no_change",
        "this changes no border".to_owned(),
        "a change that moves land from one class to another",
        "move it farther, or name another class",
    )
}

pub(super) fn no_border() -> Box<Fault> {
    refused(
        "edit.no_border",
        "there is no border between zones at this place".to_owned(),
        "a corner of such a border, or a place on it",
        "point at the border; near it the place is caught",
    )
}

pub(super) fn at_the_edge() -> Box<Fault> {
    refused(
        "edit.edge_of_land",
        "this corner belongs to the edge of the land".to_owned(),
        "corners of borders between zones, inside the field",
        "take the next corner of the border, or a place on it",
    )
}

fn crosses() -> Box<Fault> {
    refused(
        "edit.borders_cross",
        "so the border would cross another".to_owned(),
        "a border that runs between the others",
        "move it less far, or move the other border first",
    )
}
