//! Land as a trial meets it: where a strip may lie, what each treatment gives there, and the rate table with the strips in it.

use super::ground::{Bouts, Rectangle};
use super::treatments::{Treatment, Tried, in_strip};
use crate::agronomy::{self, Rate, Strip};
use crate::findings::{Finding, Outcome, Severity};
use crate::geometry::Overlay;
use crate::geometry::point::area2_to_m2;
use crate::job::{Job, LandPart};
use crate::plan::decisions::same_decision;
use crate::plan::rated_land::RatedLand;
use crate::plan::rates::{Combination, add_area};
use crate::texts::Words;
use crate::zones;
use std::collections::BTreeMap;

/// What a strip may differ from what it was asked for, as a share.
pub(super) const WITHIN: f64 = 0.05;

/// Why no strip lies on some land.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Why {
    Headland,
    Setback,
    SpecialArea,
    OtherTrial,
    /// Outside the special area that the trial is for.
    NotHere,
    /// A limit holds the rate of a treatment more than 5 % away from what it asks for.
    Limit,
    /// The rate of a product that is not tried would change.
    OtherProduct,
}

impl Why {
    pub fn words(self) -> &'static str {
        match self {
            Self::Headland => "headland",
            Self::Setback => "setbacks",
            Self::SpecialArea => "special areas",
            Self::OtherTrial => "another trial",
            Self::NotHere => "land outside the area that the trial is for",
            Self::Limit => {
                "land where a limit or the step of a product holds the rate of a treatment more than 5 % away from what it asks for"
            }
            Self::OtherProduct => "land where the rate of a product that is not tried would change",
        }
    }
}

/// A row of the rate table for a trial: per treatment the rates that its strips have there, or why they have none.
pub(super) struct OfRow {
    pub strips: Result<Vec<Vec<Rate>>, Why>,
    /// What there is to say about each treatment's rates.
    findings: Vec<Vec<OfStrip>>,
}

/// What there is to say about the rates of a strip, and not about those of the map there.
struct OfStrip {
    finding: Finding,
    /// Whether the decision is open of this land anyway, by the rates of the map: its land is counted once.
    is_counted: bool,
}

/// Of what is said about rates of a strip, that which is not said about the rates of the map already.
fn of_strip(found: Vec<Finding>, of_map: &[Finding]) -> Vec<OfStrip> {
    let new = found.into_iter().filter(|of| !of_map.contains(of));
    new.map(|finding| OfStrip {
        is_counted: finding.severity == Severity::Decision
            && of_map.iter().any(|of| same_decision(of, &finding)),
        finding,
    })
    .collect()
}

/// All rows of a rate table.
///
/// # Errors
/// A rate that cannot be made.
pub(super) fn rows(land: &RatedLand, tried: &Tried, job: &Job) -> Outcome<Vec<OfRow>> {
    let rows = land.rates.rows.iter();
    rows.map(|row| of_row(land, row, tried, job)).collect()
}

fn of_row(land: &RatedLand, row: &Combination, tried: &Tried, job: &Job) -> Outcome<OfRow> {
    let none = |why: Why| OfRow {
        strips: Err(why),
        findings: Vec::new(),
    };
    let facts = &row.facts;
    if facts.part == LandPart::Headland {
        return Ok(none(Why::Headland));
    }
    if !facts.setbacks.is_empty() {
        return Ok(none(Why::Setback));
    }
    let mut areas = facts.special_areas.iter();
    if areas.any(|area| tried.here != Some(*area)) {
        return Ok(none(Why::SpecialArea));
    }
    if tried
        .here
        .is_some_and(|area| !facts.special_areas.contains(&area))
    {
        return Ok(none(Why::NotHere));
    }
    if row.rates.iter().any(in_strip) {
        return Ok(none(Why::OtherTrial));
    }
    let map: Vec<f64> = row.rates.iter().map(|rate| rate.kg_per_ha).collect();
    let mut of = OfRow {
        strips: Err(Why::Limit),
        findings: Vec::new(),
    };
    let mut strips = Vec::new();
    for treatment in &tried.treatments {
        let (rates, findings) = treated(land, row, &map, treatment, tried, job)?;
        let asked = treatment.asked(&map);
        for ((rate, asked), map) in rates.iter().zip(&asked).zip(&map) {
            let near = |wanted: f64| (rate.kg_per_ha - wanted).abs() <= WITHIN * wanted + 1e-9;
            match asked {
                Some(asked) if !near(asked.kg_per_ha) => return Ok(none(Why::Limit)),
                None if rate.kg_per_ha != *map => return Ok(none(Why::OtherProduct)),
                _ => {}
            }
        }
        strips.push(rates);
        of.findings.push(findings);
    }
    of.strips = Ok(strips);
    Ok(of)
}

/// The rates of a row in strips of a treatment.
fn treated(
    land: &RatedLand,
    row: &Combination,
    map: &[f64],
    treatment: &Treatment,
    tried: &Tried,
    job: &Job,
) -> Outcome<(Vec<Rate>, Vec<OfStrip>)> {
    let name = tried.trial.name.as_str();
    let by_map = |nth: usize, rate: &Rate| match tried.products.contains(&nth) {
        true => agronomy::by_the_map(rate, name, Words::of(job)),
        false => rate.clone(),
    };
    if treatment.is_map() {
        let rates = row.rates.iter().enumerate();
        return Ok((
            rates.map(|(nth, rate)| by_map(nth, rate)).collect(),
            Vec::new(),
        ));
    }
    let tables = &land.prepared.tables;
    let asked = treatment.asked(map);
    let strip = Strip {
        trial: name,
        asked: &asked,
    };
    let (own, of_map) = agronomy::rates(job, tables, &row.facts)?;
    let (with, findings) = agronomy::in_trial(job, tables, &row.facts, &strip)?;
    // What no treatment asks for stays as the map has it, whatever joined zones or a cut map made of it; unless the strip changes it.
    let each = row.rates.iter().zip(own).zip(with).zip(&asked).enumerate();
    let rates = each.map(|(nth, (((map, own), with), asked))| {
        let same = own.kg_per_ha == with.kg_per_ha && own.balance == with.balance;
        match asked.is_none() && same {
            true => by_map(nth, map),
            false => with,
        }
    });
    Ok((rates.collect(), of_strip(findings, &of_map)))
}

/// Land with strips in it.
pub(super) struct WithStrips<'a> {
    pub land: RatedLand<'a>,
    /// Per row: the row of the land before.
    pub before: Vec<u32>,
    /// Per row: the treatment, where it lies in strips.
    pub treatment: Vec<Option<usize>>,
    /// Per plot: rows of the land before with their area, m2.
    pub of_plot: Vec<Vec<(u32, f64)>>,
    pub findings: Vec<Finding>,
}

/// Puts plots (rectangles with the number of their treatment) on the land.
///
/// # Errors
/// Grids with too many cells.
pub(super) fn with_strips<'a>(
    land: &RatedLand<'a>,
    of_rows: &[OfRow],
    plots: &[(Rectangle, usize)],
    bouts: &Bouts,
    job: &Job,
) -> Outcome<WithStrips<'a>> {
    let units = land.units();
    let mut overlay = Overlay::default();
    let mut meanings = Vec::new();
    for (row, shape) in units.arrangement.dissolve(&units.row_of_face) {
        overlay.add(shape);
        meanings.push(Meaning::Land(row));
    }
    for (nth, (rectangle, _)) in plots.iter().enumerate() {
        if let Some(shape) = rectangle.shape(bouts) {
            overlay.add(shape);
            meanings.push(Meaning::Plot(nth));
        }
    }
    let arrangement = overlay.arrange();
    // What rounding leaves of a plot on land where none may lie is no plot.
    let may = |row: u32| {
        of_rows
            .get(row as usize)
            .is_some_and(|of| of.strips.is_ok())
    };
    let mut numbers: BTreeMap<(u32, Option<usize>), u32> = BTreeMap::new();
    let mut areas: BTreeMap<(usize, u32), i128> = BTreeMap::new();
    let mut keys: Vec<Option<(u32, Option<usize>)>> = Vec::with_capacity(arrangement.faces());
    for face in 0..arrangement.faces() as u32 {
        let (mut row, mut plot) = (None, None);
        for polygon in overlay.covering(&arrangement, face) {
            match meanings.get(polygon as usize) {
                Some(Meaning::Land(of)) => row = Some(*of),
                Some(Meaning::Plot(of)) => plot = plot.or(Some(*of)),
                None => {}
            }
        }
        let key = row.map(|row| {
            let plot = plot.filter(|_| may(row));
            if let Some(plot) = plot {
                *areas.entry((plot, row)).or_default() += arrangement.area2(face);
            }
            (
                row,
                plot.and_then(|plot| plots.get(plot))
                    .map(|(_, treatment)| *treatment),
            )
        });
        if let Some(key) = key {
            numbers.insert(key, 0);
        }
        keys.push(key);
    }
    numbers
        .values_mut()
        .zip(0..)
        .for_each(|(number, nth)| *number = nth);
    let row_of_face = keys
        .iter()
        .map(|key| numbers.get(key.as_ref()?).copied())
        .collect();
    let rows = &land.rates.rows;
    let facts = numbers
        .keys()
        .map(|(row, _)| rows[*row as usize].facts.clone());
    let (units, kept, mut findings) = zones::cut(
        units,
        arrangement,
        row_of_face,
        facts.collect(),
        job,
        &land.prepared.frame,
    );
    let kept = numbers
        .into_keys()
        .zip(kept)
        .filter_map(|(key, kept)| kept.then_some(key));
    let mut of_land: Vec<Finding> = Vec::new();
    let (mut before, mut treatment, mut combinations) = (Vec::new(), Vec::new(), Vec::new());
    for (nth, (row, treated)) in kept.enumerate() {
        let own = &rows[row as usize];
        let area_m2 = units.area_m2(nth);
        let of_row = of_rows.get(row as usize);
        let strips = of_row.and_then(|of| of.strips.as_ref().ok());
        let rates = treated.and_then(|treated| strips.and_then(|strips| strips.get(treated)));
        let found = treated.and_then(|treated| of_row.and_then(|of| of.findings.get(treated)));
        for of in found.into_iter().flatten() {
            let area_m2 = if of.is_counted { 0.0 } else { area_m2 };
            add_area(&mut of_land, of.finding.clone(), area_m2);
        }
        combinations.push(Combination {
            facts: own.facts.clone(),
            area_m2,
            rates: rates.unwrap_or(&own.rates).clone(),
        });
        before.push(row);
        treatment.push(treated);
    }
    for finding in &mut of_land {
        finding.area_m2 = finding.area_m2.filter(|m2| *m2 > 0.0);
    }
    findings.extend(of_land);
    let mut of_plot: Vec<Vec<(u32, f64)>> = vec![Vec::new(); plots.len()];
    for ((plot, row), area2) in areas {
        of_plot[plot].push((row, area2_to_m2(area2)));
    }
    Ok(WithStrips {
        land: RatedLand::of(land.prepared, Some(units), combinations, job),
        before,
        treatment,
        of_plot,
        findings,
    })
}

/// What a polygon of the overlay stands for; land comes before all plots.
enum Meaning {
    Land(u32),
    Plot(usize),
}
