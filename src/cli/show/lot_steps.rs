//! The lots of a product: each one's way from the map to its own order.

use super::number::{Numbers, grouped};
use super::tally::way;
use crate::tally::ProductTally;
use std::fmt::Write as _;

/// Seeds on the map, and every lot with its steps, rates and fills.
pub(super) fn text(tally: &ProductTally, numbers: Numbers) -> String {
    let mut text = String::new();
    if let Some(seeds) = tally.seeds {
        let _ = writeln!(
            text,
            "  Seeds on the map: {} million.",
            grouped(seeds / 1e6, 2)
        );
    }
    for lot in &tally.lots {
        let name = match &lot.variety {
            Some(variety) => format!("variety {variety}, lot {}", lot.lot),
            None => format!("lot {}", lot.lot),
        };
        let dressing = lot.dressing.as_ref();
        let dressing = dressing.map_or(String::new(), |text| format!(", dressing {text}"));
        let _ = writeln!(
            text,
            "\n  {} {name}{dressing}; on {}",
            tally.id,
            lot.classes.join(", ")
        );
        text.push_str(&way(
            &lot.steps,
            lot.as_driven_kg,
            lot.packs,
            lot.order_kg,
            numbers,
        ));
        let _ = writeln!(
            text,
            "  Sown on {} at {} {}; flat rate without the map: {}.",
            numbers.area_of(lot.sown_m2),
            numbers.rates(lot.lowest_kg_per_ha, lot.highest_kg_per_ha),
            numbers.rate_unit(),
            numbers.rate_of(lot.flat_kg_per_ha)
        );
        if let (Some(fills), Some(each)) = (lot.fills, lot.kg_per_fill) {
            let _ = writeln!(
                text,
                "  Hopper fills: {} of {}.",
                grouped(fills, 1),
                numbers.kg(each)
            );
        }
    }
    if tally.lots.len() > 1 {
        text.push_str(
            "  Between lots: empty the hopper, clean it where dressings differ, and calibrate again.\n",
        );
    }
    text
}
