//! The entries of the ISO 11783-11 data dictionary that logs and maps of drills carry, in the units of this
//! program. Source: the public export of the data dictionary, version 2025012101.

/// An entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// What it is, with its unit of measure: names columns.
    pub name: &'static str,
    /// Times the raw value, it is in that unit.
    pub factor: f64,
}

/// What an entry of the data dictionary is; `None` for those that are not listed here.
pub fn known(ddi: u16) -> Option<Known> {
    let (name, factor) = match ddi {
        // Volume per area, 0.01 mm3/m2 a step: 1 mm3/m2 is 0.01 l/ha.
        1 => ("setpoint_l_per_ha", 1e-4),
        2 => ("actual_l_per_ha", 1e-4),
        3 => ("default_l_per_ha", 1e-4),
        // Mass per area, 1 mg/m2 a step.
        6 => ("setpoint_kg_per_ha", 0.01),
        7 => ("actual_kg_per_ha", 0.01),
        8 => ("default_kg_per_ha", 0.01),
        // Count per area, 0.001 a step.
        11 => ("setpoint_seeds_per_m2", 0.001),
        12 => ("actual_seeds_per_m2", 0.001),
        13 => ("default_seeds_per_m2", 0.001),
        56 => ("setpoint_depth_mm", 1.0),
        57 => ("actual_depth_mm", 1.0),
        66 => ("setpoint_width_m", 0.001),
        67 => ("actual_width_m", 0.001),
        70 => ("largest_width_m", 0.001),
        72 => ("content_l", 0.001),
        75 => ("content_kg", 0.001),
        78 => ("content_count", 1.0),
        80 => ("total_l", 1.0),
        81 => ("total_kg", 1.0),
        82 => ("total_count", 1.0),
        116 => ("total_area_m2", 1.0),
        117 => ("effective_distance_m", 0.001),
        118 => ("ineffective_distance_m", 0.001),
        119 => ("effective_time_s", 1.0),
        120 => ("ineffective_time_s", 1.0),
        141 => ("work_state", 1.0),
        158 => ("prescription_control", 1.0),
        160 => ("section_control", 1.0),
        287 => ("setpoint_prescription_mode", 1.0),
        288 => ("actual_prescription_mode", 1.0),
        351 => ("total_l", 0.001),
        352 => ("total_kg", 0.001),
        _ => return None,
    };
    Some(Known { name, factor })
}

/// The unit of a rate that a map may set, as people write it, once its raw value is multiplied by the factor of [`known`];
/// `None` for whatever is no such rate.
pub fn rate_unit(ddi: u16) -> Option<&'static str> {
    match ddi {
        1 | 3 => Some("l/ha"),
        6 | 8 => Some("kg/ha"),
        11 | 13 => Some("seeds/m2"),
        _ => None,
    }
}

/// What an entry says of how the work went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Logged {
    /// How much is sown, by area or by time.
    Rate,
    /// How much was sown since the task began.
    Total,
    /// What is on: the element's own state, and condensed states of sections.
    State,
    /// Where the rate comes from: map, default, hand.
    Source,
}

/// What an entry says of how the work went, as far as a log is read for it; `None` for all others. A task asks for these, and
/// `compare` reads them.
pub fn logged(ddi: u16) -> Option<Logged> {
    match ddi {
        2 | 7 | 12 | 37 | 42 | 47 => Some(Logged::Rate),
        80 | 81 | 82 | 351 | 352 => Some(Logged::Total),
        141 | 161..=176 => Some(Logged::State),
        158 | 288 => Some(Logged::Source),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_have_the_steps_of_the_dictionary() {
        // 180 kg/ha, 34.5 seeds/m2 and 120.5 l/ha in raw values.
        for (ddi, raw, wanted) in [
            (7, 18_000, 180.0),
            (12, 34_500, 34.5),
            (2, 1_205_000, 120.5),
        ] {
            let value = f64::from(raw) * known(ddi).unwrap().factor;
            assert!((value - wanted).abs() < 1e-9, "{ddi}: {value}");
        }
        assert_eq!(known(0xE000), None);
    }
}
