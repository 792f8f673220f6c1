//! What a job file says about a number for each polygon from the raster under it.

use super::land::Source;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A number for each polygon of a layer, from the raster under it. The number is the polygon's class, so that a
/// `curve` can read it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Zonal {
    /// The raster.
    pub source: Source,
    /// Which number of the pixels under a polygon counts.
    pub value: ZonalValue,
    /// Lowest and highest value that count for "share_percent"; both belong to the range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(inner(range(min = -1e300, max = 1e300)))]
    pub between: Option<[f64; 2]>,
    /// Band of the raster.
    #[serde(default = "super::values::first_band")]
    #[schemars(range(min = 1, max = 65535))]
    pub band: u32,
    /// Value of the raster that stands for "no value", where the file does not say so itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -1e300, max = 1e300))]
    pub no_value: Option<f64>,
    /// Decimals that the number is rounded to.
    #[serde(default = "two")]
    #[schemars(range(max = 6))]
    pub decimals: u8,
}

fn two() -> u8 {
    2
}

/// A number of the pixels under a polygon.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ZonalValue {
    /// The mean, each pixel weighed with the part of it that the polygon covers.
    Mean,
    /// The least value that half of the polygon's land does not exceed.
    Median,
    /// The lowest value of any pixel that the polygon touches.
    Lowest,
    /// The highest value of any pixel that the polygon touches.
    Highest,
    /// Percent of the polygon's land whose value lies between two.
    SharePercent,
}

impl ZonalValue {
    /// The word in the job file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Mean => "mean",
            Self::Median => "median",
            Self::Lowest => "lowest",
            Self::Highest => "highest",
            Self::SharePercent => "share_percent",
        }
    }
}

impl Zonal {
    /// What contradicts itself: the key, what was found, what is allowed, what to do.
    pub(super) fn faults(&self) -> Vec<(&'static str, String, &'static str, &'static str)> {
        let share = self.value == ZonalValue::SharePercent;
        match self.between {
            None if share => vec![(
                "value",
                "value = \"share_percent\" has no 'between'".to_owned(),
                "the lowest and the highest value that count",
                "add between = [10, 20], say; of a raster of classes, between = [3, 3] is class 3",
            )],
            Some(_) if !share => vec![(
                "between",
                format!("'between' is given with value = \"{}\"", self.value.word()),
                "'between' with value = \"share_percent\"",
                "remove it, or set value = \"share_percent\"",
            )],
            Some([low, high]) if low > high => vec![(
                "between",
                format!("'between' runs from {low} down to {high}"),
                "the lower value first",
                "change the two round",
            )],
            _ => Vec::new(),
        }
    }
}
