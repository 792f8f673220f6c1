//! Yield points of a harvester: read, cleaned, scaled to what was weighed, and held against the plots of a trial.
//! Methods and sources: docs/methods/harvest.md and docs/methods/trials.md.
//!
//! Nothing is thrown away in silence: each reading that does not count keeps the one step that took it.

mod answer;
mod as_applied;
mod by_zone;
mod clean;
mod columns;
mod covered;
mod delay;
mod from_log;
mod ground;
mod judged;
mod layers;
mod limits;
mod near;
mod next_trial;
mod outliers;
mod page;
mod passes;
mod plots;
mod readings;
mod second;
mod sentence;
mod surface;
#[cfg(test)]
mod test_clean;
#[cfg(test)]
mod test_fields;
mod weighed;
mod years;
mod zones;

pub use answer::{Answer, Design, Effect, Money, Response, Worth, answer};
pub use as_applied::{Applied, Stretch, applied};
pub use by_zone::{LaidPair, ZoneGain, by_zone};
pub use clean::{Cleaned, Settings, Step, StepCount, clean};
pub use columns::{Columns, Role};
pub use covered::CutShort;
pub use delay::Delay;
pub use from_log::from_log;
pub use layers::{cells_geojson, readings_geojson, years_geojson};
pub use next_trial::{Before, NEXT_TRIAL, next_trial, reasons};
pub use page::{Facts, page_values};
pub use plots::{LaidPlot, Plot, Plots, from_columns, from_plan, from_polygons};
pub use readings::{Reading, Readings, read};
pub use second::Second;
pub use sentence::{money_sentence, sentence};
pub use surface::{Cell, surface};
pub use weighed::{Scale, Weighed, scale};
pub use years::{Earlier, Stacked, Trend, shares, stacked};
pub use zones::{ZoneYield, Zones};

/// Grain at one moisture as grain at another, the dry matter being the same: 10 000 lb of maize at 20 % are 9 467 lb at 15.5 %
/// (University of Florida AG442). Moistures in per cent of the wet weight.
pub fn at_moisture(mass: f64, has_percent: f64, wanted_percent: f64) -> f64 {
    mass * (100.0 - has_percent) / (100.0 - wanted_percent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moisture_is_that_of_the_published_example() {
        // University of Florida AG442 (as the project's reference derives it).
        assert!((at_moisture(10_000.0, 20.0, 15.5) - 9_467.0).abs() < 0.5);
        // What stands at the basis already stays as it is.
        assert_eq!(at_moisture(9_467.0, 15.5, 15.5), 9_467.0);
    }
}
