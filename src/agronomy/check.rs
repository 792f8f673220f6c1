//! All classes on the field against all tables of the job, at once.

use super::chain::job_file;
use super::class::{class_key, in_table, layer_index};
use super::{grade_name, lot_by_class, text, unusual_need};
use crate::findings::{Fault, Finding, Outcome};
use crate::job::{ByClass, Job, Lookup, Product};
use std::collections::BTreeMap;

/// Checks that every class found on the field has a number in every table that speaks of its layer.
///
/// `found` has, per layer of the job and in job order, the classes on the field with their areas in m2; a
/// class may be listed several times. The findings are notes: classes of a table that the field does not
/// have. Decisions about grades that their products' names speak against stand among them.
///
/// # Errors
/// Classes without a number: one fault for all tables, with the classes found and their hectares, the ones
/// each table knows and the nearest spelling. A table that names no layer of the job, or one class twice.
pub fn check_classes(job: &Job, found: &[Vec<(String, f64)>]) -> Outcome<Vec<Finding>> {
    let mut findings = lot_by_class::check(job, found)?;
    findings.extend(grade_name::check(job));
    findings.extend(unusual_need::check(job));
    let found: Vec<BTreeMap<String, f64>> = found.iter().map(|classes| merged(classes)).collect();
    let nothing = BTreeMap::new();
    let mut missing = Vec::new();
    for (name, table) in tables(job) {
        let located = |mut fault: Box<Fault>| {
            fault.found = format!("{name}: {}", fault.found);
            fault.place = job_file(job);
            fault
        };
        let index = layer_index(job, table).map_err(located)?;
        let on_field = found.get(index).unwrap_or(&nothing);
        let mut without = Vec::new();
        for (class, area) in on_field {
            if in_table(table, class).map_err(located)?.is_none() {
                without.push((class.as_str(), *area));
            }
        }
        if !without.is_empty() {
            missing.push((name.clone(), table, index, without));
        }
        let unused: Vec<&str> = table
            .by_class
            .keys()
            .map(String::as_str)
            .filter(|class| !on_field.contains_key(&class_key(class)))
            .collect();
        if !unused.is_empty() {
            let message = format!(
                "{name} has numbers for {} of layer '{}', which the field does not have; they were not used",
                text::list(unused),
                table.layer
            );
            findings.push(Finding::note(
                "agronomy.class_unused",
                job_file(job),
                message,
            ));
        }
    }
    if missing.is_empty() {
        Ok(findings)
    } else {
        Err(fault(job, &found, &missing))
    }
}

/// A table with what it misses: its name, itself, its layer and the classes with m2.
type Missing<'a> = (String, &'a ByClass, usize, Vec<(&'a str, f64)>);

fn fault(job: &Job, found: &[BTreeMap<String, f64>], missing: &[Missing]) -> Box<Fault> {
    let mut lacks = Vec::new();
    let mut knows = Vec::new();
    for (name, table, _, without) in missing {
        let known = || table.by_class.keys().map(String::as_str);
        let classes: Vec<String> = without
            .iter()
            .map(|(class, area)| {
                let meant =
                    text::nearest(class, known()).map(|near| format!(", did you mean '{near}'?"));
                format!(
                    "'{class}' ({}{})",
                    text::land(job.report.units, *area),
                    meant.unwrap_or_default()
                )
            })
            .collect();
        lacks.push(format!(
            "{name} has no value for class {} of layer '{}'",
            classes.join(", "),
            table.layer
        ));
        knows.push(match table.curve.is_empty() {
            true => format!("{name} knows {}", text::list(known())),
            false => format!("{name} knows numbers, by its curve"),
        });
    }
    let mut layers: Vec<usize> = missing.iter().map(|(_, _, index, _)| *index).collect();
    layers.sort_unstable();
    layers.dedup();
    let on_field: Vec<String> = layers
        .iter()
        .filter_map(|index| Some((job.layers.get(*index)?, found.get(*index)?)))
        .map(|(layer, classes)| {
            let classes: Vec<String> = classes
                .iter()
                .map(|(class, area)| format!("'{class}' {}", text::land(job.report.units, *area)))
                .collect();
            format!(
                "Layer '{}' has on the field: {}.",
                layer.name,
                classes.join(", ")
            )
        })
        .collect();
    Fault::input(
        "agronomy.class_without_value",
        job_file(job),
        lacks.join("; "),
        knows.join("; "),
        format!(
            "Add the classes to 'by_class', or set 'otherwise' for all classes not named. {}",
            on_field.join(" ")
        ),
    )
}

/// The classes of a layer under their keys, areas summed.
fn merged(classes: &[(String, f64)]) -> BTreeMap<String, f64> {
    let mut sums = BTreeMap::new();
    for (class, area) in classes {
        *sums.entry(class_key(class)).or_insert(0.0) += area;
    }
    sums
}

/// Every table by class in the job, in job order, with a name for messages.
fn tables(job: &Job) -> Vec<(String, &ByClass)> {
    let mut tables = Vec::new();
    for (name, lookup) in numbers(job) {
        match lookup {
            Lookup::Same(_) => {}
            Lookup::ByClass(table) => tables.push((name, table)),
            Lookup::Combined(combined) => {
                let parts = combined.tables().into_iter();
                tables.extend(parts.map(|(part, table)| (format!("{name}.{part}"), table)));
            }
        }
    }
    tables
}

/// Every number of the job that may come by class, in job order, with a name for messages.
pub(super) fn numbers(job: &Job) -> Vec<(String, &Lookup)> {
    let mut numbers = Vec::new();
    for product in &job.products {
        let own = lookups(product).into_iter();
        numbers
            .extend(own.map(|(key, lookup)| (format!("product '{}', {key}", product.id), lookup)));
    }
    for (n, limit) in job.seed_safe.iter().enumerate() {
        let ph = limit.soil_ph.iter();
        numbers.extend(ph.map(|ph| (format!("seed_safe[{}].soil_ph", n + 1), ph)));
    }
    for (key, lookup) in job.mixture.iter().flat_map(|mixture| mixture.lookups()) {
        numbers.push((format!("mixture.{key}"), lookup));
    }
    numbers
}

/// Every number of a product that may come by class, with its key.
fn lookups(product: &Product) -> Vec<(String, &Lookup)> {
    let rate = &product.rate;
    let mut lookups: Vec<(String, &Lookup)> = [
        ("rate.kg_per_ha", &rate.kg_per_ha),
        ("rate.seeds_per_m2", &rate.seeds_per_m2),
        ("rate.plants_per_m2", &rate.plants_per_m2),
        ("rate.establishment_percent", &rate.establishment_percent),
        ("rate.need_kg_per_ha", &rate.need_kg_per_ha),
    ]
    .into_iter()
    .filter_map(|(key, lookup)| Some((key.to_owned(), lookup.as_ref()?)))
    .collect();
    for (index, adjustment) in product.adjustments.iter().enumerate() {
        lookups.push((
            format!("adjust[{}].percent", index + 1),
            &adjustment.percent,
        ));
    }
    lookups
}
