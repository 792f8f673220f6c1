//! The week's list: in which order one drill sows its fields, when, with how many fills, and where its hoppers are cleaned out.
//! Method: docs/methods/week.md.
//!
//! Plain numbers in and out: no plan, no file, no clock. Times are hours of work since the first day began; a day has
//! [`Rules::hours_a_day`] of them.

mod course;
mod order;
#[cfg(test)]
mod tests;

use crate::coordinates::LonLat;
use serde::Serialize;

pub use course::{Emptied, Filled, Visit};
pub use order::{EXACT_UP_TO, list};

/// A field that is to be sown.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Its middle, degrees.
    pub place: LonLat,
    /// Hours that sowing it takes.
    pub hours: f64,
    /// Its land, ha.
    pub hectares: f64,
    /// The day on which it is to be sown, as a day number; it is not begun before. `None`: any day.
    pub ripe_on: Option<i64>,
    /// What it takes from each hopper; a hopper that is not named stays as it is.
    pub loads: Vec<Load>,
}

/// What a field takes from one hopper.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Number of the hopper, from 0: the same for all fields of a drill.
    pub hopper: usize,
    /// Number of the product with its lot and dressing: two that are alike need no cleaning between them.
    pub article: usize,
    /// What the field takes, kg.
    pub kg: f64,
    /// What the hopper holds when it is full, kg; `None` where nobody knows, and then no fills are counted for it.
    pub full_kg: Option<f64>,
    /// What has to stay in it while it sows, kg.
    pub stays_kg: f64,
}

/// What a list goes by.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// The first day, as a day number.
    pub from: i64,
    /// Hours of work in a day, above 0.
    pub hours_a_day: f64,
    /// Where the drill stands before and after, degrees.
    pub yard: LonLat,
    /// Speed on the road, km/h, above 0.
    pub road_km_per_h: f64,
    /// Way on the road for a kilometre of the straight line.
    pub way_per_line: f64,
    /// Hours that the drill stands for a fill.
    pub fill_h: f64,
    /// Hours to clean out hoppers for another product, however many of them.
    pub clean_out_h: f64,
    /// Hours of the drill that a hectare one day late weighs as much as.
    pub late_h_per_ha_day: f64,
}

/// The list of one drill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct List {
    /// The fields in the order in which they are sown.
    pub visits: Vec<Visit>,
    /// Whether no other order costs less; otherwise it is the best that was found.
    pub is_best: bool,
    /// Way home after the last field, km and hours.
    pub home_km: f64,
    /// Hours on the road, all ways.
    pub road_h: f64,
    /// Hours for cleaning out.
    pub clean_out_h: f64,
    /// Hours for fills.
    pub fill_h: f64,
    /// Hectares times days late.
    pub late_ha_days: f64,
    /// What the order is judged by, hours: road, cleaning and fills, and what is late.
    pub cost_h: f64,
    /// What is in each hopper at the end.
    pub left: Vec<Emptied>,
}
