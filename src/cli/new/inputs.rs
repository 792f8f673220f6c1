//! The user's own files, looked at for a new job.

use super::fields::Fields;
use super::values;
use crate::cli::show::number::hectares;
use crate::cli::survey::{self, Survey, crs_to_name};
use crate::edit::WhichField;
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Near;
use crate::job::Source;
use crate::read::{CSV_FAULT, Feature, Geometry, Raster, taskdata};
use std::collections::BTreeMap;
use std::path::Path;

/// A layer of polygons or points for the job.
pub(super) struct Input {
    /// As the job names it: `table` only where the file has several, `crs` only where it declares none, `only` what picks the
    /// field out of several.
    pub source: Source,
    /// Whether it is task data.
    pub is_task_data: bool,
    /// Whether task data have obstacles in this field.
    pub obstacles: bool,
    /// Whether the user said that the features are parts of one field.
    pub in_parts: bool,
    /// The attribute of which each value is a field of its own.
    pub split_by: Option<String>,
    pub survey: Survey,
}

/// What the file of a layer has to hold.
#[derive(Clone, Copy, PartialEq)]
enum Wanted {
    Polygons,
    PolygonsOrPoints,
}

impl Input {
    /// The first layer of the file that has polygons; without any the first with points. `near` is the boundary, where it is
    /// known.
    ///
    /// # Errors
    /// Not readable, neither polygons nor points, or no CRS.
    pub(super) fn open(source: &Source, near: Option<&Near>) -> Outcome<Self> {
        let mut tables = tables(source)?;
        if taskdata::is_task_data(&source.file) {
            // Zones come from maps; outlines and obstacles are the field itself.
            let is_map = |name: &str| name == "zones" || name == "grid";
            tables.retain(|table| table.as_deref().is_some_and(is_map));
        }
        Self::first(source, tables, Wanted::PolygonsOrPoints, near)
    }

    /// The boundary: of task data with several fields the named one, of another file the features that `field` means.
    ///
    /// # Errors
    /// As [`Input::open`]; a field or an attribute that the file does not have; task data with several fields, and none is named.
    pub(super) fn boundary(source: &Source, field: &WhichField) -> Outcome<Self> {
        if taskdata::is_task_data(&source.file) {
            let name = match field {
                WhichField::Named(name) => Some(name),
                WhichField::Only(values) => values.values().next(),
                _ => None,
            };
            return Self::of_task_data(source, name.map(String::as_str));
        }
        if Raster::is(&source.file) {
            return Err(values::no_boundary(&source.file));
        }
        let all = Self::first(source, tables(source)?, Wanted::Polygons, None)?;
        let known = |name: &str| all.survey.layer.attributes.iter().any(|own| own == name);
        match field {
            WhichField::Unsaid => Ok(all),
            WhichField::Parts => Ok(Self {
                in_parts: all.survey.layer.features.len() > 1,
                ..all
            }),
            WhichField::Each(attribute) if !known(attribute) => {
                Err(no_attribute(&all.survey, attribute, "--split-by"))
            }
            WhichField::Each(attribute) => Ok(Self {
                split_by: Some(attribute.clone()),
                ..all
            }),
            WhichField::Only(values) => all.only(values.clone()),
            WhichField::Named(name) => {
                let attribute = attribute_with(&all.survey, name);
                match attribute {
                    Some(attribute) => all.only(BTreeMap::from([(attribute, name.clone())])),
                    None => Err(no_field(&all.survey, name)),
                }
            }
        }
    }

    /// The features with these values alone.
    fn only(self, only: BTreeMap<String, String>) -> Outcome<Self> {
        let source = Source {
            only,
            ..self.source
        };
        let survey = survey::survey_of(&source, None)?;
        Ok(Self {
            source,
            survey,
            ..self
        })
    }

    fn of_task_data(source: &Source, field: Option<&str>) -> Outcome<Self> {
        let path = &source.file;
        let all = survey::survey_only(path, Some("boundary"), &BTreeMap::new())?;
        let value = |feature: &Feature, at: usize| {
            feature
                .values
                .get(at)
                .map(ToString::to_string)
                .unwrap_or_default()
        };
        let fits = |feature: &&Feature| {
            field.is_none_or(|field| value(feature, 0) == field || value(feature, 1) == field)
        };
        let fitting: Vec<&Feature> = all.layer.features.iter().filter(fits).collect();
        let [one] = fitting.as_slice() else {
            let names = all.layer.features.iter().take(20);
            let names: Vec<String> = names
                .map(|feature| format!("'{}' ({})", value(feature, 0), value(feature, 1)))
                .collect();
            return Err(Fault::input(
                SEVERAL_FIELDS,
                all.layer.place(),
                match field {
                    Some(field) => format!("{} fields are called '{field}'", fitting.len()),
                    None => format!("The task data hold {} fields", fitting.len()),
                },
                format!("one of: {}", names.join(", ")),
                "Name it with --field, by its name or by its id.",
            ));
        };
        let id = value(one, 1);
        let only = BTreeMap::from([("partfield".to_owned(), id)]);
        let survey = survey::survey_only(path, Some("boundary"), &only)?;
        let has_obstacles = survey::tables(path)?
            .iter()
            .any(|table| table.as_deref() == Some("obstacles"));
        let obstacles =
            has_obstacles && survey::survey_only(path, Some("obstacles"), &only).is_ok();
        Ok(Self {
            source: Source {
                file: path.clone(),
                table: Some("boundary".to_owned()),
                only,
                ..Source::default()
            },
            is_task_data: true,
            obstacles,
            in_parts: false,
            split_by: None,
            survey,
        })
    }

    fn first(
        source: &Source,
        tables: Vec<Option<String>>,
        wanted: Wanted,
        near: Option<&Near>,
    ) -> Outcome<Self> {
        let several = tables.len() > 1 || taskdata::is_task_data(&source.file);
        let (mut points, mut unread) = (None, None);
        for table in tables {
            let named = Source {
                table: table.clone(),
                ..source.clone()
            };
            let survey = match survey::survey_of(&named, near) {
                Ok(survey) => survey,
                // A sheet that is no table of places says nothing of the others.
                Err(fault) if several && fault.code == CSV_FAULT => {
                    unread.get_or_insert(fault);
                    continue;
                }
                Err(fault) => return Err(fault),
            };
            let input = Self {
                source: Source {
                    table: table.filter(|_| several || source.table.is_some()),
                    crs: crs_to_name(&survey.layer, source.crs.as_deref()).map(str::to_owned),
                    ..source.clone()
                },
                is_task_data: taskdata::is_task_data(&source.file),
                obstacles: false,
                in_parts: false,
                split_by: None,
                survey,
            };
            if input.has(|geometry| matches!(geometry, Geometry::Polygons(_))) {
                return input.on_the_ground();
            }
            if points.is_none() && input.has(|geometry| matches!(geometry, Geometry::Points(_))) {
                points = Some(input);
            }
        }
        match (points, wanted, unread) {
            (Some(points), Wanted::PolygonsOrPoints, _) => points.on_the_ground(),
            (None, _, Some(fault)) => Err(fault),
            (points, ..) => Err(no_polygons(&source.file, points.is_some(), wanted)),
        }
    }

    pub(super) fn has(&self, is: impl Fn(&Geometry) -> bool) -> bool {
        let mut features = self.survey.layer.features.iter();
        features.any(|feature| is(&feature.geometry))
    }

    fn on_the_ground(self) -> Outcome<Self> {
        if let Err(fault) = &self.survey.ground {
            let mut fault = fault.clone();
            fault
                .next
                .push_str(" (for 'twinsow new': name it with --crs)");
            return Err(fault);
        }
        Ok(self)
    }
}

/// Faults that another answer about the same file mends.
pub(super) const SEVERAL_FIELDS: &str = "new.several_fields";

/// Layers of a file. What is said about the columns of a table has to be heeded when it is read; a CSV file has one, a workbook
/// one on each sheet.
fn tables(source: &Source) -> Outcome<Vec<Option<String>>> {
    if let Some(table) = &source.table {
        return Ok(vec![Some(table.clone())]);
    }
    let of_columns = source.x_column.is_some() || source.decimal_comma.is_some();
    match of_columns {
        true => Ok(survey::tables(&source.file).unwrap_or_else(|_| vec![None])),
        false => survey::tables(&source.file),
    }
}

fn no_polygons(path: &Path, points: bool, wanted: Wanted) -> Box<Fault> {
    let (found, allowed, next) = match (points, wanted) {
        (true, _) => (
            "the file holds points and no polygon",
            "a file with polygons",
            "give it with --layer instead: its values become zones. The border of the field is another file",
        ),
        (false, Wanted::Polygons) => (
            "the file holds no polygon",
            "a file with polygons",
            "look at it with 'twinsow describe', and export the polygons",
        ),
        (false, Wanted::PolygonsOrPoints) => (
            "the file holds neither polygons nor points",
            "polygons with classes, points with values, or a raster",
            "look at it with 'twinsow describe'; a line that divides a field is written into the job by hand",
        ),
    };
    Fault::input("new.no_polygons", Place::file(path), found, allowed, next)
}

fn no_attribute(survey: &Survey, name: &str, option: &str) -> Box<Fault> {
    let known = survey.layer.attributes.iter();
    let known: Vec<String> = known.map(|name| format!("'{name}'")).collect();
    Fault::input(
        "new.no_attribute",
        survey.layer.place(),
        format!("the boundary has no attribute '{name}'"),
        known.join(", "),
        format!("name one of these with {option}"),
    )
}

/// The attribute that has this value: the one that tells the fields apart, or else the first.
fn attribute_with(survey: &Survey, value: &str) -> Option<String> {
    let has = |nth: usize| {
        let mut features = survey.layer.features.iter();
        features.any(|feature| {
            feature
                .values
                .get(nth)
                .is_some_and(|own| own.matches(value))
        })
    };
    let place = |name: &String| survey.layer.attributes.iter().position(|own| own == name);
    let first = Fields::of(survey).map_or_else(Vec::new, |fields| fields.attributes);
    let mut all = first.iter().chain(&survey.layer.attributes);
    all.find(|name| place(name).is_some_and(has)).cloned()
}

fn no_field(survey: &Survey, name: &str) -> Box<Fault> {
    let allowed = match Fields::of(survey) {
        Some(fields) => format!("one of: {}", listed(&fields)),
        None => "a value of one of its attributes".to_owned(),
    };
    Fault::input(
        SEVERAL_FIELDS,
        survey.layer.place(),
        format!("no field of this file is called '{name}'"),
        allowed,
        "Name one with --field, or leave it out: then the job asks.",
    )
}

/// The first fields with their land.
pub(super) fn listed(fields: &Fields) -> String {
    const MOST: usize = 20;
    let first = fields.all.iter().take(MOST);
    let first = first.map(|field| {
        let area = hectares(field.area_m2);
        format!("'{}' ({area} ha)", field.name())
    });
    let mut all: Vec<String> = first.collect();
    if fields.all.len() > MOST {
        all.push(format!("and {} more", fields.all.len() - MOST));
    }
    all.join(", ")
}
