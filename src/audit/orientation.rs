//! What was done to a grid that differs from the plan's: moved, flipped, turned, swapped, or single cells.

use super::facts::PlanFacts;
use super::sums::GridSums;
use crate::units::{UnitSystem, lb_per_acre_from_kg_per_ha};

/// How the corner or the cell of a grid differs from the plan's.
pub(super) enum Moved {
    /// Its cells have another size: that of the file and that of the plan.
    Cell { file: [f64; 2], plan: [f64; 2] },
    /// Its rows follow another heading: that of the file and that of the plan, degrees.
    Heading { file: f64, plan: f64 },
    /// Its corner lies so many metres off.
    Corner { east: f64, north: f64 },
}

impl Moved {
    /// In words.
    pub fn words(&self, units: UnitSystem) -> String {
        match self {
            Self::Cell { file, plan } => format!(
                "a cell is {} x {}, in the plan {} x {}",
                file[0], file[1], plan[0], plan[1]
            ),
            Self::Heading { file, plan } => format!(
                "the grid is turned to a heading of {file:.4} degrees, in the plan to {plan:.4}"
            ),
            Self::Corner { east, north } => format!(
                "the corner of the grid is shifted by {} east and {} north",
                units.more_length(*east, 2),
                units.more_length(*north, 2)
            ),
        }
    }
}

/// How the corner or the cell differs; nothing where neither does.
pub(super) fn moved(grid: &GridSums, plan: &GridSums) -> Option<Moved> {
    let off = |at: usize| {
        (grid.cell[at] / plan.cell[at] - 1.0).abs() * grid.columns.max(grid.rows) as f64
    };
    if off(0) > 1e-6 || off(1) > 1e-6 {
        return Some(Moved::Cell {
            file: grid.cell,
            plan: plan.cell,
        });
    }
    if let (Some(file), Some(plan)) = (grid.heading_deg, plan.heading_deg) {
        // How far the turn moves the end of the longest line through the grid.
        let cells = (grid.cell[0] * grid.columns as f64).hypot(grid.cell[1] * grid.rows as f64);
        let turn = (file - plan).to_radians();
        if turn.sin().abs() * cells > 1e-3 || turn.cos() < 0.0 {
            return Some(Moved::Heading { file, plan });
        }
    }
    let shift = [
        grid.origin[0] - plan.origin[0],
        grid.origin[1] - plan.origin[1],
    ];
    let [east, north] = if grid.degrees {
        metres(shift, plan.origin[1])
    } else {
        shift
    };
    (east.abs() > 1e-3 || north.abs() > 1e-3).then_some(Moved::Corner { east, north })
}

/// Degrees as metres on the ground, to a per mille.
pub(super) fn metres([lon, lat]: [f64; 2], at_lat: f64) -> [f64; 2] {
    let per_degree = 6_378_137.0_f64.to_radians();
    [
        lon * per_degree * at_lat.to_radians().cos(),
        lat * per_degree,
    ]
}

type Sums = (Vec<i64>, Vec<i64>);

/// In one line, what was done to a grid whose sums differ; a line per product where nothing was done to
/// all of it.
pub(super) fn turned(
    own: &[(usize, Vec<i64>, Vec<i64>)],
    of: &dyn Fn(usize) -> Sums,
    plan: &PlanFacts,
) -> Vec<String> {
    let reversed = |list: &[i64]| list.iter().rev().copied().collect::<Vec<i64>>();
    let all = |is: &dyn Fn(&Sums, &Sums) -> bool| {
        own.iter()
            .all(|(product, rows, columns)| is(&(rows.clone(), columns.clone()), &of(*product)))
    };
    if all(&|own, plan| reversed(&own.0) == plan.0 && own.1 == plan.1) {
        return vec!["the order of the rows is flipped: north and south are exchanged".to_string()];
    }
    if all(&|own, plan| own.0 == plan.0 && reversed(&own.1) == plan.1) {
        return vec![
            "the order of the columns is flipped: east and west are exchanged".to_string(),
        ];
    }
    if all(&|own, plan| reversed(&own.0) == plan.0 && reversed(&own.1) == plan.1) {
        return vec!["the grid is turned by half a circle".to_string()];
    }
    if let [(a, rows_a, columns_a), (b, rows_b, columns_b)] = own {
        let swapped = (rows_a.clone(), columns_a.clone()) == of(*b)
            && (rows_b.clone(), columns_b.clone()) == of(*a);
        if swapped {
            return vec!["the two products are swapped".to_string()];
        }
    }
    if let [(product, rows, columns)] = own {
        let mut others = plan.products.iter().enumerate();
        let theirs = others.find(|(at, _)| {
            let (other_rows, other_columns) = of(*at);
            at != product && *rows == other_rows && *columns == other_columns
        });
        if let Some((_, other)) = theirs {
            return vec![format!(
                "the products are swapped: these are the rates of {}",
                other.name
            )];
        }
    }
    for (axis, name) in [(0, "rows to the north"), (1, "columns to the east")] {
        let pick = |sums: &Sums| {
            if axis == 0 {
                sums.0.clone()
            } else {
                sums.1.clone()
            }
        };
        let longest = own.first().map_or(
            0,
            |(_, rows, columns)| if axis == 0 { rows.len() } else { columns.len() },
        );
        for by in 1..longest {
            let rolled = |list: Vec<i64>| {
                let mut list = list;
                list.rotate_right(by);
                list
            };
            if all(&|own, plan| pick(own) == rolled(pick(plan))) {
                let (by, name) = match by * 2 > longest {
                    true => (
                        longest - by,
                        if axis == 0 {
                            "rows to the south"
                        } else {
                            "columns to the west"
                        },
                    ),
                    false => (by, name),
                };
                return vec![format!("the cells are shifted by {by} {name}")];
            }
        }
    }
    let mut texts = Vec::new();
    // Products of which one cell alone differs: place, name, by how much.
    let mut single: Vec<([usize; 2], String, f64)> = Vec::new();
    for (product, rows, columns) in own {
        let name = plan
            .products
            .get(*product)
            .map_or("", |product| &product.name);
        let (plan_rows, plan_columns) = of(*product);
        let differing = |own: &[i64], plan: &[i64]| -> Vec<(usize, i64)> {
            let pairs = own.iter().zip(plan).enumerate();
            pairs
                .filter(|(_, (own, plan))| own != plan)
                .map(|(at, (own, plan))| (at, own - plan))
                .collect()
        };
        let (rows, columns) = (
            differing(rows, &plan_rows),
            differing(columns, &plan_columns),
        );
        match (rows.as_slice(), columns.as_slice()) {
            ([], []) => {}
            ([(row, by)], [(column, _)]) => {
                single.push(([*column, *row], name.to_string(), *by as f64 / 100.0));
            }
            (rows, columns) => texts.push(format!(
                "{name}: cells in {} rows and {} columns differ from the plan, the first in row {}, column {} (from 0, south-west)",
                rows.len(),
                columns.len(),
                rows.first().map_or(0, |(at, _)| *at),
                columns.first().map_or(0, |(at, _)| *at)
            )),
        }
    }
    let first = single.first().map(|(cell, ..)| *cell);
    let together = single.iter().all(|(cell, ..)| Some(*cell) == first);
    let groups = match together {
        true => vec![single.as_slice()],
        false => single.chunks(1).collect(),
    };
    for group in groups {
        if let Some(([column, row], ..)) = group.first() {
            let names: Vec<&str> = group.iter().map(|(_, name, _)| name.as_str()).collect();
            let (each, unit) = match plan.units {
                UnitSystem::Metric => (1.0, "kg/ha"),
                UnitSystem::UsCustomary => (lb_per_acre_from_kg_per_ha(1.0), "lb/ac"),
            };
            let by = group.iter().map(|(.., by)| format!("{:+.2}", by * each));
            let by: Vec<String> = by.collect();
            texts.push(format!(
                "{}: the cell in column {column}, row {row} (from 0, south-west) is {} {unit} off the plan",
                names.join(" and "),
                by.join(" and ")
            ));
        }
    }
    texts
}
