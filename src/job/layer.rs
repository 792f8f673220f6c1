//! Zone layers of a job, and how zones are cleaned.

use super::land::Source;
use super::terminal::PlaceKeys;
use super::values::Values;
use super::zonal::Zonal;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Class of land that nothing was placed on.
pub const NOTHING_PLACED: &str = "nothing placed";

/// A layer of zones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ZoneLayer {
    /// How rates refer to it, such as "soil".
    #[schemars(length(min = 1))]
    pub name: String,
    /// Polygons; a raster or points, together with `values`; a line, together with `divides`.
    #[serde(default, skip_serializing_if = "Source::is_none")]
    pub source: Source,
    /// True for a line across the field. Its classes are "left" and "right", seen along the line; beyond its ends it goes on straight.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub divides: bool,
    /// Two or more points of such a line, instead of a source.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 1000))]
    pub line: Vec<PlaceKeys>,
    /// Attribute whose values are the classes. Polygons need it, or `zonal`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schemars(length(min = 1))]
    pub class_attribute: String,
    /// How classes are made from the values of a raster or of points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values: Option<Values>,
    /// A number for each polygon from a raster, instead of a class from an attribute.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zonal: Option<Zonal>,
    /// Which polygon counts where two overlap: the one listed first in the file, or last. Without it the first, and a decision where more than 1 % of the land lies in zones of two classes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overlaps: Option<OverlapRule>,
    /// For polygons of a ledger's land instead of `class_attribute`: the first day of the season, YYYY-MM-DD. What was
    /// placed there since comes off the needs of nutrients; what is older does not. The class of the land is what it got.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 10, max = 10))]
    pub placed_since: Option<String>,
    /// Class of land that no polygon covers. Without it the gap takes the class it shares the longest border with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class_of_gaps: Option<String>,
}

impl ZoneLayer {
    /// The attribute that holds the classes, also of polygons that were made from values.
    pub fn class_attribute(&self) -> &str {
        match self.makes_classes() {
            true => Values::CLASS_ATTRIBUTE,
            false => &self.class_attribute,
        }
    }

    /// Whether its classes are made from something else than an attribute.
    pub(super) fn makes_classes(&self) -> bool {
        self.values.is_some()
            || self.zonal.is_some()
            || self.placed_since.is_some()
            || self.is_line()
    }

    /// The class of land that no polygon covers, if it is said. Land that a ledger does not know got nothing.
    pub fn class_of_gaps(&self) -> Option<&str> {
        match self.placed_since {
            Some(_) => Some(NOTHING_PLACED),
            None => self.class_of_gaps.as_deref(),
        }
    }

    /// Whether it is a line that divides the field, from a file or from points of the job.
    pub fn is_line(&self) -> bool {
        self.divides || !self.line.is_empty()
    }
}

/// Which polygon of a layer counts where several cover the same land.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum OverlapRule {
    #[default]
    First,
    Last,
}

/// How zones are cleaned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ZoneRules {
    /// Pieces smaller than this join the neighbour with the longest shared border.
    #[schemars(range(min = 0.0, max = 10000.0))]
    pub sliver_area_m2: f64,
    /// Gaps of a layer that together are more than this share of the land (percent) ask for a decision.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub gap_decision_percent: f64,
}

impl Default for ZoneRules {
    fn default() -> Self {
        Self {
            sliver_area_m2: 25.0,
            gap_decision_percent: 1.0,
        }
    }
}
