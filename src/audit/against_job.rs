//! Files held against a job: rates that the drill or the job does not allow, and product in a setback. And
//! polygons against themselves: what they cover twice, and what they leave out.

use super::bounds::{self, MOVED_M, STRIP_M};
use super::ellipsoid::{land_m2, polygon_m2};
use super::job_land::JobLand;
use super::outline::length_m;
use super::overlay::{Land, about, drawn, shared, united, without};
use super::{Delivered, Piece, Shown, carried, cells, squares};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::job::Job;
use crate::read::Polygon;
use crate::units::UnitSystem;
use crate::write::{ProductNames, product_names};

/// What a job says about its files.
pub struct JobFacts {
    job: Job,
    names: Vec<ProductNames>,
    land: JobLand,
}

impl JobFacts {
    /// Reads the job's inputs and makes its land anew.
    ///
    /// # Errors
    /// A job for many fields; a file that cannot be read, or whose CRS is not known; a boundary without land.
    pub fn of(job: Job) -> Outcome<Self> {
        Ok(Self {
            names: product_names(&job),
            land: JobLand::of(&job)?,
            job,
        })
    }

    /// The units of its pages.
    pub(super) fn units(&self) -> UnitSystem {
        self.job.report.units
    }

    /// Everything that is wrong with a file by this job, a plain line each.
    pub(super) fn faults(&self, file: &Delivered) -> Vec<String> {
        let units = self.units();
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
                    "{}: the highest rate is {}, and the job allows {}",
                    product.name,
                    units.given_rate(sown.highest_kg_per_ha),
                    units.given_rate(most)
                ));
            }
            let least = limits.min_kg_per_ha.unwrap_or(0.0);
            if let Some(rate) = sown.lowest_above_zero.filter(|rate| *rate < least - 0.005) {
                faults.push(format!(
                    "{}: the lowest rate above 0 is {}, and the drill delivers {} at least",
                    product.name,
                    units.given_rate(rate),
                    units.given_rate(least)
                ));
            }
            for (setback, strip) in self.job.setbacks.iter().zip(&self.land.strips) {
                if setback.products.contains(&product.id) {
                    let found = self.in_strip(&file.shown, nth, strip);
                    faults.extend(found.map(|what| {
                        format!("{}: {what} in the setback '{}'", product.name, setback.name)
                    }));
                }
            }
        }
        faults.extend(self.misplaced(&file.shown));
        faults
    }

    /// Product in a setback strip: by cell for a grid in degrees, by area for polygons.
    fn in_strip(&self, shown: &Shown, nth: usize, strip: &Land) -> Option<String> {
        match shown {
            Shown::Cells { tile, rates } => {
                let shares = cells::shares(tile, &strip.0, &[]);
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
            Shown::Squares {
                tile,
                north,
                rates,
                crs,
            } => {
                let runs = squares::rated(tile, *north, rates.get(nth)?);
                self.lies_in(strip, &squares::in_degrees(runs, crs)?)
            }
            Shown::Polygons(pieces) => {
                let has_rate =
                    |piece: &&Piece| piece.rates.get(nth).is_some_and(|rate| *rate > 0.0);
                let rated = pieces.iter().filter(has_rate);
                self.lies_in(strip, rated.flat_map(|piece| &piece.polygons))
            }
            Shown::Nothing => None,
        }
    }

    /// Land of the job that polygons leave out, and land beyond it that has a rate. Polygons with fewer points may move
    /// a strip along the border.
    fn misplaced(&self, shown: &Shown) -> Vec<String> {
        let Shown::Polygons(pieces) = shown else {
            return Vec::new();
        };
        let has_rate = |piece: &&Piece| piece.rates.iter().any(|rate| *rate > 0.0);
        let rated = pieces.iter().filter(has_rate);
        let rated = self.drawn(rated.flat_map(|piece| &piece.polygons));
        let drawn = self.drawn(pieces.iter().flat_map(|piece| &piece.polygons));
        let JobLand {
            land,
            differs_m,
            at_least,
            at_most,
            ..
        } = &self.land;
        // Taken together and at any one place.
        let border_m = border_m(land);
        let [all, one] =
            [self.job.terminal.simplify_m / 2.0, 0.0].map(|by| border_m * (by + differs_m));
        let told = |m2: f64, deep_m2: f64, what: &str| {
            (m2 > all || deep_m2 > one)
                .then(|| format!("{} {what}", self.units().small_area(m2, 0)))
        };
        let missing = without(land, &drawn);
        let left_out = told(
            land_m2(&missing),
            land_m2(&shared(&missing, at_least)),
            "of the land are in no polygon",
        );
        let more = without(&rated, land);
        let beyond = told(
            land_m2(&more),
            land_m2(&without(&more, at_most)),
            "with a rate lie beyond the land of the job",
        );
        left_out.into_iter().chain(beyond).collect()
    }

    /// Land with a rate in a setback strip, in words; nothing up to what files may move borders.
    fn lies_in<'a>(
        &self,
        strip: &Land,
        rated: impl IntoIterator<Item = &'a Polygon<LonLat>>,
    ) -> Option<String> {
        let m2 = land_m2(&shared(strip, &self.drawn(rated)));
        (m2 > border_m(strip) * STRIP_M)
            .then(|| format!("{} with a rate lie", self.units().small_area(m2, 1)))
    }

    /// What polygons of a file cover, near the job's land.
    fn drawn<'a>(&self, polygons: impl IntoIterator<Item = &'a Polygon<LonLat>>) -> Land {
        let place = about(self.land.lon0);
        let drawn = |own| drawn(own, |at: LonLat| place(at.pair()));
        united(polygons.into_iter().map(drawn).collect())
    }
}

/// Length of the border of land, m.
fn border_m(land: &Land) -> f64 {
    let rings = land
        .iter()
        .flat_map(|own| std::iter::once(own.exterior()).chain(own.interiors()));
    rings.map(length_m).sum()
}

/// Land that polygons cover twice: what they have one by one, less what they have together.
pub(super) fn overlaps(pieces: &[Piece]) -> Option<String> {
    let polygons = || pieces.iter().flat_map(|piece| &piece.polygons);
    let first = *polygons().find_map(|polygon| polygon.exterior.first())?;
    let place = about(first.lon);
    let drawn = |own| drawn(own, |at: LonLat| place(at.pair()));
    let polygons: Vec<_> = polygons().map(drawn).collect();
    let one_by_one: f64 = polygons.iter().map(polygon_m2).sum();
    let rings = polygons
        .iter()
        .flat_map(|own| std::iter::once(own.exterior()).chain(own.interiors()));
    let border_m: f64 = rings.map(length_m).sum();
    let m2 = one_by_one - land_m2(&united(polygons));
    (m2 > border_m * MOVED_M)
        .then(|| format!("polygons overlap on {m2:.1} m2: there the rate is in doubt"))
}
