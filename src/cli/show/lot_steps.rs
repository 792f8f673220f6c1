//! The lots of a product: each one's way from the map to its own order.

use super::kg;
use super::number::{grouped, hectares, rate, rates};
use super::tally::way;
use crate::tally::ProductTally;
use std::fmt::Write as _;

/// Seeds on the map, and every lot with its steps, rates and fills.
pub(super) fn text(tally: &ProductTally) -> String {
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
        text.push_str(&way(&lot.steps, lot.as_driven_kg, lot.packs, lot.order_kg));
        let _ = writeln!(
            text,
            "  Sown on {} ha at {} kg/ha; flat rate without the map: {} kg/ha.",
            hectares(lot.sown_m2),
            rates(lot.lowest_kg_per_ha, lot.highest_kg_per_ha),
            rate(lot.flat_kg_per_ha)
        );
        if let (Some(fills), Some(each)) = (lot.fills, lot.kg_per_fill) {
            let _ = writeln!(
                text,
                "  Hopper fills: {} of {}.",
                grouped(fills, 1),
                kg(each)
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
