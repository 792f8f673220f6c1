//! The rates of a plan: the rate table, and what is sown where the map does not answer.

use super::Prepared;
use crate::agronomy::{self, Rate};
use crate::findings::{Finding, Outcome};
use crate::job::Job;
use crate::zones::Facts;

/// The rate table and the rates beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// The rate table: land with the same facts, its area and its rates. Files number its rows from 1.
    pub rows: Vec<Combination>,
    /// Per product (job order): rate that a terminal may send when a task is started, kg/ha.
    pub default_kg_per_ha: Vec<f64>,
    /// Per product: rate for a lost position, kg/ha.
    pub position_lost_kg_per_ha: Vec<f64>,
    /// Per product: rate outside the field, kg/ha.
    pub out_of_field_kg_per_ha: Vec<f64>,
}

/// A row of the rate table.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    /// What the land has in common.
    pub facts: Facts,
    /// Its area, m2.
    pub area_m2: f64,
    /// Per product, in job order.
    pub rates: Vec<Rate>,
}

/// The rate table of prepared land, by the rules of the job; the same finding about several rows is said once, with
/// the area of all.
///
/// # Errors
/// A number of seed that cannot be; a class without a rate; a rule that meets no land; a rate that cannot be made.
pub(super) fn table(prepared: &Prepared, job: &Job) -> Outcome<(Vec<Combination>, Vec<Finding>)> {
    let units = &prepared.units;
    let mut findings = agronomy::crops::check(job)?;
    findings.extend(agronomy::check_dates(job));
    findings.extend(agronomy::check_classes(job, &units.classes)?);
    let areas = units.rows.iter().enumerate();
    let areas: Vec<(&Facts, f64)> = areas
        .map(|(row, (facts, _))| (facts, units.area_m2(row)))
        .collect();
    findings.extend(agronomy::check_rules(job, &areas)?);
    let mut rows = Vec::with_capacity(areas.len());
    let mut of_rows: Vec<Finding> = Vec::new();
    for (facts, area_m2) in areas {
        let (rates, found) = agronomy::rates(job, &prepared.tables, facts)?;
        found
            .into_iter()
            .for_each(|finding| add_area(&mut of_rows, finding, area_m2));
        rows.push(Combination {
            facts: facts.clone(),
            area_m2,
            rates,
        });
    }
    findings.extend(of_rows);
    Ok((rows, findings))
}

/// Per row of the rate table, per product, kg/ha.
pub(super) fn kg_per_ha(rows: &[Combination]) -> Vec<Vec<f64>> {
    let of_row = |row: &Combination| row.rates.iter().map(|rate| rate.kg_per_ha).collect();
    rows.iter().map(of_row).collect()
}

/// Adds a finding about some land, or its area to the same finding about other land.
pub(super) fn add_area(findings: &mut Vec<Finding>, finding: Finding, area_m2: f64) {
    let same = findings.iter_mut().find(|known| {
        known.code == finding.code
            && known.message == finding.message
            && known.place == finding.place
    });
    match same {
        Some(known) => {
            known.area_m2 = Some(known.area_m2.unwrap_or(0.0) + area_m2);
            let both = known.extent.zip(finding.extent);
            known.extent = both.map(|(a, b)| a.further(b)).or(known.extent);
        }
        None => findings.push(finding.area(area_m2)),
    }
}
