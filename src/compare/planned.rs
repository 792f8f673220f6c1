//! What a comparison takes from a plan: its zones with their land, products and the drill.

use super::ledger::Owner;
use crate::codec::taskdata::designator;
use crate::coordinates::{LonLat, PlaneXy};
use crate::document::{self, LandRates, ToCompare, ZoneMap};
use crate::findings::{Fault, Outcome, Place};
use crate::frame::{Crs, Frame, as_drawn};
use crate::job::{Job, Language, Moisture};
use crate::land::widening_m;
use crate::plan::{LaidTrial, OtherSeedbed};
use crate::read::{self, Geometry, Polygon, Value};
use crate::units::UnitSystem;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// A plan as its folder holds it.
pub struct PlanMap {
    pub id: String,
    /// Of two plans for a moist and a dry seedbed, the other one.
    pub other_seedbed: Option<OtherSeedbed>,
    /// The units and the language of the job's pages.
    pub units: UnitSystem,
    pub language: Language,
    /// When it was to be sown, YYYY-MM-DD, where the job says it.
    pub sowing_date: Option<String>,
    /// Name of the field.
    pub field: String,
    pub products: Vec<Planned>,
    /// Width of one bout, m, and of each section, left to right; empty for one section.
    pub width_m: f64,
    pub sections_m: Vec<f64>,
    /// By how much the land of the map that a setback keeps free is wider than the strip to keep, m.
    pub widened_m: f64,
    /// Longest time from the terminal's word to the first grain, of all products, s.
    pub start_delay_s: f64,
    /// By how much the outlets lie behind the place in the log, as the job says it, m.
    pub behind_m: f64,
    /// Edge of a square of the difference map, m.
    pub square_m: f64,
    /// Trials that were laid out in it.
    pub trials: Vec<LaidTrial>,
    /// Name of its job, without the word for one of two seedbeds.
    job_name: String,
    /// What tells fields apart in the boundary of its job: attributes with the values of this one.
    only: BTreeMap<String, String>,
    pub(super) zones: Vec<Zone>,
    pub(super) owner: Owner,
    pub(super) frame: Frame,
}

/// A product of the plan.
pub struct Planned {
    pub id: String,
    pub name: String,
    /// Name in our task data.
    pub in_task_data: Option<String>,
    pub hopper: String,
    pub thousand_grain_weight_g: Option<f64>,
    pub bulk_density_kg_per_l: Option<f64>,
}

/// A map zone; polygons in the field's plane.
pub(super) struct Zone {
    pub number: i64,
    pub part: String,
    pub kg_per_ha: Vec<f64>,
    pub area_m2: f64,
    /// Per product: whether a setback keeps it off all of this land.
    pub kept_off: Vec<bool>,
    pub polygons: Vec<Polygon<PlaneXy>>,
}

impl PlanMap {
    /// Reads a plan: its folder, or the plan.json in it.
    ///
    /// # Errors
    /// As [`document::read`]; a map that is not there or does not belong to the plan.
    pub fn read(path: &Path) -> Outcome<Self> {
        let json_file = document::file_of(path);
        let plan: ToCompare = document::read(&json_file)?;
        let folder = json_file.parent().unwrap_or(Path::new("."));
        let layer = read::read(&folder.join("gis").join("rates.gpkg"), Some("rates"))?;
        let crs = Crs::of(&layer, None)?;
        let layer = as_drawn(layer, &crs)?;
        let column = layer.attributes.iter().position(|name| name == "zone");
        let mut points: Vec<LonLat> = Vec::new();
        let mut drawn: Vec<(i64, Vec<Polygon<LonLat>>)> = Vec::new();
        for feature in layer.features {
            let number = column.and_then(|at| feature.values.get(at));
            if let (Some(Value::Integer(number)), Geometry::Polygons(polygons)) =
                (number, feature.geometry)
            {
                points.extend(polygons.iter().flat_map(|p| p.exterior.iter().copied()));
                drawn.push((*number, polygons));
            }
        }
        let frame = Frame::centred_on(&points)?;
        let in_plane = |polygon: Polygon<LonLat>| {
            let holes = polygon.holes.into_iter();
            Polygon {
                exterior: frame.all_to_plane(polygon.exterior),
                holes: holes.map(|hole| frame.all_to_plane(hole)).collect(),
            }
        };
        let drawn = drawn.into_iter();
        let drawn = drawn.map(|(number, own)| (number, own.into_iter().map(in_plane).collect()));
        let drawn = drawn.collect();
        let bad = |what: String| {
            Fault::input(
                "compare.plan",
                Place::file(&json_file),
                what,
                "the folder of a plan, as 'twinsow plan' has written it",
                "Name the folder of the plan or the plan.json in it, or plan the job again.",
            )
        };
        Self::of(plan, drawn, frame).map_err(bad)
    }

    /// What is wrong with the plan, if anything, is a text.
    fn of(
        plan: ToCompare,
        drawn: Vec<(i64, Vec<Polygon<PlaneXy>>)>,
        frame: Frame,
    ) -> Result<Self, String> {
        let job = plan.job;
        let owner = Owner {
            farm: job.field.farm.clone(),
            customer: job.field.customer.clone(),
            kinds: job.products.iter().map(|own| own.kind).collect(),
            grades: job.products.iter().map(|own| own.grade).collect(),
            crops: job
                .products
                .iter()
                .map(|own| own.crop.clone().unwrap_or_default())
                .collect(),
            lots: lots(&job, &plan.rate_table, &plan.map),
        };
        let start_s = |product: &crate::job::Product| {
            let hopper = job
                .drill
                .hoppers
                .iter()
                .find(|own| own.name == product.hopper);
            let delays = product.delays.or(hopper.map(|own| own.delays));
            delays.map_or(0.0, |delays| delays.start_s)
        };
        let start_delay_s = job.products.iter().map(start_s).fold(0.0, f64::max);
        let mut names = plan.terminal.carried_as.into_iter();
        let products = job.products.into_iter().map(|product| Planned {
            in_task_data: names.next().map(|own| own.task_data),
            id: product.id,
            name: product.name,
            hopper: product.hopper,
            thousand_grain_weight_g: product.thousand_grain_weight_g,
            bulk_density_kg_per_l: product.bulk_density_kg_per_l,
        });
        let products: Vec<Planned> = products.collect();
        let setbacks = job.setbacks;
        // Per product: rows of the rate table that a setback keeps it off.
        let kept_off: Vec<BTreeSet<usize>> = products
            .iter()
            .map(|product| {
                let own = setbacks
                    .iter()
                    .filter(|own| own.products.contains(&product.id));
                let names: BTreeSet<&str> = own.map(|own| own.name.as_str()).collect();
                let rows = plan.rate_table.iter();
                let kept =
                    rows.filter(|row| row.setbacks.iter().any(|own| names.contains(own.as_ref())));
                kept.map(|row| row.row).collect()
            })
            .collect();
        let mut zones = Vec::new();
        for (nth, zone) in plan.map.zones.into_iter().enumerate() {
            let own = |key: &str| format!("The plan's 'map.zones[{nth}].{key}'");
            let rates = zone.kg_per_ha.into_owned();
            if rates.len() != products.len() {
                return Err(format!(
                    "{} has {} rates for {} products",
                    own("kg_per_ha"),
                    rates.len(),
                    products.len()
                ));
            }
            let number = i64::try_from(zone.zone).ok();
            let polygons = drawn.iter().find(|(drawn, _)| Some(*drawn) == number);
            let Some((number, polygons)) = polygons else {
                return Err(format!(
                    "{} is {}, and gis/rates.gpkg beside it has no such zone",
                    own("zone"),
                    zone.zone
                ));
            };
            zones.push(Zone {
                number: *number,
                part: zone.part.word().to_owned(),
                kg_per_ha: rates,
                area_m2: zone.area_m2,
                kept_off: kept_off
                    .iter()
                    .map(|kept| {
                        !zone.rows.is_empty() && zone.rows.iter().all(|row| kept.contains(row))
                    })
                    .collect(),
                polygons: polygons.clone(),
            });
        }
        let wide = |metres: f64, key: &str| match metres > 0.1 {
            true => Ok(metres),
            false => Err(format!("The plan's '{key}' is {metres} m")),
        };
        let [cell_m, _] = plan.grids.metric.cell;
        let mark = plan.seedbed.as_ref().map(|own| own.moisture.mark());
        let plain = mark.and_then(|mark| job.name.strip_prefix(mark)?.strip_prefix(' '));
        let job_name = plain.unwrap_or(&job.name).to_owned();
        Ok(Self {
            id: plan.id,
            other_seedbed: plan.seedbed,
            units: job.report.units,
            language: job.report.language,
            sowing_date: job.sowing_date,
            field: job.field.name,
            job_name,
            only: job.field.boundary.only,
            products,
            width_m: wide(job.drill.working_width_m, "job.drill.working_width_m")?,
            start_delay_s,
            behind_m: job.drill.reference_to_outlets_m,
            widened_m: widening_m(&job.drill),
            sections_m: job.drill.sections_m,
            square_m: wide(cell_m, "grids.metric.cell[0]")?,
            trials: plan.trials,
            zones,
            owner,
            frame,
        })
    }

    /// The field's plane.
    pub fn frame(&self) -> &Frame {
        &self.frame
    }

    /// Whether a job is the one that the plan was made from, by its name and that of its field. Its settings may have changed since.
    pub fn is_of(&self, job: &Job) -> bool {
        let own = match &job.field.split_by {
            None => Some(Cow::Borrowed(job)),
            Some(attribute) => {
                let value = self.only.get(attribute);
                value.map(|value| Cow::Owned(job.one_field(value)))
            }
        };
        own.is_some_and(|own| own.plain_name() == self.job_name && own.field.name == self.field)
    }

    /// Whether a task of a plan of this field with another id would have this name.
    pub(super) fn names_task(&self, name: &str, id: &str) -> bool {
        let products = self.products.iter().map(|own| &own.name);
        let ends: Vec<&String> = [&self.job_name, &self.field]
            .into_iter()
            .chain(products)
            .collect();
        let marks = [Moisture::Dry, Moisture::Moist].map(|own| format!("{} ", own.mark()));
        let [dry, moist] = &marks;
        ["", "Spreader ", dry, moist].iter().any(|front| {
            let mut ends = ends.iter();
            ends.any(|end| designator(&format!("{id} {front}{end}")) == name.trim())
        })
    }

    /// The land of each map zone with its number, in the field's plane.
    pub fn land(&self) -> impl Iterator<Item = (i64, &Polygon<PlaneXy>)> {
        let zones = self.zones.iter();
        zones.flat_map(|zone| zone.polygons.iter().map(|polygon| (zone.number, polygon)))
    }

    /// What the map has in a zone, per product, kg/ha.
    pub fn rates_of_zone(&self, number: i64) -> Option<&[f64]> {
        let zone = self.zones.iter().find(|zone| zone.number == number);
        zone.map(|zone| zone.kg_per_ha.as_slice())
    }

    /// The place of a product in the plan.
    ///
    /// # Errors
    /// The plan has no such product.
    pub fn product(&self, id: &str) -> Outcome<usize> {
        let found = self.products.iter().position(|product| product.id == id);
        found.ok_or_else(|| {
            let ids: Vec<&str> = self.products.iter().map(|p| p.id.as_str()).collect();
            Fault::input(
                "compare.product",
                Place::nowhere(),
                format!("The plan has no product '{id}'"),
                format!("one of: {}", ids.join(", ")),
                "Use the id that the product has in the job file.",
            )
        })
    }
}

/// Per zone of the map and product: the lots that its land was planned with.
fn lots(job: &Job, table: &[LandRates], map: &ZoneMap) -> Vec<Vec<String>> {
    let rows: BTreeMap<usize, &LandRates> = table.iter().map(|row| (row.row, row)).collect();
    let of = |zone: &document::Zone, at: usize| {
        let rows = zone.rows.iter().filter_map(|row| rows.get(row));
        let rates = rows.filter_map(|row| row.rates.get(at));
        let lots: BTreeSet<&str> = rates.filter_map(|rate| rate.lot.as_deref()).collect();
        let named = job.products.get(at).and_then(|own| own.lot.clone());
        match lots.is_empty() {
            true => named.unwrap_or_default(),
            false => lots.into_iter().collect::<Vec<_>>().join("; "),
        }
    };
    let zones = map.zones.iter();
    zones
        .map(|zone| (0..job.products.len()).map(|at| of(zone, at)).collect())
        .collect()
}
