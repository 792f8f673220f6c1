//! The field record for an inspector: what was given where, how much, of which lot, when, by whom, how near to water. What nobody
//! knows stays empty. Page: docs/formats/field-record.md.

mod page;
mod table;
mod water;

use super::{Comparison, Laid, PlanMap};
use crate::coordinates::{LonLat, PlaneXy};
use crate::document::{self, ToRecord};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Grade, Kind, Language, Product};
use crate::units::{M2_PER_HA, UnitSystem};
use serde::Serialize;
use std::path::Path;

pub use water::Near;

/// What people have noted, which no log holds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Noted {
    /// Who drove.
    pub operator: Option<String>,
    /// Weather, wind, soil.
    pub weather: Option<String>,
    /// Fit to drill: the soil as it was found.
    pub soil: Option<String>,
    /// Fit to drill: moisture at sowing depth.
    pub moisture: Option<String>,
    /// Ids of products whose tag and bag somebody has looked at.
    pub tags_seen: Vec<String>,
    /// Ids of products, and names of files with a photo of the tag.
    pub tag_photos: Vec<[String; 2]>,
    /// Who signs, and the day, YYYY-MM-DD.
    pub signed: Option<[String; 2]>,
}

impl Noted {
    fn photos_of(&self, product: &str) -> Vec<String> {
        let own = self.tag_photos.iter().filter(|[id, _]| id == product);
        own.map(|[_, file]| file.clone()).collect()
    }

    /// Refuses what was noted of a product that the plan does not have.
    fn check(&self, path: &Path, own: &ToRecord) -> Outcome<()> {
        let photos = self.tag_photos.iter().map(|[id, _]| id);
        let ids = || own.job.products.iter().map(|product| product.id.as_str());
        let mut named = self.tags_seen.iter().chain(photos);
        let Some(other) = named.find(|id| !ids().any(|known| known == id.as_str())) else {
            return Ok(());
        };
        Err(Fault::input(
            "compare.tag_of",
            Place::file(path),
            format!("A tag was seen of '{other}', and the plan has no such product"),
            ids().collect::<Vec<_>>().join(", "),
            "Name a product of the plan after --tag-seen or --tag-photo.",
        ))
    }
}

/// The record of a field.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldRecord {
    /// Says that it is one.
    pub format: &'static str,
    /// Version of the layout.
    pub version: u32,
    /// Units and language that the job has for people; the numbers here are metric all the same.
    pub units: UnitSystem,
    pub language: Language,
    pub plan: String,
    pub tasks: Vec<String>,
    pub logs: Vec<String>,
    /// As the job names them; empty where it does not.
    pub customer: String,
    pub farm: String,
    pub field: String,
    /// Middle of the box around the land, degrees on WGS 84.
    pub middle_lon_lat: Option<LonLat>,
    /// First and last record, by the terminal's clock: YYYY-MM-DD HH:MM.
    pub from: String,
    pub to: String,
    pub on_the_field_h: f64,
    pub planned_ha: f64,
    pub drilled_ha: f64,
    /// Drilled beyond the plan's land.
    pub beyond_ha: f64,
    pub products: Vec<Recorded>,
    /// Water and other things that a setback keeps clear of.
    pub near: Vec<Near>,
    /// Faults that the log shows.
    pub told: Vec<String>,
    pub operator: Option<String>,
    pub weather: Option<String>,
    /// Fit to drill: the soil as it was found, and moisture at sowing depth.
    pub soil: Option<String>,
    pub moisture: Option<String>,
    pub signed_by: Option<String>,
    pub signed_on: Option<String>,
}

/// A product of a record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recorded {
    pub id: String,
    pub name: String,
    pub kind: Kind,
    pub crop: Option<String>,
    /// N-P2O5-K2O, percent.
    pub grade: Option<String>,
    pub dressing: Option<String>,
    /// Several are joined by "; ".
    pub lot: Option<String>,
    /// Whether somebody has said that tag and bag were looked at; `None` where nobody has.
    pub tag_seen: Option<bool>,
    /// Names of files with photos of the tag.
    pub tag_photos: Vec<String>,
    /// By the total that the log counts, or by rate times land.
    pub kg: f64,
    pub by_total: bool,
    /// Passes over it, land driven twice counted twice.
    pub given_ha: f64,
    pub mean_kg_per_ha: Option<f64>,
    /// Nutrients; none for a fertiliser whose grade is not known.
    pub n_kg: Option<f64>,
    pub p2o5_kg: Option<f64>,
    pub k2o_kg: Option<f64>,
}

impl FieldRecord {
    /// The record of a comparison that was asked for one ([`super::Settings::record`]).
    ///
    /// # Errors
    /// A plan that cannot be read.
    pub fn of(
        path: &Path,
        plan: &PlanMap,
        comparison: &Comparison,
        noted: &Noted,
    ) -> Outcome<Self> {
        let own: ToRecord = document::read(path)?;
        noted.check(path, &own)?;
        let figures = &comparison.figures;
        let [from, to] = comparison.times.clone();
        let products = own.job.products.iter().zip(&figures.products).enumerate();
        let products = products.map(|(nth, (product, sown))| {
            let laid_m2: f64 = comparison.laid.iter().map(|laid| laid.area_m2(nth)).sum();
            let kg = sown.sown_kg;
            let grade = product.grade.unwrap_or_default();
            let known = product.grade.is_some() || product.kind == Kind::Seed;
            let of = |percent: f64| known.then_some(kg * percent / 100.0);
            Recorded {
                id: product.id.clone(),
                name: product.name.clone(),
                kind: product.kind,
                crop: product.crop.clone(),
                grade: product.grade.as_ref().map(grade_text),
                dressing: product.dressing.clone(),
                lot: lot(product),
                tag_seen: noted.tags_seen.contains(&product.id).then_some(true),
                tag_photos: noted.photos_of(&product.id),
                kg,
                by_total: sown.by_total,
                given_ha: laid_m2 / M2_PER_HA,
                mean_kg_per_ha: (laid_m2 > 0.0).then(|| kg / laid_m2 * M2_PER_HA),
                n_kg: of(grade.n_percent),
                p2o5_kg: of(grade.p2o5_percent),
                k2o_kg: of(grade.k2o_percent),
            }
        });
        Ok(Self {
            format: "twinsow-field-record",
            version: 1,
            units: own.job.report.units,
            language: own.job.report.language,
            plan: figures.plan.clone(),
            tasks: figures.tasks.clone(),
            logs: figures.logs.clone(),
            customer: own.job.field.customer.clone(),
            farm: own.job.field.farm.clone(),
            field: own.job.field.name.clone(),
            middle_lon_lat: middle(plan),
            from,
            to,
            on_the_field_h: figures.work.on_the_field_h,
            planned_ha: figures.planned_m2 / M2_PER_HA,
            drilled_ha: figures.drilled_m2 / M2_PER_HA,
            beyond_ha: figures.beyond_m2 / M2_PER_HA,
            products: products.collect(),
            near: water::near(path, &own, plan, &comparison.laid),
            told: figures.told.iter().map(|told| told.found.clone()).collect(),
            operator: noted.operator.clone(),
            weather: noted.weather.clone(),
            soil: noted.soil.clone(),
            moisture: noted.moisture.clone(),
            signed_by: noted.signed.as_ref().map(|[by, _]| by.clone()),
            signed_on: noted.signed.as_ref().map(|[_, on]| on.clone()),
        })
    }

    /// The nearest thing that a product must keep clear of, and how near it came, m.
    pub fn nearest(&self, product: &str) -> Option<(&str, f64)> {
        let all = self.near.iter().flat_map(|near| {
            let own = near.nearest_m.iter().filter(|own| own.product == product);
            own.filter_map(|own| Some((near.name.as_str(), own.metres?)))
        });
        all.min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

fn grade_text(grade: &Grade) -> String {
    let percent = [grade.n_percent, grade.p2o5_percent, grade.k2o_percent];
    percent.map(crate::findings::number).join("-")
}

fn lot(product: &Product) -> Option<String> {
    let mut lots: Vec<&str> = product
        .each_lot()
        .iter()
        .map(|lot| lot.lot.as_str())
        .collect();
    lots.extend(product.lot.as_deref());
    lots.retain(|lot| !lot.trim().is_empty());
    lots.dedup();
    (!lots.is_empty()).then(|| lots.join("; "))
}

fn middle(plan: &PlanMap) -> Option<LonLat> {
    let mut points = plan
        .land()
        .flat_map(|(_, polygon)| polygon.exterior.iter().map(|at| at.pair()));
    let first = points.next()?;
    let [low, high] = points.fold([first; 2], |[low, high], [x, y]| {
        [
            [low[0].min(x), low[1].min(y)],
            [high[0].max(x), high[1].max(y)],
        ]
    });
    Some(plan.frame().to_lon_lat(PlaneXy::new(
        (low[0] + high[0]) / 2.0,
        (low[1] + high[1]) / 2.0,
    )))
}

/// Land that was driven over in one stretch, by a part of the width.
impl Laid {
    fn area_m2(&self, product: usize) -> f64 {
        match self.kg_per_ha.get(product).copied().flatten() {
            Some(rate) if rate > 0.0 => self.area_m2,
            _ => 0.0,
        }
    }
}
