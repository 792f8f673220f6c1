//! Colours of treatment zones: those of the map in the report, as near as the table of the standard comes.

use super::cells::kg_per_ha;
use crate::codec::taskdata::palette;
use crate::map::Scale;
use crate::plan::Plan;

/// The scale of a task: that of its first product whose rates differ, for a zone has one colour and may have several rates.
pub(super) struct Colours {
    scale: Option<Scale>,
    /// Place of that product among those of the task.
    at: usize,
}

impl Colours {
    /// Those of a task with these products.
    pub fn of(plan: &Plan, products: &[usize]) -> Self {
        let tally = |nth: &usize| plan.tally.planned.products.get(*nth);
        let differs = |nth: &usize| {
            tally(nth).is_some_and(|own| own.lowest_kg_per_ha < own.highest_kg_per_ha)
        };
        let at = products.iter().position(differs).unwrap_or(0);
        let scale = products.get(at).and_then(|nth| {
            let own = tally(nth)?;
            let (low, high) = (own.lowest_kg_per_ha, own.highest_kg_per_ha);
            Some(Scale::of_product(*nth, low, high))
        });
        Self { scale, at }
    }

    /// The number of the colour of a zone with these raw values; white where that product is off.
    pub fn number(&self, raw: &[i32]) -> u8 {
        let raw = raw.get(self.at).copied().unwrap_or(0);
        match &self.scale {
            Some(scale) if raw > 0 => palette::nearest(scale.rgb(kg_per_ha(raw))),
            _ => palette::WHITE,
        }
    }
}
