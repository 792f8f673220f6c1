//! Borders that lie too near each other to be told apart in a file, brought together. Method:
//! docs/methods/near-borders.md
//!
//! What comes out keeps every point [`NEAREST_M`] or more away from every border that does not end in it. So no
//! piece is thinner, and none vanishes, turns over or falls apart when its degrees are rounded to nine decimals
//! (0.1 mm).

use super::arrangement::{Arrangement, OUTSIDE};
use super::coarse::coarse;
use super::grid_index::GridIndex;
use super::point::{Pt, UNITS_PER_M, area2_to_m2, ring_area2};
use super::shape::{Ring, Shape};
use super::union_find::UnionFind;
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// How near a point may lie to a border that does not end in it, metres.
pub const NEAREST_M: f64 = 0.0005;

/// The same in units of the grid.
pub(super) const NEAREST: f64 = NEAREST_M * UNITS_PER_M;

/// Rounds after which all points go onto a coarse grid, which ends it. Three is the most ever seen.
const MOST_ROUNDS: usize = 12;

/// Bits of that grid: 2 mm, so that points keep 1 mm from borders.
const COARSE_BITS: u32 = 11;

/// Land that tiles, with its borders brought together.
pub struct Together {
    pub arrangement: Arrangement,
    /// Per face its group; `None` where nothing is.
    pub group: Vec<Option<u32>>,
    /// Where borders were moved: land that changed sides there in m2, and a place on it.
    pub places: Vec<(f64, Pt)>,
    /// Land that changed sides, m2.
    pub area_m2: f64,
}

/// Brings together what lies too near in land that tiles; `None` where nothing does.
///
/// `group` has one entry per face, as for [`Arrangement::dissolve`]. Borders are looked at every `longest_m`: two long
/// ones from one point may lie too near for most of their way though their other ends do not. `rank` says for a
/// border between two groups how much it counts: of two borders the one with the lower number stays and the other
/// moves onto it.
pub fn bring_together(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    longest_m: f64,
    rank: impl Fn([Option<u32>; 2]) -> u8,
) -> Option<Together> {
    let borders = Borders::of(arrangement, group, longest_m, &rank);
    let near = borders.near();
    if near.is_empty() {
        return None;
    }
    let mut tiles = moved(
        &arrangement.dissolve(group),
        &borders.parted(&near, longest_m),
    );
    let mut places: Option<Vec<(i128, Pt)>> = None;
    let mut area2 = 0;
    for round in 0.. {
        let borders = Borders::of(&tiles.0, &tiles.1, f64::INFINITY, &rank);
        let near = borders.near();
        if near.is_empty() {
            break;
        }
        let shapes = tiles.0.dissolve(&tiles.1);
        if round == MOST_ROUNDS {
            tiles = moved(&coarse(shapes, COARSE_BITS), &Ways::new());
            break;
        }
        let ways = borders.ways(&near);
        let swept = ways.iter().map(|(ends, way)| swept2(*ends, way));
        area2 += swept.sum::<i128>();
        places.get_or_insert_with(|| borders.places(&ways, &near));
        tiles = moved(&shapes, &ways);
    }
    let mut places = places.unwrap_or_default();
    places.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let places = places.into_iter();
    let (arrangement, group) = tiles;
    Some(Together {
        arrangement,
        group,
        places: places
            .map(|(area2, place)| (area2_to_m2(area2), place))
            .collect(),
        area_m2: area2_to_m2(area2),
    })
}

/// What becomes of a border between two points, by its ends, the lower one first: its new points from there.
type Ways = BTreeMap<[Pt; 2], Vec<Pt>>;

/// The shapes with their borders led another way, arranged anew.
fn moved(shapes: &[(u32, Shape)], ways: &Ways) -> (Arrangement, Vec<Option<u32>>) {
    let mut rings: Vec<(u32, Ring)> = Vec::new();
    for (group, shape) in shapes {
        rings.extend(shape.rings().map(|ring| (*group, led(ring, ways))));
    }
    let arrangement = Arrangement::new(rings.iter().map(|(group, ring)| (*group, &ring[..])));
    let faces = 0..arrangement.faces() as u32;
    let group = faces.map(|face| group_of(&arrangement, face)).collect();
    (arrangement, group)
}

/// A ring led along the new ways of its borders.
fn led(ring: &Ring, ways: &Ways) -> Ring {
    let mut led = Ring::with_capacity(ring.len());
    let ends = ring.iter().skip(1).chain(ring.first());
    for (&from, &to) in ring.iter().zip(ends) {
        match ways.get(&[from.min(to), from.max(to)]) {
            None => led.push(from),
            Some(way) if from < to => led.extend(&way[..way.len() - 1]),
            Some(way) => led.extend(way[1..].iter().rev()),
        }
    }
    led.dedup();
    led
}

/// Whose land a face is. Borders that tile have gone together, so the rings of all groups wind around it as often as
/// the outline does; where some have been folded, the group that winds around it most often has it, and of several
/// the first.
fn group_of(arrangement: &Arrangement, face: u32) -> Option<u32> {
    let windings = arrangement.windings(face);
    let outline: i32 = windings.iter().map(|winding| winding.count).sum();
    if face == OUTSIDE || outline <= 0 {
        return None;
    }
    let most = windings.iter().map(|winding| winding.count).max()?;
    let first = windings.iter().find(|winding| winding.count == most);
    first.map(|winding| winding.source)
}

/// Twice the land between a border and its new way, in units^2.
fn swept2(ends: [Pt; 2], way: &[Pt]) -> i128 {
    let mut ring: Ring = vec![ends[0]];
    ring.extend(way);
    ring.push(ends[1]);
    ring_area2(&ring).abs()
}

/// Points that part a border evenly into pieces no longer than this, its ends included.
fn parts([a, b]: [Pt; 2], longest_m: f64) -> Vec<Pt> {
    let count = (a.distance_m(b) / longest_m).ceil().max(1.0) as i64;
    let along = |from: i64, to: i64, nth: i64| {
        from + ((to - from) as f64 * nth as f64 / count as f64).round() as i64
    };
    let inner = (1..count).map(|nth| Pt {
        x: along(a.x, b.x, nth),
        y: along(a.y, b.y, nth),
    });
    std::iter::once(a).chain(inner).chain([b]).collect()
}

/// Borders between groups.
struct Borders {
    /// All their points, ascending.
    points: Vec<Pt>,
    /// The straight pieces between them, from the lower to the higher point, by number.
    steps: Vec<[u32; 2]>,
    /// Per piece: the ends of the border that it is a part of.
    whole: Vec<[Pt; 2]>,
    rank: Vec<u8>,
    /// Per point: the lowest rank of the borders that end in it.
    rank_of_point: Vec<u8>,
    /// Per point: how much the border of that rank turns there, radians; half a turn where it ends or meets others.
    turn: Vec<f64>,
}

/// A point and a border that it lies too near to, by number.
type Near = (u32, u32);

impl Borders {
    fn of(
        arrangement: &Arrangement,
        group: &[Option<u32>],
        longest_m: f64,
        rank: &impl Fn([Option<u32>; 2]) -> u8,
    ) -> Self {
        let groups = |sides: [u32; 2]| sides.map(|face| group[face as usize]);
        let is_border = |sides| {
            let [left, right] = groups(sides);
            left != right
        };
        let mut pieces: Vec<[Pt; 2]> = Vec::new();
        let mut whole: Vec<[Pt; 2]> = Vec::new();
        let mut ranks: Vec<u8> = Vec::new();
        for ([a, b], sides) in arrangement.edges_between(is_border) {
            let ends = [a.min(b), a.max(b)];
            match a.distance_m(b) > longest_m {
                true => pieces.extend(parts(ends, longest_m).windows(2).map(|p| [p[0], p[1]])),
                false => pieces.push(ends),
            }
            whole.resize(pieces.len(), ends);
            ranks.resize(pieces.len(), rank(groups(sides)));
        }
        let mut points: Vec<Pt> = pieces.iter().flatten().copied().collect();
        points.par_sort_unstable();
        points.dedup();
        let number = |point: Pt| points.partition_point(|other| *other < point) as u32;
        let steps: Vec<[u32; 2]> = pieces.par_iter().map(|ends| ends.map(number)).collect();
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
            whole,
            rank: ranks,
            rank_of_point,
            turn,
        }
    }

    /// The long borders that have a part in what lies too near, led through the points that part them.
    fn parted(&self, near: &[Near], longest_m: f64) -> Ways {
        let mut is_near = vec![false; self.points.len()];
        let mut steps: Vec<u32> = near.iter().map(|(_, step)| *step).collect();
        near.iter()
            .for_each(|(point, _)| is_near[*point as usize] = true);
        let ends_near = |step: &u32| {
            let ends = self.steps[*step as usize];
            ends.iter().any(|end| is_near[*end as usize])
        };
        steps.extend((0..self.steps.len() as u32).filter(ends_near));
        let wholes = steps
            .iter()
            .map(|&step| (self.whole[step as usize], self.step(step)));
        wholes
            .filter(|(whole, piece)| whole != piece)
            .map(|(whole, _)| (whole, parts(whole, longest_m)))
            .collect()
    }

    fn at(&self, point: u32) -> Pt {
        self.points[point as usize]
    }

    fn step(&self, step: u32) -> [Pt; 2] {
        self.steps[step as usize].map(|end| self.at(end))
    }

    /// Points that lie too near to a border that does not end in them, ascending.
    fn near(&self) -> Vec<Near> {
        let index = GridIndex::new(self.steps.len(), |step| std::iter::once(self.step(step)));
        let reach = NEAREST.ceil() as i64;
        let of_point = |number: u32| {
            let point = self.at(number);
            let [low, high] = [-reach, reach].map(|by| Pt {
                x: point.x + by,
                y: point.y + by,
            });
            let mut near: Vec<Near> = index
                .around([low, high])
                .flat_map(|cell| index.cell(cell as usize))
                .filter(|&&step| {
                    let ends = self.step(step);
                    !ends.contains(&point)
                        && ends[0].x <= high.x
                        && ends[1].x >= low.x
                        && distance(point, ends).0 < NEAREST
                })
                .map(|&step| (number, step))
                .collect();
            near.sort_unstable();
            near.dedup();
            near
        };
        let points = (0..self.points.len() as u32).into_par_iter();
        let near = points.with_min_len(4096).map(of_point);
        let near: Vec<Vec<Near>> = near.filter(|near| !near.is_empty()).collect();
        near.into_iter().flatten().collect()
    }

    /// Where the points of what lies too near go; those not in it stay.
    fn targets(&self, near: &[Near]) -> BTreeMap<u32, Pt> {
        let mut of_point: Vec<&[Near]> = near.chunk_by(|a, b| a.0 == b.0).collect();
        // Corners before what lies on straight borders: a border keeps its form.
        of_point.sort_by(|a, b| {
            let [one, other] = [a, b].map(|near| near[0].0 as usize);
            let rank = self.rank_of_point[one].cmp(&self.rank_of_point[other]);
            let turn = self.turn[other].total_cmp(&self.turn[one]);
            rank.then(turn).then(one.cmp(&other))
        });
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

    /// New ways of the borders that change.
    fn ways(&self, near: &[Near]) -> Ways {
        let targets = self.targets(near);
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
    fn places(&self, ways: &Ways, near: &[Near]) -> Vec<(i128, Pt)> {
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
pub(super) fn distance(point: Pt, [a, b]: [Pt; 2]) -> (f64, Pt) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Overlay;

    fn shape(metres: &[[f64; 2]]) -> Shape {
        let points = metres.iter().map(|xy| Pt::from_metres(*xy).unwrap());
        Shape {
            exterior: points.collect(),
            holes: Vec::new(),
        }
    }

    /// Land by the last polygon that covers it, numbered from 0.
    fn tiles(shapes: &[Shape]) -> (Arrangement, Vec<Option<u32>>) {
        let mut overlay = Overlay::default();
        shapes.iter().for_each(|shape| {
            overlay.add(shape.clone());
        });
        let arrangement = overlay.arrange();
        let faces = 0..arrangement.faces() as u32;
        let group = faces.map(|face| overlay.covering(&arrangement, face).last().copied());
        let group = group.collect();
        (arrangement, group)
    }

    fn outline_first([left, right]: [Option<u32>; 2]) -> u8 {
        u8::from(left.is_some() && right.is_some())
    }

    fn together(shapes: &[Shape]) -> Option<Together> {
        let (arrangement, group) = tiles(shapes);
        bring_together(&arrangement, &group, 75.0, outline_first)
    }

    fn area_m2(of: &Together, group: u32) -> f64 {
        let faces = (0..).zip(&of.group).filter(|(_, own)| **own == Some(group));
        faces.map(|(face, _)| of.arrangement.area_m2(face)).sum()
    }

    const FIELD: [[f64; 2]; 4] = [[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]];

    #[test]
    fn what_lies_apart_is_left_alone() {
        let beside = [[0.0, 0.0], [50.0, 0.0], [50.0, 49.999], [0.0, 49.999]];
        assert!(together(&[shape(&FIELD), shape(&beside)]).is_none());
    }

    #[test]
    fn a_thread_along_the_border_goes_to_what_lies_beside_it_and_the_border_stays() {
        // A tenth of a millimetre short of three sides, with a point of its own on one.
        let short = [
            [0.0001, 0.0001],
            [30.0, 0.00012],
            [60.0, 0.0],
            [60.0, 49.9999],
            [0.0001, 49.9999],
        ];
        let of = together(&[shape(&FIELD), shape(&short)]).expect("threads");
        assert_eq!(area_m2(&of, 1), 3000.0);
        assert_eq!(area_m2(&of, 0), 2000.0);
        let whole: Vec<Option<u32>> = of.group.iter().map(|own| own.map(|_| 0)).collect();
        let outline = of.arrangement.dissolve(&whole);
        let corners = shape(&FIELD).exterior;
        assert!(
            corners
                .iter()
                .all(|corner| outline[0].1.exterior.contains(corner))
        );
        assert!((of.area_m2 - 0.0145).abs() < 0.002, "{}", of.area_m2);
        assert!(!of.places.is_empty());
    }

    #[test]
    fn a_thread_of_2800_m_vanishes_and_a_neck_of_one_parts_what_it_joins() {
        let long = shape(&[[0.0, 0.0], [2800.0, 0.0], [2800.0, 0.0001], [0.0, 0.0001]]);
        let field = shape(&[[0.0, 0.0], [2800.0, 0.0], [2800.0, 90.0], [0.0, 90.0]]);
        let of = together(&[field, long]).expect("a thread");
        assert_eq!(area_m2(&of, 1), 0.0);
        assert_eq!(of.places.len(), 1);
        let dumb_bell = shape(&[
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 5.0],
            [20.0, 5.0],
            [20.0, 0.0],
            [30.0, 0.0],
            [30.0, 9.0],
            [20.0, 9.0],
            [20.0, 5.0002],
            [10.0, 5.0002],
            [10.0, 9.0],
            [0.0, 9.0],
        ]);
        let of = together(&[dumb_bell]).expect("a neck");
        assert_eq!(of.arrangement.dissolve(&of.group).len(), 2);
        assert!((area_m2(&of, 0) - 180.0).abs() < 0.01);
    }

    #[test]
    fn of_a_wedge_the_part_that_is_too_thin_goes() {
        // 2 km long and 1 mm wide at its end: too thin for the first kilometre.
        let field = shape(&[[0.0, 0.0], [2000.0, 0.0], [2000.0, 90.0], [0.0, 90.0]]);
        let wedge = shape(&[[0.0, 0.0], [2000.0, 0.0], [2000.0, 0.001]]);
        let of = together(&[field, wedge]).expect("a wedge");
        let left = of.arrangement.dissolve(&of.group);
        let (_, left) = left.iter().find(|(group, _)| *group == 1).expect("a wedge");
        let west = left
            .exterior
            .iter()
            .map(|p| p.metres()[0])
            .fold(f64::MAX, f64::min);
        assert!((900.0..1080.0).contains(&west), "{west}");
    }

    /// Rings of points so near each other that all of it is threads, and rings along each other.
    #[test]
    fn whatever_comes_in_nothing_too_near_comes_out() {
        let mut state = 5u64;
        let mut next = |range: i64| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
            ((state >> 33) as i64).rem_euclid(range)
        };
        let mut changed = 0;
        for round in 0..300 {
            let range = [3_000, 9_000, 40_000, 1_000_000][round % 4];
            let base: Vec<Pt> = (0..9)
                .map(|_| Pt {
                    x: next(range),
                    y: next(range),
                })
                .collect();
            let shapes: Vec<Shape> = (0..3)
                .map(|nth| {
                    let by = if nth == 0 { 1 } else { 300 };
                    let near = base.iter().map(|p| Pt {
                        x: p.x + next(by),
                        y: p.y + next(by),
                    });
                    let mut exterior: Ring = near.collect();
                    if round % 3 == 0 {
                        exterior.rotate_left(nth);
                        exterior.swap(0, 3);
                    }
                    Shape {
                        exterior,
                        holes: Vec::new(),
                    }
                })
                .collect();
            let (arrangement, group) = tiles(&shapes);
            let Some(of) = bring_together(&arrangement, &group, 75.0, outline_first) else {
                continue;
            };
            changed += 1;
            let borders = Borders::of(&of.arrangement, &of.group, f64::INFINITY, &outline_first);
            assert!(borders.near().is_empty(), "round {round}");
            // It tiles: whole pieces make the whole.
            let pieces = of.arrangement.dissolve(&of.group);
            let one: Vec<Option<u32>> = of.group.iter().map(|own| own.map(|_| 0)).collect();
            let whole = of.arrangement.dissolve(&one);
            let sum =
                |shapes: &[(u32, Shape)]| shapes.iter().map(|(_, of)| of.area2()).sum::<i128>();
            assert_eq!(sum(&pieces), sum(&whole), "round {round}");
        }
        assert!(changed > 250, "{changed}");
    }
}
