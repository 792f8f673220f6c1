//! What each column of a log says, and of which meter: amounts, work states, and where the rate came from.

use super::entries::{Amount, Kind, Measure, amount};
use super::governing::Governing;
use super::machine::Machine;
use super::meters::{self, Seen};
use super::{PlanMap, Settings};
use crate::codec::taskdata::{Log, LogColumn};
use crate::findings::{Decision, Fault, Finding, Outcome, Place};
use crate::read::taskdata::{Noted, Task, TaskSet};

/// A device element that meters a product.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Meter {
    pub element: String,
    pub product: usize,
    /// Whether its rate counts, and its total: not where an element above it gives that of the same product.
    pub rate: bool,
    pub total: bool,
    /// From where to where it sows, m to the right of the middle; the whole width where nothing says less.
    pub reach: [f64; 2],
    /// Share of that width that its rate is for.
    pub share: f64,
}

/// What a column is. Raw value times factor is kg/ha, kg/s or kg of the meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Channel {
    Rate(usize, f64),
    Flow(usize, f64),
    /// Rate that was asked for, where no actual one is logged.
    Setpoint(usize, f64),
    /// Running total.
    Total(usize, f64),
    /// Says something about the state of meters.
    State,
    Other,
}

impl Channel {
    /// The meter whose amount it is, and the kind of it.
    pub(super) fn of_meter(self) -> Option<(usize, Kind)> {
        match self {
            Self::Rate(meter, _) | Self::Flow(meter, _) => Some((meter, Kind::Sown)),
            Self::Setpoint(meter, _) => Some((meter, Kind::AskedFor)),
            Self::Total(meter, _) => Some((meter, Kind::Total)),
            Self::State | Self::Other => None,
        }
    }
}

/// The meaning of the columns of all logs.
pub struct Channels {
    pub(super) meters: Vec<Meter>,
    /// Whether all meters of a product have an actual rate, and a total, per product.
    pub(super) has_rate: Vec<bool>,
    pub(super) has_total: Vec<bool>,
    /// What the task itself has counted, per product, kg.
    pub(super) noted_kg: Vec<Option<f64>>,
    /// Meters of one product whose width nobody says: they were taken for equal parts of the drill's.
    pub(super) equal_parts: Vec<bool>,
    /// Per log: name, meaning of its columns, and what governs its meters.
    pub(super) logs: Vec<(String, Vec<Channel>, Governing)>,
}

impl Channels {
    /// Finds out what every column is.
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
        let machine = Machine::of(set);
        let seen = meters::seen(tasks);
        let known = meters::products(plan, set, &machine, tasks, &seen, settings, findings)?;
        let all: Vec<&str> = seen.iter().map(|(element, _)| element.as_str()).collect();
        let mut meters = metered(plan, &machine, &known);
        let factors = Factors::of(plan);
        let all_logs = || tasks.iter().flat_map(|task| &task.logs);
        let mut columns: Vec<Vec<Channel>> = Vec::new();
        for (_, log) in all_logs() {
            columns.push(factors.columns(plan, set, log, &meters)?);
        }
        for (at, meter) in meters.iter_mut().enumerate() {
            // What cannot be turned into kilograms is no rate.
            let mut all = columns.iter().flatten();
            meter.rate &= all.any(|own| own.of_meter() == Some((at, Kind::Sown)));
        }
        let groups = together(plan, &meters, &columns);
        for group in &groups {
            place(plan, &machine, &mut meters, group);
        }
        let mut logs: Vec<(String, Vec<Channel>, Governing)> = Vec::new();
        let mut by_number = false;
        for ((name, log), columns) in all_logs().zip(columns) {
            let governing = Governing::of(plan, &machine, log, &meters, &all);
            by_number |= governing.by_number;
            logs.push((name.clone(), columns, governing));
        }
        if by_number {
            findings.push(Finding::note(
                "compare.sections_by_number",
                Place::file(&set.file),
                "The log has a work state for each section and no description of the machine; they were taken from the left to the right by the numbers of their elements.",
            ));
        }
        let every = |product: usize, has: &dyn Fn(&Meter) -> bool| {
            let own: Vec<&Meter> = meters.iter().filter(|own| own.product == product).collect();
            let covered = |meter: &&Meter| {
                let mut others = own.iter().filter(|other| has(other));
                has(meter) || others.any(|other| machine.related(&other.element, &meter.element))
            };
            (
                own.iter().any(|own| has(own)),
                !own.is_empty() && own.iter().all(covered),
            )
        };
        let products = 0..plan.products.len();
        let (mut has_rate, mut has_total) = (Vec::new(), Vec::new());
        for product in products.clone() {
            let (some_rate, all_rates) = every(product, &|own| own.rate);
            let (some_total, all_totals) = every(product, &|own| own.total);
            has_total.push(all_totals);
            has_rate.push(all_rates || some_rate && !all_totals);
            let id = plan.products.get(product).map_or("", |own| own.id.as_str());
            if !some_rate && !some_total {
                findings.push(Finding::decision(
                    Decision::LogLacksProduct,
                    Place::file(&set.file),
                    format!("No actual rate and no total of '{id}' is in the logs; if a setpoint is, that is taken for what was sown."),
                ));
            } else if !all_rates && !all_totals {
                findings.push(Finding::warning(
                    "compare.part_of_meters",
                    Place::file(&set.file),
                    format!("Of '{id}' some device elements have a rate alone and others a total alone; what only a total tells was left out."),
                ));
            }
        }
        let noted_kg = products
            .clone()
            .map(|product| factors.noted(&machine, tasks, &meters, product))
            .collect();
        let unsaid = |product: usize| {
            let groups = groups.iter().flatten();
            let mut own = groups.filter_map(|at| meters.get(*at));
            own.any(|own| own.product == product && machine.width_m(&own.element).is_none())
        };
        let equal_parts = products.map(unsaid).collect();
        Ok(Self {
            meters,
            has_rate,
            has_total,
            noted_kg,
            equal_parts,
            logs,
        })
    }
}

/// The meters, each over the whole width.
fn metered(plan: &PlanMap, machine: &Machine, known: &[(String, usize, Seen)]) -> Vec<Meter> {
    // Of elements above each other that give the same of one product, the upper one counts.
    let is_upper = |element: &str, product: usize, has: &dyn Fn(&Seen) -> bool| {
        let above = machine.above(element);
        !known
            .iter()
            .any(|(other, of, seen)| *of == product && has(seen) && above.contains(&other.as_str()))
    };
    let half = plan.width_m / 2.0;
    let meters = known.iter().map(|(element, product, seen)| Meter {
        rate: seen.has_rate() && is_upper(element, *product, &|own| own.has_rate()),
        total: seen.has_total() && is_upper(element, *product, &|own| own.has_total()),
        element: element.clone(),
        product: *product,
        reach: [-half, half],
        share: 1.0,
    });
    meters.collect()
}

/// Meters of one product whose rates stand in one log: they are parts of one drill.
fn together(plan: &PlanMap, meters: &[Meter], logs: &[Vec<Channel>]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for columns in logs {
        for product in 0..plan.products.len() {
            let rated = columns.iter().filter_map(|own| match own.of_meter() {
                Some((meter, Kind::Sown)) => Some(meter),
                _ => None,
            });
            let is_own = |at: &usize| {
                let meter = meters.get(*at);
                meter.is_some_and(|own| own.product == product && own.rate)
            };
            let mut group: Vec<usize> = rated.filter(is_own).collect();
            group.sort_unstable();
            if group.len() > 1 && !groups.contains(&group) {
                groups.push(group);
            }
        }
    }
    groups
}

/// Several meters of one product: each sows where its description says, or beside the others in their order, or with its
/// share of the width.
fn place(plan: &PlanMap, machine: &Machine, meters: &mut [Meter], own: &[usize]) {
    let half = plan.width_m / 2.0;
    let element = |at: &usize| meters.get(*at).map_or("", |own| own.element.as_str());
    let widths: Vec<Option<f64>> = own.iter().map(|at| machine.width_m(element(at))).collect();
    let reaches: Option<Vec<[f64; 2]>> =
        own.iter().map(|at| machine.reach_m(element(at))).collect();
    let sum: f64 = widths.iter().flatten().sum();
    let beside = widths.iter().all(Option::is_some) && (sum / plan.width_m - 1.0).abs() < 0.02;
    let mut left = -half;
    for (nth, at) in own.iter().enumerate() {
        let Some(meter) = meters.get_mut(*at) else {
            continue;
        };
        let width = widths.get(nth).copied().flatten();
        let reach = reaches.as_ref().and_then(|all| all.get(nth));
        match (reach, width) {
            (Some([from, to]), _) => meter.reach = [from.max(-half), to.min(half)],
            (None, Some(width)) if beside => {
                meter.reach = [left, (left + width).min(half)];
                left += width;
            }
            (None, Some(width)) => meter.share = (width / plan.width_m).min(1.0),
            (None, None) => meter.share = 1.0 / own.len() as f64,
        }
    }
}

/// Kilograms of one seed, and of a litre, per product.
struct Factors(Vec<[Option<f64>; 2]>);

impl Factors {
    fn of(plan: &PlanMap) -> Self {
        let factors = plan.products.iter().map(|product| {
            let seed = product.thousand_grain_weight_g.map(|grams| grams / 1e6);
            [seed, product.bulk_density_kg_per_l]
        });
        Self(factors.collect())
    }

    fn kg(&self, product: usize, measure: Measure) -> Option<f64> {
        let [seed, litre] = self.0.get(product)?;
        match measure {
            Measure::Mass => Some(1.0),
            Measure::Count => *seed,
            Measure::Volume => *litre,
        }
    }

    /// What the columns of a log are. Of an element's columns of one kind the best that has values counts; one that stays at 0
    /// comes after those that do not.
    fn columns(
        &self,
        plan: &PlanMap,
        set: &TaskSet,
        log: &Log,
        meters: &[Meter],
    ) -> Outcome<Vec<Channel>> {
        let mut has = vec![(false, false); log.columns.len()];
        let constant = log.columns.iter().enumerate();
        let constant = constant.filter_map(|(at, column)| Some((at, column.constant?)));
        let values = log.records.iter().flat_map(|record| &record.values);
        let values = values.map(|(at, raw)| (usize::from(*at), *raw));
        for (at, raw) in constant.chain(values) {
            if let Some((any, above)) = has.get_mut(at) {
                *any = true;
                *above |= raw > 0;
            }
        }
        let mut channels: Vec<Channel> = log.columns.iter().map(state).collect();
        for (at, meter) in meters.iter().enumerate() {
            let mut without: Option<Measure> = None;
            let mut told = false;
            for kind in [Kind::Sown, Kind::AskedFor, Kind::Total] {
                let mut best: Option<((bool, u8), usize, Channel)> = None;
                for (nth, column) in log.columns.iter().enumerate() {
                    let own = column.element.as_deref().unwrap_or_default() == meter.element;
                    let known = column.ddi.and_then(amount).filter(|_| own);
                    let (Some((amount, measure, rank)), Some((true, above))) =
                        (known, has.get(nth).copied())
                    else {
                        continue;
                    };
                    if amount.kind() != kind {
                        continue;
                    }
                    let Some(kg) = self.kg(meter.product, measure) else {
                        without = Some(measure);
                        continue;
                    };
                    let channel = match amount {
                        Amount::Rate(step) => Channel::Rate(at, step * kg),
                        Amount::Flow(step) => Channel::Flow(at, step * kg),
                        Amount::Setpoint(step) => Channel::Setpoint(at, step * kg),
                        Amount::Total(step) => Channel::Total(at, step * kg),
                    };
                    let order = (!above, rank);
                    if best.as_ref().is_none_or(|(known, _, _)| order < *known) {
                        best = Some((order, nth, channel));
                    }
                }
                if let Some((_, nth, channel)) = best
                    && let Some(own) = channels.get_mut(nth)
                {
                    *own = channel;
                    told |= kind != Kind::AskedFor;
                }
            }
            if let Some(measure) = without.filter(|_| !told) {
                return Err(no_weight(plan, set, meter.product, measure));
            }
        }
        Ok(channels)
    }

    /// What the tasks themselves have counted of a product, kg.
    fn noted(
        &self,
        machine: &Machine,
        tasks: &[&Task],
        meters: &[Meter],
        product: usize,
    ) -> Option<f64> {
        let own: Vec<&str> = meters
            .iter()
            .filter(|own| own.product == product)
            .map(|own| own.element.as_str())
            .collect();
        let mut sum: Option<f64> = None;
        for task in tasks {
            let of = |element: &str| -> Option<f64> {
                let here = |noted: &&Noted| noted.element.as_deref().unwrap_or_default() == element;
                let totals = task.noted.iter().filter(here).filter_map(|noted| {
                    let (Amount::Total(step), measure, rank) = amount(noted.ddi)? else {
                        return None;
                    };
                    Some((
                        rank,
                        noted.ddi,
                        f64::from(noted.value) * step * self.kg(product, measure)?,
                    ))
                });
                let totals: Vec<(u8, u16, f64)> = totals.collect();
                let best = totals
                    .iter()
                    .filter(|(_, _, kg)| *kg > 0.0)
                    .min_by_key(|own| own.0);
                let ddi = best.or(totals.first())?.1;
                let mut growth = Growth::from_nothing();
                let values = totals.iter().filter(|(_, own, _)| *own == ddi);
                Some(values.map(|(_, _, kg)| growth.to(*kg)).sum())
            };
            for element in &own {
                let above = machine.above(element);
                let upper = own
                    .iter()
                    .any(|other| above.contains(other) && of(other).is_some());
                if let Some(kg) = of(element).filter(|_| !upper) {
                    sum = Some(sum.unwrap_or(0.0) + kg);
                }
            }
        }
        sum
    }
}

/// A running total and what it grows by. One that falls was set to zero and counts anew.
#[derive(Debug, Clone, Copy)]
pub(super) struct Growth(Option<f64>);

impl Growth {
    /// A total whose first value says only where it starts.
    pub(super) fn from_its_first() -> Self {
        Self(None)
    }

    pub(super) fn from_nothing() -> Self {
        Self(Some(0.0))
    }

    /// Takes a value; whether it is lower than the one before.
    pub(super) fn falls_to(&mut self, now: f64) -> bool {
        let fell = self.0.is_some_and(|before| now < before);
        self.0 = Some(now);
        fell
    }

    /// What it has grown by, now that it has this value.
    pub(super) fn to(&mut self, now: f64) -> f64 {
        let grown = match self.0 {
            Some(before) if now >= before => now - before,
            Some(_) => now.max(0.0),
            None => 0.0,
        };
        self.0 = Some(now);
        grown
    }
}

/// Work states of an element (141), of 16 sections (161 to 176), prescription control (158) and mode (288).
fn state(column: &LogColumn) -> Channel {
    match column.ddi {
        Some(141 | 158 | 161..=176 | 288) => Channel::State,
        _ => Channel::Other,
    }
}

fn no_weight(plan: &PlanMap, set: &TaskSet, product: usize, measure: Measure) -> Box<Fault> {
    let name = plan.products.get(product).map_or("", |p| p.id.as_str());
    let key = match measure {
        Measure::Count => "thousand_grain_weight_g",
        Measure::Mass | Measure::Volume => "bulk_density_kg_per_l",
    };
    Fault::input(
        "compare.weight",
        Place::file(&set.file),
        format!(
            "The log counts '{name}' in seeds or litres, and the plan does not say what they weigh"
        ),
        format!("`{key}` of the product"),
        "Add it to the job, plan again, and compare with that plan.",
    )
}
