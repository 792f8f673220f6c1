//! How the work went: hours, hectares an hour, stops.

use super::super::PlanMap;
use super::super::track::Track;
use crate::coordinates::{LonLat, PlaneXy};
use crate::units::M2_PER_HA;
use serde::Serialize;

/// A pause is a stop from here on, s: longer than a turn. Assumption, no source.
const STOP_S: f64 = 120.0;
/// Longer than this is no stop but another day's work, s.
const ANOTHER_DAY_S: f64 = 4.0 * 3600.0;

/// Hours and what was done in them.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Work {
    /// From the first stretch to the last, less the hours between days, h.
    pub on_the_field_h: f64,
    /// Land drilled, passes counted, for each hour of that.
    pub ha_per_h: f64,
    /// The longest first.
    pub stops: Vec<Stop>,
    /// All of them together, h.
    pub stopped_h: f64,
}

/// A stop of more than two minutes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stop {
    pub minutes: f64,
    /// Where the drill stood, degrees.
    pub lon_lat: LonLat,
}

impl Work {
    /// `m2`: land drilled, passes counted.
    pub(in crate::compare) fn of(plan: &PlanMap, track: &Track, m2: f64) -> Self {
        let mut spans: Vec<(f64, f64, [f64; 2])> = track
            .segments
            .iter()
            .map(|own| (own.start_s, own.start_s + own.lasts_s, own.to))
            .collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut work = Self::default();
        let mut before: Option<(f64, [f64; 2])> = None;
        let mut seconds = 0.0;
        for (start, end, at) in spans {
            let Some((until, place)) = before else {
                before = Some((end, at));
                seconds += end - start;
                continue;
            };
            let pause = (start - until).max(0.0);
            if pause < ANOTHER_DAY_S {
                seconds += pause + (end - start.max(until)).max(0.0);
                if pause > STOP_S {
                    work.stopped_h += pause / 3600.0;
                    work.stops.push(Stop {
                        minutes: pause / 60.0,
                        lon_lat: plan.frame.to_lon_lat(PlaneXy::of_pair(place)),
                    });
                }
            } else {
                seconds += end - start;
            }
            if end >= until {
                before = Some((end, at));
            }
        }
        work.stops.sort_by(|a, b| b.minutes.total_cmp(&a.minutes));
        work.on_the_field_h = seconds / 3600.0;
        if seconds > 0.0 {
            work.ha_per_h = m2 / M2_PER_HA / work.on_the_field_h;
        }
        work
    }
}
