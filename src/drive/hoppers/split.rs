//! Where a divider that moves should stand.

use super::Loaded;
use super::greedy::{Tank, stops};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Steps in which the divider is tried, percent of the volume.
const STEP_PERCENT: u32 = 1;

/// The split with the fewest stops.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BestSplit {
    /// Per half: usable litres.
    pub usable_l: [f64; 2],
    /// Stops after the first fill.
    pub refills: usize,
    /// With the split that the job has; `None` if a fill cannot last.
    pub refills_now: Option<usize>,
}

/// The best split of the volume of the first two hoppers, which are those of the air stream; of several with as few stops, the one nearest to the litres
/// that the products need. `None` unless there are two products in two hoppers, or where no split lasts.
pub(super) fn best(
    loaded: &[Loaded],
    tanks: &[Tank],
    in_stream: usize,
    at_tender: &[bool],
) -> Option<BestSplit> {
    let ([a, b, ..], [tank_a, tank_b, others @ ..], 2) = (loaded, tanks, in_stream) else {
        return None;
    };
    if a.hopper.name == b.hopper.name {
        return None;
    }
    let volume = a.hopper.usable_l + b.hopper.usable_l;
    let needs = [(tank_a, a), (tank_b, b)]
        .map(|(tank, of)| tank.takes_kg.iter().sum::<f64>() / of.kg_per_l);
    let even = needs[0] / (needs[0] + needs[1]);
    let mut best: Option<(usize, f64, f64)> = None;
    let whole = (STEP_PERCENT..100).step_by(STEP_PERCENT as usize);
    for share in whole.map(|percent| f64::from(percent) / 100.0) {
        let mut tanks = vec![
            Tank {
                full_kg: volume * share * a.kg_per_l,
                ..tank_a.clone()
            },
            Tank {
                full_kg: volume * (1.0 - share) * b.kg_per_l,
                ..tank_b.clone()
            },
        ];
        tanks.extend_from_slice(others);
        let Ok(found) = stops(&tanks, at_tender) else {
            continue;
        };
        let off = (share - even).abs();
        let better = best.is_none_or(|(fewest, nearest, _)| {
            found.len() < fewest || (found.len() == fewest && off < nearest)
        });
        if better {
            best = Some((found.len(), off, share));
        }
    }
    let (fewest, _, share) = best?;
    Some(BestSplit {
        usable_l: [volume * share, volume * (1.0 - share)],
        refills: fewest - 1,
        refills_now: stops(tanks, at_tender).ok().map(|stops| stops.len() - 1),
    })
}
