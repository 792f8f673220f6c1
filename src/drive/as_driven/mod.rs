//! As-driven rates: what lands where when one meter per product serves the whole width, and is told its
//! rate at one place.
//!
//! Every stretch of a section with constant rates is a polygon; all of them, the closed rows and the land
//! units become one arrangement, so that every area is exact and nothing is sampled. Method:
//! docs/methods/as-driven.md.

mod count;
mod drawn;
mod lay;
mod swaths;
#[cfg(test)]
mod test_ring_rows;
#[cfg(test)]
mod test_slow_way;
#[cfg(test)]
mod tests;

use super::bout::Bout;
use super::flow::Delays;
use crate::frame::Frame;
use crate::geometry::point::area2_to_m2;
use crate::geometry::{Arrangement, Shape};
use crate::job::Job;
use crate::map::Grid;
use crate::zones::LandUnits;
pub use drawn::{DifferenceMap, LEAST_M2, coarse};

use count::Count;
use lay::{Found, Key, Laid, lay};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is driven on.
pub struct Ground<'a> {
    pub units: &'a LandUnits,
    /// Per row of the rate table, per product (job order), kg/ha.
    pub rates: &'a [Vec<f64>],
    /// The grid that a terminal follows.
    pub degrees: &'a Grid,
    /// Per product: the rate outside of the map, kg/ha.
    pub outside: &'a [f64],
    pub frame: &'a Frame,
    /// Per product.
    pub delays: &'a [Delays],
}

/// What the drive leaves on the land.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AsDriven {
    /// Where the driven ground lies.
    pub areas: Areas,
    /// The products that it is about, in job order.
    pub products: Vec<DrivenProduct>,
    /// What each bout takes out of the hoppers.
    pub bouts: Vec<BoutSums>,
    /// The difference map.
    #[serde(skip)]
    pub patches: Vec<Patch>,
    /// What a reader of the difference map has to know of it.
    pub difference_map: DifferenceMap,
}

/// Where the driven ground lies. Always: driven = once + twice x its passes + beyond + closed rows, and
/// land = once + twice + closed + missed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Areas {
    /// Working width times way, with sections on, m2.
    pub driven_m2: f64,
    /// Land sown in one pass, m2.
    pub once_m2: f64,
    /// Land sown in several passes, m2.
    pub twice_m2: f64,
    /// What the passes after the first cover of it, m2.
    pub again_m2: f64,
    /// Sown beyond the land, m2.
    pub beyond_m2: f64,
    /// Driven with rows closed, m2.
    pub closed_rows_m2: f64,
    /// Land that stays unsown because of them, m2.
    pub closed_m2: f64,
    /// Land that no pass sows, m2.
    pub missed_m2: f64,
    /// All land, m2.
    pub land_m2: f64,
}

/// One product's way from the map to what is on the land.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DrivenProduct {
    /// Id of the product.
    pub id: String,
    /// Wanted on the land, kg.
    pub map_kg: f64,
    /// What closed rows change, kg: less, or nothing where the other rows get it.
    pub tramlines_kg: f64,
    /// What the others get beyond their rate while sections are shut, kg; 0 unless the drill redistributes it.
    pub sections_kg: f64,
    /// Sown again or beyond the land, kg.
    pub overlap_kg: f64,
    /// Not sown because no section was on, kg (0 or less).
    pub missed_kg: f64,
    /// What one rate across the whole width, the map's resolution and the meter's delays change, kg.
    pub following_kg: f64,
    /// The sum of these: what leaves the outlets, kg.
    pub as_driven_kg: f64,
    /// The same, counted at the meter: rate x width x way, less what returns to the hopper.
    pub metered_kg: f64,
    /// Metered and returned to the hopper by closed rows and shut sections, kg.
    pub returned_kg: f64,
    /// Share of the land with a wanted rate (closed rows apart) that gets it within so many percent.
    pub within: Vec<Within>,
    /// Land where none is wanted and some is sown, m2.
    pub unwanted_m2: f64,
}

/// A share of land.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Within {
    /// Within so many percent of the wanted rate.
    pub percent: f64,
    /// Share of the land, percent.
    pub share_percent: f64,
}

/// What a bout takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoutSums {
    /// The bout, from 1.
    pub bout: usize,
    /// Per product (job order), kg.
    pub kg: Vec<f64>,
}

/// Land (or ground beyond it) with one set of wanted and sown rates.
#[derive(Debug, Clone, PartialEq)]
pub struct Patch {
    pub on_land: bool,
    /// Passes that sow it.
    pub passes: usize,
    /// Whether a closed row leaves it unsown.
    pub closed: bool,
    /// Per product (job order), kg/ha.
    pub wanted: Vec<f64>,
    pub sown: Vec<f64>,
    /// Exactly.
    pub area_m2: f64,
    /// To the millimetre.
    pub shapes: Vec<Shape>,
}

/// What leaves the outlets that are driven: the products of the air stream, or one that a unit of its own spreads.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried(Vec<bool>);

impl Carried {
    /// The products of the air stream.
    pub fn in_stream(job: &Job) -> Self {
        let products = job.products.iter();
        Self(products.map(|product| !product.surface_applied).collect())
    }

    /// One product, by its place in the job.
    pub fn one(job: &Job, product: usize) -> Self {
        Self((0..job.products.len()).map(|nth| nth == product).collect())
    }

    fn has(&self, product: usize) -> bool {
        self.0.get(product).copied().unwrap_or(false)
    }

    /// The same of all rows of land.
    fn of_rows(&self, rows: &[Vec<f64>]) -> Vec<Vec<f64>> {
        rows.iter().map(|rates| self.rates(rates)).collect()
    }

    /// The rates of what is carried; 0 for all others.
    pub fn rates(&self, kg_per_ha: &[f64]) -> Vec<f64> {
        let rates = kg_per_ha.iter().enumerate();
        rates
            .map(|(nth, rate)| if self.has(nth) { *rate } else { 0.0 })
            .collect()
    }
}

/// Drives the bouts over the land, with what they carry.
pub fn drive(bouts: &[Bout], ground: &Ground, carried: &Carried, job: &Job) -> AsDriven {
    driven(lay(bouts, ground, carried, job), ground, carried, job, None).0
}

/// The same, and its products counted once more by other rates of the same land (per row, per product, kg/ha).
pub fn drive_against(
    bouts: &[Bout],
    ground: &Ground,
    carried: &Carried,
    job: &Job,
    other: &[Vec<f64>],
) -> (AsDriven, Vec<DrivenProduct>) {
    let laid = lay(bouts, ground, carried, job);
    let (driven, counted) = driven(laid, ground, carried, job, Some(other));
    (driven, counted.unwrap_or_default())
}

/// The products alone, without a difference map.
pub fn products(
    bouts: &[Bout],
    ground: &Ground,
    carried: &Carried,
    job: &Job,
) -> Vec<DrivenProduct> {
    let mut laid = lay(bouts, ground, carried, job);
    let wanted = carried.of_rows(ground.rates);
    let arrangement = laid.overlay.arrange_once();
    let mut count = Count::new(job.products.len());
    let (mut covering, mut found) = (Vec::new(), Found::default());
    for face in 1..arrangement.faces() as u32 {
        laid.overlay.cover(&arrangement, face, &mut covering);
        if laid.face(&covering, &wanted, &mut found) {
            count.add(&found, arrangement.area2(face));
        }
    }
    count.products(&laid, carried, job)
}

/// What comes of all that has been laid, and its products by other rates of the same land.
fn driven(
    mut laid: Laid,
    ground: &Ground,
    carried: &Carried,
    job: &Job,
    other: Option<&[Vec<f64>]>,
) -> (AsDriven, Option<Vec<DrivenProduct>>) {
    let wanted = carried.of_rows(ground.rates);
    let other = other.map(|rates| carried.of_rows(rates));
    let arrangement = laid.overlay.arrange_once();
    let [mut count, mut by_other] = [(); 2].map(|()| Count::new(job.products.len()));
    let mut patches: BTreeMap<Key, (u32, i128)> = BTreeMap::new();
    // Twice the area of each patch, and its number by what tells it sooner than its key.
    let (mut sums, mut numbers) = (Vec::new(), BTreeMap::<Vec<u32>, u32>::new());
    let mut group_of_face: Vec<Option<u32>> = vec![None; arrangement.faces()];
    let (mut covering, mut found) = (Vec::new(), Found::default());
    for face in 1..arrangement.faces() as u32 {
        laid.overlay.cover(&arrangement, face, &mut covering);
        if !laid.face(&covering, &wanted, &mut found) {
            continue;
        }
        let area2 = arrangement.area2(face);
        count.add(&found, area2);
        let number = match numbers.get(found.same.as_slice()) {
            Some(known) => *known,
            None => {
                let next = patches.len() as u32;
                let (number, _) = *patches.entry(found.key()).or_insert((next, 0));
                numbers.insert(found.same.clone(), number);
                sums.resize(patches.len(), 0_i128);
                number
            }
        };
        sums[number as usize] += area2;
        group_of_face[face as usize] = Some(number);
        if let Some(rates) = &other {
            found.want(rates);
            by_other.add(&found, area2);
        }
    }
    for (number, area2) in patches.values_mut() {
        *area2 = sums[*number as usize];
    }
    let patches = shaped(patches, &arrangement, &group_of_face);
    let driven = AsDriven {
        areas: count.areas(),
        products: count.products(&laid, carried, job),
        difference_map: DifferenceMap::of(&patches),
        patches,
        bouts: laid.bouts.clone(),
    };
    let other = other
        .is_some()
        .then(|| by_other.products(&laid, carried, job));
    (driven, other)
}

/// The difference map: faces with the same rates and passes, united.
fn shaped(
    patches: BTreeMap<Key, (u32, i128)>,
    arrangement: &Arrangement,
    group_of_face: &[Option<u32>],
) -> Vec<Patch> {
    let mut by_group: Vec<(u32, Patch)> = patches
        .into_iter()
        .map(
            |((on_land, passes, closed, wanted, sown), (group, area2))| {
                let rates = |bits: Vec<u64>| bits.into_iter().map(f64::from_bits).collect();
                let patch = Patch {
                    on_land,
                    passes,
                    closed,
                    wanted: rates(wanted),
                    sown: rates(sown),
                    area_m2: area2_to_m2(area2),
                    shapes: Vec::new(),
                };
                (group, patch)
            },
        )
        .collect();
    // Groups are numbered from 0 without a gap.
    by_group.sort_by_key(|(group, _)| *group);
    for (group, shape) in arrangement.coarse(group_of_face, drawn::BITS) {
        by_group[group as usize].1.shapes.push(shape);
    }
    by_group.into_iter().map(|(_, patch)| patch).collect()
}
