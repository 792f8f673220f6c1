//! Parts of a plan that only some outputs show.

/// Which of the parts are made that nothing else in a plan depends on: rates, totals, grids and
/// findings are the same without them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extras {
    /// Polygons for terminals ([`crate::map::RateMap::terminal`]).
    pub terminal_polygons: bool,
    /// Outlines for drawings ([`super::Maps::drawing`]).
    pub drawing: bool,
}

impl Extras {
    /// All of them.
    pub fn all() -> Self {
        Self {
            terminal_polygons: true,
            drawing: true,
        }
    }

    /// None of them, for what only asks for rates and totals.
    pub fn none() -> Self {
        Self {
            terminal_polygons: false,
            drawing: false,
        }
    }
}
