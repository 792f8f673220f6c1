//! Units of their own that spread a product on the surface: they go with the drill, along the same bouts, with
//! their own width. Method: docs/methods/as-driven.md.

use super::as_driven::{self, AsDriven, Carried, Ground};
use super::bout::{Bout, Sections, bouts};
use super::ways::Ways;
use crate::job::{Job, Product};
use crate::land::Land;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The way of one such unit, without rates.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// Place of its product in the job.
    pub product: usize,
    pub width_m: f64,
    /// The drill's bouts with the ground of the unit: one section as wide as it spreads, no closed rows.
    pub bouts: Vec<Bout>,
}

/// What such a unit leaves on the land.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Spread {
    /// Id of the product.
    pub product: String,
    /// Width that the unit spreads, m.
    pub width_m: f64,
    /// What it leaves, as for the air stream.
    pub as_driven: AsDriven,
}

/// The width that the unit of a product spreads: its own, or that of the drill where none is given.
pub fn width_m(job: &Job, product: &Product) -> f64 {
    let mut hoppers = job.drill.hoppers.iter();
    let hopper = hoppers.find(|hopper| hopper.name == product.hopper);
    let own = hopper.and_then(|hopper| hopper.spreads_width_m);
    own.unwrap_or(job.drill.working_width_m)
}

/// The ways of all units of a job, in the order of their products; empty where it asks for no drive. A unit goes on and
/// off as a drill of one section would.
pub fn ways(land: &Land, job: &Job, along: &Ways) -> Vec<Way> {
    let Some(one) = Sections::one(job) else {
        return Vec::new();
    };
    let of_surface = job.products.iter().enumerate();
    let of_surface = of_surface.filter(|(_, product)| product.surface_applied);
    let way = |(nth, product): (usize, &Product)| {
        let width_m = width_m(job, product);
        let mut bouts = bouts(land, job, None, &one, along);
        for section in bouts.iter_mut().flat_map(|bout| &mut bout.sections) {
            section.left_m = [-width_m / 2.0, width_m / 2.0];
        }
        Way {
            product: nth,
            width_m,
            bouts,
        }
    };
    of_surface.map(way).collect()
}

/// Drives the units over the land.
pub fn drive(ways: &[Way], ground: &Ground, job: &Job) -> Vec<Spread> {
    let of_way = |way: &Way| {
        let carried = Carried::one(job, way.product);
        Some(Spread {
            product: job.products.get(way.product)?.id.clone(),
            width_m: way.width_m,
            as_driven: as_driven::drive(&way.bouts, ground, &carried, job),
        })
    };
    ways.iter().filter_map(of_way).collect()
}
