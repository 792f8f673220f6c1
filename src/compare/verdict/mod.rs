//! What a log says for and against the work: the faults that are told by name, each with a place, how much it is and what to do
//! about it. Thresholds and their reasons: docs/methods/verdict.md.

mod log;
mod amounts;
mod lag;
mod map;
mod land;
mod rates;
mod samples;
mod squares;
mod words;
mod work;

pub use work::{Stop, Work};

use super::PlanMap;
use super::channels::Channels;
use super::land::Ground;
use super::result::Compared;
use super::track::Track;
use crate::coordinates::{LonLat, PlaneXy};
use crate::read::taskdata::Task;
use samples::Samples;
use serde::Serialize;

/// A fault that a log shows, by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Trouble {
    /// The task bears the id of another plan.
    OtherPlan,
    /// The work lies beyond the plan's land.
    OtherField,
    /// Each of two products has the rates of the other.
    ProductsSwapped,
    /// Rates were taken in another unit: pounds per acre for kilograms per hectare, or the other way about.
    OtherUnit,
    /// One rate over land with several.
    MapNotFollowed,
    /// The map lies beside its place.
    MapShifted,
    /// The map is turned over.
    MapMirrored,
    /// Rates were set by hand.
    ByHand,
    /// The rate for where the map has none, for a lost position or for outside the field was sown on the plan's land.
    FallbackRate,
    /// Less, or more, of a product everywhere.
    ShortEverywhere,
    OverEverywhere,
    /// The total says less, or more, than rates times land.
    TotalBelowRates,
    TotalAboveRates,
    /// The scales say less, or more, than the meter.
    MeterOffScales,
    /// The task counts more than its logs hold.
    NotLogged,
    /// A product stops while the drill goes on.
    ProductStopped,
    /// Rates change after, or before, the border of the map.
    RatesLag,
    RatesEarly,
    /// Land inside what was drilled is left out.
    Missed,
    /// Land drilled twice over the whole width.
    Doubled,
    /// Drilled again or beyond the land, on a part of the width that a section could have spared.
    SectionsStayedOn,
    /// Drilled beyond the plan's land.
    BeyondTheLand,
    /// A product lies where a setback keeps it off.
    InSetback,
    /// No position while the drill worked.
    PositionLost,
    /// The log has gaps while the drill worked.
    Gaps,
    /// A part of the field is not drilled yet.
    NotFinished,
    /// Two drills worked at once.
    TwoDrills,
    /// The work was broken off and taken up again.
    Resumed,
    /// A total was set to zero on the way.
    TotalReset,
    /// Logs beside each other give the same.
    LogsBeside,
}

impl Trouble {
    /// All of them.
    pub const ALL: [Self; 30] = [
        Self::OtherPlan,
        Self::OtherField,
        Self::ProductsSwapped,
        Self::OtherUnit,
        Self::MapNotFollowed,
        Self::MapShifted,
        Self::MapMirrored,
        Self::ByHand,
        Self::FallbackRate,
        Self::ShortEverywhere,
        Self::OverEverywhere,
        Self::TotalBelowRates,
        Self::TotalAboveRates,
        Self::MeterOffScales,
        Self::NotLogged,
        Self::ProductStopped,
        Self::RatesLag,
        Self::RatesEarly,
        Self::Missed,
        Self::Doubled,
        Self::SectionsStayedOn,
        Self::BeyondTheLand,
        Self::InSetback,
        Self::PositionLost,
        Self::Gaps,
        Self::NotFinished,
        Self::TwoDrills,
        Self::Resumed,
        Self::TotalReset,
        Self::LogsBeside,
    ];

    /// Whether somebody has to decide what to do about it. The others say how the work went.
    pub fn asks(self) -> bool {
        !matches!(
            self,
            Self::NotFinished
                | Self::TwoDrills
                | Self::Resumed
                | Self::TotalReset
                | Self::LogsBeside
        )
    }
}

/// A fault that was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    pub trouble: Trouble,
    /// Whether somebody has to decide.
    pub asks: bool,
    /// Id of the product, where it is about one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub product: Option<String>,
    /// Longitude and latitude where it is at its worst, or begins, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lon_lat: Option<LonLat>,
    /// How much land, product, time or share it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub area_m2: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seconds: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor: Option<f64>,
    /// What was found, and what to do about it.
    pub found: String,
    pub next: &'static str,
}

impl Told {
    fn of(trouble: Trouble, found: String) -> Self {
        Self {
            trouble,
            asks: trouble.asks(),
            product: None,
            lon_lat: None,
            area_m2: None,
            kg: None,
            seconds: None,
            factor: None,
            found,
            next: words::next(trouble),
        }
    }

    fn product(mut self, case: &Case, product: usize) -> Self {
        self.product = case.plan.products.get(product).map(|own| own.id.clone());
        self
    }

    fn at(mut self, case: &Case, place: [f64; 2]) -> Self {
        self.lon_lat = Some(case.plan.frame.to_lon_lat(PlaneXy::of_pair(place)));
        self
    }

    fn area(mut self, m2: f64) -> Self {
        self.area_m2 = Some(m2);
        self
    }
}

/// Everything that is judged.
pub(super) struct Case<'a> {
    pub plan: &'a PlanMap,
    pub tasks: &'a [&'a Task],
    pub channels: &'a Channels,
    pub track: &'a Track,
    pub ground: &'a Ground,
    pub figures: &'a Compared,
}

impl Case<'_> {
    fn id(&self, product: usize) -> &str {
        self.plan.products.get(product).map_or("", |own| &own.id)
    }
}

/// What is no part of any log.
pub const NOT_IN_ANY_LOG: &str = "No log shows blocked rows, depth, or how much a meter lays of what it counts: look at the rows behind the drill, dig for the seed, and weigh.";

/// All that is told, in the order of [`Trouble`]: what explains others comes first.
pub(super) fn judge(case: &Case) -> Vec<Told> {
    let samples = Samples::of(case);
    let mut told = log::judge(case);
    let other_plan = told.iter().any(|own| own.trouble == Trouble::OtherPlan);
    let elsewhere = told.iter().any(|own| own.trouble == Trouble::OtherField);
    if !elsewhere {
        let factors: Vec<Told> = rates::factors(case, &samples);
        let map = map::judge(case, &samples, !factors.is_empty());
        // With another map every other difference of rates follows from that.
        let wrong_map = !map.is_empty();
        told.extend(map);
        told.extend(rates::judge(case, &samples, wrong_map));
        if !wrong_map {
            // Made from another plan, the log says nothing about factors against this one.
            told.extend(factors.into_iter().filter(|_| !other_plan));
            told.extend(lag::judge(case, &samples));
        }
        told.extend(land::judge(case, &samples));
    }
    told.sort_by(|a, b| (a.trouble, &a.product).cmp(&(b.trouble, &b.product)));
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In the order in which they are declared, so that none is left out; and each on the page.
    #[test]
    fn every_fault_stands_on_the_page() {
        let page = include_str!("../../../docs/methods/verdict.md");
        for (nth, trouble) in Trouble::ALL.into_iter().enumerate() {
            assert_eq!(trouble as usize, nth);
            let name = serde_json::to_value(trouble).expect("a word");
            let name = name.as_str().expect("a word");
            assert!(page.contains(&format!("`{name}`")), "{name}");
            assert!(words::next(trouble).ends_with('.'));
        }
        assert_eq!(Trouble::LogsBeside as usize + 1, Trouble::ALL.len());
    }
}
