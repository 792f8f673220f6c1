//! The land and what lies around it: how far the edge rim reaches, and where it must not.

use super::layout::cell_m;
use crate::geometry::offset::outset;
use crate::geometry::point::UNITS_PER_M;
use crate::geometry::{Arrangement, Overlay, Pt, Shape};
use crate::job::Job;
use crate::land::Land;

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

fn rim_m(job: &Job) -> f64 {
    job.grid.rim_m.unwrap_or(job.drill.working_width_m)
}

/// How far beyond the land the cells of both grids may reach, metres: the rim, and two cells (along
/// each axis) for where the outermost end.
pub fn around_m(job: &Job) -> f64 {
    rim_m(job) + 2.0 * cell_m(job)
}

/// The land with its rim, exclusions and setback strips, cut to a box around the grids.
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
        let reach = outset(&land.land, &[], &[], rim_m);
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
