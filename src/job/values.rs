//! What a job file says about making classes from values.

use super::further_layer::FurtherLayer;
use super::track::Track;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// How classes are made from values.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Values {
    /// How values become classes.
    pub method: ClassMethod,
    /// Number of classes, for the methods that need one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 2, max = 12))]
    pub classes: Option<u32>,
    /// Values between the classes, ascending, for "edges". A value on an edge belongs to the class below.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(inner(range(min = -1e300, max = 1e300)))]
    pub edges: Vec<f64>,
    /// Names of the classes, from low to high values; without it "1", "2" and so on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(inner(length(min = 1)))]
    pub class_names: Vec<String>,
    /// What classes are called where they have no names: a number from low to high, or the mean of their values on the field, so that a curve can take them.
    #[serde(default)]
    pub named_by: NamedBy,
    /// Zones smaller than this join a neighbour; 0 leaves all as they are.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 100_000.0))]
    pub smallest_zone_m2: f64,
    /// Which neighbour a small zone joins.
    #[serde(default)]
    pub small_zones_join: Join,
    /// Parts of zones narrower than this go to what lies beside them; 0 leaves all as they are. Two to
    /// three working widths are what a drill can follow (common practice, no source).
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub narrowest_zone_m: f64,
    /// The same as a multiple of the working width, instead of metres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 20.0))]
    pub narrowest_zone_widths: Option<f64>,
    /// Whether borders are smoothed, by less than half a pixel, so that they run without stairs.
    #[serde(default)]
    pub smooth_borders: bool,
    /// Band of a raster.
    #[serde(default = "first_band")]
    #[schemars(range(min = 1, max = 65535))]
    pub band: u32,
    /// Value of a raster that stands for "no value", where the file does not say so itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -1e300, max = 1e300))]
    pub no_value: Option<f64>,
    /// How values between points are found; given for a layer of points and only there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface: Option<SurfaceMethod>,
    /// Column or attribute of points that holds the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub column: Option<String>,
    /// Edge of the cells that values between points, and of several layers together, are found for; without
    /// it 10 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 1000.0))]
    pub surface_cell_m: Option<f64>,
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
    /// Further layers that decide together with this one, for "k_means".
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<FurtherLayer>,
}

/// How values between points are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SurfaceMethod {
    /// The value of the nearest point.
    Nearest,
    /// The mean of the 12 nearest points, weighed by inverse distance.
    InverseDistance,
    /// The mean of all points within smoothing_m, the nearer the more; for dense points.
    Smoothed,
    /// Ordinary kriging with a fitted variogram.
    Kriging,
}

/// How a variogram rises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum VariogramModel {
    Spherical,
    Exponential,
    Gaussian,
}

impl VariogramModel {
    /// The word in the job file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Spherical => "spherical",
            Self::Exponential => "exponential",
            Self::Gaussian => "gaussian",
        }
    }
}

/// How values become classes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ClassMethod {
    /// Whole numbers that are classes already.
    AsTheyAre,
    /// Between the values that the job names.
    Edges,
    /// As much land in each class.
    Quantiles,
    /// Steps of the same height.
    EqualInterval,
    /// Classes that differ least within themselves.
    NaturalBreaks,
    /// Classes of several layers together that differ least within themselves; each layer counts alike.
    KMeans,
}

/// What classes without names are called.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NamedBy {
    /// "1", "2" and so on, from low to high.
    #[default]
    Number,
    /// The mean of the values of the class on the field, with four digits.
    Mean,
}

/// Which neighbour a small zone joins.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Join {
    /// The one with the longest shared border.
    #[default]
    LongestBorder,
    /// The one whose mean value is nearest.
    MostAlike,
}

pub(super) fn first_band() -> u32 {
    1
}

/// Something that contradicts itself.
pub(super) struct ValuesFault {
    pub key: &'static str,
    pub found: String,
    pub allowed: &'static str,
    pub next: String,
}

impl ClassMethod {
    /// The word in the job file.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsTheyAre => "as_they_are",
            Self::Edges => "edges",
            Self::Quantiles => "quantiles",
            Self::EqualInterval => "equal_interval",
            Self::NaturalBreaks => "natural_breaks",
            Self::KMeans => "k_means",
        }
    }
}

impl Values {
    /// Attribute that made polygons hold their class in.
    pub const CLASS_ATTRIBUTE: &'static str = "class";

    /// These settings behind a drill of this working width: a narrowest zone in widths is one in metres then.
    pub fn behind(&self, working_width_m: f64) -> Self {
        let mut own = self.clone();
        if let Some(widths) = own.narrowest_zone_widths.take() {
            own.narrowest_zone_m = widths * working_width_m;
        }
        own
    }

    /// Settings that contradict each other.
    pub(super) fn faults(&self) -> Vec<ValuesFault> {
        let mut faults = Vec::new();
        let mut add = |key, found: String, allowed, next: String| {
            faults.push(ValuesFault {
                key,
                found,
                allowed,
                next,
            });
        };
        let method = self.method.word();
        if self.narrowest_zone_widths.is_some() && self.narrowest_zone_m > 0.0 {
            add(
                "narrowest_zone_widths",
                "both 'narrowest_zone_m' and 'narrowest_zone_widths' are given".to_owned(),
                "metres, or a multiple of the working width",
                "remove one of the two".to_owned(),
            );
        }
        let by_number = !matches!(self.method, ClassMethod::AsTheyAre | ClassMethod::Edges);
        if by_number && self.classes.is_none() {
            add(
                "method",
                format!("method = \"{method}\" has no 'classes'"),
                "the number of classes, 2 to 12",
                "add classes = 4, say; planning prints how much each number explains".to_owned(),
            );
        }
        if !by_number && self.classes.is_some() {
            add(
                "classes",
                format!("'classes' is given with method = \"{method}\""),
                "'classes' with quantiles, equal_interval, natural_breaks or k_means",
                "remove 'classes', or choose another method".to_owned(),
            );
        }
        let edges = self.method == ClassMethod::Edges;
        if edges && !(1..=11).contains(&self.edges.len()) {
            add(
                "edges",
                format!("method = \"edges\" with {} edges", self.edges.len()),
                "1 to 11 edges",
                "write the values between the classes: edges = [10, 20]".to_owned(),
            );
        }
        if !edges && !self.edges.is_empty() {
            add(
                "edges",
                format!("'edges' is given with method = \"{method}\""),
                "'edges' with method = \"edges\"",
                "remove 'edges', or set method = \"edges\"".to_owned(),
            );
        }
        if self.edges.windows(2).any(|pair| pair[0] >= pair[1]) {
            add(
                "edges",
                "the edges do not rise".to_owned(),
                "each edge above the one before",
                "sort them".to_owned(),
            );
        }
        let wanted = match self.method {
            ClassMethod::AsTheyAre => 0,
            ClassMethod::Edges => self.edges.len() + 1,
            _ => self.classes.unwrap_or(0) as usize,
        };
        let names: BTreeSet<&str> = self.class_names.iter().map(|name| name.trim()).collect();
        if !self.class_names.is_empty() && names.len() != wanted {
            add(
                "class_names",
                format!(
                    "{} different class names for {}",
                    names.len(),
                    match wanted {
                        0 => "classes that are numbers already".to_owned(),
                        wanted => format!("{wanted} classes"),
                    }
                ),
                "one name of its own for each class, from low to high; none with as_they_are",
                "correct 'class_names', or leave it out".to_owned(),
            );
        }
        let by_mean = self.named_by == NamedBy::Mean;
        if by_mean && (!self.class_names.is_empty() || self.method == ClassMethod::AsTheyAre) {
            add(
                "named_by",
                "named_by = \"mean\" is given for classes that have names or are numbers already"
                    .to_owned(),
                "named_by = \"mean\" without class_names and not with as_they_are",
                "remove one of the two".to_owned(),
            );
        }
        let together = self.method == ClassMethod::KMeans;
        if together && self.also.is_empty() {
            add(
                "method",
                "method = \"k_means\" without 'also'".to_owned(),
                "k_means for several layers together; natural_breaks for one",
                "add also = [{ source = { file = \"...\" } }], or use natural_breaks".to_owned(),
            );
        }
        if !together && !self.also.is_empty() {
            add(
                "also",
                format!("'also' is given with method = \"{method}\""),
                "'also' with method = \"k_means\"",
                "remove 'also', or set method = \"k_means\"".to_owned(),
            );
        }
        let cells = self.surface.is_some() || together;
        if self.surface_cell_m.is_some() && !cells {
            add(
                "surface_cell_m",
                "'surface_cell_m' is given for a raster, which has its own pixels".to_owned(),
                "'surface_cell_m' with 'surface', or with method = \"k_means\"",
                "remove it".to_owned(),
            );
        }
        for also in &self.also {
            let inner = also.values();
            faults.extend(inner.point_faults().into_iter().map(|fault| ValuesFault {
                key: "also",
                found: format!("{} (file '{}')", fault.found, also.source.file.display()),
                ..fault
            }));
        }
        faults.extend(self.point_faults());
        faults
    }

    /// The same for what is said about points.
    fn point_faults(&self) -> Vec<ValuesFault> {
        let mut faults = Vec::new();
        let mut add = |key, found: String, allowed, next: String| {
            faults.push(ValuesFault {
                key,
                found,
                allowed,
                next,
            });
        };
        let of_points: [(&'static str, bool); 8] = [
            ("column", self.column.is_some()),
            ("power", self.power.is_some()),
            ("smoothing_m", self.smoothing_m.is_some()),
            ("variogram", self.variogram.is_some()),
            ("lowest", self.lowest.is_some()),
            ("highest", self.highest.is_some()),
            ("most_deviations", self.most_deviations.is_some()),
            ("track", self.track.is_some()),
        ];
        let given = of_points.iter().find(|(_, given)| *given);
        if let (None, Some((key, _))) = (self.surface, given) {
            add(
                key,
                format!("'{key}' is given without 'surface'"),
                "'surface' for points; a raster needs none of its settings",
                "add surface = \"kriging\", say, or remove it".to_owned(),
            );
        }
        if self.surface.is_some() && self.column.is_none() {
            add(
                "surface",
                "'surface' is given without 'column'".to_owned(),
                "the column or attribute that holds the points' values",
                "add column = \"...\"".to_owned(),
            );
        }
        let belongs: [(
            &'static str,
            bool,
            SurfaceMethod,
            &'static str,
            &'static str,
        ); 3] = [
            (
                "power",
                self.power.is_some(),
                SurfaceMethod::InverseDistance,
                "'power' is given without inverse_distance",
                "'power' with surface = \"inverse_distance\"",
            ),
            (
                "variogram",
                self.variogram.is_some(),
                SurfaceMethod::Kriging,
                "'variogram' is given without kriging",
                "'variogram' with surface = \"kriging\"",
            ),
            (
                "smoothing_m",
                self.smoothing_m.is_some(),
                SurfaceMethod::Smoothed,
                "'smoothing_m' is given without smoothed",
                "'smoothing_m' with surface = \"smoothed\"",
            ),
        ];
        for (key, given, method, found, allowed) in belongs {
            if given && self.surface.is_some_and(|own| own != method) {
                add(key, found.to_owned(), allowed, "remove it".to_owned());
            }
        }
        if self.surface == Some(SurfaceMethod::Smoothed) && self.smoothing_m.is_none() {
            add(
                "surface",
                "surface = \"smoothed\" has no 'smoothing_m'".to_owned(),
                "the distance within which points count",
                "add smoothing_m = 15, say: a little more than the distance between two passes"
                    .to_owned(),
            );
        }
        if let Some(track) = &self.track {
            let limits = track.slowest.is_some() || track.fastest.is_some();
            if limits != track.speed_column.is_some() {
                add(
                    "track",
                    "'track' has a speed column without limits, or limits without a column"
                        .to_owned(),
                    "speed_column together with slowest, fastest or both",
                    "give both, or neither".to_owned(),
                );
            }
            if let (Some(slow), Some(fast)) = (track.slowest, track.fastest)
                && slow > fast
            {
                add(
                    "track",
                    format!("slowest = {slow} is above fastest = {fast}"),
                    "slowest below fastest",
                    "correct one of them".to_owned(),
                );
            }
        }
        if let (Some(low), Some(high)) = (self.lowest, self.highest)
            && low > high
        {
            add(
                "lowest",
                format!("lowest = {low} is above highest = {high}"),
                "lowest below highest",
                "correct one of them".to_owned(),
            );
        }
        faults
    }
}
