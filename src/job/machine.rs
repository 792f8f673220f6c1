//! What a job file says about metering: rotors, and what they must fit.

use super::product::Product;
use super::rules::{Check, at};
use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// An interchangeable metering element of a hopper, from the drill's manual.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rotor {
    /// How the manual or the operator calls it.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Volume that its cells move in one revolution.
    #[schemars(range(min = 0.1, max = 100000.0))]
    pub cm3_per_rev: f64,
    /// Slowest even turning.
    #[schemars(range(max = 1000.0), extend("exclusiveMinimum" = 0.0))]
    pub min_rev_per_min: f64,
    /// Fastest turning.
    #[schemars(range(max = 1000.0), extend("exclusiveMinimum" = 0.0))]
    pub max_rev_per_min: f64,
    /// Share of that volume that fills; a calibration test corrects it.
    #[serde(default = "full")]
    #[schemars(range(max = 150.0), extend("exclusiveMinimum" = 0.0))]
    pub filling_percent: f64,
}

fn full() -> f64 {
    100.0
}

/// Settings of the drill and its rotors that do not go together.
pub(super) fn check(check: &mut Check<'_>, job: &Job) {
    let drill = &job.drill;
    let speed = drill.speed_km_per_h;
    if let Some(slow) = drill.headland_speed_km_per_h.filter(|slow| *slow > speed) {
        check.add(
            at!["drill", "headland_speed_km_per_h"],
            format!("the slowest headland speed, {slow} km/h, is above the speed while sowing, {speed} km/h"),
            "a headland speed up to speed_km_per_h",
            "correct one of the two",
        );
    }
    if let Some(fast) = drill.fastest_speed_km_per_h.filter(|fast| *fast < speed) {
        check.add(
            at!["drill", "fastest_speed_km_per_h"],
            format!(
                "the fastest speed, {fast} km/h, is below the speed while sowing, {speed} km/h"
            ),
            "a fastest speed from speed_km_per_h up",
            "correct one of the two",
        );
    }
    for (n, hopper) in drill.hoppers.iter().enumerate() {
        let mut before = drill.hoppers.iter().take(n);
        if hopper.bin_number.is_some()
            && let Some(other) = before.find(|own| own.bin_number == hopper.bin_number)
        {
            check.add(
                at!["drill", "hopper", n, "bin_number"],
                format!(
                    "the hoppers '{}' and '{}' have the same bin_number",
                    other.name, hopper.name
                ),
                "a bin_number of its own for each hopper",
                "look the numbers of the bins up on the terminal",
            );
        }
        let mut names = BTreeSet::new();
        for (m, rotor) in hopper.rotors.iter().enumerate() {
            if !names.insert(&rotor.name) {
                check.add(
                    at!["drill", "hopper", n, "rotor", m, "name"],
                    format!(
                        "a second rotor of hopper '{}' is called '{}'",
                        hopper.name, rotor.name
                    ),
                    "a name of its own for each rotor of a hopper",
                    "rename one of them",
                );
            }
            if rotor.min_rev_per_min >= rotor.max_rev_per_min {
                check.add(
                    at!["drill", "hopper", n, "rotor", m, "min_rev_per_min"],
                    format!(
                        "rotor '{}' turns at least {} and at most {} rev/min",
                        rotor.name, rotor.min_rev_per_min, rotor.max_rev_per_min
                    ),
                    "min_rev_per_min below max_rev_per_min",
                    "correct one of the two",
                );
            }
        }
        if hopper.spreads_width_m.is_some() {
            let spreads =
                |product: &&Product| product.hopper == hopper.name && product.surface_applied;
            if !job.products.iter().any(|product| spreads(&product)) {
                check.add(
                    at!["drill", "hopper", n, "spreads_width_m"],
                    format!(
                        "hopper '{}' has a spreading unit, and no surface-applied product is in it",
                        hopper.name
                    ),
                    "spreads_width_m for the hopper of a product with surface_applied = true",
                    "remove it, or set surface_applied = true for the product in this hopper",
                );
            }
        }
        let product = job
            .products
            .iter()
            .position(|product| product.hopper == hopper.name);
        let needs = if !hopper.rotors.is_empty() {
            "its rotors meter by volume"
        } else if hopper.residue_l > 0.0 {
            "its residue is given in litres"
        } else {
            continue;
        };
        if let Some(at) = product
            && let Some(product) = job.products.get(at)
            && product.bulk_density_kg_per_l.is_none()
        {
            check.add(
                at!["product", at],
                format!(
                    "'{}' has no bulk_density_kg_per_l, but it is in hopper '{}', and {needs}",
                    product.id, hopper.name
                ),
                "bulk_density_kg_per_l for every product in a hopper with rotors or residue_l",
                "weigh a level litre of it and add bulk_density_kg_per_l to the product",
            );
        }
    }
}
