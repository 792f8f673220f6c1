//! What a job file says about a further layer of values that decides on the same classes.

use super::land::Source;
use super::track::Track;
use super::values::{ClassMethod, Join, NamedBy, SurfaceMethod, Values, VariogramModel};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A further raster or layer of points for method = "k_means". The settings are those of `values`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Also")]
pub struct FurtherLayer {
    /// The raster or the points.
    pub source: Source,
    /// Band of a raster.
    #[serde(default = "super::values::first_band")]
    #[schemars(range(min = 1, max = 65535))]
    pub band: u32,
    /// Value of a raster that stands for "no value", where the file does not say so itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -1e300, max = 1e300))]
    pub no_value: Option<f64>,
    /// How values between points are found; given for points and only there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface: Option<SurfaceMethod>,
    /// Column or attribute of points that holds the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub column: Option<String>,
    /// Power of the distance with inverse_distance; without it 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 10.0))]
    pub power: Option<f64>,
    /// Distance within which points count with "smoothed".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 500.0))]
    pub smoothing_m: Option<f64>,
    /// Variogram model for kriging; without it the one that fits best.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variogram: Option<VariogramModel>,
    /// Points with a lower value are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -1e300, max = 1e300))]
    pub lowest: Option<f64>,
    /// Points with a higher value are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -1e300, max = 1e300))]
    pub highest: Option<f64>,
    /// Points farther from the median than this many (scaled) median absolute deviations are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 100.0))]
    pub most_deviations: Option<f64>,
    /// Rules for points recorded while driving.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub track: Option<Track>,
}

impl FurtherLayer {
    /// The same settings in the form of a layer's own.
    pub fn values(&self) -> Values {
        Values {
            method: ClassMethod::AsTheyAre,
            classes: None,
            edges: Vec::new(),
            class_names: Vec::new(),
            named_by: NamedBy::default(),
            smallest_zone_m2: 0.0,
            small_zones_join: Join::default(),
            narrowest_zone_m: 0.0,
            narrowest_zone_widths: None,
            smooth_borders: false,
            band: self.band,
            no_value: self.no_value,
            surface: self.surface,
            column: self.column.clone(),
            surface_cell_m: None,
            power: self.power,
            smoothing_m: self.smoothing_m,
            variogram: self.variogram,
            lowest: self.lowest,
            highest: self.highest,
            most_deviations: self.most_deviations,
            track: self.track.clone(),
            also: Vec::new(),
        }
    }
}
