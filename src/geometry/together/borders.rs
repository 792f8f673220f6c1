//! Borders about what lies too near: where points and borders go.

use super::pieces::{NearPiece, Pieces, square};
use super::{NEAREST, Ways, swept2};
use crate::geometry::point::Pt;
use crate::geometry::union_find::UnionFind;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// The pieces of borders about some points: all that end in one of them, and what else lies too near to one.
pub(super) struct Borders {
    /// All their points, ascending.
    points: Vec<Pt>,
    /// The straight pieces between them, from the lower to the higher point, by number.
    steps: Vec<[u32; 2]>,
    rank: Vec<u8>,
    /// Per point: the lowest rank of the borders that end in it.
    rank_of_point: Vec<u8>,
    /// Per point: how much the border of that rank turns there, radians; half a turn where it ends or meets others.
    turn: Vec<f64>,
}

/// A point and a border that it lies too near to, by number.
pub(super) type Near = (u32, u32);

impl Borders {
    /// The borders about what lies too near, and that by number.
    pub(super) fn near(pieces: &Pieces, near: &[NearPiece]) -> (Self, Vec<Near>) {
        let mut points: BTreeSet<Pt> = near.iter().map(|(point, _)| *point).collect();
        points.extend(near.iter().flat_map(|(_, piece)| pieces.ends(*piece)));
        let about = pieces.about(&points);
        let borders = Self::of(pieces, &about);
        let number = |piece: u32| about.partition_point(|other| *other < piece) as u32;
        let near = near.iter();
        let near = near.map(|(point, piece)| (borders.number(*point), number(*piece)));
        let near = near.collect();
        (borders, near)
    }

    /// The borders about crowds, and where the points of these go, each to one of its own.
    pub(super) fn crowds(pieces: &Pieces, crowds: &[Pt]) -> (Self, BTreeMap<u32, Pt>) {
        let points: BTreeSet<Pt> = crowds.iter().copied().collect();
        let borders = Self::of(pieces, &pieces.about(&points));
        let mut squares: BTreeMap<[i64; 2], Vec<u32>> = BTreeMap::new();
        for point in crowds {
            let crowd = squares.entry(square(point)).or_default();
            crowd.push(borders.number(*point));
        }
        let mut targets = BTreeMap::new();
        for crowd in squares.values() {
            let stays = crowd.iter().min_by(|a, b| borders.by_weight(**a, **b));
            let others = crowd.iter().filter(|point| Some(*point) != stays);
            let to = stays.map(|stays| borders.at(*stays));
            targets.extend(
                others
                    .zip(to.into_iter().cycle())
                    .map(|(own, to)| (*own, to)),
            );
        }
        (borders, targets)
    }

    fn of(pieces: &Pieces, about: &[u32]) -> Self {
        let ends = about.iter().map(|piece| pieces.ends(*piece));
        let ranks: Vec<u8> = about.iter().map(|piece| pieces.rank(*piece)).collect();
        let mut points: Vec<Pt> = ends.clone().flatten().collect();
        points.sort_unstable();
        points.dedup();
        let number = |point: Pt| points.partition_point(|other| *other < point) as u32;
        let steps: Vec<[u32; 2]> = ends.map(|ends| ends.map(number)).collect();
        let mut rank_of_point = vec![u8::MAX; points.len()];
        for (step, rank) in steps.iter().zip(&ranks) {
            for &end in step {
                let lowest = &mut rank_of_point[end as usize];
                *lowest = (*lowest).min(*rank);
            }
        }
        let mut beside = vec![(0, [0; 2]); points.len()];
        for (step, rank) in steps.iter().zip(&ranks) {
            for (end, other) in [(step[0], step[1]), (step[1], step[0])] {
                if rank_of_point[end as usize] == *rank {
                    let (count, others) = &mut beside[end as usize];
                    others[*count % 2] = other;
                    *count += 1;
                }
            }
        }
        let turn = |(point, (count, others)): (&Pt, &(usize, [u32; 2]))| match count {
            2 => turn(*point, others.map(|other| points[other as usize])),
            _ => std::f64::consts::PI,
        };
        let turn = points.iter().zip(&beside).map(turn).collect();
        Self {
            points,
            steps,
            rank: ranks,
            rank_of_point,
            turn,
        }
    }

    fn number(&self, point: Pt) -> u32 {
        self.points.partition_point(|other| *other < point) as u32
    }

    fn at(&self, point: u32) -> Pt {
        self.points[point as usize]
    }

    fn step(&self, step: u32) -> [Pt; 2] {
        self.steps[step as usize].map(|end| self.at(end))
    }

    /// The order in which points are asked whether they stay: corners before what lies on straight borders, so that a
    /// border keeps its form.
    fn by_weight(&self, one: u32, other: u32) -> Ordering {
        let rank = |point: u32| self.rank_of_point[point as usize];
        let turn = |point: u32| self.turn[point as usize];
        let rank = rank(one).cmp(&rank(other));
        rank.then(turn(other).total_cmp(&turn(one)))
            .then(one.cmp(&other))
    }

    /// Where the points of what lies too near go; those not in it stay.
    pub(super) fn targets(&self, near: &[Near]) -> BTreeMap<u32, Pt> {
        let mut of_point: Vec<&[Near]> = near.chunk_by(|a, b| a.0 == b.0).collect();
        of_point.sort_by(|a, b| self.by_weight(a[0].0, b[0].0));
        let mut stays: BTreeSet<u32> = BTreeSet::new();
        let mut targets = BTreeMap::new();
        for near in of_point {
            let number = near[0].0;
            let point = self.at(number);
            let steps = near.iter().map(|(_, step)| *step);
            let ends = steps.clone().flat_map(|step| self.steps[step as usize]);
            let beside = ends
                .filter(|end| stays.contains(end))
                .map(|end| (squared(point, self.at(end)), end))
                .filter(|(squared, _)| *squared < NEAREST * NEAREST)
                .min_by(nearest);
            if let Some((_, beside)) = beside {
                targets.insert(number, self.at(beside));
                continue;
            }
            let counts_more =
                |step: &u32| self.rank[*step as usize] < self.rank_of_point[number as usize];
            let onto = steps
                .filter(counts_more)
                .map(|step| (distance(point, self.step(step)).0, step))
                .min_by(nearest);
            match onto {
                Some((_, step)) => {
                    let (_, foot) = distance(point, self.step(step));
                    let ends = self.steps[step as usize].into_iter();
                    let end = ends
                        .map(|end| (squared(foot, self.at(end)), end))
                        .filter(|(squared, _)| *squared < NEAREST * NEAREST)
                        .min_by(nearest);
                    let target = end.map_or(foot, |(_, end)| {
                        targets.get(&end).copied().unwrap_or(self.at(end))
                    });
                    targets.insert(number, target);
                }
                None => {
                    stays.insert(number);
                }
            }
        }
        targets
    }

    /// New ways of the borders that change: points go to their targets, and borders are led through those near them.
    pub(super) fn ways(&self, targets: &BTreeMap<u32, Pt>, near: &[Near]) -> Ways {
        let target = |point: u32| targets.get(&point).copied().unwrap_or(self.at(point));
        let mut stops: BTreeMap<u32, Vec<Pt>> = BTreeMap::new();
        for &(point, step) in near {
            let target = target(point);
            if distance(target, self.step(step)).0 < NEAREST {
                stops.entry(step).or_default().push(target);
            }
        }
        let mut ways = Ways::new();
        for (step, ends) in (0..).zip(&self.steps) {
            let stops = stops.remove(&step).unwrap_or_default();
            let [from, to] = ends.map(target);
            let [a, b] = self.step(step);
            if stops.is_empty() && [from, to] == [a, b] {
                continue;
            }
            let mut stops: Vec<Pt> = stops;
            stops.retain(|stop| *stop != from && *stop != to);
            stops.sort_by(|one, other| {
                let along = |p: Pt| {
                    i128::from(p.x - a.x) * i128::from(b.x - a.x)
                        + i128::from(p.y - a.y) * i128::from(b.y - a.y)
                };
                along(*one).cmp(&along(*other)).then(one.cmp(other))
            });
            let mut way = vec![from];
            way.extend(stops);
            way.push(to);
            way.dedup();
            if way.len() == 1 {
                way.push(to);
            }
            ways.insert([a, b], way);
        }
        ways
    }

    /// Per run of borders that change and hang together: twice the land between them and their new ways, and a place
    /// on it.
    pub(super) fn places(&self, ways: &Ways, near: &[Near]) -> Vec<(i128, Pt)> {
        let mut sets = UnionFind::new(self.points.len());
        for &(point, step) in near {
            sets.unite(point, self.steps[step as usize][0]);
        }
        let changes = |step: &u32| ways.contains_key(&self.step(*step));
        let changed: Vec<u32> = (0..self.steps.len() as u32).filter(changes).collect();
        for &step in &changed {
            let [a, b] = self.steps[step as usize];
            sets.unite(a, b);
        }
        // The land of each run, and the most of one of its borders with its place.
        let mut runs: BTreeMap<u32, (i128, i128, Pt)> = BTreeMap::new();
        for &step in &changed {
            let ends = self.step(step);
            let area2 = ways.get(&ends).map_or(0, |way| swept2(ends, way));
            let run = runs.entry(sets.find(self.steps[step as usize][0]));
            let (sum, most, place) = run.or_insert((0, -1, ends[0]));
            *sum += area2;
            if area2 > *most {
                (*most, *place) = (area2, ends[0]);
            }
        }
        runs.into_values()
            .map(|(sum, _, place)| (sum, place))
            .collect()
    }
}

/// How much a way from one place to another turns at a point, radians.
fn turn(point: Pt, [from, to]: [Pt; 2]) -> f64 {
    let [ux, uy] = [(point.x - from.x) as f64, (point.y - from.y) as f64];
    let [vx, vy] = [(to.x - point.x) as f64, (to.y - point.y) as f64];
    (ux * vy - uy * vx).atan2(ux * vx + uy * vy).abs()
}

/// The nearer one, and of two the one with the lower number.
fn nearest(a: &(f64, u32), b: &(f64, u32)) -> Ordering {
    a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
}

/// Square of a distance, in units^2.
fn squared(a: Pt, b: Pt) -> f64 {
    let [dx, dy] = [(a.x - b.x) as f64, (a.y - b.y) as f64];
    dx * dx + dy * dy
}

/// Distance of a point from a border in units of the grid, and the point of the grid there.
pub(in crate::geometry) fn distance(point: Pt, [a, b]: [Pt; 2]) -> (f64, Pt) {
    let along = [(b.x - a.x) as f64, (b.y - a.y) as f64];
    let to = [(point.x - a.x) as f64, (point.y - a.y) as f64];
    let length2 = along[0] * along[0] + along[1] * along[1];
    let share = ((to[0] * along[0] + to[1] * along[1]) / length2).clamp(0.0, 1.0);
    let way = [share * along[0], share * along[1]];
    let foot = Pt {
        x: a.x + way[0].round() as i64,
        y: a.y + way[1].round() as i64,
    };
    ((to[0] - way[0]).hypot(to[1] - way[1]), foot)
}
