//! Where fields are put: a coordinate system, and a place well inside its area of use.

use crate::exact_support::draw::Dice;

/// A place in a coordinate system.
#[derive(Debug, Clone)]
pub struct Site {
    pub crs: String,
    /// Short, for the table: all UTM zones are one kind.
    pub kind: &'static str,
    /// Of the field's middle, in the CRS's unit: x east, y north.
    pub at: [f64; 2],
    /// Units of the CRS for a metre on the ground, east and north.
    pub per_metre: [f64; 2],
}

/// A grid of a country: code, west, south, east and north of where fields are put, its unit in metres.
type Grid = (&'static str, [f64; 4], f64);

/// US survey foot: 1200 / 3937 m.
const SURVEY_FOOT_M: f64 = 1200.0 / 3937.0;
const GRIDS: [Grid; 8] = [
    ("EPSG:28992", [30e3, 330e3, 260e3, 590e3], 1.0),
    ("EPSG:25832", [300e3, 4.4e6, 700e3, 7.7e6], 1.0),
    ("EPSG:27700", [200e3, 100e3, 600e3, 800e3], 1.0),
    ("EPSG:2154", [300e3, 6.2e6, 1000e3, 7.0e6], 1.0),
    ("EPSG:2180", [250e3, 200e3, 750e3, 680e3], 1.0),
    ("EPSG:31370", [50e3, 50e3, 250e3, 220e3], 1.0),
    ("EPSG:3035", [3.0e6, 2.0e6, 5.2e6, 4.4e6], 1.0),
    ("EPSG:2263", [930e3, 130e3, 1.45e6, 250e3], SURVEY_FOOT_M),
];
/// WGS 84: half the equator's width and its flattening.
const AXIS_M: f64 = 6_378_137.0;
const ECCENTRICITY2: f64 = 0.006_694_379_990_141_3;

impl Site {
    pub fn drawn(dice: &mut Dice) -> Self {
        match dice.below(12) as usize {
            nth @ 0..8 => Self::in_grid(GRIDS[nth], dice),
            8 | 9 => Self::in_utm(dice),
            10 => Self::in_web_mercator(dice),
            _ => Self::in_degrees(dice),
        }
    }

    fn in_grid((code, [west, south, east, north], unit_m): Grid, dice: &mut Dice) -> Self {
        Self {
            crs: code.to_owned(),
            kind: code,
            at: [
                west + (east - west) * dice.share(),
                south + (north - south) * dice.share(),
            ],
            per_metre: [1.0 / unit_m; 2],
        }
    }

    /// A zone of either hemisphere, from the equator to 70 degrees.
    fn in_utm(dice: &mut Dice) -> Self {
        let zone = dice.between(1, 61);
        let (south, from) = match dice.below(2) {
            0 => (0, 10e3),
            _ => (100, 10e6 - 6.5e6),
        };
        let along = if south == 0 { 7.75e6 } else { 6.49e6 };
        Self {
            crs: format!("EPSG:{}", 32_600 + south + zone),
            kind: "UTM",
            at: [
                300e3 + 400e3 * dice.share(),
                from + (along - 10e3) * dice.share(),
            ],
            per_metre: [1.0; 2],
        }
    }

    /// Metres are drawn longer there, by 1 / cos(latitude).
    fn in_web_mercator(dice: &mut Dice) -> Self {
        let at = [38e6 * (dice.share() - 0.5), -7.5e6 + 17e6 * dice.share()];
        Self {
            crs: "EPSG:3857".to_owned(),
            kind: "EPSG:3857",
            at,
            per_metre: [(at[1] / AXIS_M).cosh(); 2],
        }
    }

    fn in_degrees(dice: &mut Dice) -> Self {
        let at = [358.0 * (dice.share() - 0.5), -55.0 + 125.0 * dice.share()];
        let (sin, cos) = at[1].to_radians().sin_cos();
        let root = (1.0 - ECCENTRICITY2 * sin * sin).sqrt();
        let across = AXIS_M / root * cos;
        let along = AXIS_M * (1.0 - ECCENTRICITY2) / root.powi(3);
        Self {
            crs: "EPSG:4326".to_owned(),
            kind: "EPSG:4326",
            at,
            per_metre: [1.0 / across.to_radians(), 1.0 / along.to_radians()],
        }
    }

    pub fn in_its_own_degrees(&self) -> bool {
        self.kind == "EPSG:4326"
    }

    /// Metres from the middle, as coordinates.
    pub fn moved(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [
            self.at[0] + x * self.per_metre[0],
            self.at[1] + y * self.per_metre[1],
        ]
    }
}
