//! One task: its treatment zones, and its grid or polygons.

use super::cells::{RANGE, raw};
use super::colours::Colours;
use super::ids::Ids;
use super::outlines::{degrees, polygons};
use super::{Holds, Variant, broken, shown, triggers};
use crate::codec::taskdata::{self, Element, ddi, decimal, designator};
use crate::findings::{Outcome, Place};
use crate::job::{Kind, ProductsPerTask, TaskDataVersion};
use crate::map::{Grid, TerminalMap};
use crate::plan::{Maps, Plan};
use crate::write::product_names::task_names;
use std::collections::BTreeSet;

/// Codes of the treatment zones.
const TEMPLATE: u8 = 1;
const DEFAULT: u8 = 2;
const POSITION_LOST: u8 = 3;
const OUT_OF_FIELD: u8 = 4;

/// Code of the first zone of the map, and how many there may be: codes end at 254.
pub(super) const FIRST_SET: u8 = 5;
pub(super) const MOST_SETS: usize = 250;

/// One task of a data set.
pub(super) struct Task<'a> {
    pub plan: &'a Plan,
    pub variant: Variant,
    /// The machine where the set describes it, so that variables can name its elements.
    pub machine: Option<&'a [Element]>,
    pub ids: &'a Ids,
    /// Number in the set, from 0.
    pub nth: usize,
    /// Products in it.
    pub products: &'a [usize],
    /// Raw values of its zones where the grid holds numbers of zones.
    pub sets: Vec<Vec<i32>>,
    /// Length of its grid's binary, if it has a grid.
    pub bytes: Option<usize>,
}

impl Task<'_> {
    /// Name of its grid, without extension.
    pub fn grid_name(&self) -> String {
        format!("GRD{:05}", self.nth + 1)
    }

    /// The task with its zones and grid.
    pub fn element(&self) -> Outcome<Element> {
        let plan = self.plan;
        let none = vec![0.0; plan.job.products.len()];
        let zones = [
            (TEMPLATE, "Grid", &none),
            (DEFAULT, "Default", &plan.rates.default_kg_per_ha),
            (
                POSITION_LOST,
                "Position lost",
                &plan.rates.position_lost_kg_per_ha,
            ),
            (
                OUT_OF_FIELD,
                "Out of field",
                &plan.rates.out_of_field_kg_per_ha,
            ),
        ];
        // The id first: a screen may show only the start.
        let name = match (self.variant.products_per_task, self.products) {
            (ProductsPerTask::One, [only]) => {
                let mut names = task_names(&plan.job, &plan.id).into_iter();
                names.nth(*only).unwrap_or_default()
            }
            _ => {
                let machine = plan.spreader_of.as_ref().map_or("", |_| "Spreader ");
                designator(&format!("{} {machine}{}", plan.id, plan.job.name))
            }
        };
        let mut task = Element::new("TSK")
            .with("A", self.ids.task(self.nth))
            .with("B", name)
            .with("C", &self.ids.customer)
            .with("D", &self.ids.farm)
            .with("E", &self.ids.partfield)
            .with("G", 1)
            .with("H", DEFAULT)
            .with("I", POSITION_LOST)
            .with("J", OUT_OF_FIELD);
        for (code, name, rates) in zones {
            if code == TEMPLATE && self.variant.holds != Holds::Rates {
                continue;
            }
            let own = self.products.iter().map(|&at| rates.get(at).copied());
            let values = raw_values(name, own.map(Option::unwrap_or_default))?;
            task = task.child(self.zone(code, name, &values));
        }
        let colours = Colours::of(plan, self.products);
        for (at, set) in self.sets.iter().enumerate() {
            let code = u8::try_from(at)
                .unwrap_or(u8::MAX)
                .saturating_add(FIRST_SET);
            let zone = self.zone(code, &format!("Rates {}", at + 1), set);
            task = task.child(zone.with("C", colours.number(set)));
        }
        if self.variant.holds == Holds::Polygons {
            task = task.children(self.polygons(&colours)?);
        }
        for &at in self.products {
            if let Some(element) = self.element_of(at) {
                let allocation = Element::new("PAN").with("A", self.ids.product(at));
                task = task.child(allocation.with("E", element));
            }
        }
        for comment in self.lots() {
            task = task.child(Element::new("CAN").with("C", comment));
        }
        let sections = plan.job.drill.sections_m.len();
        let task = task.children(triggers::of(self.machine, sections));
        Ok(match self.bytes {
            Some(bytes) => task.child(self.grid(bytes)?),
            None => task,
        })
    }

    /// A comment for each lot, the lot first, for a screen may show only the start: the standard has no place of its own for it.
    fn lots(&self) -> Vec<String> {
        let products = self
            .products
            .iter()
            .filter_map(|&at| self.plan.job.products.get(at));
        let mut comments = Vec::new();
        for product in products {
            let each = product.each_lot().iter().map(|lot| lot.lot.as_str());
            for lot in each.chain(product.lot.as_deref()) {
                let comment = designator(&format!("Lot {lot}: {}", product.name));
                // A lot on the land of several classes is one.
                if !lot.trim().is_empty() && !comments.contains(&comment) {
                    comments.push(comment);
                }
            }
        }
        comments
    }

    /// Id of the element that meters a product, where the set describes the machine.
    fn element_of(&self, product: usize) -> Option<&str> {
        let elements = &self.plan.land.on_terminal.elements;
        let own = elements.get(product).filter(|_| self.machine.is_some());
        own.map(|own| own.id.as_str())
    }

    /// Which bin meters each product of the task, counted from 0: as the machine says of all of them, else as the job does. `None` where
    /// neither says it of all, or two would be alike; of a single product nobody has to be told.
    fn bins(&self) -> Option<Vec<i32>> {
        let job = &self.plan.job;
        let by_machine = |&at: &usize| {
            let elements = &self.plan.land.on_terminal.elements;
            let own = elements.get(at).filter(|_| self.machine.is_some());
            own.and_then(|own| own.instance)
        };
        let by_job = |&at: &usize| {
            let product = job.products.get(at)?;
            let mut hoppers = job.drill.hoppers.iter();
            let hopper = hoppers.find(|own| own.name == product.hopper)?;
            hopper.bin_number.map(|number| i32::from(number) - 1)
        };
        let all = || self.products.iter();
        let said: Option<Vec<i32>> = all().map(by_machine).collect();
        let said = said.or_else(|| all().map(by_job).collect())?;
        let differ: BTreeSet<&i32> = said.iter().collect();
        (said.len() > 1 && differ.len() == said.len()).then_some(said)
    }

    fn zone(&self, code: u8, name: &str, values: &[i32]) -> Element {
        let [rate_shown, _] = shown(self.plan.job.report.units);
        let mut zone = Element::new("TZN").with("A", code).with("B", name);
        let bins = self.bins();
        for (nth, (&at, raw)) in self.products.iter().zip(values).enumerate() {
            let mut variable = Element::new("PDV")
                .with("A", ddi(taskdata::SETPOINT_MASS_PER_AREA))
                .with("B", raw)
                .with("C", self.ids.product(at));
            if let Some(element) = self.element_of(at) {
                variable = variable.with("D", element);
            }
            variable = variable.with("E", rate_shown);
            let kind = self.plan.job.products.get(at).map(|product| product.kind);
            if self.variant.version == TaskDataVersion::V4_3
                && let Some(kind) = kind
            {
                let practice = match kind {
                    Kind::Fertiliser => 1,
                    Kind::Seed => 2,
                };
                variable = variable.with("F", practice);
                if let Some(bin) = bins.as_ref().and_then(|bins| bins.get(nth)) {
                    variable = variable.with("G", bin);
                }
            }
            zone = zone.child(variable);
        }
        zone
    }

    /// A zone for each polygon, for some readers take only the first polygon of a zone.
    fn polygons(&self, colours: &Colours) -> Outcome<Vec<Element>> {
        let Some(map) = polygon_map(&self.plan.maps, self.products) else {
            return Ok(Vec::new());
        };
        let mut zones = Vec::new();
        for zone in &map.zones {
            let values = raw_values("of a zone", zone.kg_per_ha.iter().copied())?;
            for polygon in polygons(&zone.polygons, 2)? {
                let code = u8::try_from(zones.len()).unwrap_or(u8::MAX);
                let name = format!("Rates {}", zones.len() + 1);
                let element = self.zone(code.saturating_add(FIRST_SET), &name, &values);
                zones.push(element.with("C", colours.number(&values)).child(polygon));
            }
        }
        Ok(zones)
    }

    fn grid(&self, bytes: usize) -> Outcome<Element> {
        let element = grid(&self.plan.maps.rate.degrees, bytes, &self.grid_name())?;
        Ok(match self.variant.holds {
            Holds::ZoneNumbers => element.with("I", 1),
            _ => element.with("I", 2).with("J", TEMPLATE),
        })
    }
}

/// The polygon map of exactly these products.
pub(super) fn polygon_map<'a>(maps: &'a Maps, products: &[usize]) -> Option<&'a TerminalMap> {
    let mut maps = maps.rate.terminal.iter();
    maps.find(|map| map.products == products)
}

/// Raw values of the rates of a zone.
fn raw_values(name: &str, rates: impl Iterator<Item = f64>) -> Outcome<Vec<i32>> {
    let refused = |found| {
        let place = Place::nowhere().feature(format!("rate '{name}'"));
        broken(place, found, RANGE)
    };
    rates.map(|rate| raw(rate).map_err(refused)).collect()
}

fn grid(grid: &Grid, bytes: usize, name: &str) -> Outcome<Element> {
    let [lon, lat] = grid.origin;
    let [width, height] = grid.cell;
    // The size is a double in the schema: all digits are allowed, and all are written.
    let size = |value: f64| {
        let text = decimal(value, usize::MAX).filter(|_| value > 0.0 && value <= 1.0);
        let found = format!("A cell of {value} degrees");
        text.ok_or_else(|| broken(Place::nowhere(), found, "cells up to 1 degree"))
    };
    let count = |value: usize| {
        let found = format!("A count of {value}");
        let fits = u32::try_from(value).ok().filter(|&value| value < u32::MAX);
        fits.ok_or_else(|| broken(Place::nowhere(), found, "counts below 2^32 - 1"))
    };
    Ok(Element::new("GRD")
        .with("A", degrees(lat, 90.0)?)
        .with("B", degrees(lon, 180.0)?)
        .with("C", size(height)?)
        .with("D", size(width)?)
        .with("E", count(grid.columns)?)
        .with("F", count(grid.rows)?)
        .with("G", name)
        .with("H", count(bytes)?))
}
