//! What to do about each fault.

use super::Trouble;

/// What to do next.
pub(super) fn next(trouble: Trouble) -> &'static str {
    match trouble {
        Trouble::OtherPlan => {
            "Compare with the plan of that id, or look at what the terminal had loaded: if the older plan was driven, its rates are on the field."
        }
        Trouble::OtherField => {
            "Name the task of this field with --task, or the plan of the field that was drilled."
        }
        Trouble::ProductsSwapped => {
            "Stop. Look which product lies in which hopper and which map its meter had. If the hoppers were right and only the log's names are swapped, say it with --element."
        }
        Trouble::OtherUnit => {
            "Set the terminal to the unit of the map, read the rate on the screen at the places of the gate check, and do a calibration test."
        }
        Trouble::MapNotFollowed => {
            "Look whether the map was chosen for this product and whether the terminal, and not the hand, set the rate; do the gate check before going on."
        }
        Trouble::MapShifted => {
            "Look at the position: base station, correction signal and the antenna's offset on the terminal; do the gate check before going on."
        }
        Trouble::MapMirrored => {
            "The terminal reads the rows or columns of the grid the other way about: use another form of the task data below terminal/fallback, and do the gate check."
        }
        Trouble::ByHand => {
            "Ask the operator why; if it was no decision, set the terminal back to the map."
        }
        Trouble::FallbackRate => {
            "Look whether the map covers that land and whether the position was good there."
        }
        Trouble::ShortEverywhere | Trouble::OverEverywhere => {
            "Look at the factor set on the terminal, at slip and gearing (turns of the meter for each metre), and do a calibration test; weigh what is left in the hopper."
        }
        Trouble::TotalBelowRates | Trouble::TotalAboveRates => {
            "Look at the width and the wheel or radar factor set on the terminal, and do a calibration test; weigh what is left in the hopper to see which of both is right."
        }
        Trouble::MeterOffScales => {
            "The meter's setting is off: what it lays for each turn is the set value times the factor. Set it so, and confirm it with a calibration test before the next field."
        }
        Trouble::NotLogged => {
            "Ask what was driven without a log, or copy the other logs from the terminal."
        }
        Trouble::ProductStopped => {
            "Look for an empty hopper, a bridge, a blocked meter or a switch at that place; the land there lacks the product."
        }
        Trouble::RatesLag => {
            "Set the delay of this product on the terminal higher by so much, or the position of the drill behind the aerial if both products are late by the same way."
        }
        Trouble::RatesEarly => {
            "Set the delay of this product on the terminal lower by so much, or the position of the drill behind the aerial if both products are early by the same way."
        }
        Trouble::Missed => "Look there after emergence, or sow it now: --rest makes a job of it.",
        Trouble::Doubled => {
            "Look there after emergence: seed and fertiliser lie twice. A limit of what lies beside the seed may be passed."
        }
        Trouble::SectionsStayedOn => {
            "Look whether section control was on, and at its overlap and delays."
        }
        Trouble::BeyondTheLand => {
            "Look whether the boundary of the plan is that of the field, and whose land that is."
        }
        Trouble::InSetback => {
            "Write it down for whoever keeps the records, look at the local rules for what has to be done, and find out why the meter was on."
        }
        Trouble::PositionLost => {
            "That land cannot be told; look at the receiver, and at the land after emergence."
        }
        Trouble::Gaps => {
            "That land counts as missed; copy the log again, or look how often the terminal writes."
        }
        Trouble::NotFinished => {
            "Nothing, if the work goes on; --rest makes the job for the land that is left."
        }
        Trouble::TwoDrills => "Nothing, if that was so; otherwise name the task with --task.",
        Trouble::Resumed => "Nothing; date, lot and moisture may be others than before.",
        Trouble::TotalReset => "Nothing; for the next field set it to zero before the work.",
        Trouble::LogsBeside => "Nothing.",
    }
}
