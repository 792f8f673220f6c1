//! Whether the drill can follow the map: zones that are over before the meter has changed, zones narrower
//! than the drill, steps finer than the meter resolves. Method: docs/methods/response.md.

use super::as_driven::Ground;
use super::bout::Bout;
use super::flow::Delays;
use super::joined::SLACK_M;
use super::look_up::Map;
use super::room;
use super::spread;
use super::work_rate;
use crate::coordinates::PlaneXy;
use crate::findings::{Finding, Place};
use crate::frame::Frame;
use crate::geometry::Shape;
use crate::geometry::offset::inset;
use crate::job::{Job, Product};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Smaller pieces are what rounding leaves between borders, m2.
const LEAST_M2: f64 = 0.05;

/// How far the drill goes until a change of rate has reached the ground, at the speed while sowing, m.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Transition {
    /// Id of the product.
    pub product: String,
    /// From off to on, m.
    pub start_m: f64,
    /// From on to off, m.
    pub stop_m: f64,
    /// To a higher rate, m.
    pub step_up_m: f64,
    /// To a lower rate, m.
    pub step_down_m: f64,
}

/// Per product.
pub fn transitions(job: &Job) -> Vec<Transition> {
    let metres = |seconds: f64| work_rate::metres(job.drill.speed_km_per_h, seconds);
    let delays = Delays::of(job);
    let each = job.products.iter().zip(&delays);
    each.map(|(product, delays)| Transition {
        product: product.id.clone(),
        start_m: metres(delays.start_s),
        stop_m: metres(delays.stop_s),
        step_up_m: metres(delays.step_up_s),
        step_down_m: metres(delays.step_down_s),
    })
    .collect()
}

/// What of the map the drill cannot follow.
pub fn findings(bouts: &[Bout], ground: &Ground, job: &Job) -> Vec<Finding> {
    let products = || job.products.iter().enumerate();
    let mut found: Vec<Finding> = products()
        .filter_map(|(nth, product)| too_fine(nth, product, ground, job))
        .collect();
    let stream = products().filter(|(_, product)| !product.surface_applied);
    let stream: Vec<usize> = stream.map(|(nth, _)| nth).collect();
    found.extend(too_narrow(
        ground,
        "the drill",
        job.drill.working_width_m,
        &stream,
        job,
    ));
    for (nth, product) in products().filter(|(_, product)| product.surface_applied) {
        let who = format!("the unit that spreads '{}'", product.id);
        found.extend(too_narrow(
            ground,
            &who,
            spread::width_m(job, product),
            &[nth],
            job,
        ));
    }
    let late = |delays: &Delays| {
        [
            delays.start_s,
            delays.stop_s,
            delays.step_up_s,
            delays.step_down_s,
        ]
        .iter()
        .any(|seconds| *seconds > 0.0)
    };
    if ground.delays.iter().any(late) {
        let map = Map::followed(ground, job);
        let ways: Vec<_> = bouts.iter().map(|bout| map.along(&bout.path)).collect();
        for (nth, product) in products() {
            let delays = &ground.delays[nth];
            let mut short = Short::default();
            for (bout, answers) in bouts.iter().zip(&ways) {
                let rates = answers
                    .iter()
                    .map(|answer| (answer.from_m, answer.kg_per_ha[nth]));
                short.look(bout, &rates.collect::<Vec<_>>(), delays);
            }
            found.extend(short.finding(product, ground.frame, job));
        }
    }
    found
}

/// Stretches along the bouts that end before the meter has come to their rate.
#[derive(Default)]
struct Short {
    count: usize,
    metres: f64,
    shortest: Option<(f64, f64, [f64; 2])>,
}

impl Short {
    fn look(&mut self, bout: &Bout, answers: &[(f64, f64)], delays: &Delays) {
        let mut steps: Vec<(f64, f64)> = Vec::new();
        for step in answers {
            if steps.last().is_none_or(|last| last.1 != step.1) {
                steps.push(*step);
            }
        }
        let ends = steps.iter().skip(2).map(|step| step.0);
        let ends = ends.chain([bout.path.length_m()]);
        for (pair, end) in steps.windows(2).zip(ends) {
            let &[(_, old), (from_m, rate)] = pair else {
                continue;
            };
            let needed = bout.metres(delays.of_change(old, rate));
            let length = end - from_m;
            if length >= needed {
                continue;
            }
            self.count += 1;
            self.metres += length;
            if self.shortest.is_none_or(|(least, ..)| length < least) {
                self.shortest = Some((length, needed, bout.path.at(from_m)));
            }
        }
    }

    fn finding(&self, product: &Product, frame: &Frame, job: &Job) -> Option<Finding> {
        let (length, needed, place) = self.shortest?;
        let units = job.report.units;
        let width_m = match product.surface_applied {
            true => spread::width_m(job, product),
            false => job.drill.working_width_m,
        };
        let message = format!(
            "'{}': {} stretches of the bouts end before the meter has come to their rate, {} in all; the shortest, here, is {} long, and the change takes {}. Drive slower, join such zones (join_too_fine of [drive], sliver_area_m2 or smallest_zone_m2), or expect the rate before it",
            product.id,
            self.count,
            units.length(self.metres, 0),
            units.length(length, 1),
            units.length(needed, 1),
        );
        let place = Place::nowhere().at(frame.to_lon_lat(PlaneXy::of_pair(place)));
        let finding = Finding::warning("drill.too_short_to_follow", place, message);
        Some(finding.area(self.metres * width_m))
    }
}

/// Zones that `who` is wider than: one meter of each of its products serves all of its width.
fn too_narrow(
    ground: &Ground,
    who: &str,
    width_m: f64,
    products: &[usize],
    job: &Job,
) -> Option<Finding> {
    let of_row = |row: &u32| {
        let rates = &ground.rates[*row as usize];
        let own = products.iter().map(|nth| rates[*nth].to_bits());
        own.collect::<Vec<u64>>()
    };
    let mut groups: BTreeMap<Vec<u64>, u32> = BTreeMap::new();
    let units = ground.units;
    let group_of_face: Vec<Option<u32>> = units
        .row_of_face
        .iter()
        .map(|row| {
            let next = groups.len() as u32;
            Some(*groups.entry(of_row(row.as_ref()?)).or_insert(next))
        })
        .collect();
    let narrow: Vec<Shape> = units
        .arrangement
        .dissolve(&group_of_face)
        .into_iter()
        .map(|(_, shape)| shape)
        .filter(|shape| shape.area_m2() >= LEAST_M2)
        .filter(|shape| {
            let reach_m = width_m / 2.0 - SLACK_M;
            !room::has_room(shape, reach_m)
                && inset(std::slice::from_ref(shape), reach_m).is_empty()
        })
        .collect();
    let largest = narrow
        .iter()
        .reduce(|a, b| if b.area2() > a.area2() { b } else { a })?;
    let corner = largest.exterior.first()?.metres();
    let area_m2: f64 = narrow.iter().map(Shape::area_m2).sum();
    let message = format!(
        "{} zones are narrower everywhere than {who}, {}, and one meter serves its whole width; the largest, here, has {}. Land beside them gets their rate, or they get that of the land beside them: join them (join_too_fine of [drive], sliver_area_m2 or smallest_zone_m2) if that is not wanted",
        narrow.len(),
        job.report.units.given_length(width_m),
        job.report.units.small_area(largest.area_m2(), 0)
    );
    let place = Place::nowhere().at(ground.frame.to_lon_lat(PlaneXy::of_pair(corner)));
    Some(Finding::warning("drill.too_narrow_to_follow", place, message).area(area_m2))
}

/// Steps between neighbouring land that the meter does not resolve.
fn too_fine(nth: usize, product: &Product, ground: &Ground, job: &Job) -> Option<Finding> {
    let mut hoppers = job.drill.hoppers.iter();
    let hopper = hoppers.find(|hopper| hopper.name == product.hopper)?;
    let least_percent = hopper.resolves_percent?;
    let units = ground.units;
    let rate = |face: u32| {
        let row = units.row_of_face[face as usize]?;
        Some(ground.rates[row as usize][nth])
    };
    let mut metres = 0.0;
    let mut finest = None;
    for (ends, [left, right]) in units.arrangement.edges() {
        let (Some(a), Some(b)) = (rate(left), rate(right)) else {
            continue;
        };
        let (low, high) = (a.min(b), a.max(b));
        if low <= 0.0 || low == high {
            continue;
        }
        let percent = (high - low) / low * 100.0;
        if percent >= least_percent {
            continue;
        }
        let [from, to] = ends.map(|end| end.metres());
        metres += (to[0] - from[0]).hypot(to[1] - from[1]);
        if finest.is_none_or(|(least, _, _)| percent < least) {
            finest = Some((percent, [low, high], from));
        }
    }
    let (percent, [low, high], place) = finest?;
    let units = job.report.units;
    let message = format!(
        "'{}': {} of borders between rates that differ by less than the {least_percent} % which the meter of hopper '{}' resolves; the finest, here, from {} to {}, is {percent:.2} %. join_too_fine of [drive] or step_kg_per_ha in the limits of the product rounds such steps away",
        product.id,
        units.length(metres, 0),
        hopper.name,
        units.given_rate(low),
        units.given_rate(high),
    );
    let place = Place::nowhere().at(ground.frame.to_lon_lat(PlaneXy::of_pair(place)));
    Some(Finding::warning("drill.step_too_fine", place, message))
}

#[cfg(test)]
mod tests {
    use super::super::bout::Section;
    use super::super::path::Path;
    use super::*;
    use crate::job::LandPart;

    #[test]
    fn a_stretch_shorter_than_its_own_change_is_counted() {
        let bout = Bout {
            number: 1,
            part: LandPart::Interior,
            strip: Some(1),
            path: Path::new(&[[0.0, 0.0], [100.0, 0.0]], false),
            sections: vec![Section {
                left_m: [-3.0, 3.0],
                on_m: vec![[0.0, 100.0]],
            }],
            closed: Vec::new(),
            closed_along: Default::default(),
            // 3 m/s.
            speed_km_per_h: 10.8,
        };
        let delays = Delays {
            step_up_s: 2.0,
            step_down_s: 4.0,
            ..Delays::default()
        };
        // Up needs 6 m, down 12 m: 5 m up is too short, 10 m down too, 12 m down is enough.
        let steps = [
            (0.0, 100.0),
            (20.0, 150.0),
            (25.0, 120.0),
            (35.0, 130.0),
            (50.0, 90.0),
            (62.0, 100.0),
        ];
        let mut short = Short::default();
        short.look(&bout, &steps, &delays);
        assert_eq!((short.count, short.metres), (2, 15.0));
        assert_eq!(short.shortest, Some((5.0, 6.0, [20.0, 0.0])));
    }
}
