//! The land and what lies around it: how far the edge rim reaches, and where it must not.

use super::layout::cell_m;
use crate::geometry::offset::outset;
use crate::geometry::point::UNITS_PER_M;
use crate::geometry::simplify::simplify;
use crate::geometry::{Arrangement, Overlay, Pt, Shape};
use crate::job::Job;
use crate::land::Land;
use std::borrow::Cow;

/// What a cell may touch.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Meaning {
    /// Inside the box that holds the grids.
    Box,
    /// The land and the rim around it.
    Rim,
    Exclusion,
    Setback(usize),
}

/// What lies on a face of the surroundings.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Touched {
    pub(super) rim: bool,
    pub(super) exclusion: bool,
    pub(super) setbacks: Vec<usize>,
}

/// The rim of a border with more points than this is drawn from one with fewer.
const MANY_POINTS: usize = 10_000;
/// Farthest that such a border may move into the land, metres: a rim is metres wide, and its cells are.
const INWARD_M: f64 = 0.01;

fn rim_m(job: &Job) -> f64 {
    job.grid.rim_m.unwrap_or(job.drill.working_width_m)
}

/// The land from which the rim is drawn: as it is, or where its border has very many points without those within some millimetres
/// of it. It moves inward alone, so that the rim reaches no farther than from the land itself; exclusions and setbacks, which the rim must
/// not touch, are not drawn from it.
fn plainer(land: &[Shape], rim_m: f64) -> Cow<'_, [Shape]> {
    let points: usize = land.iter().flat_map(Shape::rings).map(Vec::len).sum();
    if points <= MANY_POINTS {
        return Cow::Borrowed(land);
    }
    let inward_m = INWARD_M.min(rim_m / 4.0);
    let one: Vec<(u32, Shape)> = land.iter().map(|shape| (0, shape.clone())).collect();
    let into = |side: Option<u32>| side.map_or(0.0, |_| inward_m);
    let plainer = simplify(&one, f64::INFINITY, |left, right| [into(left), into(right)]);
    Cow::Owned(plainer.into_iter().map(|(_, shape)| shape).collect())
}

/// How far beyond the land the cells of both grids may reach, metres: the rim, and two cells (along
/// each axis) for where the outermost end.
pub fn around_m(job: &Job) -> f64 {
    rim_m(job) + 2.0 * cell_m(job)
}

/// The land with its rim, exclusions and setback strips, cut to a box around the grids.
#[derive(Clone)]
pub(super) struct Surroundings {
    /// South-west and north-east corner of the box around the rim, grid units.
    pub(super) low: Pt,
    pub(super) high: Pt,
    pub(super) arrangement: Arrangement,
    /// All different kinds of face inside the box.
    pub(super) kinds: Vec<Touched>,
    /// Per face its kind; `None` outside the box.
    pub(super) kind_of_face: Vec<Option<u32>>,
}

impl Surroundings {
    pub(super) fn of(land: &Land, job: &Job) -> Self {
        let rim_m = rim_m(job);
        let reach = outset(&plainer(&land.land, rim_m), &[], &[], rim_m);
        let points = || reach.iter().flat_map(|shape| &shape.exterior);
        let extreme = |pick: fn(i64, i64) -> i64, of: fn(&Pt) -> i64| points().map(of).reduce(pick);
        let low = Pt {
            x: extreme(i64::min, |p| p.x).unwrap_or(0),
            y: extreme(i64::min, |p| p.y).unwrap_or(0),
        };
        let unit = UNITS_PER_M as i64;
        let high = Pt {
            x: extreme(i64::max, |p| p.x).unwrap_or(unit),
            y: extreme(i64::max, |p| p.y).unwrap_or(unit),
        };
        // What is looked at goes on to where the outermost cells end.
        let beyond = (2.0 * cell_m(job) * UNITS_PER_M).ceil() as i64;
        let [west, south] = [low.x - beyond, low.y - beyond];
        let [east, north] = [high.x + beyond, high.y + beyond];
        let frame =
            [[west, south], [east, south], [east, north], [west, north]].map(|[x, y]| Pt { x, y });
        let mut overlay = Overlay::default();
        let mut meanings = Vec::new();
        let mut add = |shape: Shape, meaning| {
            overlay.add(shape);
            meanings.push(meaning);
        };
        add(
            Shape {
                exterior: frame.to_vec(),
                holes: Vec::new(),
            },
            Meaning::Box,
        );
        reach.into_iter().for_each(|shape| add(shape, Meaning::Rim));
        for shape in land.exclusions.iter().flatten() {
            add(shape.clone(), Meaning::Exclusion);
        }
        for (nth, strip) in land.setbacks.iter().enumerate() {
            strip
                .iter()
                .for_each(|shape| add(shape.clone(), Meaning::Setback(nth)));
        }
        let arrangement = overlay.arrange();
        let touched = |face: u32| {
            let mut touched = Touched::default();
            let mut inside = false;
            for polygon in overlay.covering(&arrangement, face) {
                match meanings[polygon as usize] {
                    Meaning::Box => inside = true,
                    Meaning::Rim => touched.rim = true,
                    Meaning::Exclusion => touched.exclusion = true,
                    Meaning::Setback(nth) if touched.setbacks.last() != Some(&nth) => {
                        touched.setbacks.push(nth);
                    }
                    Meaning::Setback(_) => {}
                }
            }
            inside.then_some(touched)
        };
        let of_face: Vec<Option<Touched>> = (0..arrangement.faces() as u32).map(touched).collect();
        let mut kinds: Vec<Touched> = of_face.iter().flatten().cloned().collect();
        kinds.sort();
        kinds.dedup();
        let kind_of_face = of_face
            .iter()
            .map(|kind| {
                kinds
                    .binary_search(kind.as_ref()?)
                    .ok()
                    .map(|nth| nth as u32)
            })
            .collect();
        Self {
            low,
            high,
            arrangement,
            kinds,
            kind_of_face,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of 200 m with 20 000 points on its border that lie up to 3 mm beside it: the rim is drawn from few, and
    /// lies inside that of the whole border and no more than a hand's breadth short of it.
    #[test]
    fn the_rim_of_a_noisy_border_lies_inside_that_of_all_its_points() {
        let mut state = 7_u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        let corners = [[0.0, 0.0], [200.0, 0.0], [200.0, 200.0], [0.0, 200.0]];
        let mut border = Vec::new();
        for (nth, a) in corners.iter().enumerate() {
            let b = corners[(nth + 1) % 4];
            for step in 0..5_000 {
                let share = f64::from(step) / 5_000.0;
                let along = [0, 1].map(|at| a[at] + (b[at] - a[at]) * share);
                let off = 0.006 * random();
                let across = [(b[1] - a[1]) / 200.0 * off, (a[0] - b[0]) / 200.0 * off];
                border.push([along[0] + across[0], along[1] + across[1]]);
            }
        }
        let ring = border.iter().map(|&xy| Pt::from_metres(xy).unwrap());
        let land = [Shape {
            exterior: ring.collect(),
            holes: Vec::new(),
        }];
        let few = plainer(&land, 6.0);
        let points: usize = few.iter().flat_map(Shape::rings).map(Vec::len).sum();
        assert!(points < 400, "{points}");
        let outside = |shape: &Shape, of: &[Shape]| -> f64 {
            let mut overlay = Overlay::default();
            overlay.add(shape.clone());
            for shape in of {
                overlay.add(shape.clone());
            }
            let arrangement = overlay.arrange();
            let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
                .map(|face| {
                    let covering = overlay.covering(&arrangement, face);
                    (covering == [0]).then_some(0)
                })
                .collect();
            let left = arrangement.dissolve(&group);
            left.iter().map(|(_, shape)| shape.area_m2()).sum()
        };
        // Rounding to the grid may move an edge by a part of a nanometre.
        assert!(
            outside(&few[0], &land) < 1e-4,
            "{}",
            outside(&few[0], &land)
        );
        let lost = outside(&land[0], &few);
        assert!(lost > 0.01 && lost < 800.0 * INWARD_M, "{lost}");
        // A rim that is no wider than what is lost keeps the land in it.
        let narrow = plainer(&land, 0.004);
        assert!(outside(&land[0], &narrow) < 800.0 * 0.001);
        // A border of few points is left alone.
        let square = [Shape {
            exterior: corners.map(|xy| Pt::from_metres(xy).unwrap()).to_vec(),
            holes: Vec::new(),
        }];
        assert!(matches!(plainer(&square, 6.0), Cow::Borrowed(_)));
    }
}
