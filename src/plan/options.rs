//! What is asked of a plan beside rates and totals.

use super::progress::{self, Tell};

/// Which of the parts are made that nothing else in a plan depends on, and who hears of each step: rates, totals, grids
/// and findings are the same with any options.
#[derive(Clone, Copy)]
pub struct Options<'a> {
    /// Polygons for terminals ([`crate::map::RateMap::terminal`]).
    pub terminal_polygons: bool,
    /// The grid along the bouts of a cut map ([`crate::map::RateMap::turned`]).
    pub turned_grid: bool,
    /// Outlines for drawings ([`super::Maps::drawing`]).
    pub drawing: bool,
    /// The land of a spreader's plan ([`super::SpreaderPlan::land`]).
    pub spreader_land: bool,
    /// Hears of each step as it begins.
    pub tell: Tell<'a>,
}

impl Default for Options<'_> {
    /// All parts, and nobody hears of the steps.
    fn default() -> Self {
        Self {
            terminal_polygons: true,
            turned_grid: true,
            drawing: true,
            spreader_land: false,
            tell: &progress::quiet,
        }
    }
}

impl Options<'_> {
    /// For what asks for rates and totals alone.
    pub fn rates_only() -> Self {
        Self {
            terminal_polygons: false,
            turned_grid: false,
            drawing: false,
            ..Self::default()
        }
    }
}
