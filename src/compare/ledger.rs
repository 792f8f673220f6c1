//! What a comparison and a harvest bring to the ledger: rows by zone, and the land they are about.

use super::land::Ground;
use super::{Compared, PlanMap, SownZone, rest};
use crate::coordinates::PlaneXy;
use crate::geometry::overlay::Overlay;
use crate::geometry::{Pt, Shape};
use crate::job::{Grade, Kind};
use crate::ledger::{Column, Piece, Row, What};
use crate::map::lon_lat;
use crate::read::Polygon;
use crate::units::M2_PER_HA;

/// What stands under `part` for product that lies on no zone.
const BEYOND: &str = "beyond the plan's land";
const NOT_PLACED: &str = "without a place";
/// A zone that is drilled to this share is drilled as a whole: squares err along outlines. Common practice, no source.
const WHOLE: f64 = 0.98;

/// What of a plan goes into the ledger.
pub(super) struct Owner {
    pub farm: String,
    pub customer: String,
    /// Per product.
    pub kinds: Vec<Kind>,
    pub grades: Vec<Option<Grade>>,
    pub crops: Vec<String>,
    /// Per zone and product: the lots that its land was planned with.
    pub lots: Vec<Vec<String>>,
}

impl PlanMap {
    /// A row of the ledger about the field of the plan.
    pub fn ledger_row(&self, what: What, date: &str) -> Row {
        let mut row = Row::new(what, date);
        row.put(Column::Farm, &self.owner.farm);
        row.put(Column::Customer, &self.owner.customer);
        row.put(Column::Field, &self.field);
        row.put(Column::Plan, &self.id);
        row
    }

    /// Crops of the seeds that it sows, each once, as the job calls them.
    pub fn crops(&self) -> Vec<&str> {
        let owner = &self.owner;
        let seeds = owner.kinds.iter().zip(&owner.crops).zip(&self.products);
        let of_seeds =
            seeds
                .filter(|((kind, _), _)| **kind == Kind::Seed)
                .map(|((_, crop), product)| match crop.is_empty() {
                    true => product.id.as_str(),
                    false => crop.as_str(),
                });
        let mut crops: Vec<&str> = Vec::new();
        for crop in of_seeds {
            if !crops.contains(&crop) {
                crops.push(crop);
            }
        }
        crops
    }

    /// Customer and farm of the field; empty where they have no name.
    pub fn owner_names(&self) -> [String; 2] {
        [self.owner.customer.clone(), self.owner.farm.clone()]
    }

    /// Number, part and area in m2 of each zone of the map, with its land in degrees.
    pub fn zones_in_degrees(
        &self,
    ) -> impl Iterator<Item = (i64, &str, f64, Vec<Polygon<crate::coordinates::LonLat>>)> {
        self.zones.iter().map(|zone| {
            let shapes = zone.polygons.iter().filter_map(shape);
            let polygons = shapes.map(|own| lon_lat(&own, &self.frame)).collect();
            (zone.number, zone.part.as_str(), zone.area_m2, polygons)
        })
    }
}

/// The rows of a comparison: by product and zone, and what lies on no zone. Those of all products add up to what was sown.
pub fn ledger_rows(plan: &PlanMap, figures: &Compared) -> Vec<Row> {
    let owner = &plan.owner;
    let tasks = figures.tasks.join(" ");
    let mut rows = Vec::new();
    for (at, (product, planned)) in figures.products.iter().zip(&plan.products).enumerate() {
        let kind = owner.kinds.get(at).copied().unwrap_or(Kind::Seed);
        let grade = owner.grades.get(at).copied().flatten();
        let what = match kind {
            Kind::Seed => What::Sown,
            Kind::Fertiliser => What::Placed,
        };
        let crop = owner.crops.get(at).map_or("", String::as_str);
        let row = |kg: f64, drilled_ha: f64| {
            let mut row = plan.ledger_row(what, &figures.first_day);
            row.put(Column::Tasks, &tasks);
            row.put(Column::Logs, &figures.signs.join(" "));
            row.put(Column::Product, &product.id);
            row.put(Column::Name, &planned.name);
            row.put(Column::Crop, crop);
            row.put(Column::By, if product.by_total { "total" } else { "rate" });
            let per_ha = |kg: f64| (drilled_ha > 0.0).then(|| kg / drilled_ha);
            row.put_number(Column::Kg, Some(kg), 3);
            row.put_number(Column::KgPerHa, per_ha(kg), 2);
            let in_all = [Column::NKg, Column::P2o5Kg, Column::K2oKg, Column::SKg];
            let each = [
                Column::NKgPerHa,
                Column::P2o5KgPerHa,
                Column::K2oKgPerHa,
                Column::SKgPerHa,
            ];
            for ((percent, in_all), each) in percents(grade).into_iter().zip(in_all).zip(each) {
                let of = percent.map(|percent| kg * percent / 100.0);
                row.put_number(in_all, of, 3);
                row.put_number(each, of.and_then(per_ha), 3);
            }
            row
        };
        for (nth, zone) in figures.zones.iter().enumerate() {
            let kg = zone.sown_kg.get(at).copied().unwrap_or(0.0);
            let drilled_ha = zone.drilled_m2 / M2_PER_HA;
            let mut row = row(kg, drilled_ha);
            let lot = owner.lots.get(nth).and_then(|own| own.get(at));
            row.put(Column::Lot, lot.map_or("", String::as_str));
            row.put(Column::Zone, &zone.zone.to_string());
            row.put(Column::Part, &zone.part);
            row.put_number(Column::ZoneHa, Some(zone.area_m2 / M2_PER_HA), 4);
            row.put_number(Column::DrilledHa, Some(drilled_ha), 4);
            rows.push(row);
        }
        let beyond_ha = figures.beyond_m2 / M2_PER_HA;
        let mut beyond = row(product.beyond_kg, beyond_ha);
        beyond.put(Column::Part, BEYOND);
        beyond.put_number(Column::DrilledHa, Some(beyond_ha), 4);
        rows.push(beyond);
        if let Some(kg) = product.not_placed_kg {
            let mut row = row(kg, 0.0);
            row.put(Column::Part, NOT_PLACED);
            rows.push(row);
        }
    }
    rows
}

/// N, P2O5, K2O and S in a grade, %.
fn percents(grade: Option<Grade>) -> [Option<f64>; 4] {
    let of = |percent: fn(Grade) -> f64| grade.map(percent);
    [
        of(|grade| grade.n_percent),
        of(|grade| grade.p2o5_percent),
        of(|grade| grade.k2o_percent),
        grade.and_then(|grade| grade.s_percent),
    ]
}

/// The land of a comparison: each zone that was drilled, or what of it was drilled, with the nutrients that came there.
pub(super) fn pieces(plan: &PlanMap, ground: &Ground, figures: &Compared) -> Vec<Piece> {
    let owner = &plan.owner;
    let whole = |zone: &SownZone| zone.drilled_m2 >= WHOLE * zone.area_m2;
    let drilled = match figures.zones.iter().all(whole) {
        true => Vec::new(),
        false => rest::drilled_shapes(plan, ground, &[]),
    };
    let land = |zone: &super::planned::Zone, sown: &SownZone| -> Vec<Shape> {
        let own: Vec<Shape> = zone.polygons.iter().filter_map(shape).collect();
        match (sown.drilled_m2 > 0.0, whole(sown)) {
            (false, _) => Vec::new(),
            (true, true) => own,
            (true, false) => both(own, &drilled),
        }
    };
    let zones = plan.zones.iter().zip(&figures.zones);
    let piece = |(zone, sown): (&super::planned::Zone, &SownZone)| {
        let drilled_ha = sown.drilled_m2 / M2_PER_HA;
        let mut kg_per_ha = [Some(0.0); 4];
        for (at, kg) in sown.sown_kg.iter().enumerate() {
            if owner.kinds.get(at) != Some(&Kind::Fertiliser) || *kg <= 0.0 {
                continue;
            }
            let grade = owner.grades.get(at).copied().flatten();
            for (sum, percent) in kg_per_ha.iter_mut().zip(percents(grade)) {
                let of = percent.map(|percent| kg * percent / 100.0 / drilled_ha);
                *sum = sum.zip(of).map(|(sum, of)| sum + of);
            }
        }
        let [customer, farm] = plan.owner_names();
        Piece {
            what: What::Placed.word(),
            date: figures.first_day.clone(),
            customer,
            farm,
            field: plan.field.clone(),
            plan: plan.id.clone(),
            tasks: figures.tasks.join(" "),
            logs: figures.signs.join(" "),
            zone: zone.number,
            kg_per_ha,
            yield_t_per_ha: None,
            polygons: land(zone, sown)
                .iter()
                .map(|own| lon_lat(own, &plan.frame))
                .collect(),
        }
    };
    zones.map(piece).collect()
}

/// Land that lies in one of the first and in one of the second.
fn both(own: Vec<Shape>, others: &[Shape]) -> Vec<Shape> {
    let mut overlay = Overlay::default();
    let first = own.len() as u32;
    for shape in own.into_iter().chain(others.iter().cloned()) {
        overlay.add(shape);
    }
    overlay.shapes_where(|covering| {
        covering.iter().any(|number| *number < first)
            && covering.iter().any(|number| *number >= first)
    })
}

/// A polygon of the plane on the grid of exact geometry, its rings open.
fn shape(polygon: &Polygon<PlaneXy>) -> Option<Shape> {
    let ring = |ring: &Vec<PlaneXy>| {
        let points: Option<Vec<Pt>> = ring.iter().map(|at| Pt::from_metres(at.pair())).collect();
        let mut points = points?;
        points.dedup();
        if points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        Some(points)
    };
    Some(Shape {
        exterior: ring(&polygon.exterior)?,
        holes: polygon.holes.iter().map(ring).collect::<Option<_>>()?,
    })
}
