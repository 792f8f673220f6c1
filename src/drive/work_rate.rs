//! Work rate: hectares an hour, metres in a time, hectares to a fill.

/// Hectares per hour of a width at a speed; `efficiency` is the share of the time that is spent sowing,
/// from 0 to 1, and 1 gives the theoretical rate: m x km/h / 10 x efficiency. Formula: University of
/// Kentucky AEN-73; Iowa State University PM 696, there in feet, miles and acres.
pub fn ha_per_h(width_m: f64, speed_km_per_h: f64, efficiency: f64) -> f64 {
    width_m * speed_km_per_h / 10.0 * efficiency
}

/// Metres that are driven in these seconds.
pub fn metres(speed_km_per_h: f64, seconds: f64) -> f64 {
    speed_km_per_h / 3.6 * seconds
}

/// Hectares that a fill of these kilograms sows at a rate. Not finite for a rate of 0.
pub fn ha_per_fill(kg: f64, kg_per_ha: f64) -> f64 {
    kg / kg_per_ha
}
