//! The map of what is left to broadcast, held against the plan.

use super::against::Against;
use super::bounds::SINGLE;
use super::orientation::moved;
use super::rated_land::{RatedLand, with_rates};
use super::sums::GridSums;

impl Against<'_> {
    /// The map of what is left to broadcast: by the land that each rate has.
    pub(super) fn balance(&mut self) {
        let (file, plan) = (self.file, self.plan);
        if let Some(grid) = &file.grid {
            return self.balance_grid(grid);
        }
        let mut all: Vec<&Vec<f64>> = plan.balance.iter().map(|own| &own.rates).collect();
        let in_file = file.land.iter().map(|own| &own.rates);
        all.extend(in_file.filter(|rates| with_rates(&plan.balance, rates).is_none()));
        for rates in all {
            let outline = |land| with_rates(land, rates).map(|own: &RatedLand| own.outline.clone());
            let found = outline(&file.land).unwrap_or_default();
            let wanted = outline(&plan.balance).unwrap_or_default();
            let most = plan.bounds.land_m2(wanted.area_m2, wanted.border_m);
            if (found.area_m2 - wanted.area_m2).abs() > most {
                let units = plan.units;
                let each = rates.iter().map(|rate| units.given_rate(*rate));
                let each: Vec<String> = each.collect();
                self.wrong(format!(
                    "balance of {}: {} in the file, {} in the plan",
                    each.join(", "),
                    units.small_area(found.area_m2, 2),
                    units.small_area(wanted.area_m2, 2)
                ));
            }
        }
    }

    /// The grid of what is left to broadcast: corner, cells, and the sums of every row and column.
    fn balance_grid(&mut self, grid: &GridSums) {
        let Some(plan) = &self.plan.balance_grid else {
            return self.wrong("the plan has no grid of a balance".to_string());
        };
        let wanted = plan.sums(false);
        if (grid.columns, grid.rows, grid.degrees) != (wanted.columns, wanted.rows, false) {
            return self.wrong(format!(
                "the grid has {} x {} cells, the plan's has {} x {} in metres",
                grid.columns, grid.rows, wanted.columns, wanted.rows
            ));
        }
        if let Some(moved) = moved(grid, &wanted) {
            self.misplaced(moved);
        }
        if grid.row_sums != wanted.row_sums || grid.column_sums != wanted.column_sums {
            self.wrong("the rates in its cells are not those of the plan's balance".to_string());
        }
        self.areas(plan.covered_m2, SINGLE * plan.covered_m2);
    }
}
