//! Which fields a boundary file holds: the attributes that tell its features apart, and the land of each of their values.

use crate::cli::survey::{Attribute, AttributeKind, Survey};
use crate::frame::ground_m2;
use crate::read::Geometry;
use crate::units::M_PER_DEGREE;
use std::collections::BTreeMap;

/// Words in attribute names that speak for the name of a field, and for its number. A guess, for the user to correct.
const NAME_WORDS: [&str; 8] = [
    "name", "field", "parcel", "block", "feld", "mark", "perceel", "schlag",
];
const NUMBER_WORDS: [&str; 4] = ["id", "nr", "number", "code"];

/// Words that speak against both.
const OTHER_WORDS: [&str; 8] = [
    "area",
    "shape",
    "length",
    "perimeter",
    "date",
    "year",
    "crop",
    "owner",
];

/// What a GIS numbers by itself names nothing.
const COUNTED: [&str; 5] = ["fid", "ogc_fid", "objectid", "gid", "ogr_fid"];

/// Shapes of one field do not lie farther apart than this, m: those that do are fields of different growers with the same name.
const FARTHEST_M: f64 = 3_000.0;

/// The fields of a boundary file.
pub(in crate::cli) struct Fields {
    /// The attributes whose values tell them apart: one, or two where one names fields of different growers alike.
    pub attributes: Vec<String>,
    /// In the order of the file.
    pub all: Vec<FieldIn>,
}

/// One of them.
pub(in crate::cli) struct FieldIn {
    /// The values of the attributes.
    pub values: Vec<String>,
    /// Its features, by their place in the file.
    pub features: Vec<usize>,
    /// As drawn, m2; 0 where the CRS is not known.
    pub area_m2: f64,
}

impl FieldIn {
    /// What it is called.
    pub(in crate::cli) fn name(&self) -> String {
        self.values.join(", ")
    }
}

impl Fields {
    /// The fields that the most plausible attributes make of the features; none where nothing tells them apart.
    pub(in crate::cli) fn of(survey: &Survey) -> Option<Self> {
        let count = survey.layer.features.len();
        let attributes = survey.attributes.iter().enumerate();
        let apart: Vec<(usize, &Attribute)> = attributes
            .filter(|(_, attribute)| tells_apart(attribute))
            .collect();
        let scored = apart
            .iter()
            .map(|(nth, attribute)| (score(attribute, count), *nth));
        // Of equals the first in the file.
        let best = scored.reduce(|best, next| if next.0 > best.0 { next } else { best });
        let (_, best) = best?;
        let alone = Self::by(survey, &[best]);
        if !alone.all.iter().any(|field| is_far(survey, field)) {
            return Some(alone);
        }
        let others = apart.iter().map(|(nth, _)| *nth);
        let pairs = others
            .filter(|nth| *nth != best)
            .map(|nth| Self::by(survey, &[best, nth]));
        let most = pairs.reduce(|best, next| match next.all.len() > best.all.len() {
            true => next,
            false => best,
        });
        Some(most.unwrap_or(alone))
    }

    /// The one attribute whose values tell all of these fields apart, for a job with `split_by`; none where it takes two.
    pub(in crate::cli) fn to_split_by(&self, survey: &Survey) -> Option<String> {
        if let [alone] = self.attributes.as_slice()
            && !self.all.iter().any(|field| is_far(survey, field))
        {
            return Some(alone.clone());
        }
        let count = survey.layer.features.len();
        let unique = survey.attributes.iter();
        let unique = unique.filter(|of| tells_apart(of) && of.distinct == count);
        let best = unique.max_by_key(|of| score(of, count));
        best.map(|of| of.name.clone())
    }

    /// The fields that this attribute makes, and the attribute by which some of them are several: another one that differs
    /// from feature to feature, or none where only the distance says so. Nothing where each value is one field.
    pub(in crate::cli) fn joined_by(survey: &Survey, name: &str) -> Option<(Self, Option<String>)> {
        let nth = survey.attributes.iter().position(|of| of.name == name)?;
        let fields = Self::by(survey, &[nth]);
        let count = survey.layer.features.len();
        if fields.all.len() == count {
            return None;
        }
        let mut others = survey.attributes.iter();
        let id = others.find(|of| {
            let counted = COUNTED.contains(&of.name.to_lowercase().as_str());
            of.name != name && tells_apart(of) && of.distinct == count && !counted
        });
        let far = fields.all.iter().any(|field| is_far(survey, field));
        match id {
            Some(id) => Some((fields, Some(id.name.clone()))),
            None if far => Some((fields, None)),
            None => None,
        }
    }

    /// The fields that these attributes make.
    fn by(survey: &Survey, attributes: &[usize]) -> Self {
        let mut places: BTreeMap<Vec<String>, usize> = BTreeMap::new();
        let mut all: Vec<FieldIn> = Vec::new();
        for (at, feature) in survey.layer.features.iter().enumerate() {
            let value = |nth: &usize| feature.values.get(*nth).map(ToString::to_string);
            let values: Vec<String> = attributes
                .iter()
                .map(|nth| value(nth).unwrap_or_default())
                .collect();
            let place = *places.entry(values.clone()).or_insert(all.len());
            if place == all.len() {
                all.push(FieldIn {
                    values,
                    features: Vec::new(),
                    area_m2: 0.0,
                });
            }
            if let Some(field) = all.get_mut(place) {
                field.features.push(at);
                field.area_m2 += area_m2(survey, at);
            }
        }
        let name = |nth: &usize| survey.attributes.get(*nth).map(|of| of.name.clone());
        Self {
            attributes: attributes.iter().filter_map(name).collect(),
            all,
        }
    }
}

/// Whether the shapes of a field lie too far apart to be one.
fn is_far(survey: &Survey, field: &FieldIn) -> bool {
    let Ok(ground) = &survey.ground else {
        return false;
    };
    let features = field.features.iter();
    let mut corners = features.filter_map(|nth| {
        let feature = ground.lon_lat.features.get(*nth)?;
        match &feature.geometry {
            Geometry::Polygons(polygons) => polygons.first()?.exterior.first().copied(),
            _ => None,
        }
    });
    let Some(first) = corners.next() else {
        return false;
    };
    corners.any(|at| {
        let east = (at.lon - first.lon) * first.lat.to_radians().cos();
        (east.hypot(at.lat - first.lat)) * M_PER_DEGREE > FARTHEST_M
    })
}

fn area_m2(survey: &Survey, nth: usize) -> f64 {
    let ground = survey.ground.as_ref().ok();
    let feature = ground.and_then(|ground| ground.lon_lat.features.get(nth));
    match feature.map(|feature| &feature.geometry) {
        Some(Geometry::Polygons(polygons)) => ground_m2(polygons),
        _ => 0.0,
    }
}

/// Whether every feature has a value, and not all the same one.
fn tells_apart(attribute: &Attribute) -> bool {
    let whole = matches!(
        attribute.kind,
        AttributeKind::Text | AttributeKind::Whole | AttributeKind::Mixed
    );
    whole && attribute.missing == 0 && attribute.distinct > 1
}

fn score(attribute: &Attribute, features: usize) -> i32 {
    let name = attribute.name.to_lowercase();
    let has = |words: &[&str]| words.iter().any(|word| name.contains(word));
    let mut score = match attribute.distinct == features {
        true => 8,
        false => 0,
    };
    if has(&OTHER_WORDS) {
        score -= 6;
    } else if has(&NAME_WORDS) {
        score += 4;
    } else if has(&NUMBER_WORDS) {
        score += 2;
    }
    if COUNTED.contains(&name.as_str()) {
        score -= 9;
    }
    score
}
