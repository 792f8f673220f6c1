//! The South Dakota stand-loss equation, with its slopes as data.

use crate::agronomy::text;
use crate::findings::{Fault, Outcome, Place};
use crate::units;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Slopes by material and crop.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Slopes {
    pub title: String,
    pub publisher: String,
    #[serde(default)]
    pub note: String,
    #[serde(rename = "material")]
    pub materials: Vec<Material>,
}

/// A fertiliser and how much stand it costs each crop.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    pub name: String,
    pub n_percent: f64,
    /// Slope C by crop, in the equation's own units.
    pub slopes: BTreeMap<String, f64>,
}

impl Slopes {
    /// The slopes that are compiled in.
    ///
    /// # Errors
    /// None that a test would not have found: the file is part of the program.
    pub fn built_in() -> Outcome<Self> {
        let file = "south_dakota_slopes.toml";
        toml::from_str(include_str!("south_dakota_slopes.toml")).map_err(|error| {
            Fault::input(
                "seed_safe.form",
                Place::file(file),
                error.message(),
                "the documented form",
                "Correct the file.",
            )
        })
    }

    /// A material by its name.
    ///
    /// # Errors
    /// No such material, with the ones there are.
    pub fn material(&self, name: &str) -> Outcome<&Material> {
        self.materials
            .iter()
            .find(|material| material.name == name)
            .ok_or_else(|| {
                let known = text::list(self.materials.iter().map(|material| &material.name));
                missing(format!("{} has no slopes for '{name}'", self.title), known)
            })
    }
}

impl Material {
    /// kg/ha of this material at which a crop loses `stand_loss_percent` of its stand.
    ///
    /// F = 30 x S x T / (C x R x MX), with F in lb/ac of material, S the spread and R the row spacing in inches
    /// (here in m), T the loss in percent, C the slope, MX the moisture and texture factor (1 on fine and medium
    /// soil that is moist). Source: South Dakota State University work, see `south_dakota_slopes.toml`.
    ///
    /// # Errors
    /// A crop without a slope; a width, loss or factor that is not above 0.
    pub fn kg_per_ha(
        &self,
        crop: &str,
        spread_m: f64,
        row_m: f64,
        stand_loss_percent: f64,
        moisture_texture_factor: f64,
    ) -> Outcome<f64> {
        let slope = self.slopes.get(crop).ok_or_else(|| {
            missing(
                format!("there is no slope of {} for '{crop}'", self.name),
                text::list(self.slopes.keys()),
            )
        })?;
        // Spread over row spacing has no unit, so inches and metres agree.
        let lb_per_acre =
            30.0 * (spread_m / row_m) * stand_loss_percent / (slope * moisture_texture_factor);
        let inputs = [spread_m, row_m, stand_loss_percent, moisture_texture_factor];
        if inputs
            .iter()
            .any(|value| !(*value > 0.0 && value.is_finite()))
            || !lb_per_acre.is_finite()
        {
            return Err(missing(
                format!(
                    "spread {spread_m} m, rows {row_m} m, loss {stand_loss_percent} %, factor {moisture_texture_factor}"
                ),
                "numbers above 0".to_owned(),
            ));
        }
        Ok(units::kg_per_ha_from_lb_per_acre(lb_per_acre))
    }
}

fn missing(found: String, allowed: String) -> Box<Fault> {
    Fault::input(
        "seed_safe.equation",
        Place::nowhere(),
        found,
        allowed,
        "Correct the job, or take another table.",
    )
}
