//! Countries whose usage is told apart where publishers print different numbers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A country of publishers.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Country {
    Australia,
    Canada,
    Iraq,
    Ireland,
    NewZealand,
    UnitedKingdom,
    UnitedStates,
}

impl Country {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Australia,
        Self::Canada,
        Self::Iraq,
        Self::Ireland,
        Self::NewZealand,
        Self::UnitedKingdom,
        Self::UnitedStates,
    ];

    /// Its name, as tables of sources have it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Australia => "Australia",
            Self::Canada => "Canada",
            Self::Iraq => "Iraq",
            Self::Ireland => "Ireland",
            Self::NewZealand => "New Zealand",
            Self::UnitedKingdom => "United Kingdom",
            Self::UnitedStates => "United States",
        }
    }

    /// The country of this name.
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|of| of.name() == name)
    }
}
