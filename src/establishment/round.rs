//! Places for a counting round after emergence: so many in each zone, spread over it, away from its edges, in an order to walk.
//! Method: docs/methods/establishment.md.

use super::{Asked, class_of};
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Outcome, Place};
use crate::plan::{Plan, rows_at};
use serde::Serialize;
use std::collections::BTreeMap;

/// A place for each so many m2: at least five for every 10 ha, Ontario Ministry of Agriculture, fieldcropnews.com, Replant
/// Decisions (July 2025).
const M2_PER_PLACE: f64 = 20_000.0;
/// Fewest in a field: 7 to 10 places, Manitoba Crop Alliance, Plant Stand Counts for Spring Cereals (mbwheatandbarley.ca).
const LEAST_IN_FIELD: usize = 7;
/// Fewest in a zone, as the counts are read. Common practice, no source.
const LEAST_IN_ZONE: usize = super::FEW;
/// So many places to choose from for each that is wanted.
const TO_CHOOSE_FROM: f64 = 30.0;
/// Places to choose from are no nearer to each other, m.
const NEAREST_M: f64 = 1.0;
/// And there are no more of them.
const MOST: f64 = 100_000.0;

/// A place to count at.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spot {
    /// Its turn, from 1.
    pub number: usize,
    /// Class of the zone; empty for the whole field.
    pub class: String,
    pub lon_lat: LonLat,
}

/// A round.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Round {
    /// In the order to walk.
    pub spots: Vec<Spot>,
    /// Classes for which fewer places were found than wanted: too narrow or too small.
    pub short: Vec<String>,
}

/// The places for a product and the classes of a layer; the same plan gives the same places.
///
/// # Errors
/// A plan that sows none of the product.
pub fn round(plan: &Plan, asked: &Asked) -> Outcome<Round> {
    let wanted = wanted(plan, asked);
    if wanted.is_empty() {
        let file = Place::file(&plan.job.file);
        return Err(Fault::input(
            "counting.nothing_sown",
            file,
            "No land of the plan is sown with this product",
            "a product that is sown",
            "Name another with --product.",
        ));
    }
    let mut chosen: BTreeMap<&str, Vec<PlaneXy>> = BTreeMap::new();
    let width_m = plan.job.drill.working_width_m;
    // First well away from edges; only where that leaves too few, nearer to them.
    for margin_m in [width_m, width_m / 2.0, 0.5] {
        let open: BTreeMap<&String, &usize> = wanted
            .iter()
            .filter(|(class, count)| chosen.get(class.as_str()).map_or(0, Vec::len) < **count)
            .collect();
        if open.is_empty() {
            break;
        }
        let found = candidates(plan, asked, margin_m, &open);
        for (class, count) in open {
            let places = found.get(class).map_or(&[][..], Vec::as_slice);
            let known = chosen.entry(class.as_str()).or_default();
            if places.len() > known.len() {
                *known = spread(places, *count);
            }
        }
    }
    let short = wanted
        .iter()
        .filter(|(class, count)| chosen.get(class.as_str()).map_or(0, Vec::len) < **count);
    let short = short.map(|(class, _)| class.clone()).collect();
    let all = chosen.iter().flat_map(|(class, places)| {
        let own = places.iter().map(|place| ((*class).to_owned(), *place));
        own.collect::<Vec<_>>()
    });
    Ok(Round {
        spots: walked(plan, all.collect()),
        short,
    })
}

/// How many places each class gets.
fn wanted(plan: &Plan, asked: &Asked) -> BTreeMap<String, usize> {
    let mut areas: BTreeMap<String, f64> = BTreeMap::new();
    for row in &plan.rates.rows {
        let rate = row.rates.get(asked.product);
        if rate.is_some_and(|rate| rate.kg_per_ha > 0.0) {
            *areas
                .entry(class_of(&row.facts.classes, asked))
                .or_default() += row.area_m2;
        }
    }
    let least = match areas.len() {
        1 => LEAST_IN_FIELD,
        _ => LEAST_IN_ZONE,
    };
    let each = areas.into_iter().map(|(class, area)| {
        let by_area = (area / M2_PER_PLACE).ceil().max(0.0) as usize;
        (class, by_area.max(least))
    });
    each.collect()
}

/// Places on a square raster with this much of the same class around them, by class, row by row from the south.
fn candidates(
    plan: &Plan,
    asked: &Asked,
    margin_m: f64,
    open: &BTreeMap<&String, &usize>,
) -> BTreeMap<String, Vec<PlaneXy>> {
    let land = plan.maps.drawing.rows.iter().flat_map(|own| own.iter());
    let corners = land.flat_map(|polygon| &polygon.exterior);
    let corners = corners.map(|at| plan.land.frame.to_plane(*at));
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for corner in corners {
        for (axis, value) in corner.pair().into_iter().enumerate() {
            low[axis] = low[axis].min(value);
            high[axis] = high[axis].max(value);
        }
    }
    // The smallest zone decides how close they lie.
    let area_of = |class: &str| -> f64 {
        let rows = plan.rates.rows.iter();
        let own = rows.filter(|row| class_of(&row.facts.classes, asked) == class);
        own.map(|row| row.area_m2).sum()
    };
    let each = open
        .iter()
        .map(|(class, count)| area_of(class) / (**count as f64 * TO_CHOOSE_FROM));
    let each_m2 = each.fold(f64::INFINITY, f64::min);
    let box_m2 = (high[0] - low[0]) * (high[1] - low[1]);
    let step_m = each_m2.max(box_m2 / MOST).sqrt().max(NEAREST_M);
    if !step_m.is_finite() {
        return BTreeMap::new();
    }
    let count = |axis: usize| ((high[axis] - low[axis]) / step_m).floor().max(0.0) as usize;
    let mut places = Vec::new();
    for row in 0..=count(1) {
        for column in 0..=count(0) {
            let at = |axis: usize, nth: usize| low[axis] + (nth as f64 + 0.5) * step_m;
            let (x, y) = (at(0, column), at(1, row));
            places.push(PlaneXy::new(x, y));
            for [east, north] in [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]] {
                places.push(PlaneXy::new(x + east * margin_m, y + north * margin_m));
            }
        }
    }
    let class = |row: &Option<usize>| -> Option<String> {
        let row = plan.rates.rows.get((*row)?)?;
        let rate = row.rates.get(asked.product)?;
        (rate.kg_per_ha > 0.0).then(|| class_of(&row.facts.classes, asked))
    };
    let mut found: BTreeMap<String, Vec<PlaneXy>> = BTreeMap::new();
    let rows = rows_at(plan, &places);
    for (place, rows) in places.chunks_exact(5).zip(rows.chunks_exact(5)) {
        let classes: Vec<Option<String>> = rows.iter().map(class).collect();
        if let (Some(first), [place, ..]) = (&classes[0], place)
            && classes.iter().all(|own| own.as_ref() == Some(first))
        {
            found.entry(first.clone()).or_default().push(*place);
        }
    }
    found
}

/// So many of these places, evenly through their order.
fn spread(places: &[PlaneXy], count: usize) -> Vec<PlaneXy> {
    let count = count.min(places.len());
    let at = |nth: usize| (2 * nth + 1) * places.len() / (2 * count);
    let chosen = (0..count).filter_map(|nth| places.get(at(nth)));
    chosen.copied().collect()
}

/// Always to the nearest place that is left, from the entrance where the job has one, else from the first.
fn walked(plan: &Plan, mut left: Vec<(String, PlaneXy)>) -> Vec<Spot> {
    let frame = &plan.land.frame;
    let entrance = plan
        .job
        .field
        .entrance
        .map(|at| frame.to_plane(at.lon_lat()));
    let first = left.first().map(|(_, place)| *place);
    let Some(mut at) = entrance.or(first) else {
        return Vec::new();
    };
    let mut spots = Vec::new();
    while !left.is_empty() {
        let away = |place: &PlaneXy| (place.x - at.x).hypot(place.y - at.y);
        let nearest = left.iter().enumerate();
        let nearest = nearest.min_by(|a, b| away(&a.1.1).total_cmp(&away(&b.1.1)));
        let (class, place) = left.remove(nearest.map_or(0, |(nth, _)| nth));
        at = place;
        spots.push(Spot {
            number: spots.len() + 1,
            class,
            lon_lat: frame.to_lon_lat(place),
        });
    }
    spots
}
