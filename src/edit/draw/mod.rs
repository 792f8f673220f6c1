//! What is drawn on the map: each a value that travels, and what it becomes in the job.

mod catch;
mod shape;

pub use catch::{Caught, Edges};
pub(super) use catch::{caught, edges_of};
pub(super) use shape::{Shaped, made, outline_of, points, refused};

use super::key::{self, KeyPath};
use super::stage::Stage;
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::job::MeasuredFrom;
use crate::units::M_PER_FOOT;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value as Json, json};
use std::collections::BTreeMap;
use toml_edit::{DocumentMut, Item};

/// Something drawn. Places are those of the plane as they travel: the first, then steps, in hundredths of a metre.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case", deny_unknown_fields)]
pub enum Drawing {
    /// Land that is not sown.
    Exclusion {
        /// Its name.
        name: String,
        /// Why, in a few words; may be empty.
        #[serde(default)]
        why: String,
        /// Its corners.
        outline: Vec<i64>,
        /// It is water.
        #[serde(default)]
        water: bool,
    },
    /// A strip along a line where products are off.
    Strip {
        /// What is kept clear of.
        name: String,
        /// Why, in a few words; may be empty.
        #[serde(default)]
        why: String,
        /// The line that the distance is measured from.
        line: Vec<i64>,
        /// The distance.
        distance: Length,
        /// What the line is.
        #[serde(default)]
        measured_from: Option<MeasuredFrom>,
        /// Ids of the products that are off.
        products: Vec<String>,
    },
    /// A place with a percentage of its own.
    Place {
        /// Its name.
        name: String,
        /// Why, in a few words; may be empty.
        #[serde(default)]
        why: String,
        /// Its corners.
        outline: Vec<i64>,
        /// Percent of the rate by product id.
        percent: BTreeMap<String, f64>,
    },
    /// The line that the bouts run along.
    Guide {
        /// Two places or more.
        line: Vec<i64>,
    },
    /// Where the drill enters.
    Entrance {
        /// The place.
        at: Vec<i64>,
    },
}

/// A length in the unit that somebody wrote it in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Length {
    /// Metres.
    M(f64),
    /// Feet.
    Ft(f64),
}

impl Length {
    /// In metres; of feet to a tenth of a millimetre.
    pub fn metres(self) -> f64 {
        match self {
            Self::M(metres) => metres,
            Self::Ft(feet) => (feet * M_PER_FOOT * 1e4).round() / 1e4,
        }
    }

    pub(super) fn words(self) -> String {
        match self {
            Self::M(metres) => format!("{metres} m"),
            Self::Ft(feet) => format!("{feet} ft"),
        }
    }
}

/// What comes of a drawing on the map that is there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Made {
    /// Name of the file with its shape, beside the job.
    File(String),
    /// Longitude and latitude, degrees.
    LonLat(LonLat),
}

impl Drawing {
    /// Brings it into a job.
    ///
    /// # Errors
    /// A job whose lists are none.
    pub(super) fn enter(&self, job: &mut DocumentMut, made: &Made) -> Outcome<()> {
        let source = match made {
            Made::File(file) => json!({ "file": file }),
            Made::LonLat(LonLat { lon, lat }) => json!({ "lon": lon, "lat": lat }),
        };
        match self {
            Self::Exclusion {
                name, why, water, ..
            } => {
                let mut entry = json!({ "name": name, "source": source });
                if *water {
                    entry["water"] = json!(true);
                }
                add(job, "exclusion", entry, why)
            }
            Self::Strip {
                name,
                why,
                distance,
                measured_from,
                products,
                ..
            } => {
                let mut entry = json!({
                    "name": name,
                    "source": source,
                    "distance_m": distance.metres(),
                    "products": products,
                });
                if let Some(from) = measured_from {
                    entry["measured_from"] = json!(from);
                }
                add(job, "setback", entry, why)
            }
            Self::Place {
                name, why, percent, ..
            } => {
                let entry = json!({ "name": name, "source": source, "percent": percent });
                add(job, "special_area", entry, why)
            }
            Self::Guide { .. } => {
                let drive = KeyPath::of(&["drive"]);
                // The line says the heading; a job may say it in one way only.
                for other in ["heading", "heading_deg", "along"] {
                    let path = drive.key(other);
                    if key::at(job, &path).is_some() {
                        key::remove(job, &path)?;
                    }
                }
                key::set(job, &drive.key("along"), &source)
            }
            Self::Entrance { .. } => key::set(job, &KeyPath::of(&["field", "entrance"]), &source),
        }
    }

    /// What has to be worked out again.
    pub(super) fn stage(&self) -> Stage {
        match self {
            Self::Entrance { .. } => Stage::of_path(&KeyPath::of(&["field", "entrance"])),
            Self::Exclusion { .. }
            | Self::Strip { .. }
            | Self::Place { .. }
            | Self::Guide { .. } => Stage::Land,
        }
    }

    /// What it does, for people.
    pub(super) fn words(&self) -> String {
        match self {
            Self::Exclusion { name, .. } => format!("Drawn, left out: {name}"),
            Self::Strip { name, distance, .. } => {
                format!("Drawn, strip of {} along {name}", distance.words())
            }
            Self::Place { name, .. } => format!("Drawn, place with its own rate: {name}"),
            Self::Guide { .. } => "Guide line drawn".to_owned(),
            Self::Entrance { .. } => "Entrance of the drill set".to_owned(),
        }
    }
}

/// Puts an entry at the end of a list, with the reason as a comment above it.
fn add(job: &mut DocumentMut, list: &str, entry: Json, why: &str) -> Outcome<()> {
    let entry: Map<String, Json> = match entry {
        Json::Object(entry) => entry,
        _ => Map::new(),
    };
    key::push(job, &KeyPath::of(&[list]), &entry)?;
    let why: String = why
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let last = job
        .get_mut(list)
        .and_then(Item::as_array_of_tables_mut)
        .and_then(|tables| {
            let last = tables.len().checked_sub(1)?;
            tables.get_mut(last)
        });
    if let (Some(last), false) = (last, why.trim().is_empty()) {
        last.decor_mut().set_prefix(format!("\n# {}\n", why.trim()));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::Length;

    /// The international foot: 0.3048 m exactly (NIST SP 811, appendix B.6).
    #[test]
    fn feet_are_those_of_1959() {
        assert_eq!(Length::Ft(50.0).metres(), 15.24);
        assert_eq!(Length::M(6.0).metres(), 6.0);
    }
}
