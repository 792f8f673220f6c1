//! Files held against a job: rates that the drill or the job does not allow, and product in a setback. And
//! polygons against themselves: what they cover twice, and what they leave out.

use super::bounds::{self, MOVED_M};
use super::carried;
use super::{Delivered, Piece, Shown, fits, squares};
use crate::findings::Outcome;
use crate::frame::Frame;
use crate::geometry::{Overlay, Pt, Ring, Shape};
use crate::job::Job;
use crate::land::{self, Land, LandLayers};
use crate::map::lon_lat;
use crate::plan;
use crate::read::{Polygon, Xy};
use crate::write::{ProductNames, product_names};

/// What a job says about its files.
pub struct JobFacts {
    job: Job,
    names: Vec<ProductNames>,
    frame: Frame,
    land: Land,
}

impl JobFacts {
    /// Reads the job's inputs and makes its land anew.
    ///
    /// # Errors
    /// What gathering the inputs or making the land refuses.
    pub fn of(job: Job) -> Outcome<Self> {
        let inputs = plan::gather(&job)?;
        let layers = LandLayers {
            boundary: &inputs.boundary,
            exclusions: &inputs.exclusions,
            setbacks: &inputs.setbacks,
            guide: inputs.guide.as_ref(),
        };
        let (land, _) = land::build(&layers, &job, &inputs.frame)?;
        Ok(Self {
            names: product_names(&job),
            job,
            frame: inputs.frame,
            land,
        })
    }

    /// Everything that is wrong with a file by this job, a plain line each.
    pub(super) fn faults(&self, file: &Delivered) -> Vec<String> {
        let mut faults = Vec::new();
        for (nth, sown) in file.products.iter().enumerate() {
            let Some(at) = carried::product(file, &sown.name, &self.names) else {
                continue;
            };
            let Some(product) = self.job.products.get(at) else {
                continue;
            };
            let limits = &product.limits;
            let most = [limits.max_kg_per_ha, limits.label_max_kg_per_ha];
            let most = most.iter().flatten().copied().reduce(f64::min);
            // Half a step of the integers.
            if let Some(most) = most.filter(|most| sown.highest_kg_per_ha > most + 0.005) {
                faults.push(format!(
                    "{}: the highest rate is {} kg/ha, and the job allows {most}",
                    product.name, sown.highest_kg_per_ha
                ));
            }
            let least = limits.min_kg_per_ha.unwrap_or(0.0);
            if let Some(rate) = sown.lowest_above_zero.filter(|rate| *rate < least - 0.005) {
                faults.push(format!(
                    "{}: the lowest rate above 0 is {rate} kg/ha, and the drill delivers {least} at least",
                    product.name
                ));
            }
            for (setback, strip) in self.job.setbacks.iter().zip(&self.land.setbacks) {
                if setback.products.contains(&product.id) {
                    let found = self.in_strip(&file.shown, nth, strip);
                    faults.extend(found.map(|what| {
                        format!("{}: {what} in the setback '{}'", product.name, setback.name)
                    }));
                }
            }
        }
        faults.extend(self.left_out(&file.shown));
        faults
    }

    /// Product in a setback strip: by cell for a grid in degrees, by area for polygons.
    fn in_strip(&self, shown: &Shown, nth: usize, strip: &[Shape]) -> Option<String> {
        match shown {
            Shown::Cells { tile, rates } => {
                let outline: Vec<Polygon> = strip
                    .iter()
                    .map(|shape| lon_lat(shape, &self.frame))
                    .collect();
                let shares = fits::shares(tile, &outline, &[])?;
                let rates = rates.get(nth)?;
                let crumb = bounds::share_of_cell(tile);
                let cells: Vec<usize> = shares
                    .iter()
                    .zip(rates)
                    .enumerate()
                    .filter(|(_, (share, rate))| **share > crumb && **rate > 0.0)
                    .map(|(at, _)| at)
                    .collect();
                let first = *cells.first()?;
                let (column, row) = (first % tile.columns.max(1), first / tile.columns.max(1));
                Some(format!(
                    "{} cells with a rate, the first in column {column}, row {row} (from 0, south-west), lie",
                    cells.len()
                ))
            }
            Shown::Squares { tile, rates, crs } => {
                let runs = squares::rated(tile, rates.get(nth)?);
                let placed = squares::placed(runs, crs, &self.frame)?;
                lies_in(strip, placed)
            }
            Shown::Polygons(pieces) => {
                let has_rate =
                    |piece: &&Piece| piece.rates.get(nth).is_some_and(|rate| *rate > 0.0);
                let rated = pieces.iter().filter(has_rate);
                let drawn = rated.flat_map(|piece| shapes(&piece.polygons, &self.frame));
                lies_in(strip, drawn)
            }
            Shown::Nothing => None,
        }
    }

    /// Land of the job that polygons leave out. Polygons with fewer points may lose a strip along the border.
    fn left_out(&self, shown: &Shown) -> Option<String> {
        let Shown::Polygons(pieces) = shown else {
            return None;
        };
        let mut overlay = Overlay::default();
        let first = self.land.land.len() as u32;
        let border_m = border_m(&self.land.land);
        for shape in &self.land.land {
            overlay.add(shape.clone());
        }
        for piece in pieces {
            shapes(&piece.polygons, &self.frame).for_each(|shape| {
                overlay.add(shape);
            });
        }
        let m2 = area_where(&overlay, |over| {
            !over.is_empty() && over.iter().all(|at| *at < first)
        });
        let allowed = border_m * (self.job.terminal.simplify_m / 2.0 + MOVED_M);
        (m2 > allowed).then(|| format!("{m2:.0} m2 of the land are in no polygon"))
    }
}

/// Length of the border of shapes, m.
fn border_m(shapes: &[Shape]) -> f64 {
    let rings = shapes.iter().flat_map(Shape::rings);
    rings
        .flat_map(|ring| {
            let ends = ring.iter().skip(1).chain(ring.first());
            ring.iter().zip(ends).map(|(a, b)| a.distance_m(*b))
        })
        .sum()
}

/// Land with a rate in a setback strip, in words; nothing up to what files may move borders.
fn lies_in(strip: &[Shape], rated: impl IntoIterator<Item = Shape>) -> Option<String> {
    let mut overlay = Overlay::default();
    let strips = strip.len() as u32;
    strip.iter().for_each(|shape| {
        overlay.add(shape.clone());
    });
    for shape in rated {
        overlay.add(shape);
    }
    let m2 = area_where(&overlay, |over| {
        over.iter().any(|at| *at < strips) && over.iter().any(|at| *at >= strips)
    });
    (m2 > border_m(strip) * MOVED_M).then(|| format!("{m2:.1} m2 with a rate lie"))
}

/// Land that polygons cover twice.
pub(super) fn overlaps(pieces: &[Piece]) -> Option<String> {
    let points: Vec<Xy> = pieces
        .iter()
        .flat_map(|piece| &piece.polygons)
        .flat_map(|polygon| polygon.exterior.iter().copied())
        .collect();
    let frame = Frame::centred_on(&points).ok()?;
    let mut overlay = Overlay::default();
    let mut border_m = 0.0;
    for piece in pieces {
        shapes(&piece.polygons, &frame).for_each(|shape| {
            border_m += self::border_m(std::slice::from_ref(&shape));
            overlay.add(shape);
        });
    }
    let m2 = area_where(&overlay, |over| over.len() > 1);
    (m2 > border_m * MOVED_M)
        .then(|| format!("polygons overlap on {m2:.1} m2: there the rate is in doubt"))
}

fn area_where(overlay: &Overlay, test: impl Fn(&[u32]) -> bool) -> f64 {
    let arrangement = overlay.arrange();
    let faces = 1..arrangement.faces() as u32;
    faces
        .filter(|face| test(&overlay.covering(&arrangement, *face)))
        .map(|face| arrangement.area_m2(face))
        .sum()
}

/// Polygons in the plane; what lies beyond its reach is left out.
fn shapes<'a>(polygons: &'a [Polygon], frame: &'a Frame) -> impl Iterator<Item = Shape> + 'a {
    let ring = |ring: &Vec<Xy>| {
        let mut plane = ring.clone();
        frame.all_to_plane(&mut plane);
        plane
    };
    polygons.iter().filter_map(move |polygon| {
        shape(&Polygon {
            exterior: ring(&polygon.exterior),
            holes: polygon.holes.iter().map(ring).collect(),
        })
    })
}

/// A polygon of the plane as a shape; `None` where it lies beyond its reach or is none.
pub(super) fn shape(plane: &Polygon) -> Option<Shape> {
    let ring = |ring: &Vec<Xy>| -> Option<Ring> {
        let placed = ring.iter().map(|place| Pt::from_metres(*place));
        let mut placed: Ring = placed.collect::<Option<_>>()?;
        if placed.len() > 1 && placed.first() == placed.last() {
            placed.pop();
        }
        placed.dedup();
        (placed.len() > 2).then_some(placed)
    };
    Some(Shape {
        exterior: ring(&plane.exterior)?,
        holes: plane.holes.iter().filter_map(ring).collect(),
    })
}
