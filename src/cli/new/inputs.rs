//! The user's own files, looked at for a new job.

use crate::cli::survey::{self, Attribute, AttributeKind, Survey, crs_to_name};
use crate::findings::{Fault, Outcome, Place};
use crate::read::{Feature, Geometry, taskdata};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Words in attribute names that speak for classes. A guess, for the user to correct.
const CLASS_WORDS: [&str; 10] = [
    "soil", "class", "zone", "texture", "type", "index", "group", "boden", "klasse", "sol",
];

/// Words in attribute names that speak against classes.
const OTHER_WORDS: [&str; 6] = ["area", "shape", "length", "perimeter", "date", "fid"];

/// A polygon layer for the job.
pub(super) struct Input {
    pub path: PathBuf,
    /// Named only where the file has several layers.
    pub table: Option<String>,
    /// Named only where the file declares none.
    pub crs: Option<String>,
    /// Attribute and value that pick the field out of task data with several.
    pub only: BTreeMap<String, String>,
    /// Whether task data have obstacles in this field.
    pub obstacles: bool,
    pub survey: Survey,
}

/// A zone layer with its classes.
pub(super) struct Zones {
    pub input: Input,
    pub name: String,
    /// Place of the class attribute in the survey.
    pub attribute: usize,
}

impl Zones {
    pub(super) fn attribute(&self) -> Option<&Attribute> {
        self.input.survey.attributes.get(self.attribute)
    }
}

impl Input {
    /// The first layer of the file that has polygons.
    ///
    /// # Errors
    /// Not readable, no polygons, or no CRS.
    pub(super) fn open(path: &Path, crs: Option<&str>) -> Outcome<Self> {
        let mut tables = survey::tables(path)?;
        if taskdata::is_task_data(path) {
            // Zones come from maps; outlines and obstacles are the field itself.
            let is_map = |name: &str| name == "zones" || name == "grid";
            tables.retain(|table| table.as_deref().is_some_and(is_map));
        }
        Self::first_with_polygons(path, tables, crs)
    }

    /// The boundary: of task data with several fields the named one.
    ///
    /// # Errors
    /// As [`Input::open`]; several fields and none is named, or not the named one.
    pub(super) fn boundary(path: &Path, field: Option<&str>, crs: Option<&str>) -> Outcome<Self> {
        if !taskdata::is_task_data(path) {
            if let Some(field) = field {
                return Err(Fault::input(
                    "new.field",
                    Place::file(path),
                    format!("The field '{field}' is asked for, but this is no task data"),
                    "--field only with task data",
                    "Leave --field out; pick features with 'only' in the job file.",
                ));
            }
            return Self::first_with_polygons(path, survey::tables(path)?, crs);
        }
        let all = survey::survey(path, Some("boundary"), None)?;
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
                "new.several_fields",
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
        let survey = survey::survey_only(path, Some("boundary"), None, &only)?;
        let has_obstacles = survey::tables(path)?
            .iter()
            .any(|table| table.as_deref() == Some("obstacles"));
        let obstacles =
            has_obstacles && survey::survey_only(path, Some("obstacles"), None, &only).is_ok();
        Ok(Self {
            path: path.to_path_buf(),
            table: Some("boundary".to_owned()),
            crs: None,
            only,
            obstacles,
            survey,
        })
    }

    fn first_with_polygons(
        path: &Path,
        tables: Vec<Option<String>>,
        crs: Option<&str>,
    ) -> Outcome<Self> {
        let several = tables.len() > 1 || taskdata::is_task_data(path);
        for table in tables {
            let survey = survey::survey(path, table.as_deref(), crs)?;
            let mut features = survey.layer.features.iter();
            if !features.any(|feature| matches!(feature.geometry, Geometry::Polygons(_))) {
                continue;
            }
            if let Err(fault) = survey.ground {
                let mut fault = fault;
                fault
                    .next
                    .push_str(" (for 'twinsow new': name it with --crs)");
                return Err(fault);
            }
            return Ok(Self {
                path: path.to_path_buf(),
                table: table.filter(|_| several),
                crs: crs_to_name(&survey.layer, crs).map(str::to_owned),
                only: BTreeMap::new(),
                obstacles: false,
                survey,
            });
        }
        Err(Fault::input(
            "new.no_polygons",
            Place::file(path),
            "the file holds no polygon",
            "a file with polygons",
            "look at it with 'twinsow describe', and export the polygons",
        ))
    }
}

/// Opens the zone layers; each gets a name of its own and its most plausible class attribute.
///
/// # Errors
/// As [`Input::open`]; no attribute that could be a class; `wanted` attributes that no layer has.
pub(super) fn zones(
    paths: &[PathBuf],
    wanted: &[String],
    crs: Option<&str>,
) -> Outcome<Vec<Zones>> {
    let mut zones: Vec<Zones> = Vec::new();
    let mut names = BTreeSet::new();
    for path in paths {
        let input = Input::open(path, crs)?;
        let attribute = class_attribute(&input, wanted)?;
        let base = input.table.clone().unwrap_or_else(|| {
            path.file_stem()
                .map(|stem| stem.to_string_lossy().into_owned())
                .unwrap_or_default()
        });
        let name = free_name(&base, &mut names);
        zones.push(Zones {
            input,
            name,
            attribute,
        });
    }
    for name in wanted {
        if !zones
            .iter()
            .any(|zone| zone.input.survey.layer.attributes.contains(name))
        {
            let known = zones
                .iter()
                .flat_map(|zone| &zone.input.survey.layer.attributes);
            let known: Vec<String> = known.map(|name| format!("'{name}'")).collect();
            return Err(Fault::input(
                "new.no_attribute",
                Place::nowhere(),
                format!("no layer has the attribute '{name}'"),
                known.join(", "),
                "name one of these with --class-attribute",
            ));
        }
    }
    Ok(zones)
}

fn free_name(base: &str, taken: &mut BTreeSet<String>) -> String {
    let base: String = base
        .to_lowercase()
        .chars()
        .map(|c| if c.is_control() { '_' } else { c })
        .collect();
    let base = if base.trim().is_empty() {
        "zones".to_owned()
    } else {
        base
    };
    let mut name = base.clone();
    let mut number = 2;
    while !taken.insert(name.clone()) {
        name = format!("{base}-{number}");
        number += 1;
    }
    name
}

fn class_attribute(input: &Input, wanted: &[String]) -> Outcome<usize> {
    let layer = &input.survey.layer;
    if let Some(n) = wanted
        .iter()
        .find_map(|name| layer.attributes.iter().position(|own| own == name))
    {
        return Ok(n);
    }
    let scored = input
        .survey
        .attributes
        .iter()
        .enumerate()
        .filter(|(_, a)| !a.classes.is_empty());
    let scored = scored.map(|(n, attribute)| (score(attribute, layer.features.len()), n));
    // Of equals the first in the file.
    let best = scored.reduce(|best, next| if next.0 > best.0 { next } else { best });
    best.map(|(_, n)| n).ok_or_else(|| {
        let names: Vec<String> = layer
            .attributes
            .iter()
            .map(|name| format!("'{name}'"))
            .collect();
        Fault::input(
            "new.no_classes",
            layer.place(),
            "no attribute of this layer has few enough values to be a class",
            format!(
                "an attribute with up to {} different values",
                survey::MOST_CLASSES
            ),
            match names.is_empty() {
                true => "give the polygons a class attribute in your GIS".to_owned(),
                false => format!("name one with --class-attribute: {}", names.join(", ")),
            },
        )
    })
}

/// How plausible it is that the values are classes.
fn score(attribute: &Attribute, features: usize) -> i32 {
    let name = attribute.name.to_lowercase();
    let mut score = 0;
    score += if CLASS_WORDS.iter().any(|word| name.contains(word)) {
        4
    } else {
        0
    };
    score -= if OTHER_WORDS.iter().any(|word| name.contains(word)) {
        6
    } else {
        0
    };
    // What tells tasks and fields of task data apart is no class.
    score -= if ["task", "task_name", "field"].contains(&name.as_str()) {
        6
    } else {
        0
    };
    score -= if name == "id" || name.ends_with("_id") {
        4
    } else {
        0
    };
    score += match attribute.kind {
        AttributeKind::Text => 2,
        AttributeKind::Whole => 1,
        AttributeKind::Number | AttributeKind::Mixed => -1,
        AttributeKind::Flag | AttributeKind::Empty => 0,
    };
    score += if (2..=12).contains(&attribute.distinct) {
        2
    } else {
        0
    };
    score += if attribute.distinct < features { 2 } else { 0 };
    score - if attribute.missing > 0 { 2 } else { 0 }
}
