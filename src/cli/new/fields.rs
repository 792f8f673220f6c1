//! Which fields a boundary file holds: the attribute that tells its features apart, and the land of each of its values.

use crate::cli::survey::{Attribute, AttributeKind, Survey};
use crate::frame::ground_m2;
use crate::read::Geometry;
use std::collections::BTreeMap;

/// Words in attribute names that speak for the name of a field, and for its number. A guess, for the user to correct.
const NAME_WORDS: [&str; 8] = [
    "name", "field", "parcel", "block", "feld", "mark", "perceel", "schlag",
];
const NUMBER_WORDS: [&str; 4] = ["id", "nr", "number", "code"];

/// Words that speak against both.
const OTHER_WORDS: [&str; 8] = [
    "area", "shape", "length", "perimeter", "date", "year", "crop", "owner",
];

/// The fields of a boundary file.
pub(in crate::cli) struct Fields {
    /// The attribute whose values tell them apart.
    pub attribute: String,
    /// In the order of the file.
    pub all: Vec<FieldIn>,
}

/// One of them.
pub(in crate::cli) struct FieldIn {
    /// The value of the attribute.
    pub value: String,
    /// Its features, by their place in the file.
    pub features: Vec<usize>,
    /// As drawn, m2; 0 where the CRS is not known.
    pub area_m2: f64,
}

impl Fields {
    /// The fields that the most plausible attribute makes of the features; none where nothing tells them apart.
    pub(in crate::cli) fn of(survey: &Survey) -> Option<Self> {
        let count = survey.layer.features.len();
        let attributes = survey.attributes.iter().enumerate();
        let apart = attributes.filter(|(_, attribute)| tells_apart(attribute));
        let scored = apart.map(|(nth, attribute)| (score(attribute, count), nth));
        // Of equals the first in the file.
        let best = scored.reduce(|best, next| if next.0 > best.0 { next } else { best });
        best.map(|(_, nth)| Self::by(survey, nth))
    }

    /// The fields that this attribute makes.
    pub(in crate::cli) fn by(survey: &Survey, nth: usize) -> Self {
        let mut places: BTreeMap<String, usize> = BTreeMap::new();
        let mut all: Vec<FieldIn> = Vec::new();
        for (at, feature) in survey.layer.features.iter().enumerate() {
            let value = feature.values.get(nth).map(ToString::to_string);
            let value = value.unwrap_or_default();
            let place = *places.entry(value.clone()).or_insert(all.len());
            if place == all.len() {
                all.push(FieldIn {
                    value,
                    features: Vec::new(),
                    area_m2: 0.0,
                });
            }
            if let Some(field) = all.get_mut(place) {
                field.features.push(at);
                field.area_m2 += area_m2(survey, at);
            }
        }
        Self {
            attribute: survey
                .attributes
                .get(nth)
                .map_or_else(String::new, |attribute| attribute.name.clone()),
            all,
        }
    }
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
    // What a GIS numbers by itself names nothing.
    if ["fid", "ogc_fid", "objectid", "gid"].contains(&name.as_str()) {
        score -= 3;
    }
    score
}
