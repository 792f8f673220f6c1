//! Quantities and exact conversions: one home for every factor, each with its source.
//!
//! Inside the program everything is metric: metres, square metres, kilograms, litres, kilograms per
//! hectare, plants or seeds per square metre. Other units exist only where a person reads or types
//! them, and they pass through the functions below.
//!
//! Sources: the international yard and pound (1959) make the inch, foot and pound exact; the tables in
//! Appendix C of NIST Handbook 44, *General Tables of Units of Measurement*, give the acre and the US
//! bushel from them (definitions, written from memory, and checked against published figures in
//! `testdata/published/units.txt`). Oxide factors: AHDB, *Nutrient Management Guide (RB209)*,
//! section 4 (June 2023), page 46.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The units that people read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum UnitSystem {
    /// Kilograms, hectares, metres.
    #[default]
    Metric,
    /// Pounds, acres, feet.
    UsCustomary,
}

/// Kilograms in a pound (avoirdupois). Exact. Source: international yard and pound, 1959.
pub const KG_PER_LB: f64 = 0.453_592_37;

/// Ounces (avoirdupois) in a pound. Exact. Source: NIST Handbook 44, Appendix C.
pub const OZ_PER_LB: f64 = 16.0;

/// Metres in an inch. Exact. Source: international yard and pound, 1959.
pub const M_PER_INCH: f64 = 0.0254;

/// Metres in a foot (international). Exact. Source: international yard and pound, 1959.
pub const M_PER_FOOT: f64 = 0.3048;

/// Metres in a mile. Exact: 5 280 feet. Source: NIST Handbook 44, Appendix C.
pub const M_PER_MILE: f64 = 5_280.0 * M_PER_FOOT;

/// Square metres in a square foot. Exact: the foot squared.
pub const M2_PER_FT2: f64 = M_PER_FOOT * M_PER_FOOT;

/// Square feet in an acre. Exact. Source: NIST Handbook 44, Appendix C.
pub const FT2_PER_ACRE: f64 = 43_560.0;

/// Square metres in an acre (international; the acre of the US survey foot is 4 parts in a million
/// larger). Exact: 43 560 square feet.
pub const M2_PER_ACRE: f64 = FT2_PER_ACRE * M2_PER_FT2;

/// Square metres in a hectare. Exact. Source: the SI brochure (units accepted for use with the SI).
pub const M2_PER_HA: f64 = 10_000.0;

/// Cubic inches in a US bushel. Exact. Source: NIST Handbook 44, Appendix C.
pub const IN3_PER_US_BUSHEL: f64 = 2_150.42;

/// Litres in a US bushel. Exact: 2 150.42 cubic inches.
pub const L_PER_US_BUSHEL: f64 = IN3_PER_US_BUSHEL * M_PER_INCH * M_PER_INCH * M_PER_INCH * 1_000.0;

/// Pounds in the "unit" of nutrient that British farms count in. Source: RB209 section 4, page 46.
pub const LB_PER_UK_UNIT: f64 = 1.12;

/// P2O5 for one P, by weight. Rounded as published. Source: RB209 section 4, page 46.
pub const P2O5_PER_P: f64 = 2.291;

/// K2O for one K, by weight. Rounded as published. Source: RB209 section 4, page 46.
pub const K2O_PER_K: f64 = 1.205;

/// MgO for one Mg, by weight. Rounded as published. Source: RB209 section 4, page 46.
pub const MGO_PER_MG: f64 = 1.658;

/// SO3 for one S, by weight. Rounded as published. Source: RB209 section 4, page 46.
pub const SO3_PER_S: f64 = 2.5;

/// Milligrams per square metre in one kilogram per hectare. Exact: 10^6 mg over 10^4 m2.
pub const MG_PER_M2_IN_KG_PER_HA: f64 = 100.0;

/// Metres in a degree of a meridian, or of the equator, roughly: to half a per cent. A degree of a sphere of
/// the Earth's mean radius (IUGG, 6 371 km).
pub const M_PER_DEGREE: f64 = 111_200.0;

/// Metres in a degree of a meridian where it is shortest, at the equator: its radius there is a (1 - e2), with the axes
/// of WGS 84. Rounded down.
pub const LEAST_M_PER_DEGREE: f64 = 110_574.0;

/// Metres in a degree of a meridian where it is longest, at a pole: its radius there is a / sqrt(1 - e2), with
/// the axes of WGS 84. Rounded up.
pub const MOST_M_PER_DEGREE: f64 = 111_700.0;

/// Square metres to hectares.
pub fn ha_from_m2(m2: f64) -> f64 {
    m2 / M2_PER_HA
}

/// Hectares to square metres.
pub fn m2_from_ha(ha: f64) -> f64 {
    ha * M2_PER_HA
}

/// Acres to hectares.
pub fn ha_from_acres(acres: f64) -> f64 {
    acres * M2_PER_ACRE / M2_PER_HA
}

/// Hectares to acres.
pub fn acres_from_ha(ha: f64) -> f64 {
    ha * M2_PER_HA / M2_PER_ACRE
}

/// Pounds to kilograms.
pub fn kg_from_lb(lb: f64) -> f64 {
    lb * KG_PER_LB
}

/// Kilograms to pounds.
pub fn lb_from_kg(kg: f64) -> f64 {
    kg / KG_PER_LB
}

/// Inches to metres.
pub fn m_from_inches(inches: f64) -> f64 {
    inches * M_PER_INCH
}

/// Metres to inches.
pub fn inches_from_m(m: f64) -> f64 {
    m / M_PER_INCH
}

/// Pounds per acre to kilograms per hectare (1 lb/ac = 1.1209 kg/ha).
pub fn kg_per_ha_from_lb_per_acre(lb_per_acre: f64) -> f64 {
    lb_per_acre * KG_PER_LB * M2_PER_HA / M2_PER_ACRE
}

/// Kilograms per hectare to pounds per acre (1 kg/ha = 0.8922 lb/ac).
pub fn lb_per_acre_from_kg_per_ha(kg_per_ha: f64) -> f64 {
    kg_per_ha * M2_PER_ACRE / (KG_PER_LB * M2_PER_HA)
}

/// Kilograms per hectare to milligrams per square metre, the unit of ISO 11783-11 for a mass per area.
pub fn mg_per_m2_from_kg_per_ha(kg_per_ha: f64) -> f64 {
    kg_per_ha * MG_PER_M2_IN_KG_PER_HA
}

/// Milligrams per square metre to kilograms per hectare.
pub fn kg_per_ha_from_mg_per_m2(mg_per_m2: f64) -> f64 {
    mg_per_m2 / MG_PER_M2_IN_KG_PER_HA
}

/// Plants or seeds per square metre to the same per square foot.
pub fn per_ft2_from_per_m2(per_m2: f64) -> f64 {
    per_m2 * M2_PER_FT2
}

/// Plants or seeds per square foot to the same per square metre.
pub fn per_m2_from_per_ft2(per_ft2: f64) -> f64 {
    per_ft2 / M2_PER_FT2
}

/// Plants or seeds per square metre to the same per acre.
pub fn per_acre_from_per_m2(per_m2: f64) -> f64 {
    per_m2 * M2_PER_ACRE
}

/// Plants or seeds per acre to the same per square metre.
pub fn per_m2_from_per_acre(per_acre: f64) -> f64 {
    per_acre / M2_PER_ACRE
}

/// Seeds per pound to grams per thousand seeds. The result is not finite for 0 seeds per pound.
pub fn thousand_grain_weight_g_from_seeds_per_lb(seeds_per_lb: f64) -> f64 {
    1.0e6 * KG_PER_LB / seeds_per_lb
}

/// Grams per thousand seeds to seeds per pound. The result is not finite for a weight of 0.
pub fn seeds_per_lb_from_thousand_grain_weight_g(thousand_grain_weight_g: f64) -> f64 {
    1.0e6 * KG_PER_LB / thousand_grain_weight_g
}

/// Pounds per US bushel to kilograms per litre (1 lb/bu = 0.012 872 kg/l).
pub fn kg_per_l_from_lb_per_us_bushel(lb_per_bushel: f64) -> f64 {
    lb_per_bushel * KG_PER_LB / L_PER_US_BUSHEL
}

/// Pounds per cubic foot to kilograms per litre (1 lb/ft3 = 0.016 018 kg/l).
pub fn kg_per_l_from_lb_per_ft3(lb_per_ft3: f64) -> f64 {
    lb_per_ft3 * KG_PER_LB / (M_PER_FOOT * M2_PER_FT2 * 1_000.0)
}

/// Bushels in a tonne, for a bushel of this many pounds. The result is not finite for 0 pounds.
pub fn bushels_per_tonne(lb_per_bushel: f64) -> f64 {
    1_000.0 / (lb_per_bushel * KG_PER_LB)
}

/// Kilograms per hectare to British nutrient units per acre (100 kg/ha is about 80 units/acre).
pub fn uk_units_per_acre_from_kg_per_ha(kg_per_ha: f64) -> f64 {
    lb_per_acre_from_kg_per_ha(kg_per_ha) / LB_PER_UK_UNIT
}

/// Phosphorus to its oxide, P to P2O5, same unit of mass in and out.
pub fn p2o5_from_p(p: f64) -> f64 {
    p * P2O5_PER_P
}

/// Oxide to phosphorus, P2O5 to P, same unit of mass in and out.
pub fn p_from_p2o5(p2o5: f64) -> f64 {
    p2o5 / P2O5_PER_P
}

/// Potassium to its oxide, K to K2O, same unit of mass in and out.
pub fn k2o_from_k(k: f64) -> f64 {
    k * K2O_PER_K
}

/// Oxide to potassium, K2O to K, same unit of mass in and out.
pub fn k_from_k2o(k2o: f64) -> f64 {
    k2o / K2O_PER_K
}

/// The nearest whole number, halves away from zero: `value.round() as i64` without the call that a
/// portable build makes of `round`.
#[inline]
pub fn nearest_whole(value: f64) -> i64 {
    let whole = value as i64;
    let rest = value - whole as f64;
    whole
        .saturating_add(i64::from(rest >= 0.5))
        .saturating_sub(i64::from(rest <= -0.5))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn derived_factors_are_the_defined_ones() {
        // Definitions worked out by hand to the last digit (NIST Handbook 44, Appendix C; from memory).
        assert!(
            (M2_PER_ACRE - 4_046.856_422_4).abs() < 1e-9,
            "{M2_PER_ACRE}"
        );
        assert!(
            (L_PER_US_BUSHEL - 35.239_070_166_88).abs() < 1e-10,
            "{L_PER_US_BUSHEL}"
        );
        assert_eq!(M2_PER_FT2, 0.092_903_04);
    }

    #[test]
    fn every_pair_of_conversions_is_its_own_inverse() {
        type Pair = (&'static str, fn(f64) -> f64, fn(f64) -> f64);
        let pairs: [Pair; 11] = [
            ("ha", ha_from_m2, m2_from_ha),
            ("acres", ha_from_acres, acres_from_ha),
            ("lb", kg_from_lb, lb_from_kg),
            ("inches", m_from_inches, inches_from_m),
            (
                "lb/ac",
                kg_per_ha_from_lb_per_acre,
                lb_per_acre_from_kg_per_ha,
            ),
            ("mg/m2", mg_per_m2_from_kg_per_ha, kg_per_ha_from_mg_per_m2),
            ("per ft2", per_ft2_from_per_m2, per_m2_from_per_ft2),
            ("per acre", per_acre_from_per_m2, per_m2_from_per_acre),
            (
                "seeds per lb",
                thousand_grain_weight_g_from_seeds_per_lb,
                seeds_per_lb_from_thousand_grain_weight_g,
            ),
            ("P2O5", p2o5_from_p, p_from_p2o5),
            ("K2O", k2o_from_k, k_from_k2o),
        ];
        for (name, forth, back) in pairs {
            for value in [0.001, 1.0, 37.5, 12_500.0] {
                let again = back(forth(value));
                assert!(
                    (again / value - 1.0).abs() < 1e-14,
                    "{name}: {value} became {again}"
                );
            }
        }
    }

    #[test]
    fn the_nearest_whole_number_is_that_of_round() {
        let mut values = vec![0.0, f64::NAN, f64::INFINITY, f64::MAX, 0.49999999999999994];
        values.extend([
            0.5,
            1.5,
            2.5,
            4503599627370495.5,
            9007199254740993.0,
            9.3e18,
            1e300,
        ]);
        let mut state = 5u64;
        for shift in 0..60 {
            for _ in 0..50 {
                state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
                values.push((state >> 11) as f64 / (1u64 << shift) as f64);
            }
        }
        for value in values.iter().flat_map(|value| [*value, -value]) {
            assert_eq!(nearest_whole(value), value.round() as i64, "{value}");
        }
    }
}
