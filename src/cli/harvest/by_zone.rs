//! What the map gained in each zone, where the plan's trial holds it against a flat rate.

use crate::compare::PlanMap;
use crate::findings::Outcome;
use crate::harvest::{self, Cleaned, LaidPair, Money, Plots, ZoneGain, Zones};
use crate::job::TrialDesign;
use crate::plan::LaidTrial;

/// The gains; empty for a trial of something else.
///
/// # Errors
/// A product of the trial that the plan does not have.
pub(super) fn gains(
    plan: &PlanMap,
    zones: &Zones,
    trial: &LaidTrial,
    cleaned: &Cleaned,
    plots: &Plots,
    money: &Money,
) -> Outcome<Vec<ZoneGain>> {
    match trial.design {
        TrialDesign::MapAgainstFlat | TrialDesign::FlatStamps => {}
        TrialDesign::WithAndWithout | TrialDesign::Rates => return Ok(Vec::new()),
    }
    let name = |by_the_map: bool| {
        let own = trial
            .treatments
            .iter()
            .find(|of| of.by_the_map == by_the_map);
        own.map(|of| of.name.as_str())
    };
    let (Some(map), Some(flat)) = (name(true), name(false)) else {
        return Ok(Vec::new());
    };
    let tried: Vec<usize> = trial
        .products
        .iter()
        .map(|id| plan.product(id))
        .collect::<Outcome<_>>()?;
    let of_plot = |block: &str, treatment: &str| {
        let own = trial.plots.iter();
        own.clone()
            .find(|plot| plot.block == block && plot.treatment == treatment)
    };
    let mut pairs: Vec<LaidPair> = Vec::new();
    let mut flat_rates = Vec::new();
    for plot in trial.plots.iter().filter(|plot| plot.treatment == map) {
        let Some(beside) = of_plot(&plot.block, flat) else {
            continue;
        };
        let pick = |product: &usize| beside.kg_per_ha.get(*product).copied();
        flat_rates = tried.iter().filter_map(pick).collect();
        let outline =
            |lon_lat: &[crate::coordinates::LonLat]| plan.frame().all_to_plane(lon_lat.to_vec());
        pairs.push(LaidPair {
            block: plot.block.clone(),
            map: outline(&plot.outline_lon_lat),
            flat: outline(&beside.outline_lon_lat),
        });
    }
    let rates = |at| {
        let own = plan.rates_of_zone(zones.number_at(at)?)?;
        let pick = |product: &usize| own.get(*product).copied();
        tried.iter().map(pick).collect::<Option<Vec<f64>>>()
    };
    Ok(harvest::by_zone(
        cleaned,
        plots,
        &pairs,
        [map, flat],
        &flat_rates,
        &rates,
        money,
    ))
}
