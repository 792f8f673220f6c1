//! Zone layers from values: a raster, or points such as soil samples.

use super::inputs::Input;
use crate::cli::describe_raster;
use crate::cli::survey::{AttributeKind, Survey, crs_to_name, ground_of};
use crate::findings::{Fault, Outcome, Place};
use crate::frame::{self, Crs, Near};
use crate::job::Source;
use crate::read::{Layer, Raster};
use std::path::Path;

/// So many classes, and their names from low to high; 3 to 5 are common practice, no source.
const CLASS_NAMES: [&str; 3] = ["low", "middle", "high"];

/// Points nearer to each other than the cells of a surface (10 m) were recorded while driving.
const DENSE_M: f64 = 10.0;

/// Words in names of columns that speak against values: what says where and when, or counts.
const OTHER_WORDS: [&str; 12] = [
    "lon", "lat", "east", "north", "coord", "date", "time", "year", "sample", "depth", "number",
    "id",
];

/// How the values of a file become classes.
pub(super) struct Values {
    /// Whole numbers that are classes already.
    pub as_they_are: bool,
    /// Names of the classes, from low to high.
    pub classes: Vec<String>,
    /// Of what.
    pub of: Of,
}

/// Where the values come from.
pub(super) enum Of {
    /// Points.
    Points {
        /// Columns with numbers.
        columns: Vec<String>,
        /// The one that counts; none where that is not plain.
        column: Option<String>,
        /// Recorded while driving.
        dense: bool,
    },
    /// A raster with so many bands.
    Raster {
        /// How many.
        bands: u32,
    },
}

/// Takes points as values; `wanted` are columns that were asked for.
///
/// # Errors
/// No column with numbers; `own`, the column of this very file, is none of them.
pub(super) fn of_points(input: &Input, own: Option<&str>, wanted: &[String]) -> Outcome<Values> {
    let survey = &input.survey;
    let columns = columns(survey);
    let listed: Vec<String> = columns.iter().map(|name| format!("'{name}'")).collect();
    if columns.is_empty() {
        return Err(Fault::input(
            "new.no_values",
            survey.layer.place(),
            "no column of these points has numbers that could be values",
            "a column with numbers, such as phosphate or pH",
            "look at the file with 'twinsow describe'",
        ));
    }
    let asked = own.or_else(|| {
        let of_it = wanted.iter().find(|name| columns.contains(name));
        of_it.map(String::as_str)
    });
    let column = match asked {
        Some(name) if !columns.iter().any(|known| known == name) => {
            return Err(Fault::input(
                "new.no_attribute",
                survey.layer.place(),
                format!("there is no column '{name}' with numbers"),
                listed.join(", "),
                "name one of these with --value-column",
            ));
        }
        Some(name) => Some(name.to_owned()),
        None => plain(&columns),
    };
    Ok(Values {
        as_they_are: false,
        classes: CLASS_NAMES.map(str::to_owned).to_vec(),
        of: Of::Points {
            columns,
            column,
            dense: is_dense(survey),
        },
    })
}

/// Columns with numbers, but for those of the coordinates.
pub(in crate::cli) fn columns(survey: &Survey) -> Vec<String> {
    let numbers = survey.attributes.iter().filter(|attribute| {
        let numbers = matches!(attribute.kind, AttributeKind::Number | AttributeKind::Whole);
        numbers && !is_coordinate(survey, &attribute.name)
    });
    numbers.map(|attribute| attribute.name.clone()).collect()
}

/// Whether the numbers of a column are where the points lie: then it is one of their coordinates, and nothing measured.
fn is_coordinate(survey: &Survey, name: &str) -> bool {
    let nth = survey.layer.attributes.iter().position(|own| own == name);
    let points = survey.layer.features.iter().filter_map(|feature| {
        let crate::read::Geometry::Points(points) = &feature.geometry else {
            return None;
        };
        let value = feature.values.get(nth?)?.to_string().parse::<f64>().ok()?;
        let [x, y] = *points.first()?;
        Some(value == x || value == y)
    });
    let mut any = false;
    for is in points {
        any = true;
        if !is {
            return false;
        }
    }
    any
}

/// The column that can only be meant: one without the others' words in its name.
fn plain(columns: &[String]) -> Option<String> {
    let is_other = |name: &&String| {
        let name = name.to_lowercase();
        let parts = || name.split(|c: char| !c.is_alphanumeric());
        parts().any(|part| OTHER_WORDS.contains(&part)) || parts().any(|part| part == "no")
    };
    let mut left = columns.iter().filter(|name| !is_other(name));
    match (left.next(), left.next()) {
        (Some(only), None) => Some(only.clone()),
        _ => None,
    }
}

/// Whether points lie nearer to each other, on the mean, than the cells of a surface.
fn is_dense(survey: &Survey) -> bool {
    let extent = survey.ground.as_ref().ok().and_then(|ground| ground.extent);
    let Some([[west, south], [east, north]]) = extent else {
        return false;
    };
    let m2 = crate::frame::zone_m2([south, north], east - west);
    let count = survey.layer.features.len().max(1) as f64;
    (m2 / count).sqrt() < DENSE_M
}

/// Takes a raster as values; gives the source that names it.
///
/// # Errors
/// Not readable; no CRS.
pub(super) fn of_raster(source: &Source, near: Option<&Near>) -> Outcome<(Source, Values)> {
    let bare = Source {
        file: source.file.clone(),
        ..Source::default()
    };
    let raster = Raster::open(&bare, Path::new(""))?;
    let outline = Layer {
        findings: Vec::new(),
        ..raster.outline()
    };
    let crs = crs_to_name(&outline, source.crs.as_deref()).map(str::to_owned);
    let ground = Crs::of(&outline, crs.as_deref()).and_then(|crs| ground_of(&outline, &crs));
    if let Err(fault) = ground {
        let mut fault = frame::with_fits(fault, &outline, near);
        fault
            .next
            .push_str(" (for 'twinsow new': name it with --crs)");
        return Err(fault);
    }
    let whole = match raster.bands {
        1 => describe_raster::whole_classes(&raster)?,
        _ => None,
    };
    let values = Values {
        as_they_are: whole.is_some(),
        classes: whole.unwrap_or_else(|| CLASS_NAMES.map(str::to_owned).to_vec()),
        of: Of::Raster {
            bands: raster.bands,
        },
    };
    Ok((Source { crs, ..bare }, values))
}

/// A raster in the place of a boundary.
pub(super) fn no_boundary(path: &Path) -> Box<Fault> {
    Fault::input(
        "new.no_polygons",
        Place::file(path),
        "this is a raster, which has no polygon for the border of a field",
        "a file with polygons",
        "give the raster with --layer: its values become zones",
    )
}
