//! Land that is drawn as polygons, held against the plan: that of each set of rates, and the difference map of the drive.

use super::{Against, Cause, elsewhere_by_points, steps};
use crate::audit::bounds;
use crate::audit::displacement::{elsewhere, exchanged};
use crate::audit::orientation::metres;
use crate::audit::polygons::{Wanted, wanted};
use crate::audit::rated_land::{RatedLand, by_rates, with_rates};
use crate::units::M2_PER_HA;

impl Against<'_> {
    /// Land with its rates, as the file has it.
    pub(super) fn polygons(&mut self, matched: &[usize]) {
        let (file, plan) = (self.file, self.plan);
        let units = plan.units;
        let Wanted {
            land: wanted,
            extent,
            change_kg,
            integers_kg,
        } = wanted(file, plan, matched);
        let text = |rates: &[f64]| {
            let names = matched.iter().filter_map(|at| plan.products.get(*at));
            let each = names
                .zip(rates)
                .map(|(product, rate)| format!("{} {}", product.name, units.given_rate(*rate)));
            each.collect::<Vec<_>>().join(" with ")
        };
        let bound = |own: &RatedLand| {
            let outline = &own.outline;
            plan.bounds.land_m2(outline.area_m2, outline.border_m)
        };
        let near = |found: f64, own: &RatedLand| (found - own.outline.area_m2).abs() <= bound(own);
        let mut texts = Vec::new();
        for own in &wanted {
            let found = with_rates(&file.land, &own.rates);
            let found = found.map_or(0.0, |found| found.outline.area_m2);
            if !near(found, own) {
                texts.push(format!(
                    "{}: {} in the file, {} in the plan",
                    text(&own.rates),
                    units.small_area(found, 2),
                    units.small_area(own.outline.area_m2, 2)
                ));
            }
        }
        for own in &file.land {
            if with_rates(&wanted, &own.rates).is_none() {
                texts.push(format!(
                    "{}: {} in the file, none in the plan",
                    text(&own.rates),
                    units.small_area(own.outline.area_m2, 2)
                ));
            }
        }
        let swapped = matched.len() == 2 && !texts.is_empty() && {
            let turned = file.land.iter().map(|own| RatedLand {
                rates: own.rates.iter().rev().copied().collect(),
                outline: own.outline.clone(),
            });
            let turned = by_rates(turned.collect());
            turned.len() == wanted.len()
                && turned
                    .iter()
                    .zip(&wanted)
                    .all(|(own, plan)| own.rates == plan.rates && near(own.outline.area_m2, plan))
        };
        if swapped {
            return self.wrong("the two products are swapped".to_string());
        }
        let sides = extent.and_then(|extent| exchanged(&file.land, &wanted, extent));
        if let Some(how) = sides.filter(|_| !texts.is_empty()) {
            return self.wrong(how.to_string());
        }
        // One line, however many rates a change touches.
        let more = texts.len().saturating_sub(2);
        texts.truncate(2);
        if !texts.is_empty() {
            let more = match more {
                0 => String::new(),
                more => format!("; and {more} more sets of rates differ"),
            };
            self.wrong(format!("{}{more}", texts.join("; ")));
        }
        if let (Some(own), Some(plan)) = (file.extent, extent) {
            let shift = [
                own[0] - plan[0],
                own[1] - plan[1],
                own[2] - plan[2],
                own[3] - plan[3],
            ];
            if shift
                .iter()
                .any(|degrees| degrees.abs() > bounds::EXTENT_DEGREES)
            {
                let [east, north] = metres([shift[0], shift[1]], plan[1]);
                self.wrong(format!(
                    "the map does not lie where the plan has it: its south-west corner is {} east and {} north",
                    units.more_length(east, 2),
                    units.more_length(north, 2)
                ));
            }
        }
        if self.found.iter().any(|difference| !difference.explained) {
            return;
        }
        if let Some(extent) = extent
            && let Some(how) = elsewhere(&file.land, &wanted, extent, text, units)
        {
            return self.wrong(how);
        }
        let moved = wanted.iter().find_map(|own| {
            let found = with_rates(&file.land, &own.rates)?;
            let by = elsewhere_by_points(&found.outline, &own.outline, units)?;
            Some(format!(
                "{}: the border is not the plan's: its {by}",
                text(&own.rates)
            ))
        });
        if let Some(how) = moved {
            return self.wrong(how);
        }
        for (nth, (sown, product)) in file.products.iter().zip(matched).enumerate() {
            let Some(product) = plan.products.get(*product) else {
                continue;
            };
            let change = change_kg.get(nth).copied();
            if let Some(change) = change {
                let text = format!(
                    "{}: fewer points change {}",
                    product.name,
                    units.more_mass(change, 2)
                );
                self.known(Cause::FewerPoints, text, Some(change));
            }
            let integers = integers_kg.get(nth).copied();
            if let Some(integers) = integers.filter(|kg| kg.abs() >= 0.005) {
                let text = steps(&product.name, integers, units);
                self.known(Cause::Integers, text, Some(integers));
            }
            let known = change.unwrap_or(0.0) + integers.unwrap_or(0.0);
            let off_kg: f64 = wanted
                .iter()
                .filter_map(|own| Some(own.rates.get(nth)? * bound(own) / M2_PER_HA))
                .sum();
            self.kilograms(sown, product, product.map_kg + known, off_kg);
        }
    }

    /// The difference map of the drive: what is wanted and what is sown, in kilograms.
    pub(super) fn driven(&mut self) {
        let (file, plan) = (self.file, self.plan);
        // Products of the air stream are in one map, what is spread on the surface in another.
        let has = |id: &String| {
            let mut columns = file.products.iter();
            columns.any(|sown| plan.names_of(id).is_some_and(|own| own.sown == sown.name))
        };
        let mut maps = plan.driven.iter();
        let map = maps.find(|map| map.products.iter().any(|(id, ..)| has(id)));
        let Some(map) = map.or(plan.driven.first()) else {
            return;
        };
        let off_m2 = plan.bounds.land_m2(file.area_m2, map.border_m)
            + map.border_m * bounds::DRIVE_GRID_M
            + map.left_out_m2;
        for (id, wanted_kg, sown_kg) in &map.products {
            // Pieces that are not drawn may be all that has a rate.
            let of_plan = plan.highest_kg_per_ha(id);
            // Sums of what is added and taken off again.
            let off_kg = bounds::ARITHMETIC * (wanted_kg.abs() + sown_kg.abs());
            let Some(names) = plan.names_of(id) else {
                continue;
            };
            for (name, kg) in [(&names.wanted, wanted_kg), (&names.sown, sown_kg)] {
                let found = file.products.iter().find(|sown| sown.name == *name);
                match found {
                    None => self.wrong(format!("the difference map lacks '{name}'")),
                    Some(sown)
                        if (sown.kg - kg).abs()
                            > sown.highest_kg_per_ha.max(of_plan) * off_m2 / M2_PER_HA + off_kg =>
                    {
                        self.wrong(format!(
                            "'{name}': {} in the file, {} in the plan",
                            plan.units.mass(sown.kg, 1),
                            plan.units.mass(*kg, 1)
                        ));
                    }
                    Some(_) => {}
                }
            }
        }
    }
}
