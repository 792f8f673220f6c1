//! Which device element meters which product: as the user says, as the task allocates, as names say, by the tree of the
//! machine, or by order.

use super::entries::{Amount, Kind, amount};
use super::machine::Machine;
use super::{PlanMap, Planned, Settings};
use crate::codec::taskdata::{LogColumn, designator};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::read::taskdata::{Task, TaskSet};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// What `--element` calls the product of an element that sows nothing of the plan.
const NOTHING: &str = "none";

/// More elements than this meter nothing on any machine: each is held against all others.
const MOST_ELEMENTS: usize = 500;

/// What the logs hold of an element.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Seen {
    /// An actual rate; one above 0; a total; one that grows; a setpoint above 0.
    rate: bool,
    runs: bool,
    total: bool,
    grows: bool,
    asked: bool,
}

impl Seen {
    /// Sows nothing, and is asked for nothing.
    fn is_idle(self) -> bool {
        !self.runs && !self.grows && (self.rate || self.total || !self.asked)
    }

    /// A rate that counts: one that stays at 0 while the total grows is none.
    pub(super) fn has_rate(self) -> bool {
        self.rate && (self.runs || !self.grows)
    }

    pub(super) fn has_total(self) -> bool {
        self.total
    }
}

/// What a column of a log holds.
struct Column {
    element: String,
    amount: Option<Amount>,
    first: Option<i32>,
    above_0: bool,
    changes: bool,
}

impl Column {
    fn of(column: &LogColumn) -> Self {
        let mut own = Self {
            element: column.element.clone().unwrap_or_default(),
            amount: column.ddi.and_then(amount).map(|(amount, _, _)| amount),
            first: None,
            above_0: false,
            changes: false,
        };
        if let Some(raw) = column.constant {
            own.take(raw);
        }
        own
    }

    fn take(&mut self, raw: i32) {
        let first = *self.first.get_or_insert(raw);
        self.above_0 |= raw > 0;
        self.changes |= raw != first;
    }
}

/// Elements with amounts, in the order in which the logs name them first.
pub(super) fn seen(tasks: &[&Task]) -> Vec<(String, Seen)> {
    let mut order: Vec<String> = Vec::new();
    let mut found: BTreeMap<String, Seen> = BTreeMap::new();
    for (_, log) in tasks.iter().flat_map(|task| &task.logs) {
        let mut columns: Vec<Column> = log.columns.iter().map(Column::of).collect();
        let values = log.records.iter().flat_map(|record| &record.values);
        for (at, raw) in values {
            if let Some(own) = columns.get_mut(usize::from(*at)) {
                own.take(*raw);
            }
        }
        for own in columns.iter().filter(|own| own.first.is_some()) {
            let Some(amount) = own.amount else { continue };
            if !found.contains_key(&own.element) {
                order.push(own.element.clone());
            }
            let seen = found.entry(own.element.clone()).or_default();
            match amount.kind() {
                Kind::Sown => {
                    seen.rate = true;
                    seen.runs |= own.above_0;
                }
                Kind::AskedFor => seen.asked |= own.above_0,
                Kind::Total => {
                    seen.total = true;
                    seen.grows |= own.changes;
                }
            }
        }
    }
    // What only the task itself has counted is used where its product is known; nobody is asked for it.
    let noted = tasks.iter().flat_map(|task| &task.noted);
    for value in noted.filter(|value| amount(value.ddi).is_some()) {
        let element = value.element.clone().unwrap_or_default();
        if let Entry::Vacant(vacant) = found.entry(element) {
            order.push(vacant.key().clone());
            vacant.insert(Seen::default());
        }
    }
    let pair = |element: String| {
        let seen = found.get(&element).copied().unwrap_or_default();
        (element, seen)
    };
    order.into_iter().map(pair).collect()
}

/// The product of each element with amounts; those without one are left out.
///
/// # Errors
/// Elements that cannot be told apart; a product that the plan has not.
pub(super) fn products(
    plan: &PlanMap,
    set: &TaskSet,
    machine: &Machine,
    tasks: &[&Task],
    elements: &[(String, Seen)],
    settings: &Settings,
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<(String, usize, Seen)>> {
    if elements.is_empty() {
        return Err(Fault::input(
            "compare.no_rates",
            Place::file(&set.file),
            "The time logs hold neither rates nor totals of a product",
            "data dictionary entries 7, 12, 2, 42, 47 or 37 (actual rates), or 80, 81, 82, 351, 352 (totals)",
            "Ask for the machine's default data to be logged (the task data of a plan do), then drill and copy again.",
        ));
    }
    if elements.len() > MOST_ELEMENTS {
        return Err(Fault::input(
            "compare.elements",
            Place::file(&set.file),
            format!(
                "The time logs have amounts of {} device elements",
                elements.len()
            ),
            format!("{MOST_ELEMENTS} at most"),
            "Name the task with --task, or copy only the task of this field from the terminal.",
        ));
    }
    let mut said: BTreeMap<&str, Option<usize>> = BTreeMap::new();
    for (element, product) in &settings.elements {
        check_element(element, set, elements)?;
        let has = plan.products.iter().any(|own| own.id == *product);
        let product = match product == NOTHING && !has {
            true => None,
            false => Some(plan.product(product)?),
        };
        said.insert(element, product);
    }
    let by_name = by_name(plan, set, tasks);
    let named = |element: &str| by_name.get(element).copied();
    let known = |element: &str| {
        said.get(element)
            .copied()
            .flatten()
            .or_else(|| named(element))
    };
    // Per element: its product; `None` where it has none of the plan; open ones are left for the order.
    let mut decided: Vec<Option<Option<usize>>> = Vec::new();
    for (element, _) in elements {
        let own = said.get(element.as_str()).copied();
        let own = own.or_else(|| named(element).map(Some));
        decided.push(own.or_else(|| by_tree(machine, element, &known)));
    }
    let is_free = |product: &usize| !decided.contains(&Some(Some(*product)));
    let free: Vec<usize> = (0..plan.products.len()).filter(is_free).collect();
    let open = |idle_too: bool| -> Vec<usize> {
        let all = decided.iter().zip(elements).enumerate();
        let all = all
            .filter(|(_, (decided, (_, seen)))| decided.is_none() && (idle_too || !seen.is_idle()));
        all.map(|(at, _)| at).collect()
    };
    let by_order = match open(true) {
        all if all.len() == free.len() => all,
        _ => open(false),
    };
    if !by_order.is_empty() && by_order.len() != free.len() {
        let names: Vec<String> = by_order
            .iter()
            .filter_map(|at| elements.get(*at))
            .map(|(element, _)| format!("'{element}'"))
            .collect();
        let ids: Vec<&str> = plan.products.iter().map(|p| p.id.as_str()).collect();
        return Err(Fault::input(
            "compare.elements",
            Place::file(&set.file),
            format!(
                "The logs do not say which product these device elements sow: {}",
                names.join(", ")
            ),
            format!("for each one of {}, or {NOTHING}", ids.join(", ")),
            "Say it with --element, such as --element DET2=barley; the terminal's list of the machine names the elements.",
        ));
    }
    for (at, product) in by_order.iter().zip(&free) {
        let Some((element, _)) = elements.get(*at) else {
            continue;
        };
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
        if let Some(own) = decided.get_mut(*at) {
            *own = Some(Some(*product));
        }
    }
    let mut result = Vec::new();
    for ((element, seen), decided) in elements.iter().zip(decided) {
        match decided.flatten() {
            Some(product) => result.push((element.clone(), product, *seen)),
            None => {
                let why = match decided {
                    None => {
                        "the logs hold nothing that it sows, and nothing says which product it has"
                    }
                    Some(_) if said.contains_key(element.as_str()) => "as you said",
                    Some(_) => "elements of several products hang on it",
                };
                findings.push(Finding::note(
                    "compare.left_out",
                    Place::file(&set.file),
                    format!("The device element '{element}' was left out: {why}."),
                ));
            }
        }
    }
    Ok(result)
}

/// Whether the logs or the description of the machine have an element that the user names.
fn check_element(element: &str, set: &TaskSet, elements: &[(String, Seen)]) -> Outcome<()> {
    let in_logs = elements.iter().any(|(own, _)| own == element);
    if in_logs || set.elements.iter().any(|own| own.id == element) {
        return Ok(());
    }
    let ids: Vec<&str> = elements.iter().map(|(own, _)| own.as_str()).collect();
    Err(Fault::input(
        "compare.elements",
        Place::file(&set.file),
        format!("--element names '{element}', and the task data have no such device element"),
        format!("one that the logs have amounts of: {}", ids.join(", ")),
        "Correct the command.",
    ))
}

/// By what hangs on an element, or by what it hangs on. `Some(None)`: it is above elements of several products.
fn by_tree(
    machine: &Machine,
    element: &str,
    known: &dyn Fn(&str) -> Option<usize>,
) -> Option<Option<usize>> {
    let below = machine.below(element);
    let mut products: Vec<usize> = below.iter().filter_map(|own| known(&own.id)).collect();
    products.sort_unstable();
    products.dedup();
    match products.as_slice() {
        [] => machine.above(element).into_iter().find_map(known).map(Some),
        [one] => Some(Some(*one)),
        _ => Some(None),
    }
}

/// The product of each element by what the set says: allocations, treatment zones, names. The first counts.
fn by_name<'a>(plan: &PlanMap, set: &'a TaskSet, tasks: &[&'a Task]) -> BTreeMap<&'a str, usize> {
    // As our task data call it; else as a person may have called it, if that fits one product alone.
    let of_name = |name: &str| {
        let mut products = plan.products.iter();
        let ours = products.position(|own| own.in_task_data.as_deref() == Some(name));
        let called = |product: &Planned| {
            let shown = designator(&product.name);
            let own = [&product.id, &product.name, &shown];
            own.iter()
                .any(|own| own.to_lowercase() == name.to_lowercase())
        };
        ours.or_else(|| only(plan, called))
    };
    let mut by_id: BTreeMap<&str, usize> = BTreeMap::new();
    for (id, name) in &set.products {
        if let Some(product) = of_name(name) {
            by_id.entry(id).or_insert(product);
        }
    }
    let mut found: BTreeMap<&str, usize> = BTreeMap::new();
    let allocated = tasks.iter().flat_map(|task| &task.allocations);
    let allocated = allocated.map(|(product, element)| (product.as_str(), element.as_str()));
    let zones = tasks.iter().flat_map(|task| &task.zones);
    let zoned = zones.flat_map(|zone| &zone.variables).filter_map(|own| {
        let (product, element) = (own.product.as_deref()?, own.element.as_deref()?);
        Some((product, element))
    });
    for (product, element) in allocated.chain(zoned) {
        if let Some(product) = by_id.get(product) {
            found.entry(element).or_insert(*product);
        }
    }
    for part in &set.elements {
        let of_hopper = || only(plan, |own| own.hopper.eq_ignore_ascii_case(&part.name));
        if let Some(product) = of_name(&part.name).or_else(of_hopper) {
            found.entry(&part.id).or_insert(product);
        }
    }
    found
}

/// The one product that fits; none where several do.
fn only(plan: &PlanMap, fits: impl Fn(&Planned) -> bool) -> Option<usize> {
    let mut fits = (0..).zip(&plan.products).filter(|(_, own)| fits(own));
    let first = fits.next().map(|(at, _)| at);
    first.filter(|_| fits.next().is_none())
}
