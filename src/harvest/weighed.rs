//! Yields scaled to what the scale said.

use super::clean::Cleaned;
use super::readings::Readings;
use crate::findings::{Fault, Outcome, Place};
use crate::units::M2_PER_HA;

/// What was weighed: kilograms at a moisture, of one combine and load or of everything.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// Name of the combine; `None` for all.
    pub machine: Option<String>,
    /// Name of the load or day; `None` for all.
    pub load: Option<String>,
    /// Kilograms, at the basis.
    pub kg: f64,
}

/// What the scale did to the yields.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scale {
    /// Combine, load, kilograms by the monitor, kilograms weighed, factor.
    pub groups: Vec<(String, String, f64, f64, f64)>,
    /// Readings of no weighed group that count.
    pub without: usize,
}

impl Scale {
    /// Whether every reading that counts is scaled.
    pub fn is_whole(&self) -> bool {
        self.without == 0 && !self.groups.is_empty()
    }
}

/// Scales yields so that each combine's load brings what was weighed. The monitor's kilograms are those of all readings that
/// harvested land, also of those that do not count: cleaning takes readings, not grain.
///
/// # Errors
/// A combine or load that no reading has; a group without grain or land; a factor beyond 0.5 to 2.
pub fn scale(cleaned: &mut Cleaned, readings: &Readings, weighed: &[Weighed]) -> Outcome<Scale> {
    let mut scale = Scale::default();
    let number = |names: &[String], wanted: &Option<String>| match wanted {
        None => Some(None),
        Some(name) => names.iter().position(|own| own == name).map(Some),
    };
    let mut factors = vec![None; cleaned.readings.len()];
    for own in weighed {
        let said = [
            own.machine.clone().unwrap_or_default(),
            own.load.clone().unwrap_or_default(),
        ];
        let found = (
            number(&readings.machines, &own.machine),
            number(&readings.loads, &own.load),
        );
        let (Some(machine), Some(load)) = found else {
            let names = [readings.machines.join(", "), readings.loads.join(", ")];
            return Err(bad(
                &said,
                format!("combines: {}; loads: {}", names[0], names[1]),
            ));
        };
        let is_own = |at: usize| {
            let reading = &cleaned.readings[at];
            machine.is_none_or(|m| m == usize::from(reading.machine))
                && load.is_none_or(|l| l == usize::from(reading.load))
        };
        let all: Vec<usize> = (0..factors.len()).filter(|&at| is_own(at)).collect();
        if all.iter().any(|&at| factors[at].is_some()) {
            return Err(bad(&said, "each combine and load weighed once".to_owned()));
        }
        let mean = cleaned.mean(
            all.iter()
                .copied()
                .filter(|&at| cleaned.taken[at].is_none()),
        );
        let harvested =
            |at: &&usize| !cleaned.readings[**at].header_up && cleaned.weight[**at] > 0.0;
        let land: f64 = all
            .iter()
            .filter(harvested)
            .map(|&at| cleaned.weight[at])
            .sum();
        let kg = mean.map_or(0.0, |mean| mean * land / M2_PER_HA);
        let factor = own.kg / kg;
        if !cleaned.has_land || !(0.5..=2.0).contains(&factor) {
            let found = match cleaned.has_land {
                false => "files with widths, for without land there are no kilograms".to_owned(),
                true => format!(
                    "a weight within half and twice the monitor's {kg:.0} kg; {:.0} kg were weighed",
                    own.kg
                ),
            };
            return Err(bad(&said, found));
        }
        for &at in &all {
            factors[at] = Some(factor);
        }
        scale
            .groups
            .push((said[0].clone(), said[1].clone(), kg, own.kg, factor));
    }
    for (at, factor) in factors.iter().enumerate() {
        match factor {
            Some(factor) => cleaned.kg_per_ha[at] *= factor,
            None => scale.without += usize::from(cleaned.taken[at].is_none()),
        }
    }
    Ok(scale)
}

fn bad(said: &[String; 2], allowed: String) -> Box<Fault> {
    Fault::input(
        "harvest.weighed",
        Place::nowhere(),
        format!(
            "The weight of combine '{}', load '{}' does not fit the readings",
            said[0], said[1]
        ),
        allowed,
        "Correct --weighed, or leave it out: the answer is an indication then.",
    )
}
