//! Which work states of a log belong to which meter, and which strips of the drill they leave on.

use super::PlanMap;
use super::channels::Meter;
use super::entries::{Source, control, mode};
use super::machine::{Machine, width_m};
use crate::codec::taskdata::Log;

/// Entries: work state of an element, of 16 sections (and the last of these), prescription control, prescription mode.
const WORK_STATE: u16 = 141;
const CONDENSED: u16 = 161;
const LAST_CONDENSED: u16 = 176;
const CONTROL: u16 = 158;
const MODE: u16 = 288;

/// The columns of a log that govern each meter.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Governing {
    of_meter: Vec<Governs>,
    /// Whether sections were told apart by the numbers of their elements alone.
    pub by_number: bool,
}

/// What governs one meter; columns of the log by their numbers.
#[derive(Debug, Clone, Default, PartialEq)]
struct Governs {
    reach: [f64; 2],
    /// All of these are on while it works, and one of those.
    all_of: Vec<usize>,
    any_of: Vec<usize>,
    /// States of 16 sections each, from the left.
    words: Vec<usize>,
    /// Where the sections lie that these are about, if there are as many as this.
    places: Vec<Vec<[f64; 2]>>,
    /// Sections with a state each, and where they lie.
    sections: Vec<(usize, [f64; 2])>,
    mode: Option<usize>,
    control: Option<usize>,
}

/// How an element stands to a meter, nearest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Stands {
    Own,
    Below,
    /// So many levels above it.
    Above(usize),
    /// On the same branch, so many levels up, and nothing of another meter.
    Beside(usize),
    /// The set does not say where it hangs, and it meters nothing.
    Unsaid,
}

impl Governing {
    /// `amounts`: all elements of the logs that have an amount of anything.
    pub(super) fn of(
        plan: &PlanMap,
        machine: &Machine,
        log: &Log,
        meters: &[Meter],
        amounts: &[&str],
    ) -> Self {
        let mut by_number = false;
        let of_meter = meters
            .iter()
            .map(|meter| {
                let of = Of {
                    plan,
                    machine,
                    log,
                    meter,
                    amounts,
                };
                of.governs(&mut by_number)
            })
            .collect();
        Self {
            of_meter,
            by_number,
        }
    }

    /// Whether any state of a meter is known.
    pub(super) fn knows(&self, meter: usize, values: &[Option<i32>]) -> bool {
        let Some(own) = self.of_meter.get(meter) else {
            return false;
        };
        let sections = own.sections.iter().map(|(column, _)| column);
        let mut columns = own
            .all_of
            .iter()
            .chain(&own.any_of)
            .chain(&own.words)
            .chain(sections);
        columns.any(|column| value(values, *column).is_some())
    }

    /// The strips of a meter that are on, from the left.
    pub(super) fn strips(&self, meter: usize, values: &[Option<i32>]) -> Vec<[f64; 2]> {
        self.of_meter
            .get(meter)
            .map(|own| own.strips(values))
            .unwrap_or_default()
    }

    /// Where the rate of a meter came from.
    pub(super) fn source(&self, meter: usize, values: &[Option<i32>]) -> Option<Source> {
        let own = self.of_meter.get(meter)?;
        let by_mode = own.mode.and_then(|column| value(values, column));
        let by_control = own.control.and_then(|column| value(values, column));
        by_mode.and_then(mode).or(by_control.and_then(control))
    }
}

fn value(values: &[Option<i32>], column: usize) -> Option<i32> {
    values.get(column).copied().flatten()
}

impl Governs {
    fn strips(&self, values: &[Option<i32>]) -> Vec<[f64; 2]> {
        let on = |column: &usize| value(values, *column).map(|raw| raw & 3 == 1);
        let mut any = self.any_of.iter().filter_map(on).peekable();
        let none_of_any = any.peek().is_some() && !any.any(|on| on);
        if none_of_any || self.all_of.iter().filter_map(on).any(|on| !on) {
            return Vec::new();
        }
        let mut strips = self.by_words(values);
        for (column, shut) in &self.sections {
            if on(column) == Some(false) {
                strips = without(&strips, *shut);
            }
        }
        strips
    }

    /// By condensed states: section by section where it is known where they lie, else all while any of them is on.
    fn by_words(&self, values: &[Option<i32>]) -> Vec<[f64; 2]> {
        let mut states: Vec<u32> = Vec::new();
        for column in &self.words {
            let Some(raw) = value(values, *column) else {
                break;
            };
            // 2 bits a section: 0 off, 1 on, 2 error, 3 not installed.
            let bits = (0..16).map(|at| (raw as u32 >> (2 * at)) & 3);
            states.extend(bits.take_while(|bits| *bits != 3));
        }
        let places = self.places.iter().find(|own| own.len() == states.len());
        let Some(places) = places else {
            return match states.is_empty() || states.contains(&1) {
                true => vec![self.reach],
                false => Vec::new(),
            };
        };
        let mut strips: Vec<[f64; 2]> = Vec::new();
        let on = places.iter().zip(&states).filter(|(_, state)| **state == 1);
        for (place, _) in on {
            let [left, right] = [place[0].max(self.reach[0]), place[1].min(self.reach[1])];
            match strips.last_mut() {
                _ if right <= left => {}
                Some(last) if last[1] == left => last[1] = right,
                _ => strips.push([left, right]),
            }
        }
        strips
    }
}

/// Strips less one more.
fn without(strips: &[[f64; 2]], shut: [f64; 2]) -> Vec<[f64; 2]> {
    let parts = strips
        .iter()
        .flat_map(|[left, right]| [[*left, right.min(shut[0])], [left.max(shut[1]), *right]]);
    parts.filter(|[left, right]| right > left).collect()
}

/// One meter in one log.
struct Of<'a> {
    plan: &'a PlanMap,
    machine: &'a Machine<'a>,
    log: &'a Log,
    meter: &'a Meter,
    amounts: &'a [&'a str],
}

impl Of<'_> {
    fn governs(&self, by_number: &mut bool) -> Governs {
        let mut governs = Governs {
            reach: self.meter.reach,
            places: vec![self.described(), self.planned()],
            words: self.words(),
            mode: self.nearest(MODE),
            control: self.nearest(CONTROL),
            ..Governs::default()
        };
        governs.places.retain(|places| !places.is_empty());
        self.work_states(&mut governs, by_number);
        governs
    }

    /// How an element stands to the meter; `None` if it belongs to others.
    fn stands(&self, element: &str) -> Option<Stands> {
        let own = self.meter.element.as_str();
        if element == own {
            return Some(Stands::Own);
        }
        let above = self.machine.above(own);
        if let Some(levels) = above.iter().position(|other| *other == element) {
            return Some(Stands::Above(levels));
        }
        let of_element = self.machine.above(element);
        if of_element.contains(&own) {
            return Some(Stands::Below);
        }
        let meters = |element: &str| self.amounts.contains(&element);
        if !self.machine.knows(element) || !self.machine.knows(own) {
            return (!meters(element)).then_some(Stands::Unsaid);
        }
        // The lowest element that both hang on; what lies between belongs to another meter if that is on the way.
        let levels = above.iter().position(|other| of_element.contains(other))?;
        let shared = above.get(levels)?;
        let way = of_element.iter().take_while(|other| *other != shared);
        let of_another = meters(element) || way.into_iter().any(|other| meters(other));
        (!of_another).then_some(Stands::Beside(levels))
    }

    /// Columns of an entry with their elements and how these stand to the meter.
    fn columns(&self, wanted: impl Fn(u16) -> bool) -> Vec<(Stands, usize, u16, &str)> {
        let columns = self.log.columns.iter().enumerate();
        let mut found: Vec<(Stands, usize, u16, &str)> = columns
            .filter_map(|(at, column)| {
                let ddi = column.ddi.filter(|ddi| wanted(*ddi))?;
                let element = column.element.as_deref().unwrap_or_default();
                Some((self.stands(element)?, at, ddi, element))
            })
            .collect();
        found.sort_by_key(|(stands, at, ddi, _)| (*stands, *ddi, *at));
        found
    }

    fn nearest(&self, ddi: u16) -> Option<usize> {
        self.columns(|own| own == ddi).first().map(|own| own.1)
    }

    /// Condensed states of the nearest element that has some, from the first block on.
    fn words(&self) -> Vec<usize> {
        let found = self.columns(|ddi| (CONDENSED..=LAST_CONDENSED).contains(&ddi));
        let Some(nearest) = found.first().map(|own| own.3) else {
            return Vec::new();
        };
        let of_nearest = found.iter().filter(|own| own.3 == nearest);
        let in_row = of_nearest
            .zip(CONDENSED..)
            .take_while(|(own, block)| own.2 == *block);
        in_row.map(|(own, _)| own.1).collect()
    }

    fn work_states(&self, governs: &mut Governs, by_number: &mut bool) {
        let is_section = self.machine.is_section(&self.meter.element);
        let sections = match is_section {
            true => Vec::new(),
            false => self.machine.sections(&self.meter.element),
        };
        let described = self.described();
        let mut unsaid: Vec<(usize, &str)> = Vec::new();
        let mut beside = Vec::new();
        for (stands, column, _, element) in self.columns(|ddi| ddi == WORK_STATE) {
            let nth = sections.iter().position(|own| own.id == element);
            match (nth, stands) {
                (Some(nth), Stands::Below | Stands::Beside(_)) => match described.get(nth) {
                    Some(place) => governs.sections.push((column, *place)),
                    None => governs.any_of.push(column),
                },
                (_, Stands::Own | Stands::Above(_)) => governs.all_of.push(column),
                (_, Stands::Below) => governs.any_of.push(column),
                (_, Stands::Beside(_)) if self.machine.is_section(element) => {}
                (_, Stands::Beside(levels)) => beside.push((levels, column)),
                (_, Stands::Unsaid) => unsaid.push((column, element)),
            }
        }
        if governs.all_of.is_empty() && governs.any_of.is_empty() {
            let nearest = beside.first().map(|own| own.0);
            let nearest = beside.iter().filter(|own| Some(own.0) == nearest);
            governs.any_of.extend(nearest.map(|own| own.1));
        }
        let planned = self.planned();
        let more = unsaid.len().checked_sub(planned.len());
        match more {
            Some(more @ (0 | 1)) if planned.len() > 1 => {
                unsaid.sort_by_key(|(_, element)| (element.len(), *element));
                let whole = unsaid.iter().take(more).map(|own| own.0);
                governs.all_of.extend(whole);
                let single = unsaid.iter().skip(more).zip(&planned);
                governs
                    .sections
                    .extend(single.map(|(own, place)| (own.0, *place)));
                *by_number = true;
            }
            _ => governs.any_of.extend(unsaid.iter().map(|own| own.0)),
        }
    }

    /// Where the sections of the meter lie by the machine's description, or by the plan where it has as many; empty where
    /// neither says it.
    fn described(&self) -> Vec<[f64; 2]> {
        let sections = self.machine.sections(&self.meter.element);
        let widths: Option<Vec<f64>> = sections.iter().map(|own| width_m(own)).collect();
        let [from, to] = self.meter.reach;
        let places = widths
            .map(|widths| in_row(from, &widths))
            .unwrap_or_default();
        let end = places.last().map(|own| own[1]);
        let fits = end.is_some_and(|end| ((end - from) / (to - from) - 1.0).abs() < 0.02);
        let planned = self.planned();
        match fits {
            true => places,
            false if planned.len() == sections.len() => planned,
            false => Vec::new(),
        }
    }

    /// Where the sections of the plan lie.
    fn planned(&self) -> Vec<[f64; 2]> {
        let width = self.plan.width_m;
        match self.plan.sections_m.is_empty() {
            true => vec![[-width / 2.0, width / 2.0]],
            false => in_row(-width / 2.0, &self.plan.sections_m),
        }
    }
}

/// Places beside each other, from the left.
fn in_row(from: f64, widths: &[f64]) -> Vec<[f64; 2]> {
    let mut left = from;
    let place = |width: &f64| {
        let own = [left, left + width];
        left += width;
        own
    };
    widths.iter().map(place).collect()
}
