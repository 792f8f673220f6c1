//! Which entries of the data dictionary say how much of a product was sown. Numbers and steps: the public export of the
//! ISO 11783-11 data dictionary, version 2025012101.

/// What an entry counts in: kilograms, seeds or litres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Measure {
    Mass,
    Count,
    Volume,
}

/// What an amount is about; with each the kilograms, seeds or litres of a raw step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Amount {
    /// Sown, per hectare.
    Rate(f64),
    /// Sown, per second.
    Flow(f64),
    /// Asked for, per hectare.
    Setpoint(f64),
    /// Sown since the task or the machine began to count.
    Total(f64),
}

/// An amount, what it counts in, and its rank among those of its kind: the smallest is believed first. Mass goes before
/// count and volume, which need a weight; of two totals the finer one.
pub(super) fn amount(ddi: u16) -> Option<(Amount, Measure, u8)> {
    use Amount::{Flow, Rate, Setpoint, Total};
    use Measure::{Count, Mass, Volume};
    Some(match ddi {
        // 1 mg/m2 is 0.01 kg/ha; 0.001 seeds/m2 are 10 seeds/ha; 0.01 mm3/m2 is 0.0001 l/ha.
        7 => (Rate(0.01), Mass, 0),
        12 => (Rate(10.0), Count, 1),
        2 => (Rate(1e-4), Volume, 2),
        // mg/s, 0.001 seeds/s, mm3/s.
        42 => (Flow(1e-6), Mass, 3),
        47 => (Flow(0.001), Count, 4),
        37 => (Flow(1e-6), Volume, 5),
        6 => (Setpoint(0.01), Mass, 0),
        11 => (Setpoint(10.0), Count, 1),
        1 => (Setpoint(1e-4), Volume, 2),
        352 => (Total(0.001), Mass, 0),
        81 => (Total(1.0), Mass, 1),
        82 => (Total(1.0), Count, 2),
        351 => (Total(0.001), Volume, 3),
        80 => (Total(1.0), Volume, 4),
        _ => return None,
    })
}

/// Kinds of amounts of which a device element has one entry that counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A rate or a flow.
    Sown,
    AskedFor,
    Total,
}

impl Amount {
    pub(super) fn kind(self) -> Kind {
        match self {
            Self::Rate(_) | Self::Flow(_) => Kind::Sown,
            Self::Setpoint(_) => Kind::AskedFor,
            Self::Total(_) => Kind::Total,
        }
    }
}

/// Where the rate that was asked for came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    Map,
    Default,
    PositionLost,
    OutOfField,
    Hand,
}

/// Entry 288, the prescription mode.
pub(super) fn mode(raw: i32) -> Option<Source> {
    Some(match raw {
        1 => Source::Map,
        2 => Source::Default,
        3 => Source::PositionLost,
        4 => Source::OutOfField,
        5 => Source::Hand,
        _ => return None,
    })
}

/// Entry 158, the prescription control state: by hand or by the task.
pub(super) fn control(raw: i32) -> Option<Source> {
    match raw & 3 {
        0 => Some(Source::Hand),
        1 => Some(Source::Map),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_that_of_the_dictionary() {
        // 180 kg/ha, 345 seeds/m2, 120.5 l/ha; 0.5 kg/s; 427 kg in grams.
        for (ddi, raw, wanted) in [
            (7, 18_000.0, 180.0),
            (12, 345_000.0, 3_450_000.0),
            (2, 1_205_000.0, 120.5),
            (42, 500_000.0, 0.5),
            (352, 427_000.0, 427.0),
        ] {
            let (Amount::Rate(step) | Amount::Flow(step) | Amount::Total(step)) =
                amount(ddi).unwrap().0
            else {
                panic!("{ddi}");
            };
            assert!((raw * step - wanted).abs() < 1e-9 * wanted, "{ddi}");
        }
        assert_eq!(amount(75), None);
    }

    /// What is read here of what was sown is what a task asks the terminal to log.
    #[test]
    fn a_task_asks_for_what_is_read() {
        use crate::codec::taskdata::{Logged, logged};
        for ddi in 0..=1000 {
            let read = amount(ddi).and_then(|(of, ..)| match of {
                Amount::Rate(_) | Amount::Flow(_) => Some(Logged::Rate),
                Amount::Total(_) => Some(Logged::Total),
                Amount::Setpoint(_) => None,
            });
            let asked = logged(ddi).filter(|of| matches!(of, Logged::Rate | Logged::Total));
            assert_eq!(read, asked, "{ddi}");
        }
    }

    #[test]
    fn mass_counts_before_count_and_volume_and_grams_before_kilograms() {
        let rank = |ddi: u16| amount(ddi).unwrap().2;
        let totals = [352, 81, 82, 351, 80].map(rank);
        assert!(totals.is_sorted() && [7, 12, 2, 42, 47, 37].map(rank).is_sorted());
    }
}
