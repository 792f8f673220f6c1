//! Files held against a plan: each difference with its cause, in one plain line.

mod drawn_land;

use super::bounds::{self, SINGLE};
use super::carried::{self, Carrier};
use super::facts::{PlanFacts, PlanProduct};
use super::orientation::{Moved, metres, moved, turned};
use super::outline::Outline;
use super::sums::GridSums;
use super::{Delivered, Sown};
use crate::units::{M2_PER_HA, UnitSystem};
use crate::write::ProductNames;
use serde::{Deserialize, Serialize};

/// A difference between a file and the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    /// The file that differs.
    pub file: String,
    /// Task or table of the file, as its format says.
    pub part: String,
    /// Why it differs.
    pub cause: Cause,
    /// What differs, in words.
    pub text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    /// By how much, kg; `None` where it is not a mass.
    pub kg: Option<f64>,
    /// Whether it is one that has to be there.
    pub explained: bool,
    /// Whether the corner of a grid is not where the plan has it.
    #[serde(skip)]
    pub(super) corner: bool,
}

/// Why a file differs from the plan. Outputs name it in snake case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The file does not say what the plan says.
    File,
    /// Cells stand for zones.
    Cells,
    /// Rates in steps of 0.01 kg/ha.
    Integers,
    /// Cells of the rim outside the field carry rates.
    EdgeRim,
    /// Borders were drawn with fewer points.
    FewerPoints,
}

pub(super) fn plan(files: &[Delivered], plan: &PlanFacts) -> Vec<Difference> {
    files
        .iter()
        .flat_map(|file| {
            Against {
                file,
                plan,
                found: Vec::new(),
            }
            .all()
        })
        .collect()
}

pub(super) struct Against<'a> {
    pub(super) file: &'a Delivered,
    pub(super) plan: &'a PlanFacts,
    found: Vec<Difference>,
}

impl Against<'_> {
    fn all(mut self) -> Vec<Difference> {
        let (file, plan) = (self.file, self.plan);
        match &file.plan {
            Some(id) if *id != plan.id => {
                self.wrong(format!("the file is of plan {id}, not of plan {}", plan.id));
                return self.found;
            }
            None => self.known(Cause::File, "the file names no plan".to_string(), None),
            Some(_) => {}
        }
        if file.products.is_empty() {
            // A broken file has said so itself.
            if file.faults.is_empty() {
                self.wrong("the file has no product with kilograms".to_string());
            }
            return self.found;
        }
        let product = |sown: &Sown| carried::product(file, &sown.name, &plan.names);
        let matched: Vec<Option<usize>> = file.products.iter().map(product).collect();
        let all_in = |has: &dyn Fn(&ProductNames, &str) -> bool| {
            let known = |sown: &Sown| plan.names.iter().any(|own| has(own, &sown.name));
            file.products.iter().all(known)
        };
        if matched.iter().all(Option::is_none) && all_in(&|own, name| own.balance == name) {
            self.balance();
            return self.found;
        }
        if matched.iter().all(Option::is_none)
            && all_in(&|own, name| [&own.wanted, &own.sown].iter().any(|own| *own == name))
        {
            self.driven();
            return self.found;
        }
        for (sown, matched) in file.products.iter().zip(&matched) {
            if matched.is_none() {
                self.wrong(format!("'{}' is no product of the plan", sown.name));
            }
        }
        let Some(matched) = matched.into_iter().collect::<Option<Vec<usize>>>() else {
            return self.found;
        };
        // One task of several is loaded with the set.
        let loaded = match file.carrier {
            Carrier::TaskData => Some(&[][..]),
            Carrier::Shapefile => Some(matched.as_slice()),
            Carrier::Whole => None,
        };
        if loaded.is_some_and(|products| plan.keeps_back(products)) {
            self.wrong("a terminal could load this file, and a decision is open about what is in it: it must not be here".to_string());
        }
        match &file.grid {
            Some(grid) => self.grid(grid, &matched),
            None => self.polygons(&matched),
        }
        // What was moved as a whole has said so.
        let outlined = file.outlined.as_ref();
        let outlined = outlined.filter(|_| self.found.iter().all(|found| found.explained));
        if let Some(by) =
            outlined.and_then(|own| elsewhere_by_points(own, &plan.outlined, plan.units))
        {
            self.wrong(format!(
                "the outline of the field is not the plan's: its {by}"
            ));
        }
        self.found
    }

    pub(super) fn wrong(&mut self, text: String) {
        let difference = self.difference(Cause::File, text);
        self.found.push(difference);
    }

    /// A grid whose corner or cell is not the plan's.
    pub(super) fn misplaced(&mut self, moved: Moved) {
        let corner = matches!(moved, Moved::Corner { .. });
        let difference = self.difference(Cause::File, moved.words(self.plan.units));
        self.found.push(Difference {
            corner,
            ..difference
        });
    }

    fn known(&mut self, cause: Cause, text: String, kg: Option<f64>) {
        let difference = self.difference(cause, text);
        self.found.push(Difference {
            kg,
            explained: true,
            ..difference
        });
    }

    /// One that has no explanation.
    fn difference(&self, cause: Cause, text: String) -> Difference {
        Difference {
            file: self.file.file.clone(),
            part: self.file.format.clone(),
            cause,
            text,
            kg: None,
            explained: false,
            corner: false,
        }
    }

    fn grid(&mut self, grid: &GridSums, matched: &[usize]) {
        let plan = self.plan;
        let turned_kg = grid.heading_deg.and(plan.turned.as_ref());
        let wanted = match (grid.heading_deg, turned_kg) {
            (Some(_), None) => {
                return self.wrong("the plan has no grid that is turned".to_string());
            }
            (_, Some((cells, _))) => cells,
            (None, None) if grid.degrees => &plan.degrees,
            (None, None) => &plan.metric,
        };
        let sums = wanted.sums(grid.degrees);
        if (grid.columns, grid.rows) != (sums.columns, sums.rows) {
            return self.wrong(format!(
                "the grid has {} x {} cells, the plan's has {} x {}",
                grid.columns, grid.rows, sums.columns, sums.rows
            ));
        }
        if let Some(moved) = moved(grid, &sums) {
            self.misplaced(moved);
        }
        let pick = |list: &[Vec<i64>], at: usize| list.get(at).cloned().unwrap_or_default();
        let own: Vec<(usize, Vec<i64>, Vec<i64>)> = matched
            .iter()
            .enumerate()
            .map(|(at, product)| {
                (
                    *product,
                    pick(&grid.row_sums, at),
                    pick(&grid.column_sums, at),
                )
            })
            .collect();
        let of = |product: usize| {
            (
                pick(&sums.row_sums, product),
                pick(&sums.column_sums, product),
            )
        };
        let same = own.iter().all(|(product, rows, columns)| {
            let (plan_rows, plan_columns) = of(*product);
            *rows == plan_rows && *columns == plan_columns
        });
        if !same {
            let texts = turned(&own, &of, plan);
            texts.into_iter().for_each(|text| self.wrong(text));
        }
        if !same || self.found.iter().any(|difference| !difference.explained) {
            return;
        }
        let file = self.file;
        // Cells of task data are cut by the outline in the file; a GeoTIFF states their land in 32 bits.
        let off_m2 = match grid.degrees {
            true => plan.bounds.land_m2(file.area_m2, plan.outlined.border_m),
            false => SINGLE * wanted.covered_m2,
        };
        self.areas(wanted.covered_m2, off_m2);
        for (sown, at) in file.products.iter().zip(matched) {
            let Some(product) = plan.products.get(*at) else {
                continue;
            };
            let turned_kg = turned_kg.and_then(|(_, kg)| kg.get(*at));
            let (cells, integers) = match (turned_kg, grid.degrees) {
                (Some(kg), _) => (kg - product.map_kg, 0.0),
                (None, true) => (product.degrees_grid_kg, product.integers_kg),
                (None, false) => (product.metric_grid_kg, 0.0),
            };
            self.known(
                Cause::Cells,
                format!(
                    "{}: cells instead of zones change {}",
                    product.name,
                    plan.units.more_mass(cells, 2)
                ),
                Some(cells),
            );
            if grid.degrees {
                self.known(
                    Cause::Integers,
                    steps(&product.name, integers, plan.units),
                    Some(integers),
                );
            }
            // Rates of a GeoTIFF have 32 bits as well.
            let off_kg = match grid.degrees {
                true => sown.highest_kg_per_ha * off_m2 / M2_PER_HA,
                false => 2.0 * SINGLE * sown.kg,
            };
            self.kilograms(sown, product, product.map_kg + cells + integers, off_kg);
        }
        if let Some(rim) = file.cells_in_rim {
            self.known(
                Cause::EdgeRim,
                format!("{rim} cells of the rim outside the field carry rates and count no kg"),
                None,
            );
        }
    }

    /// Whether the cells of the file have as much land as the plan's, within so many m2.
    pub(super) fn areas(&mut self, wanted_m2: f64, off_m2: f64) {
        let m2 = self.file.area_m2;
        if (m2 - wanted_m2).abs() > off_m2 {
            let units = self.plan.units;
            self.wrong(format!(
                "the file covers {}, the plan {} (cells)",
                units.small_area(m2, 2),
                units.small_area(wanted_m2, 2)
            ));
        }
    }

    /// The same for kilograms. Rates in tables have six decimals, kilograms here some more.
    fn kilograms(&mut self, sown: &Sown, product: &PlanProduct, wanted: f64, off_kg: f64) {
        let of_decimals = bounds::TABLE_STEP_KG_PER_HA * self.file.area_m2 / M2_PER_HA;
        if (sown.kg - wanted).abs() > off_kg + of_decimals {
            let units = self.plan.units;
            self.wrong(format!(
                "{}: {} in the file, {} by the plan",
                product.name,
                units.mass(sown.kg, 3),
                units.mass(wanted, 3)
            ));
        }
    }
}

/// What the steps in which a file holds rates change.
fn steps(product: &str, integers_kg: f64, units: UnitSystem) -> String {
    format!(
        "{product}: steps of {} change {}",
        units.rate(STEP_KG_PER_HA, 2),
        units.more_mass(integers_kg, 2)
    )
}

/// The step of a rate in task data, kg/ha: 1 mg/m2 (ISO 11783-11, data dictionary entry 6).
const STEP_KG_PER_HA: f64 = 0.01;

/// Where as many points as the plan has lie elsewhere, in words: rounded to nine decimals they are the same to the
/// last digit. Files that somebody else wrote may have more or fewer.
fn elsewhere_by_points(file: &Outline, plan: &Outline, units: UnitSystem) -> Option<String> {
    let (own, wanted) = (file.points, plan.points);
    if own == wanted || own.count != wanted.count {
        return None;
    }
    let steps = [0, 1].map(|axis: usize| (own.sums[axis] - wanted.sums[axis]) as f64 * 1e-9);
    let latitude = plan.middle.map_or(0.0, |middle| middle.lat);
    let [east, north] = metres(steps, latitude);
    Some(format!(
        "{} points, taken together, lie {} east and {} north of the plan's",
        own.count,
        units.more_small_length(east),
        units.more_small_length(north)
    ))
}
