//! The land of a job: field, exclusions, setbacks, special areas, headland, and the files they come from.

use super::country::Country;
use super::terminal::PlaceKeys;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A vector file and which part of it is meant.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Path, relative to the job file.
    pub file: PathBuf,
    /// Layer, table or sheet inside the file; needed only where the file has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub table: Option<String>,
    /// CRS to read the coordinates in, such as "EPSG:25832", where the file declares none or a wrong one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crs: Option<String>,
    /// Only features whose attribute has this value, such as { field_id = "12" }.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub only: BTreeMap<String, String>,
    /// Column of a CSV file or sheet that holds x or longitude, where its name does not say so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x_column: Option<String>,
    /// Column of a CSV file or sheet that holds y or latitude.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub y_column: Option<String>,
    /// Whether a comma in the numbers of a CSV file or sheet is a decimal one; asked for where it is not plain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decimal_comma: Option<bool>,
}

impl Source {
    /// Whether no file is named.
    pub fn is_none(&self) -> bool {
        self.file.as_os_str().is_empty()
    }
}

/// The field and who it belongs to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Field {
    /// Name of the field.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Farm, for sheets and task data.
    #[serde(default)]
    pub farm: String,
    /// Customer, for sheets and task data.
    #[serde(default)]
    pub customer: String,
    /// Polygons of the boundary. Several that an attribute tells apart need `in_parts`, `split_by`, or `only` for one of them.
    pub boundary: Source,
    /// True where several features of the boundary are parts of one field.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub in_parts: bool,
    /// Country whose usage the numbers of seeds are held against as well: outside what its publishers print is a note.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub country: Option<Country>,
    /// Where the drill enters; the places of the gate check lie near it. Without it, near the start of the first bout.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entrance: Option<PlaceKeys>,
    /// Attribute of the boundary that tells fields apart: each of its values is planned as a field of its own, with files of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub split_by: Option<String>,
}

/// A piece of land that is not sown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Exclusion {
    /// What it is, for messages and outputs.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Polygons, lines or points.
    pub source: Source,
    /// Land within this distance of it is left out as well. Lines and points need it.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub buffer_m: f64,
    /// True for water: neither the edge rim nor a neighbour's rate reaches into any exclusion; water is named so in outputs.
    #[serde(default)]
    pub water: bool,
}

/// A strip where named products are off and the others go on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Setback {
    /// What it keeps clear of, for messages and reasons.
    #[schemars(length(min = 1))]
    pub name: String,
    /// What the distance is measured from: polygons, lines or points.
    pub source: Source,
    /// Distance that must stay free, by label or local rule; where 'source' draws the strip itself, how far off the measuring
    /// may be.
    #[schemars(range(max = 1000.0), extend("exclusiveMinimum" = 0.0))]
    pub distance_m: f64,
    /// What the shapes of 'source' are, so where the distance is measured from; without it sheets say that it is not named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_from: Option<MeasuredFrom>,
    /// Ids of the products that are off inside.
    pub products: Vec<String>,
}

/// Where the distance of a setback is measured from, as labels and local rules put it. Rules differ by metres for the same
/// water: England's cross compliance kept 2 m from the centre of a watercourse, and 1 m from the top of its bank (Tried &
/// Tested, nutrientmanagement.org, "No spread zones").
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredFrom {
    /// Where the land begins to fall to the water.
    TopOfBank,
    /// Where the water stands.
    EdgeOfWater,
    /// The middle of a ditch or stream.
    CentreOfWatercourse,
    /// A well, a spring or a borehole.
    WellOrSpring,
    /// The border of the field.
    FieldBorder,
}

impl MeasuredFrom {
    /// As a sentence has it.
    pub fn words(self) -> &'static str {
        match self {
            Self::TopOfBank => "the top of the bank",
            Self::EdgeOfWater => "the edge of the water",
            Self::CentreOfWatercourse => "the centre of the watercourse",
            Self::WellOrSpring => "the well or spring",
            Self::FieldBorder => "the field border",
        }
    }
}

/// A polygon with a percentage per product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpecialArea {
    /// What it is, for reasons.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Polygons.
    pub source: Source,
    /// Percent of the rate by product id, such as { barley = 115 }; a product not named keeps 100.
    #[schemars(extend("additionalProperties" = serde_json::json!({ "type": "number", "minimum": 0, "maximum": 1000 })))]
    pub percent: BTreeMap<String, f64>,
}

/// The headland: by bouts of the drill or by metres; neither given means none.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Headland {
    /// Number of bouts along the border.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 20))]
    pub bouts: Option<u32>,
    /// Width in metres, instead of bouts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 500.0))]
    pub width_m: Option<f64>,
    /// Whether the drill also turns around exclusions.
    #[serde(default)]
    pub around_exclusions: bool,
    /// True where the headland is sown twice, once along and once across: what lies beside the seed there counts double.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub sown_twice: bool,
}

impl Headland {
    /// Its width behind a drill of this working width, m; 0 for none.
    pub fn metres(&self, working_width_m: f64) -> f64 {
        let bouts = self.bouts.map(|bouts| f64::from(bouts) * working_width_m);
        self.width_m.or(bouts).unwrap_or(0.0)
    }
}
