//! The maps of a plan.

use super::rated_land::RatedLand;
use super::{Drawing, GateCheck, Options, balance};
use crate::job::Job;
use crate::map::{self, Grid, MapZone, RateMap};
use std::sync::OnceLock;

/// All maps of a field: what is sown, what is left to broadcast, and outlines for pictures of both.
pub struct Maps {
    /// Rates per product, as polygons and as grids.
    pub rate: RateMap,
    /// What is left to broadcast; `None` where no product can leave any.
    pub balance: Option<BalanceMap>,
    /// Outlines for drawings; empty where nothing asks for them ([`Options::drawing`]).
    pub drawing: Drawing,
    /// The gate check, once something has asked for it ([`super::Plan::gate`]): finding it takes a walk over
    /// the map.
    pub known_gate: OnceLock<GateCheck>,
}

/// The map of the balance to broadcast.
#[derive(Debug, Clone, PartialEq)]
pub struct BalanceMap {
    /// Land with the same rates, with a rate (kg/ha) per entry of [`crate::tally::Tally::balances`].
    pub zones: Vec<MapZone>,
    /// The same as a grid on the cells of the metric one.
    pub grid: Grid,
}

impl Maps {
    /// The rate map with those beside it.
    pub(super) fn of(rate: RateMap, land: &RatedLand, options: &Options, job: &Job) -> Self {
        Self {
            rate,
            balance: balance::map(land, job),
            drawing: match options.drawing {
                true => Drawing::of(land.units(), &land.kg_per_ha, &land.prepared.frame),
                false => Drawing::default(),
            },
            known_gate: OnceLock::new(),
        }
    }
}

/// The rate map, with polygons for terminals where they are wanted.
pub(super) fn rate_map(land: &RatedLand, options: &Options, job: &Job) -> RateMap {
    let (units, frame) = (land.units(), &land.prepared.frame);
    let mut map = map::rate_map(units, land.cells(), &land.kg_per_ha, job, frame);
    if options.terminal_polygons {
        map.terminal = map::terminal_maps(units, &land.kg_per_ha, job, frame);
    }
    map
}
