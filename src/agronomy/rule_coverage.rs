//! Rules that never matched, and land that no rule reaches.

use super::chain::job_file;
use super::class::class_key;
use super::combined::{fits, words};
use super::{check, text};
use crate::findings::{Fault, Finding, Outcome};
use crate::job::{Combined, Job, Lookup};
use crate::texts::Words;
use crate::zones::Facts;
use std::collections::{BTreeMap, BTreeSet};

/// Holds every list of rules in the job against all land, given as facts with their area in m2.
///
/// The findings: a warning for each rule that decided nothing, a note for each class that no rule
/// names where `otherwise` gave the number.
///
/// # Errors
/// Land that no rule fits and no `otherwise` takes: one fault per list, with classes and hectares.
pub fn check_rules(job: &Job, land: &[(&Facts, f64)]) -> Outcome<Vec<Finding>> {
    let mut findings = Vec::new();
    for (name, lookup) in check::numbers(job) {
        if let Lookup::Combined(combined) = lookup
            && !combined.first.is_empty()
        {
            findings.extend(of_list(job, &name, combined, land)?);
        }
    }
    Ok(findings)
}

fn of_list(
    job: &Job,
    name: &str,
    combined: &Combined,
    land: &[(&Facts, f64)],
) -> Outcome<Vec<Finding>> {
    let mut hits = vec![0.0; combined.first.len()];
    let mut beyond: Vec<(&Facts, f64)> = Vec::new();
    for (facts, area_m2) in land {
        let hit = combined
            .first
            .iter()
            .position(|rule| fits(job, rule, facts));
        match hit {
            Some(hit) => hits[hit] += area_m2,
            None => beyond.push((facts, *area_m2)),
        }
    }
    if combined.otherwise.is_none() && !beyond.is_empty() {
        return Err(unreached(job, name, combined, &beyond));
    }
    let mut findings = Vec::new();
    for (n, rule) in combined.first.iter().enumerate() {
        if hits[n] > 0.0 {
            continue;
        }
        let elsewhere = land.iter().any(|(facts, _)| fits(job, rule, facts));
        let why = match elsewhere {
            true => "a rule before it takes all the land it fits",
            false => "no land on the field fits it",
        };
        findings.push(Finding::warning(
            "agronomy.rule_never_matched",
            job_file(job),
            format!(
                "{name}: rule {}{} was never used: {why}",
                n + 1,
                words(rule, Words::of(job))
            ),
        ));
    }
    for ((layer, class), area_m2) in unnamed(job, combined, &beyond) {
        findings.push(
            Finding::note(
                "agronomy.class_without_rule",
                job_file(job),
                format!(
                    "{name}: no rule names class '{class}' of layer '{layer}'; 'otherwise' holds there"
                ),
            )
            .area(area_m2),
        );
    }
    Ok(findings)
}

/// Classes on land beyond all rules that no rule names, for layers that some rule names; with m2.
fn unnamed(
    job: &Job,
    combined: &Combined,
    beyond: &[(&Facts, f64)],
) -> BTreeMap<(String, String), f64> {
    let mut named: BTreeMap<&str, BTreeSet<String>> = BTreeMap::new();
    for (layer, classes) in combined.first.iter().flat_map(|rule| &rule.when) {
        let classes = classes.iter().map(|class| class_key(class));
        named.entry(layer).or_default().extend(classes);
    }
    let mut areas = BTreeMap::new();
    for (facts, area_m2) in beyond {
        for (layer, class) in job.layers.iter().zip(&facts.classes) {
            let class = class_key(class);
            let known = named.get(layer.name.as_str());
            if known.is_some_and(|known| !known.contains(&class)) {
                *areas.entry((layer.name.clone(), class)).or_insert(0.0) += area_m2;
            }
        }
    }
    areas
}

fn unreached(job: &Job, name: &str, combined: &Combined, beyond: &[(&Facts, f64)]) -> Box<Fault> {
    let asked: BTreeSet<&str> = combined
        .first
        .iter()
        .flat_map(|rule| rule.when.keys().map(String::as_str))
        .collect();
    let mut areas: BTreeMap<String, f64> = BTreeMap::new();
    for (facts, area_m2) in beyond {
        let classes: Vec<String> = job
            .layers
            .iter()
            .zip(&facts.classes)
            .filter(|(layer, _)| asked.contains(layer.name.as_str()))
            .map(|(layer, class)| format!("{} '{}'", layer.name, class_key(class)))
            .collect();
        *areas.entry(classes.join(" with ")).or_default() += area_m2;
    }
    let listed: Vec<String> = areas
        .iter()
        .map(|(classes, area_m2)| format!("{classes} ({})", text::land(job.report.units, *area_m2)))
        .collect();
    Fault::input(
        "agronomy.no_rule_fits",
        job_file(job),
        format!("{name}: no rule fits {}", listed.join(", ")),
        "a rule for every combination of classes on the field",
        "Add rules to 'first', a last one without 'when', or 'otherwise' for all land that no rule fits.",
    )
}
