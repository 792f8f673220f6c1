//! What a number may have been meant as: a slip of the decimal point, or another unit of measure.

use super::published::Quantity;
use crate::units;

/// A number read another way.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slip {
    /// What it then is, in the program's unit of the quantity.
    pub meant: f64,
    /// How it was read, to follow "as".
    pub read_as: &'static str,
}

/// All ways in which a number of this quantity is commonly mistaken; `row_m` is the distance between rows.
pub(super) fn of(quantity: Quantity, value: f64, row_m: Option<f64>) -> Vec<Slip> {
    let slip = |meant: f64, read_as| Slip { meant, read_as };
    let decimal = [
        slip(
            value / 10.0,
            "one with the decimal point a place too far right",
        ),
        slip(
            value * 10.0,
            "one with the decimal point a place too far left",
        ),
    ];
    let own: Vec<Slip> = match quantity {
        Quantity::ThousandGrainWeight => vec![
            slip(
                units::thousand_grain_weight_g_from_seeds_per_lb(value),
                "seeds in a pound (key seeds_per_lb)",
            ),
            slip(1.0e6 / value, "seeds in a kilogram"),
        ],
        Quantity::Plants | Quantity::Seeds => {
            let mut ways = vec![
                slip(
                    units::per_m2_from_per_ft2(value),
                    "a count per square foot (keys plants_per_ft2, seeds_per_ft2)",
                ),
                slip(
                    units::per_m2_from_per_acre(value * 1_000.0),
                    "thousands per acre",
                ),
                slip(value * 100.0, "millions per hectare"),
            ];
            ways.extend(row_m.map(|row_m| slip(value / row_m, "a count per metre of row")));
            ways
        }
        Quantity::Rate => vec![
            slip(
                units::kg_per_ha_from_lb_per_acre(value),
                "pounds per acre (key lb_per_acre)",
            ),
            slip(value * 10.0, "grams per square metre"),
            slip(value * 1_000.0, "tonnes per hectare"),
        ],
        Quantity::Depth => vec![
            slip(value * 10.0, "centimetres"),
            slip(units::m_from_inches(value) * 1_000.0, "inches"),
        ],
        Quantity::Germination => Vec::new(),
    };
    own.into_iter().chain(decimal).collect()
}
