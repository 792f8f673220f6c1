//! Land with its rates: what maps, drive and totals are made from.

use super::rates::{Combination, Rates, kg_per_ha};
use super::rates_on_land::RatesOnLand;
use super::{Prepared, drill, rates_off_map};
use crate::job::Job;
use crate::map::GridCells;
use crate::zones::LandUnits;

/// The pieces of land, and the rates on them.
pub(super) struct RatedLand<'a> {
    pub(super) prepared: &'a Prepared,
    /// Pieces and cells of their own, where zones have been joined.
    joined: Option<(LandUnits, GridCells)>,
    pub(super) rates: Rates,
    /// Per row of the rate table, per product (job order), kg/ha: the numbers of `rates.rows`.
    pub(super) kg_per_ha: Vec<Vec<f64>>,
}

impl<'a> RatedLand<'a> {
    /// Land with these rows of the rate table; `joined` are its pieces where they are not those of the
    /// prepared job.
    pub(super) fn of(
        prepared: &'a Prepared,
        joined: Option<LandUnits>,
        rows: Vec<Combination>,
        job: &Job,
    ) -> Self {
        let with_cells = |units: LandUnits| {
            let cells = prepared.cells.over(&units, &prepared.frame);
            (units, cells)
        };
        let at_border = &prepared.units.setback_at_border;
        Self {
            prepared,
            joined: joined.map(with_cells),
            kg_per_ha: kg_per_ha(&rows),
            rates: rates_off_map::beside(rows, at_border, job),
        }
    }

    /// Rate table and pieces of its own, without the cells.
    pub(super) fn into_parts(self) -> RatesOnLand {
        RatesOnLand {
            rows: self.rates.rows,
            units: self.joined.map(|(units, _)| units),
        }
    }

    /// The pieces of land, each with its row of the rate table.
    pub(super) fn units(&self) -> &LandUnits {
        self.joined
            .as_ref()
            .map_or(&self.prepared.units, |(units, _)| units)
    }

    /// The cells of both grids over them.
    pub(super) fn cells(&self) -> &GridCells {
        self.joined
            .as_ref()
            .map_or(&self.prepared.cells, |(_, cells)| cells)
    }

    /// The rows of the rate table as the drill meets them.
    pub(super) fn drill_rows(&self) -> Vec<crate::drill::Row<'_>> {
        drill::rows(&self.rates.rows, &self.kg_per_ha)
    }
}
