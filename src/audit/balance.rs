//! The map of what is left to broadcast, held against the plan.

use super::against::Against;
use super::sums::GridSums;
use super::turned::moved;

impl Against<'_> {
    /// The map of what is left to broadcast: by the land that each rate has.
    pub(super) fn balance(&mut self) {
        let (file, plan) = (self.file, self.plan);
        if let Some(grid) = &file.grid {
            return self.balance_grid(grid);
        }
        let land_of = |list: &[(Vec<f64>, f64)], rates: &[f64]| {
            let found = list.iter().find(|(own, _)| own == rates);
            found.map_or(0.0, |(_, m2)| *m2)
        };
        let mut all: Vec<&Vec<f64>> = plan.balance.iter().map(|(rates, _)| rates).collect();
        let in_file = file.rates.iter().map(|(rates, _)| rates);
        all.extend(in_file.filter(|rates| !plan.balance.iter().any(|(own, _)| own == *rates)));
        for rates in all {
            let (found, wanted) = (land_of(&file.rates, rates), land_of(&plan.balance, rates));
            if (found - wanted).abs() > 1e-4 * wanted + 1.0 {
                self.wrong(format!(
                    "balance of {rates:?} kg/ha: {found:.0} m2 in the file, {wanted:.0} m2 in the plan"
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
        if let Some(text) = moved(grid, &wanted) {
            self.wrong(text);
        }
        if grid.row_sums != wanted.row_sums || grid.column_sums != wanted.column_sums {
            self.wrong("the rates in its cells are not those of the plan's balance".to_string());
        }
        self.areas(plan.covered_m2, "cells");
    }
}
