//! Plants counted after emergence against the seeds that the plan sowed: the establishment reached.
//!
//! Method: `docs/methods/establishment.md`.

mod redrill;
pub mod round;

pub use redrill::Redrill;

use crate::agronomy::seed::{establishment_of, plants_per_m2_of_row};
use crate::coordinates::PlaneXy;
use crate::findings::{Decision, Fault, Finding, Outcome, Place};
use crate::job::{ByClass, Job, Lookup, Product, row_spacing_m};
use crate::plan::{Plan, rows_at};
use crate::read::{Geometry, Layer, Value};
use serde::Serialize;
use std::collections::BTreeMap;

/// Fewer counts in a class than this say little. Common practice, no source.
const FEW: usize = 5;

/// What a count is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Per {
    /// Plants per metre of row.
    Metre,
    /// Plants per m2.
    SquareMetre,
}

/// What the counts are, and which product they are of.
pub struct Asked<'a> {
    /// Place of the seed in the job's list of products.
    pub product: usize,
    /// Place of the layer in the job's list whose classes are told apart; none for the whole field.
    pub layer: Option<usize>,
    /// Attribute that holds the counts.
    pub column: &'a str,
    pub per: Per,
    /// What drilling a hectare again costs beside the seed, in the currency of the job.
    pub redrill_per_ha: Option<f64>,
}

/// The establishment that was reached.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reached {
    pub product: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    pub counts: usize,
    /// Counts that do not lie on land where the product is sown.
    pub left_out: usize,
    /// By class, in the order of their names; one without a class for the whole field.
    pub classes: Vec<Class>,
    /// The counts against published lines.
    pub redrill: Redrill,
    pub findings: Vec<Finding>,
}

/// Counts of one class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Class {
    pub class: String,
    pub counts: usize,
    /// Mean, lowest and highest count; none without a count.
    pub plants_per_m2: Option<[f64; 3]>,
    /// Mean of the seeds that the plan sowed where plants were counted.
    pub seeds_per_m2: Option<f64>,
    /// Mean over the counts, in the sense of the job's `germination_joined`.
    pub establishment_percent: Option<f64>,
    /// Standard deviation of the single counts' establishment; none with one count.
    pub spread_percent: Option<f64>,
    /// What the job counted on; none where it has no establishment for the class.
    pub planned_percent: Option<f64>,
    /// For next season's job: what was reached, 1 to 100 with one decimal; what was planned where nothing
    /// was counted.
    pub next_percent: Option<f64>,
}

/// A count at its place.
struct Count {
    plants_per_m2: f64,
    seeds_per_m2: f64,
    percent: f64,
}

/// Holds counts (points in the field's plane) against the seeds that the plan sows where they lie.
///
/// # Errors
/// No such attribute, a count that is no number or below 0, a count per metre without row spacing, no count
/// on land that is sown, seed whose grain weight is not known.
pub fn establishment(plan: &Plan, points: &Layer<PlaneXy>, asked: &Asked) -> Outcome<Reached> {
    let job = &plan.job;
    let product = job.products.get(asked.product).ok_or_else(|| {
        Fault::input(
            "establishment.product",
            Place::file(&job.file),
            "there is no such product",
            "a seed of the job",
            "name one of its products",
        )
    })?;
    let factor = match asked.per {
        Per::SquareMetre => None,
        Per::Metre => Some(row_spacing_m(job).ok_or_else(|| no_spacing(job))?),
    };
    let counted = counted(points, asked.column)?;
    if counted.is_empty() {
        return Err(nothing_counted(points, asked.column));
    }
    let places: Vec<PlaneXy> = counted.iter().map(|(place, _)| *place).collect();
    let mut by_class: BTreeMap<String, Vec<Count>> = BTreeMap::new();
    for combination in &plan.rates.rows {
        by_class
            .entry(class_of(&combination.facts.classes, asked))
            .or_default();
    }
    let mut left_out = 0;
    for ((_, number), row) in counted.iter().zip(rows_at(plan, &places)) {
        let combination = row.and_then(|row| plan.rates.rows.get(row));
        let rate = combination.and_then(|own| Some((own, own.rates.get(asked.product)?)));
        let Some((combination, rate)) = rate.filter(|(_, rate)| rate.kg_per_ha > 0.0) else {
            left_out += 1;
            continue;
        };
        let stand = rate.stand.as_ref().ok_or_else(|| no_weight(job, product))?;
        let plants_per_m2 = match factor {
            Some(spacing) => plants_per_m2_of_row(*number, spacing),
            None => *number,
        };
        let germination = germination(product, rate.lot);
        let share = plants_per_m2 / stand.seeds_per_m2;
        let joined = product.rate.germination_joined;
        let count = Count {
            plants_per_m2,
            seeds_per_m2: stand.seeds_per_m2,
            percent: establishment_of(share, germination, joined)?,
        };
        let class = class_of(&combination.facts.classes, asked);
        by_class.entry(class).or_default().push(count);
    }
    if left_out == counted.len() {
        return Err(Fault::input(
            "establishment.off_field",
            points.place(),
            format!(
                "none of the {} counts lies on land where '{}' is sown",
                counted.len(),
                product.id
            ),
            "counts on the field",
            "check the CRS of the counts, or name it with --crs",
        ));
    }
    let mut findings = Vec::new();
    if left_out > 0 {
        findings.push(Finding::warning(
            "establishment.left_out",
            points.place(),
            format!(
                "{left_out} of {} counts do not lie on land where '{}' is sown: left out",
                counted.len(),
                product.id
            ),
        ));
    }
    let mut classes = Vec::new();
    for (class, counts) in &by_class {
        let planned = planned(plan, asked, class)?;
        classes.push(summed(class, counts, planned, points, &mut findings));
    }
    let redrill = redrill::held(plan, asked, product, &classes, asked.redrill_per_ha);
    findings.extend(redrill.below.iter().map(|own| own.finding(job)));
    Ok(Reached {
        redrill,
        product: product.id.clone(),
        layer: asked
            .layer
            .and_then(|layer| job.layers.get(layer))
            .map(|layer| layer.name.clone()),
        counts: counted.len() - left_out,
        left_out,
        classes,
        findings,
    })
}

impl Reached {
    /// The establishment for next season's job; `None` where a class has neither a count nor a plan.
    pub fn lookup(&self) -> Option<Lookup> {
        let Some(layer) = &self.layer else {
            return self.classes.first()?.next_percent.map(Lookup::Same);
        };
        let known = self.classes.iter();
        let by_class: Option<BTreeMap<String, f64>> = known
            .map(|class| Some((class.class.clone(), class.next_percent?)))
            .collect();
        Some(Lookup::ByClass(ByClass {
            layer: layer.clone(),
            by_class: by_class?,
            curve: Vec::new(),
            otherwise: None,
        }))
    }
}

fn class_of(classes: &[String], asked: &Asked) -> String {
    let class = asked.layer.and_then(|layer| classes.get(layer));
    class.cloned().unwrap_or_default()
}

/// Places and numbers of the counts.
fn counted(points: &Layer<PlaneXy>, column: &str) -> Outcome<Vec<(PlaneXy, f64)>> {
    let at = points.attributes.iter().position(|name| name == column);
    let at = at.ok_or_else(|| {
        Fault::input(
            "establishment.column",
            points.place(),
            format!("there is no column or attribute '{column}'"),
            format!("one of: {}", points.attributes.join(", ")),
            "name it with --column",
        )
    })?;
    let mut all = Vec::new();
    for feature in &points.features {
        let Geometry::Points(places) = &feature.geometry else {
            continue;
        };
        let cell = feature.values.get(at);
        let number = match cell {
            None | Some(Value::Missing) => continue,
            Some(Value::Text(text)) if text.trim().is_empty() => continue,
            Some(Value::Integer(number)) => *number as f64,
            Some(Value::Number(number)) => *number,
            Some(other) => other.to_string().trim().parse().unwrap_or(f64::NAN),
        };
        if !(number.is_finite() && number >= 0.0) {
            return Err(Fault::input(
                "establishment.no_number",
                points.place().feature(&feature.name),
                format!(
                    "the count in '{column}' is '{}', which is no number of 0 or more",
                    cell.map_or(String::new(), ToString::to_string)
                        .escape_debug()
                ),
                "plants per metre of row or per m2",
                "correct the count, or leave the cell empty",
            ));
        }
        all.extend(places.iter().map(|place| (*place, number)));
    }
    Ok(all)
}

/// A table that nobody filled in, or one without places.
fn nothing_counted(points: &Layer<PlaneXy>, column: &str) -> Box<Fault> {
    let places = points.features.iter();
    let places = places.filter(|feature| matches!(feature.geometry, Geometry::Points(_)));
    let (found, next) = match places.count() {
        0 => (
            "there is no point".to_owned(),
            "give the table of the round, filled in",
        ),
        1 => (
            format!("column '{column}' is empty in the only line"),
            "fill it in, or name the column that holds the counts with --column",
        ),
        all => (
            format!("column '{column}' is empty in all {all} lines"),
            "fill it in, or name the column that holds the counts with --column",
        ),
    };
    Fault::input(
        "establishment.nothing_counted",
        points.place(),
        found,
        "a count of plants in one line at least",
        next,
    )
}

fn germination(product: &Product, lot: Option<usize>) -> Option<f64> {
    let lot = lot.and_then(|lot| product.each_lot().get(lot));
    let of_lot = lot.and_then(|lot| lot.germination_percent);
    of_lot.or(product.germination_percent)
}

/// The establishment that the job counted on in a class.
fn planned(plan: &Plan, asked: &Asked, class: &str) -> Outcome<Option<f64>> {
    let Some(product) = plan.job.products.get(asked.product) else {
        return Ok(None);
    };
    let rows = plan.rates.rows.iter();
    let own = rows.filter(|row| class_of(&row.facts.classes, asked) == class);
    for row in own {
        let rate = row.rates.get(asked.product);
        let Some((rate, stand)) = rate.and_then(|rate| Some((rate, rate.stand.as_ref()?))) else {
            continue;
        };
        if let Some(plants) = stand.plants_per_m2 {
            let share = plants / stand.seeds_per_m2;
            let germination = germination(product, rate.lot);
            return establishment_of(share, germination, product.rate.germination_joined).map(Some);
        }
    }
    Ok(None)
}

fn summed(
    class: &str,
    counts: &[Count],
    planned_percent: Option<f64>,
    points: &Layer<PlaneXy>,
    findings: &mut Vec<Finding>,
) -> Class {
    let of = match class.is_empty() {
        true => "on the field".to_owned(),
        false => format!("on '{class}'"),
    };
    let number = counts.len() as f64;
    let mean = |value: &dyn Fn(&Count) -> f64| {
        (!counts.is_empty()).then(|| counts.iter().map(value).sum::<f64>() / number)
    };
    let percent = mean(&|count| count.percent);
    let plants = counts.iter().map(|count| count.plants_per_m2);
    let plants_per_m2 = mean(&|count| count.plants_per_m2).map(|mean| {
        let lowest = plants.clone().fold(f64::INFINITY, f64::min);
        let highest = plants.fold(f64::NEG_INFINITY, f64::max);
        [mean, lowest, highest]
    });
    let spread_percent = percent.filter(|_| counts.len() > 1).map(|mean| {
        let squares = counts.iter().map(|count| (count.percent - mean).powi(2));
        (squares.sum::<f64>() / (number - 1.0)).sqrt()
    });
    let one_decimal = |percent: f64| (percent * 10.0).round() / 10.0;
    let next_percent = match percent {
        Some(percent) if !(1.0..=100.0).contains(&percent) => {
            findings.push(Finding::decision(
                Decision::EstablishmentBeyond,
                points.place(),
                format!(
                    "{:.1} % establishment {of} cannot be: 1 to 100 % can. The table has the nearest of the two; check the counts, what they are per, and whether the seed was sown as planned",
                    percent
                ),
            ));
            Some(percent.clamp(1.0, 100.0))
        }
        Some(percent) => Some(one_decimal(percent)),
        None => planned_percent.map(one_decimal),
    };
    if counts.is_empty() {
        findings.push(Finding::warning(
            "establishment.not_counted",
            points.place(),
            match planned_percent {
                Some(_) => format!("nothing was counted {of}: the table has what the job had"),
                None => {
                    format!("nothing was counted {of}, and the job has no establishment for it")
                }
            },
        ));
    } else if counts.len() < FEW {
        findings.push(Finding::warning(
            "establishment.few_counts",
            points.place(),
            format!("{} counts {of}: fewer than {FEW} say little", counts.len()),
        ));
    }
    Class {
        class: class.to_owned(),
        counts: counts.len(),
        plants_per_m2,
        seeds_per_m2: mean(&|count| count.seeds_per_m2),
        establishment_percent: percent,
        spread_percent,
        planned_percent,
        next_percent,
    }
}

fn no_spacing(job: &Job) -> Box<Fault> {
    Fault::input(
        "establishment.no_row_spacing",
        Place::file(&job.file),
        "plants per metre of row are no plants per m2 without the row spacing, and the job does not give it",
        "'row_spacing_m' or 'rows' in [drill]",
        "add it, or count plants per m2",
    )
}

fn no_weight(job: &Job, product: &Product) -> Box<Fault> {
    Fault::input(
        "establishment.no_grain_weight",
        Place::file(&job.file),
        format!(
            "how many seeds were sown of '{}' cannot be told without its thousand-grain weight",
            product.id
        ),
        "'thousand_grain_weight_g' of the product",
        "add it from the label of the lot",
    )
}
