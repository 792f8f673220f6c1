//! The page about a log, for people: the figures put into words and a picture.

use super::track::Track;
use super::{Compared, PlanMap};
use crate::findings::{Outcome, Place};
use crate::report::number::Numbers;
use crate::report::{AfterCase, AfterPage, AfterPicture, AfterProduct, after};
use std::fmt::Write as _;

/// A point of the way for each so many metres: a picture shows no more.
const WAY_M: f64 = 5.0;

/// Bytes of the page.
///
/// # Errors
/// None that a sound plan can cause.
pub(super) fn page(plan: &PlanMap, track: &Track, figures: &Compared) -> Outcome<Vec<u8>> {
    let picture = Picture::of(plan);
    let numbers = Numbers::METRIC.in_language(plan.language);
    let unit = |symbol| plan.language.unit(symbol);
    let percent = |m2: f64| match figures.planned_m2 > 0.0 {
        true => format!("{} %", numbers.grouped(100.0 * m2 / figures.planned_m2, 1)),
        false => "-".to_owned(),
    };
    let land = [
        figures.planned_m2,
        figures.drilled_m2,
        figures.twice_m2,
        figures.missed_m2,
        figures.beyond_m2,
    ];
    let told = figures.told.iter().map(|own| AfterCase {
        asks: own.asks,
        found: own.found.clone(),
        next: own.next.to_owned(),
        place: own
            .lon_lat
            .map_or(String::new(), |at| Place::nowhere().at(at).to_string()),
        pin: own
            .lon_lat
            .map(|at| picture.point(plan.frame.to_plane(at).pair())),
    });
    let kg = |kg: Option<f64>| {
        kg.map_or("-".to_owned(), |kg| {
            format!("{} {}", numbers.grouped(kg, 1), unit("kg"))
        })
    };
    let products = figures.products.iter().zip(&plan.products);
    let products = products.map(|(own, planned)| AfterProduct {
        name: planned.name.clone(),
        masses: [
            kg(Some(own.planned_kg)),
            kg(Some(own.planned_where_drilled_kg)),
            kg(Some(own.sown_kg)),
            kg(own.loaded_kg),
            kg(own.left_kg),
        ],
        within: own
            .within_percent
            .map(|share| format!("{} %", numbers.grouped(share, 1))),
    });
    let work = &figures.work;
    after(
        &AfterPage {
            field: plan.field.clone(),
            plan: plan.id.clone(),
            logs: [figures.logs.join(", "), figures.tasks.join(", ")],
            facts: [
                format!("{} {}", numbers.grouped(work.on_the_field_h, 1), unit("h")),
                format!("{} {}", numbers.grouped(work.ha_per_h, 1), unit("ha")),
                format!(
                    "{}, {} {}",
                    work.stops.len(),
                    numbers.grouped(work.stopped_h, 1),
                    unit("h")
                ),
            ],
            told: told.collect(),
            land: land.map(|m2| [numbers.area_text(m2), percent(m2)]),
            products: products.collect(),
            not_shown: figures.not_shown.to_owned(),
            picture: AfterPicture {
                zones: picture.zones(plan),
                ways: picture.ways(track),
                size: picture.size,
                width: plan.width_m,
                pin: (picture.size[0].max(picture.size[1]) / 50.0).max(plan.width_m / 2.0),
            },
        },
        plan.language,
    )
}

struct Picture {
    /// North-western corner in the field's plane, and the size; m.
    corner: [f64; 2],
    size: [f64; 2],
}

impl Picture {
    fn of(plan: &PlanMap) -> Self {
        let polygons = plan.zones.iter().flat_map(|zone| &zone.polygons);
        let points = polygons.flat_map(|polygon| polygon.exterior.iter());
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for at in points {
            low = [low[0].min(at.x), low[1].min(at.y)];
            high = [high[0].max(at.x), high[1].max(at.y)];
        }
        Self {
            corner: [low[0], high[1]],
            size: [high[0] - low[0], high[1] - low[1]],
        }
    }

    fn point(&self, at: [f64; 2]) -> [f64; 2] {
        let tenth = |m: f64| (m * 10.0).round() / 10.0;
        [tenth(at[0] - self.corner[0]), tenth(self.corner[1] - at[1])]
    }

    fn zones(&self, plan: &PlanMap) -> String {
        let mut path = String::new();
        let polygons = plan.zones.iter().flat_map(|zone| &zone.polygons);
        for ring in polygons.flat_map(|own| std::iter::once(&own.exterior).chain(&own.holes)) {
            for (nth, at) in ring.iter().enumerate() {
                let [x, y] = self.point(at.pair());
                let _ = write!(path, "{}{x} {y}", if nth == 0 { "M" } else { "L" });
            }
            path.push('Z');
        }
        path
    }

    fn ways(&self, track: &Track) -> String {
        let mut path = String::new();
        let mut since_m = 0.0;
        let mut ends = track.segments.iter().skip(1).map(|next| !next.joined);
        for segment in &track.segments {
            if !segment.joined {
                let [x, y] = self.point(segment.from);
                let _ = write!(path, "M{x} {y}");
                since_m = 0.0;
            }
            since_m += segment.length_m();
            // The last of a pass in any case.
            if ends.next().unwrap_or(true) || since_m >= WAY_M {
                let [x, y] = self.point(segment.to);
                let _ = write!(path, "L{x} {y}");
                since_m = 0.0;
            }
        }
        path
    }
}
