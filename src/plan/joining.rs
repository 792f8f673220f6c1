//! What the drill cannot follow, joined: `join_too_fine`. Method: docs/methods/response.md.

use super::Prepared;
use super::rated_land::RatedLand;
use super::rates::{self, Combination};
use crate::agronomy::{Reason, Rule, Why};
use crate::coordinates::PlaneXy;
use crate::drive::joined::{self, Joined, OfRow};
use crate::drive::response;
use crate::findings::{Finding, Place};
use crate::job::Job;
use crate::texts::Words;
use crate::texts::quantity::{Given, GivenRate};
use crate::units::M2_PER_HA;
use crate::zones::LandUnits;

/// The land of a rate table, after what the drill cannot follow is joined where the job asks for it.
pub(super) fn joined<'a>(
    prepared: &'a Prepared,
    mut rows: Vec<Combination>,
    job: &Job,
) -> (RatedLand<'a>, Vec<Finding>) {
    let mut findings = one_rate(&mut rows, job);
    let (units, finding) = join(prepared, &mut rows, job).unzip();
    findings.extend(finding);
    (RatedLand::of(prepared, units, rows, job), findings)
}

/// Gives rates that a meter cannot tell apart the lowest of them, and says what that changes.
fn one_rate(combinations: &mut [Combination], job: &Job) -> Vec<Finding> {
    let mut findings = Vec::new();
    if !is_asked(job) {
        return findings;
    }
    for (nth, product) in job.products.iter().enumerate() {
        let mut hoppers = job.drill.hoppers.iter();
        let hopper = hoppers.find(|hopper| hopper.name == product.hopper);
        let Some(percent) = hopper.and_then(|hopper| hopper.resolves_percent) else {
            continue;
        };
        // What is placed and what is broadcast have to add up to the need.
        let leaves_balance = |row: &Combination| row.rates[nth].balance.is_some();
        if combinations.iter().any(leaves_balance) {
            continue;
        }
        let rates: Vec<f64> = combinations
            .iter()
            .map(|row| row.rates[nth].kg_per_ha)
            .collect();
        let groups = joined::one_rate(&rates, percent);
        let (mut area_m2, mut more_kg) = (0.0, 0.0);
        for row in combinations.iter_mut() {
            let rate = &mut row.rates[nth];
            let before = rate.kg_per_ha;
            let group = groups.iter().find(|(group, _)| group.contains(&before));
            let Some((_, lowest)) = group.filter(|(_, lowest)| *lowest != before) else {
                continue;
            };
            rate.kg_per_ha = *lowest;
            rate.reasons.push(Reason {
                rule: Rule::DrillOneRate,
                text: Words::of(job).say(&Why::OneRate {
                    percent: Given(percent),
                    before: GivenRate(before),
                    lowest: GivenRate(*lowest),
                }),
                inputs: vec![
                    ("kg/ha before".to_owned(), before),
                    ("resolves %".to_owned(), percent),
                ],
                kg_per_ha: *lowest,
                source: Some("common practice, no source".into()),
            });
            area_m2 += row.area_m2;
            more_kg += (lowest - before) * row.area_m2 / M2_PER_HA;
        }
        if area_m2 > 0.0 {
            let message = format!(
                "'{}': rates that differ by less than the {percent} % which its meter resolves became the lowest of them; the map sows {}",
                product.id,
                job.report.units.more_mass(more_kg, 1)
            );
            let place = Place::file(&job.file);
            findings.push(Finding::note("drill.one_rate", place, message).area(area_m2));
        }
    }
    findings
}

/// Joins zones that the drill cannot follow. Rows of the rate table that have no land any more go.
fn join(
    prepared: &Prepared,
    combinations: &mut Vec<Combination>,
    job: &Job,
) -> Option<(LandUnits, Finding)> {
    if !is_asked(job) {
        return None;
    }
    let units = &prepared.units;
    let rates = rates::kg_per_ha(combinations);
    let lots: Vec<Vec<Option<usize>>> = combinations
        .iter()
        .map(|row| row.rates.iter().map(|rate| rate.lot).collect())
        .collect();
    let rows: Vec<OfRow> = combinations
        .iter()
        .zip(rates.iter().zip(&lots))
        .map(|(row, (kg_per_ha, lots))| OfRow {
            facts: &row.facts,
            kg_per_ha,
            lots,
        })
        .collect();
    let drive = prepared
        .drive
        .as_ref()
        .filter(|_| !prepared.land.is_curved());
    let straight = drive.map(|drive| drive.heading_deg);
    let shortest_m = response::transitions(job)
        .iter()
        .map(|of| of.step_up_m.max(of.step_down_m))
        .fold(0.0, f64::max);
    let (row_of_face, all) = joined::join(units, &rows, straight, shortest_m, job)?;
    let finding = finding(&all, prepared, job)?;
    let mut area2 = vec![0_i128; combinations.len()];
    for (face, row) in row_of_face.iter().enumerate() {
        if let Some(row) = row {
            area2[*row as usize] += units.arrangement.area2(face as u32);
        }
    }
    // The numbers of the rows that keep land.
    let mut kept = 0;
    let number: Vec<Option<u32>> = area2
        .iter()
        .map(|area2| {
            (*area2 > 0).then(|| {
                kept += 1;
                kept - 1
            })
        })
        .collect();
    let joined = LandUnits {
        arrangement: units.arrangement.clone(),
        row_of_face: row_of_face
            .iter()
            .map(|row| number[(*row)? as usize])
            .collect(),
        rows: units
            .rows
            .iter()
            .zip(&area2)
            .filter(|(_, area2)| **area2 > 0)
            .map(|((facts, _), area2)| (facts.clone(), *area2))
            .collect(),
        pieces: units.pieces.saturating_sub(all.len()),
        setback_at_border: units.setback_at_border.clone(),
        classes: units.classes.clone(),
    };
    let mut numbers = number.iter();
    combinations.retain(|_| numbers.next().is_some_and(Option::is_some));
    for (row, combination) in combinations.iter_mut().enumerate() {
        combination.area_m2 = joined.area_m2(row);
    }
    Some((joined, finding))
}

fn is_asked(job: &Job) -> bool {
    job.drive.as_ref().is_some_and(|drive| drive.join_too_fine)
}

fn finding(all: &[Joined], prepared: &Prepared, job: &Job) -> Option<Finding> {
    let largest = all
        .iter()
        .reduce(|a, b| if b.area_m2 > a.area_m2 { b } else { a })?;
    let units = job.report.units;
    let area_m2: f64 = all.iter().map(|of| of.area_m2).sum();
    let kg = job.products.iter().enumerate().map(|(nth, product)| {
        let more = all.iter().map(|of| of.more_kg[nth]);
        format!("'{}' {}", product.id, units.more_mass(more.sum(), 1))
    });
    let message = format!(
        "{} zones that the drill cannot follow joined the neighbour with the longest shared border; the largest, here, has {}. The map sows {}",
        all.len(),
        units.small_area(largest.area_m2, 0),
        kg.collect::<Vec<_>>().join(", ")
    );
    let place = Place::nowhere().at(prepared.frame.to_lon_lat(PlaneXy::of_pair(largest.corner)));
    Some(Finding::note("drill.joined", place, message).area(area_m2))
}
