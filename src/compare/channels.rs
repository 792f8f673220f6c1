//! Which column of a log says what, and of which product: rates and totals by mass, count or volume.

use super::{PlanMap, Planned, Settings};
use crate::codec::taskdata::{LogColumn, designator};
use crate::findings::{Decision, Fault, Finding, Outcome, Place};
use crate::read::taskdata::{Task, TaskSet};

/// What a column is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Channel {
    /// Rate of a product: raw value times factor is kg/ha.
    Rate {
        product: usize,
        kg_per_ha: f64,
    },
    /// Rate that was asked for, where no actual one is logged.
    Setpoint {
        product: usize,
        kg_per_ha: f64,
    },
    /// Running total of a product: raw value times factor is kg.
    Total {
        product: usize,
        kg: f64,
    },
    /// Whether the drill, or a part of it, works.
    WorkState,
    /// States of 16 sections, the leftmost in the lowest bits; which 16.
    Sections(usize),
    Other,
}

impl Channel {
    /// Whether it says how much of a product.
    pub(super) fn is_amount(&self) -> bool {
        matches!(
            self,
            Self::Rate { .. } | Self::Setpoint { .. } | Self::Total { .. }
        )
    }
}

/// The meaning of columns by data dictionary entry and device element.
pub struct Channels {
    /// Device element and product.
    of_element: Vec<(String, usize)>,
    /// Kilograms of one seed, and of a litre, per product.
    factors: Vec<[Option<f64>; 2]>,
    /// Whether the log has an actual rate, and a total, per product.
    pub(super) has_rate: Vec<bool>,
    pub(super) has_total: Vec<bool>,
}

/// How a data dictionary entry counts a product.
enum Measure {
    Mass(f64),
    Count(f64),
    Volume(f64),
}

/// Rates in kg, seeds or litres per hectare and raw step; whether it is the actual rate.
fn rate(ddi: u16) -> Option<(Measure, bool)> {
    Some(match ddi {
        6 => (Measure::Mass(0.01), false),
        7 => (Measure::Mass(0.01), true),
        11 => (Measure::Count(10.0), false),
        12 => (Measure::Count(10.0), true),
        1 => (Measure::Volume(1e-4), false),
        2 => (Measure::Volume(1e-4), true),
        _ => return None,
    })
}

/// Totals in kg, seeds or litres per raw step.
fn total(ddi: u16) -> Option<Measure> {
    Some(match ddi {
        80 => Measure::Volume(1.0),
        81 => Measure::Mass(1.0),
        82 => Measure::Count(1.0),
        351 => Measure::Volume(0.001),
        352 => Measure::Mass(0.001),
        _ => return None,
    })
}

impl Channels {
    /// Finds which element is which product: as the user says, as the task allocates, as names say, or by order.
    ///
    /// # Errors
    /// Elements that cannot be told apart; seeds without their weight; no rate and no total at all.
    pub(super) fn of(
        plan: &PlanMap,
        set: &TaskSet,
        tasks: &[&Task],
        settings: &Settings,
        findings: &mut Vec<Finding>,
    ) -> Outcome<Self> {
        let columns = || {
            tasks
                .iter()
                .flat_map(|task| task.logs.iter().flat_map(|(_, log)| &log.columns))
        };
        let counts = |column: &LogColumn| {
            column
                .ddi
                .is_some_and(|ddi| rate(ddi).is_some() || total(ddi).is_some())
        };
        let mut elements: Vec<String> = Vec::new();
        for column in columns().filter(|column| counts(column)) {
            let element = column.element.clone().unwrap_or_default();
            if !elements.contains(&element) {
                elements.push(element);
            }
        }
        if elements.is_empty() {
            return Err(Fault::input(
                "compare.no_rates",
                Place::file(&set.file),
                "The time logs hold neither rates nor totals of a product",
                "data dictionary entries 7, 12 or 2 (actual rates), or 80, 81, 82, 351, 352 (totals)",
                "Ask for the machine's default data to be logged (the task data of a plan do), then drill and copy again.",
            ));
        }
        let mut of_element: Vec<(String, usize)> = Vec::new();
        for (element, product) in &settings.elements {
            of_element.push((element.clone(), plan.product(product)?));
        }
        for element in &elements {
            if of_element.iter().any(|(own, _)| own == element) {
                continue;
            }
            if let Some(product) = by_name(plan, set, tasks, element) {
                of_element.push((element.clone(), product));
            }
        }
        let open: Vec<&String> = elements
            .iter()
            .filter(|element| !of_element.iter().any(|(own, _)| own == *element))
            .collect();
        let free: Vec<usize> = (0..plan.products.len())
            .filter(|product| !of_element.iter().any(|(_, own)| own == product))
            .collect();
        if !open.is_empty() && open.len() != free.len() {
            return Err(Fault::input(
                "compare.elements",
                Place::file(&set.file),
                format!(
                    "The logs do not say which product these device elements sow: {}",
                    named(&open)
                ),
                format!("one for each of: {}", ids(plan)),
                "Say it with --element, such as --element DET2=barley; the terminal's list of the machine names the elements.",
            ));
        }
        for (element, product) in open.iter().zip(&free) {
            let element = element.to_string();
            if plan.products.len() > 1 {
                let id = plan.products.get(*product).map_or("", |p| p.id.as_str());
                findings.push(Finding::warning(
                    "compare.by_order",
                    Place::file(&set.file),
                    format!(
                        "Nothing says what the device element '{element}' sows; by its order it was taken for '{id}'. If it is another one, say so: --element {element}=..."
                    ),
                ));
            }
            of_element.push((element, *product));
        }
        let seed = |p: &Planned| p.thousand_grain_weight_g.map(|grams| grams / 1e6);
        let factors: Vec<[Option<f64>; 2]> = plan
            .products
            .iter()
            .map(|product| [seed(product), product.bulk_density_kg_per_l])
            .collect();
        let mut channels = Self {
            of_element,
            factors,
            has_rate: vec![false; plan.products.len()],
            has_total: vec![false; plan.products.len()],
        };
        for column in columns() {
            channels.check(plan, set, column)?;
        }
        for (at, product) in plan.products.iter().enumerate() {
            let has = |list: &[bool]| list.get(at) == Some(&true);
            if !has(&channels.has_rate) && !has(&channels.has_total) {
                findings.push(Finding::decision(
                    Decision::LogLacksProduct,
                    Place::file(&set.file),
                    format!("No actual rate and no total of '{}' is in the logs; if a setpoint is, that is taken for what was sown.", product.id),
                ));
            }
        }
        Ok(channels)
    }

    fn check(&mut self, plan: &PlanMap, set: &TaskSet, column: &LogColumn) -> Outcome<()> {
        let Some(ddi) = column.ddi else { return Ok(()) };
        let Some(product) = self.product(column) else {
            return Ok(());
        };
        let measured = rate(ddi).map(|(measure, _)| measure).or_else(|| total(ddi));
        let Some(measure) = measured else {
            return Ok(());
        };
        if self.kg(product, &measure).is_none() {
            let name = plan.products.get(product).map_or("", |p| p.id.as_str());
            let key = match measure {
                Measure::Count(_) => "thousand_grain_weight_g",
                _ => "bulk_density_kg_per_l",
            };
            return Err(Fault::input(
                "compare.weight",
                Place::file(&set.file),
                format!(
                    "The log counts '{name}' in seeds or litres, and the plan does not say what they weigh"
                ),
                format!("`{key}` of the product"),
                "Add it to the job, plan again, and compare with that plan.",
            ));
        }
        match self.channel(column) {
            Channel::Rate { product, .. } => set_at(&mut self.has_rate, product),
            Channel::Total { product, .. } => set_at(&mut self.has_total, product),
            _ => {}
        }
        Ok(())
    }

    fn product(&self, column: &LogColumn) -> Option<usize> {
        let element = column.element.as_deref().unwrap_or_default();
        let found = self.of_element.iter().find(|(own, _)| own == element);
        found.map(|(_, product)| *product)
    }

    fn kg(&self, product: usize, measure: &Measure) -> Option<f64> {
        let [seed, litre] = self.factors.get(product)?;
        match measure {
            Measure::Mass(kg) => Some(*kg),
            Measure::Count(seeds) => seed.map(|kg| kg * seeds),
            Measure::Volume(litres) => litre.map(|kg| kg * litres),
        }
    }

    /// What a column is.
    pub(super) fn channel(&self, column: &LogColumn) -> Channel {
        let Some(ddi) = column.ddi else {
            return Channel::Other;
        };
        match ddi {
            141 => return Channel::WorkState,
            161..=176 => return Channel::Sections(usize::from(ddi - 161)),
            _ => {}
        }
        let Some(product) = self.product(column) else {
            return Channel::Other;
        };
        if let Some((measure, actual)) = rate(ddi) {
            return match (self.kg(product, &measure), actual) {
                (Some(kg_per_ha), true) => Channel::Rate { product, kg_per_ha },
                (Some(kg_per_ha), false) => Channel::Setpoint { product, kg_per_ha },
                (None, _) => Channel::Other,
            };
        }
        match total(ddi).and_then(|measure| self.kg(product, &measure)) {
            Some(kg) => Channel::Total { product, kg },
            None => Channel::Other,
        }
    }
}

fn set_at(list: &mut [bool], at: usize) {
    if let Some(value) = list.get_mut(at) {
        *value = true;
    }
}

/// The product of an element by what the set says: allocations, treatment zones, names.
fn by_name(plan: &PlanMap, set: &TaskSet, tasks: &[&Task], element: &str) -> Option<usize> {
    // As our task data call it; else as a person may have called it, if that fits one product alone.
    let of_name = |name: &str| {
        let mut products = plan.products.iter();
        let ours = products.position(|own| own.in_task_data.as_deref() == Some(name));
        ours.or_else(|| {
            let called = |product: &Planned| {
                let shown = designator(&product.name);
                let own = [&product.id, &product.name, &shown];
                own.iter()
                    .any(|own| own.to_lowercase() == name.to_lowercase())
            };
            let mut fits = (0..).zip(&plan.products).filter(|(_, own)| called(own));
            let first = fits.next().map(|(at, _)| at);
            first.filter(|_| fits.next().is_none())
        })
    };
    let of_id = |id: &str| {
        let known = set.products.iter().find(|(own, _)| own == id);
        known.and_then(|(_, name)| of_name(name))
    };
    let allocated = tasks.iter().flat_map(|task| &task.allocations);
    let allocated = allocated.filter(|(_, own)| own == element);
    let zoned = tasks
        .iter()
        .flat_map(|task| &task.zones)
        .flat_map(|zone| &zone.variables);
    let zoned = zoned.filter(|variable| variable.element.as_deref() == Some(element));
    let zoned = zoned.filter_map(|variable| variable.product.as_deref());
    let found = allocated
        .map(|(id, _)| id.as_str())
        .chain(zoned)
        .find_map(of_id);
    found.or_else(|| {
        let part = set.elements.iter().find(|part| part.id == element)?;
        let of_hopper = || {
            let mut fits = plan
                .products
                .iter()
                .enumerate()
                .filter(|(_, product)| product.hopper.eq_ignore_ascii_case(&part.name));
            fits.next()
                .map(|(at, _)| at)
                .filter(|_| fits.next().is_none())
        };
        of_name(&part.name).or_else(of_hopper)
    })
}

fn named(elements: &[&String]) -> String {
    let names: Vec<String> = elements.iter().map(|name| format!("'{name}'")).collect();
    names.join(", ")
}

fn ids(plan: &PlanMap) -> String {
    let ids: Vec<&str> = plan.products.iter().map(|p| p.id.as_str()).collect();
    ids.join(", ")
}
