//! Flows, revolutions and catches: the arithmetic of metering by volume.
//!
//! All of it is plain identities of units; docs/methods/metering.md lists them.

use crate::job::Rotor;
use crate::units::M2_PER_HA;

/// Square metres per minute that a width of 1 m covers at 1 km/h: 1000 m / 60 min.
const M2_PER_MIN: f64 = 1000.0 / 60.0;

/// Flow in kg/min of a rate over a width at a speed: kg/ha x m x km/h / 600.
pub fn kg_per_min(kg_per_ha: f64, width_m: f64, speed_km_per_h: f64) -> f64 {
    kg_per_ha * width_m * speed_km_per_h * M2_PER_MIN / M2_PER_HA
}

/// Speed in km/h at which a rate over a width has this flow. Not finite for a rate of 0.
pub fn km_per_h(kg_per_min: f64, kg_per_ha: f64, width_m: f64) -> f64 {
    kg_per_min * M2_PER_HA / (kg_per_ha * width_m * M2_PER_MIN)
}

/// Rate in kg/ha that has this flow over a width at a speed. Not finite for a speed of 0.
pub fn kg_per_ha(kg_per_min: f64, width_m: f64, speed_km_per_h: f64) -> f64 {
    kg_per_min * M2_PER_HA / (width_m * speed_km_per_h * M2_PER_MIN)
}

/// Kilograms that a rotor moves in one revolution.
pub fn kg_per_rev(rotor: &Rotor, kg_per_l: f64) -> f64 {
    rotor.cm3_per_rev / 1000.0 * kg_per_l * rotor.filling_percent / 100.0
}

/// Kilograms of a calibration test that stands for an area.
pub fn catch_kg(kg_per_ha: f64, area_m2: f64) -> f64 {
    kg_per_ha * area_m2 / M2_PER_HA
}

/// Turns of a wheel, or of a meter that it drives, on an area: the way at this width over what one turn covers.
/// `round_m` is measured in work, so slip is in it.
pub fn turns(area_m2: f64, width_m: f64, round_m: f64) -> f64 {
    area_m2 / width_m / round_m
}

/// What the setting (kg per revolution) has to be multiplied with after a test: caught / expected.
/// Its inverse, expected / caught, is what the revolutions have to be multiplied with.
pub fn correction(caught_kg: f64, expected_kg: f64) -> f64 {
    caught_kg / expected_kg
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bare arithmetic (common practice, no source): 360 kg/ha at 12 km/h on 5 m is 36 kg/min,
    /// 500 kg/ha at 8 km/h is 33.3.
    #[test]
    fn flow_and_its_inverses() {
        assert!((kg_per_min(360.0, 5.0, 12.0) - 36.0).abs() < 1e-12);
        assert!((kg_per_min(500.0, 5.0, 8.0) - 100.0 / 3.0).abs() < 1e-12);
        assert!((km_per_h(36.0, 360.0, 5.0) - 12.0).abs() < 1e-12);
        assert!((kg_per_ha(36.0, 5.0, 12.0) - 360.0).abs() < 1e-12);
    }
}
