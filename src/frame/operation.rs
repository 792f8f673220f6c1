//! The one operation that takes a layer to WGS 84.

use super::proj::{Area, Object};
use crate::read::Xy;

/// The operation chosen, and what is to be said about it.
pub(super) struct Choice {
    pub operation: Object,
    pub accuracy_m: Option<f64>,
    pub ballpark: bool,
    pub better: Option<Better>,
}

/// A more accurate operation that its grids do not allow.
pub(super) struct Better {
    /// The grids that are not there; where all of them are there, those that do not serve.
    pub grids: Vec<String>,
    pub there: bool,
    pub accuracy_m: Option<f64>,
}

impl Better {
    fn of(operation: &Object) -> Option<Self> {
        let all = operation.grids();
        let there = all.iter().all(|(_, there)| *there);
        let grids: Vec<String> = all
            .into_iter()
            .filter(|(_, found)| there || !found)
            .map(|(name, _)| name)
            .collect();
        (!grids.is_empty()).then(|| Self {
            grids,
            there,
            accuracy_m: operation.accuracy_m(),
        })
    }
}

/// Chooses the best operation between two CRSs for an area, with the grids at hand.
///
/// First among those that hold all over the area, then among those that hold in part of it; a ballpark
/// shift only if nothing else is there. `trial` is a point of the layer that the operation must be able
/// to carry over: a grid may be there and not cover it.
pub(super) fn choose(
    from: &Object,
    to: &Object,
    area: Option<&Area>,
    trial: Option<Xy>,
) -> Option<Choice> {
    let context = from.context();
    let mut better: Option<Better> = None;
    let mut ballpark = None;
    for containing in [true, false] {
        for operation in context.operations(from, to, area, containing) {
            let rough = operation.is_ballpark();
            if rough && ballpark.is_some() {
                continue;
            }
            let ready = operation
                .is_usable()
                .then(|| operation.east_north())
                .flatten()
                .filter(|operation| carries(operation, trial));
            match ready {
                Some(ready) if rough => ballpark = Some(ready),
                Some(ready) => {
                    let accuracy_m = operation.accuracy_m();
                    let better = better.filter(|better| match (better.accuracy_m, accuracy_m) {
                        (Some(stated), Some(have)) => stated < have,
                        _ => accuracy_m.is_none(),
                    });
                    return Some(Choice {
                        operation: ready,
                        accuracy_m,
                        ballpark: false,
                        better,
                    });
                }
                None if better.is_none() && !rough => better = Better::of(&operation),
                None => {}
            }
        }
    }
    ballpark.map(|operation| Choice {
        operation,
        accuracy_m: None,
        ballpark: true,
        better,
    })
}

fn carries(operation: &Object, trial: Option<Xy>) -> bool {
    let Some(trial) = trial else { return true };
    let mut moved = [trial];
    operation.transform(&mut moved);
    moved[0].iter().all(|c| c.is_finite())
}
