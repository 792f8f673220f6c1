//! Quantities of the verdict in words, in the units of the plan's job.

use super::Case;
use crate::units::{
    M_PER_FOOT, M2_PER_ACRE, M2_PER_FT2, M2_PER_HA, UnitSystem, lb_from_kg,
    lb_per_acre_from_kg_per_ha,
};

impl Case<'_> {
    fn is_us(&self) -> bool {
        self.plan.units == UnitSystem::UsCustomary
    }

    /// An area of land, from m2.
    pub(super) fn land(&self, m2: f64) -> String {
        match self.is_us() {
            true => format!("{:.2} ac", m2 / M2_PER_ACRE),
            false => format!("{:.2} ha", m2 / M2_PER_HA),
        }
    }

    /// A small area, from m2.
    pub(super) fn spot(&self, m2: f64) -> String {
        match self.is_us() {
            true => format!("{:.0} ft2", m2 / M2_PER_FT2),
            false => format!("{m2:.0} m2"),
        }
    }

    /// A mass, from kg.
    pub(super) fn mass(&self, kg: f64, decimals: usize) -> String {
        match self.is_us() {
            true => format!("{:.decimals$} lb", lb_from_kg(kg)),
            false => format!("{kg:.decimals$} kg"),
        }
    }

    /// A rate, from kg/ha.
    pub(super) fn rate(&self, kg_per_ha: f64) -> String {
        match self.is_us() {
            true => format!("{:.0} lb/ac", lb_per_acre_from_kg_per_ha(kg_per_ha)),
            false => format!("{kg_per_ha:.0} kg/ha"),
        }
    }

    /// A way, from m.
    pub(super) fn way(&self, m: f64, decimals: usize) -> String {
        match self.is_us() {
            true => format!("{:.decimals$} ft", m / M_PER_FOOT),
            false => format!("{m:.decimals$} m"),
        }
    }
}
