//! What an audit takes from `plan.json`: only what files are held against.

use super::bounds::Bounds;
use super::outline::Outline;
use super::rated_land::{RatedLand, by_rates};
use super::sums::GridSums;
use crate::document::{
    self, GridOfPlan, ProductNames, TerminalPolygons, ToAudit, TurnedGridOfPlan, Zone,
};
use crate::drive::as_driven::AsDriven;
use crate::findings::{Concerns, Finding, Outcome};
use crate::units::UnitSystem;
use std::borrow::Cow;
use std::path::Path;

/// A plan as its `plan.json` states it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanFacts {
    /// Short id of the plan.
    pub id: String,
    /// The units in which differences are told.
    pub units: UnitSystem,
    /// Mapped area, m2.
    pub mapped_m2: f64,
    /// Products in the order of the job.
    pub products: Vec<PlanProduct>,
    /// The names under which files carry the products, in their order.
    pub(super) names: Vec<ProductNames>,
    /// What the plan's plane and its files may differ by.
    pub(super) bounds: Bounds,
    /// Rates of all products and the land that has them, in order of rates.
    pub(super) land: Vec<RatedLand>,
    /// The field as task data outline it, and all of its border with that of exclusions.
    pub(super) outlined: Outline,
    /// Per difference map of a drive, that of the air stream first; empty without one.
    pub(super) driven: Vec<DrivenMap>,
    /// The same as `land` for what is left to broadcast, per balance.
    pub(super) balance: Vec<RatedLand>,
    /// West, south, east, north of the map zones, degrees.
    pub(super) extent: Option<[f64; 4]>,
    /// Polygon maps with fewer points, for terminals.
    pub(super) polygons: Vec<PlanPolygons>,
    pub(super) metric: PlanGrid,
    pub(super) degrees: PlanGrid,
    /// Grid along the bouts of a cut map, with the kg of each product on it.
    pub(super) turned: Option<(PlanGrid, Vec<f64>)>,
    /// Grid of what is left to broadcast.
    pub(super) balance_grid: Option<PlanGrid>,
    /// What each open decision concerns: nothing that a terminal could load may be there for it.
    pub(super) open: Vec<Concerns>,
}

/// A product of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanProduct {
    pub id: String,
    pub name: String,
    /// On the polygon map; on the metric grid less that; on the grid in degrees less that.
    pub map_kg: f64,
    pub metric_grid_kg: f64,
    pub degrees_grid_kg: f64,
    /// What whole steps of 0.01 kg/ha add on the grid in degrees.
    pub integers_kg: f64,
}

/// A polygon map with fewer points.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlanPolygons {
    /// Ids of its products.
    pub products: Vec<String>,
    /// Rates in that order, and the land that has them, in order of rates.
    pub land: Vec<RatedLand>,
    /// What fewer points add, kg, in that order.
    pub change_kg: Vec<f64>,
    pub extent: Option<[f64; 4]>,
}

/// A difference map of a drive.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DrivenMap {
    /// Of each product the id, kg wanted on the land, kg as driven.
    pub products: Vec<(String, f64, f64)>,
    /// Length of the border of all its pieces, m.
    pub border_m: f64,
    /// Pieces too small to be drawn, m2.
    pub left_out_m2: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlanGrid {
    origin: [f64; 2],
    cell: [f64; 2],
    heading_deg: Option<f64>,
    columns: usize,
    rows: usize,
    pub covered_m2: f64,
    row_sums: Vec<Vec<i64>>,
    column_sums: Vec<Vec<i64>>,
}

impl From<GridOfPlan<'_>> for PlanGrid {
    fn from(of: GridOfPlan) -> Self {
        Self {
            origin: of.origin,
            cell: of.cell,
            heading_deg: None,
            columns: of.columns,
            rows: of.rows,
            covered_m2: of.covered_m2,
            row_sums: of.row_sums,
            column_sums: of.column_sums,
        }
    }
}

impl PlanGrid {
    pub fn sums(&self, degrees: bool) -> GridSums {
        GridSums {
            origin: self.origin,
            cell: self.cell,
            columns: self.columns,
            rows: self.rows,
            row_sums: self.row_sums.clone(),
            column_sums: self.column_sums.clone(),
            degrees,
            heading_deg: self.heading_deg,
        }
    }
}

impl PlanFacts {
    /// Whether a decision is open that keeps files with these products from terminals: any where there are several.
    pub(super) fn keeps_back(&self, products: &[usize]) -> bool {
        let alone = match products {
            [one] => self.products.get(*one),
            _ => None,
        };
        self.open.iter().any(|concerns| match (concerns, alone) {
            (Concerns::Field, _) | (_, None) => true,
            (Concerns::Products(ids), Some(alone)) => ids.contains(&alone.id),
        })
    }

    /// The names of the product with this id.
    pub(super) fn names_of(&self, id: &str) -> Option<&ProductNames> {
        let mut products = self.products.iter().zip(&self.names);
        products
            .find(|(own, _)| own.id == id)
            .map(|(_, names)| names)
    }

    /// The highest rate of the product with this id on the map, kg/ha.
    pub(super) fn highest_kg_per_ha(&self, id: &str) -> f64 {
        let at = self.products.iter().position(|own| own.id == id);
        let rates = self.land.iter().filter_map(|own| own.rates.get(at?));
        rates.copied().fold(0.0, f64::max)
    }

    /// Reads a `plan.json`.
    ///
    /// # Errors
    /// As [`document::read`].
    pub fn read(path: &Path) -> Outcome<Self> {
        document::read(path).map(Self::of)
    }

    fn of(plan: ToAudit) -> Self {
        let products = plan.tally.products.iter().zip(&plan.terminal.products);
        let products = products.map(|(tally, in_terminal)| PlanProduct {
            id: tally.id.clone(),
            name: tally.name.clone(),
            map_kg: tally.map_kg(),
            metric_grid_kg: tally.metric_grid_kg,
            degrees_grid_kg: tally.degrees_grid_kg,
            integers_kg: in_terminal.integers_less_grid_kg,
        });
        let products = products.collect();
        let extent = plan.map.extent_lon_lat;
        let drives = plan.as_driven.iter();
        let drives = drives.chain(plan.spread.iter().map(|unit| &unit.as_driven));
        Self {
            id: plan.id,
            units: plan.job.report.units,
            mapped_m2: plan.tally.mapped_m2,
            products,
            bounds: Bounds::of(plan.frame.origin_lon_lat, extent),
            land: land(plan.map.zones),
            balance: land(plan.balance),
            driven: drives.map(driven).collect(),
            extent,
            names: plan.terminal.carried_as,
            outlined: plan.terminal.outline.into(),
            polygons: plan.terminal.polygons.into_iter().map(polygons).collect(),
            metric: plan.grids.metric.into(),
            degrees: plan.grids.degrees.into(),
            turned: plan.grids.turned.map(turned),
            balance_grid: plan.grids.balance.map(PlanGrid::from),
            open: plan
                .findings
                .iter()
                .filter(|finding| finding.is_open())
                .map(of_open)
                .collect(),
        }
    }
}

/// What a decision concerns; one that does not say so concerns all.
fn of_open(finding: &Finding) -> Concerns {
    finding.concerns.clone().unwrap_or(Concerns::Field)
}

fn turned(of: TurnedGridOfPlan) -> (PlanGrid, Vec<f64>) {
    let cells = PlanGrid {
        heading_deg: Some(of.heading_deg),
        ..PlanGrid::from(of.cells)
    };
    (cells, of.kg)
}

fn land(zones: Vec<Zone>) -> Vec<RatedLand> {
    let land = zones.into_iter().map(|zone| RatedLand {
        outline: zone.outline().into(),
        rates: zone.kg_per_ha.into_owned(),
    });
    by_rates(land.collect())
}

fn polygons(map: TerminalPolygons) -> PlanPolygons {
    let land = map.zones.into_iter().map(|zone| RatedLand {
        outline: zone.outline().into(),
        rates: zone.kg_per_ha.into_owned(),
    });
    PlanPolygons {
        products: map.products.into_iter().map(Cow::into_owned).collect(),
        land: by_rates(land.collect()),
        change_kg: map.change_kg,
        extent: map.extent_lon_lat,
    }
}

fn driven(drive: &AsDriven) -> DrivenMap {
    let products = drive.products.iter();
    DrivenMap {
        products: products
            .map(|of| (of.id.clone(), of.map_kg, of.as_driven_kg))
            .collect(),
        border_m: drive.difference_map.border_m,
        left_out_m2: drive.difference_map.left_out_m2,
    }
}
