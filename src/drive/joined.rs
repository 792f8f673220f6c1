//! Joins land that the drill cannot follow to its neighbours, and rates that a meter cannot tell apart to one.
//! Method: docs/methods/response.md.

use super::frame::edges;
use crate::geometry::offset::inset;
use crate::geometry::{Arrangement, Shape, UnionFind, row};
use crate::job::{Job, Kind, LandPart};
use crate::units::M2_PER_HA;
use crate::zones::{Facts, LandUnits};
use std::collections::{BTreeMap, BTreeSet};

/// A zone counts as narrow from this much below the working width on, m: a headland of one bout is as wide
/// as the drill.
pub(super) const SLACK_M: f64 = 0.05;

/// Corners that lie no farther apart across the heading count as one, m.
const CLOSE_M: f64 = 1e-4;

/// Joining one zone can make another; more rounds than this change nothing that a user would see.
const MOST_ROUNDS: usize = 8;

/// What land has to agree on, and its rates.
#[derive(Debug, Clone, Copy)]
pub struct OfRow<'a> {
    pub facts: &'a Facts,
    /// Per product, kg/ha.
    pub kg_per_ha: &'a [f64],
    /// Per product: which of its lots is sown.
    pub lots: &'a [Option<usize>],
}

/// A zone that went to its neighbour.
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// A place on its border, plane metres.
    pub corner: [f64; 2],
    pub area_m2: f64,
    /// Per product: what the map sows more, kg.
    pub more_kg: Vec<f64>,
}

/// Zones of one set of air-stream rates that the drill cannot follow join the neighbour with the longest shared
/// border in the same land part, special areas, setbacks and lots. None gets more fertiliser with the seed than its
/// own rates allow; what is 0 stays 0, and seed does not become 0. Gives the new row of each face, or `None` if
/// nothing is to be joined.
///
/// Cannot be followed: narrower everywhere than the drill; or, in the interior and for straight bouts with this
/// heading, over before the meter has changed, on every way through it (`shortest_m`).
pub fn join(
    units: &LandUnits,
    rows: &[OfRow],
    heading_deg: Option<f64>,
    shortest_m: f64,
    job: &Job,
) -> Option<(Vec<Option<u32>>, Vec<Joined>)> {
    let mut row_of_face = units.row_of_face.clone();
    let mut all = Vec::new();
    for _ in 0..MOST_ROUNDS {
        let joined = round(
            &units.arrangement,
            &mut row_of_face,
            rows,
            |shape, facts| {
                let width_m = job.drill.working_width_m;
                let narrow = is_narrow(shape, width_m);
                let interior = facts.part == LandPart::Interior;
                let heading = heading_deg.filter(|_| interior && shortest_m > 0.0);
                narrow || heading.is_some_and(|heading| longest_way_m(shape, heading) < shortest_m)
            },
            job,
        );
        if joined.is_empty() {
            break;
        }
        all.extend(joined);
    }
    (!all.is_empty()).then_some((row_of_face, all))
}

/// Whether land is narrower everywhere than a drill of this width.
pub fn is_narrow(shape: &Shape, width_m: f64) -> bool {
    inset(std::slice::from_ref(shape), width_m / 2.0 - SLACK_M).is_empty()
}

/// Zones of a round: faces with the same rates of the air stream in one land part, as connected pieces.
struct Zones {
    of_face: Vec<Option<u32>>,
    faces: BTreeMap<u32, Vec<u32>>,
    /// Per zone: metres of border with the land of a row in another zone.
    beside: BTreeMap<u32, BTreeMap<(u32, u32), f64>>,
}

impl Zones {
    fn of(
        arrangement: &Arrangement,
        row_of_face: &[Option<u32>],
        same: &dyn Fn(u32, u32) -> bool,
    ) -> Self {
        let row = |face: u32| row_of_face[face as usize];
        let mut pieces = UnionFind::new(arrangement.faces());
        for (_, [left, right]) in arrangement.edges() {
            if let (Some(a), Some(b)) = (row(left), row(right))
                && same(a, b)
            {
                pieces.unite(left, right);
            }
        }
        let mut zones = Self {
            of_face: Vec::new(),
            faces: BTreeMap::new(),
            beside: BTreeMap::new(),
        };
        for face in 0..arrangement.faces() as u32 {
            let zone = row(face).map(|_| pieces.find(face));
            zones.of_face.push(zone);
            if let Some(zone) = zone {
                zones.faces.entry(zone).or_default().push(face);
            }
        }
        for (ends, [left, right]) in arrangement.edges() {
            let metres = ends[0].distance_m(ends[1]);
            for (own, other) in [(left, right), (right, left)] {
                let (Some(zone), Some(next), Some(target)) =
                    (zones.zone(own), zones.zone(other), row(other))
                else {
                    continue;
                };
                if zone != next {
                    let of_zone = zones.beside.entry(zone).or_default();
                    *of_zone.entry((target, next)).or_default() += metres;
                }
            }
        }
        zones
    }

    fn zone(&self, face: u32) -> Option<u32> {
        self.of_face[face as usize]
    }

    /// Rows beside a zone with the zone they lie in, the longest border first.
    fn beside(&self, zone: u32) -> Vec<(u32, u32)> {
        let of_zone = self.beside.get(&zone).into_iter().flatten();
        let mut next: Vec<((u32, u32), f64)> = of_zone.map(|(a, b)| (*a, *b)).collect();
        next.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        next.into_iter().map(|(next, _)| next).collect()
    }
}

/// Joins every zone that a test picks, smallest first.
fn round(
    arrangement: &Arrangement,
    row_of_face: &mut [Option<u32>],
    rows: &[OfRow],
    cannot_follow: impl Fn(&Shape, &Facts) -> bool,
    job: &Job,
) -> Vec<Joined> {
    let of = |row: u32| &rows[row as usize];
    let same = |a: u32, b: u32| {
        let (a, b) = (of(a), of(b));
        a.facts.part == b.facts.part && stream(a, job) == stream(b, job)
    };
    let zones = Zones::of(arrangement, row_of_face, &same);
    let mut picked: Vec<(u32, Shape)> = arrangement
        .dissolve(&zones.of_face)
        .into_iter()
        .filter(|(zone, shape)| {
            // A zone goes by the number of one of its faces.
            let row = row_of_face[*zone as usize];
            row.is_some_and(|row| cannot_follow(shape, of(row).facts))
        })
        .collect();
    picked.sort_by_key(|(zone, shape)| (shape.area2(), *zone));
    let mut joined = Vec::new();
    // What has moved, and what has grown by it, is judged anew in the next round.
    let (mut moved, mut grown) = (BTreeSet::new(), BTreeSet::new());
    for (zone, shape) in picked {
        if grown.contains(&zone) {
            continue;
        }
        let own: Vec<(u32, &OfRow)> = zones.faces[&zone]
            .iter()
            .filter_map(|&face| Some((face, of(row_of_face[face as usize]?))))
            .collect();
        let fits = |(row, next): &(u32, u32)| {
            let may = |target| own.iter().all(|(_, own)| may_join(own, target, job));
            !moved.contains(next) && may(of(*row))
        };
        let Some((row, into)) = zones.beside(zone).into_iter().find(fits) else {
            continue;
        };
        let target = of(row);
        let mut more_kg = vec![0.0; job.products.len()];
        for (face, own) in own {
            let hectares = arrangement.area_m2(face) / M2_PER_HA;
            let rates = own.kg_per_ha.iter().zip(target.kg_per_ha);
            for (sum, (before, after)) in more_kg.iter_mut().zip(rates) {
                *sum += (after - before) * hectares;
            }
            row_of_face[face as usize] = Some(row);
        }
        moved.insert(zone);
        grown.insert(into);
        let corner = shape.exterior.first();
        joined.push(Joined {
            corner: corner.map_or([0.0; 2], |point| point.metres()),
            area_m2: shape.area_m2(),
            more_kg,
        });
    }
    joined
}

/// Rates of the air stream, bit by bit.
fn stream(row: &OfRow, job: &Job) -> Vec<u64> {
    let products = job.products.iter().zip(row.kg_per_ha);
    let of_stream = products.filter(|(product, _)| !product.surface_applied);
    of_stream.map(|(_, rate)| rate.to_bits()).collect()
}

/// Whether land may take the rates of other land.
fn may_join(own: &OfRow, target: &OfRow, job: &Job) -> bool {
    let facts = own.facts.part == target.facts.part
        && own.facts.special_areas == target.facts.special_areas
        && own.facts.setbacks == target.facts.setbacks;
    let mut rates = job
        .products
        .iter()
        .zip(own.kg_per_ha.iter().zip(target.kg_per_ha));
    facts
        && own.lots == target.lots
        && rates.all(|(product, (&before, &after))| match product.kind {
            Kind::Seed => (before == 0.0) == (after == 0.0),
            // What lies with the seed has limits of its own on every land; the lower rate keeps both.
            Kind::Fertiliser => after <= before,
        })
}

/// The longest straight way through a shape along a heading, m. Between two corners, as seen across the heading,
/// each way grows or shrinks evenly; so the longest lies beside a corner.
fn longest_way_m(shape: &Shape, heading_deg: f64) -> f64 {
    let edges = edges(std::slice::from_ref(shape), heading_deg);
    let mut places: Vec<f64> = edges.iter().map(|edge| edge.from[1]).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    let mut longest: f64 = 0.0;
    for pair in places.windows(2) {
        let &[low, high] = pair else { continue };
        if high - low < CLOSE_M {
            continue;
        }
        for v in [low + CLOSE_M / 2.0, high - CLOSE_M / 2.0] {
            let edges = edges.iter().map(|edge| [edge.from, edge.to]);
            for [from, to] in row::inside(edges, v) {
                longest = longest.max(to - from);
            }
        }
    }
    longest
}

/// Rates above zero that differ from the lowest of them by less than a share: all become the lowest, so no limit is
/// passed. Gives, per group of more than one, the rates and what they become.
pub fn one_rate(rates: &[f64], resolves_percent: f64) -> Vec<(Vec<f64>, f64)> {
    let mut distinct: Vec<f64> = rates.iter().copied().filter(|rate| *rate > 0.0).collect();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    let mut groups: Vec<(Vec<f64>, f64)> = Vec::new();
    for rate in distinct {
        match groups.last_mut() {
            Some((group, lowest)) if (rate - *lowest) / *lowest * 100.0 < resolves_percent => {
                group.push(rate)
            }
            _ => groups.push((vec![rate], rate)),
        }
    }
    groups.retain(|(group, _)| group.len() > 1);
    groups
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Pt;

    #[test]
    fn rates_that_the_meter_cannot_tell_apart_become_the_lowest() {
        // 2 % of 100 are 2: 101.9 is not told apart, 102 is; 103.5 counts from 102.
        let groups = one_rate(&[103.5, 0.0, 100.0, 102.0, 101.9, 150.0], 2.0);
        assert_eq!(
            groups,
            vec![(vec![100.0, 101.9], 100.0), (vec![102.0, 103.5], 102.0)]
        );
        assert!(one_rate(&[0.0, 100.0, 110.0], 2.0).is_empty());
        // Exactly what the meter resolves it tells apart.
        assert!(one_rate(&[64.0, 68.0], 6.25).is_empty());
    }

    #[test]
    fn the_longest_way_is_along_the_heading_only() {
        let ring = [
            [0.0, 0.0],
            [30.0, 0.0],
            [30.0, 6.0],
            [8.0, 6.0],
            [8.0, 20.0],
            [0.0, 20.0],
        ];
        let shape = Shape {
            exterior: ring
                .iter()
                .map(|&xy| Pt::from_metres(xy).unwrap())
                .collect(),
            holes: Vec::new(),
        };
        assert!((longest_way_m(&shape, 90.0) - 30.0).abs() < 1e-3);
        assert!((longest_way_m(&shape, 0.0) - 20.0).abs() < 1e-3);
    }
}
