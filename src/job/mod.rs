//! The job file: what to plan, with what, by which rules. TOML; every key carries its unit.
//!
//! The types are the file. The JSON Schema made from them ([`Job::schema`]) is what a job file is
//! held against: unknown keys, wrong types, missing keys and ranges are found by walking the file
//! along the schema. What the schema cannot say (keys that belong together, references between
//! parts) is in `rules`.

mod accepted;
mod closed_flow;
mod combined;
mod confusions;
mod conventions;
mod country;
mod us_units;
mod date;
mod delays;
mod drive;
mod defaults;
mod further_layer;
mod grades;
mod keys;
mod land;
mod layer;
mod layer_rules;
mod lot_settings;
mod machine;
mod machine_file;
mod mixture;
mod open_settings;
mod parse;
mod patch;
mod local_rules;
mod placement;
mod placed_needs;
mod placing;
mod product;
mod rates;
mod refill;
mod report;
mod rules;
mod schema;
mod seed_tag;
mod seedbed;
mod shape;
mod spreader;
mod terminal;
mod track;
mod tramline;
mod tree;
mod trial;
mod types;
mod values;
mod zonal;

pub use crate::units::UnitSystem;
pub use accepted::Accepted;
pub use closed_flow::{ClosedFlow, ShutFlows};
pub use combined::{ClassRule, Combined, Part};
pub use country::Country;
pub use date::{SEASON_DAYS, date_of, day_number};
pub use delays::MeterDelays;
pub use drive::{Drive, Follows, Heading, HeadingRange, HeadlandTurn, SwitchRule};
pub use further_layer::FurtherLayer;
pub use land::{Exclusion, Field, Headland, MeasuredFrom, Setback, Source, SpecialArea};
pub use layer::{NOTHING_PLACED, OverlapRule, ZoneLayer, ZoneRules};
pub use local_rules::{ClosedPeriod, PlaceLimit};
pub use lot_settings::{Lot, Lots};
pub use machine::Rotor;
pub use mixture::{Mixture, Series};
pub use open_settings::{OPEN, OpenSetting, open_settings};
pub use placement::{
    AboveLimit, AlsoNeeded, BalanceProduct, Decides, FertiliserForm, FromTable, OwnSeedLimit,
    SeedSafe, Straw, WordsByClass,
};
pub use placing::{EQUATION, row_spacing_m};
pub use product::{
    Adjustment, ByClass, ByDate, CurvePoint, Grade, Joined, Kind, LandPart, Limits, Lookup,
    Nutrient, Product, RateRule,
};
pub(crate) use rates::values as numbers_of;
pub use refill::{Level, Refill};
pub use report::{Language, ReportSettings};
pub use seedbed::{Moisture, Seedbed};
pub use spreader::{Spreader, balance_id, is_spread};
pub use terminal::{
    AtZero, Fallback, GridHolds, MapAs, PlaceKeys, ProductsPerTask, TaskDataVersion, Terminal,
};
pub use track::Track;
pub use tramline::{HeadlandRound, Start, Tramline};
pub use trial::{Chessboard, Trial, TrialDesign, TrialOrder, TrialPlace};
pub use types::{Drill, GridSettings, Hopper, Job, Order};
pub use us_units::LimitsLbPerAcre;
pub use values::{ClassMethod, Join, NamedBy, SurfaceMethod, Values, VariogramModel};
pub use zonal::{Zonal, ZonalValue};

use crate::findings::{Fault, Outcome, Place};
use parse::Refused;
use std::path::Path;

impl Job {
    /// Reads a job from the text of a file; `file` is for messages, and relative paths start from
    /// the folder it lies in. Nothing is read from disk.
    ///
    /// # Errors
    /// One fault that names file and line: not TOML, an unknown key (with the nearest known one), a
    /// value of the wrong type or out of range, a value that looks like another unit of measure, or
    /// settings that contradict each other. Where the file has more faults, it names their lines.
    pub fn parse(text: &str, file: &Path) -> Outcome<Self> {
        Self::parse_with(text, file, &|machine| {
            Err(Fault::input(
                "job.no_machine_file",
                Place::file(machine),
                "this machine file is named, and only the job's own text is at hand",
                "a job whose [drill] stands in the job itself",
                "copy [drill] of the machine file into the job",
            ))
        })
    }

    /// The same, for a job whose `[drill]` may name a machine file; `reader` gives the text of that file.
    ///
    /// # Errors
    /// As [`Job::parse`], and the same for the machine file, with its own name and lines.
    pub fn parse_with(
        text: &str,
        file: &Path,
        reader: &dyn Fn(&Path) -> Outcome<String>,
    ) -> Outcome<Self> {
        parse::job(text, file, reader).map_err(Refused::told)
    }

    /// The job of one field of a job with `split_by`, by what tells it apart; it could be planned by itself.
    /// A job for one field stays as it is.
    pub fn one_field(&self, value: &str) -> Self {
        let mut job = self.clone();
        let Some(attribute) = job.field.split_by.take() else {
            return job;
        };
        job.field.boundary.only.insert(attribute, value.to_owned());
        job.accepted
            .retain(|entry| entry.fields.iter().any(|field| field == value));
        for entry in &mut job.accepted {
            entry.fields.clear();
        }
        job.split_value = Some(value.to_owned());
        for name in [&mut job.name, &mut job.field.name] {
            *name = format!("{name} {value}").trim_start().to_owned();
        }
        job
    }

    /// The resolved job as TOML, every default filled in. It parses back to the same job.
    ///
    /// # Errors
    /// Only of a job made in code whose paths are not UTF-8; a parsed job has none.
    pub fn print(&self) -> Outcome<String> {
        toml::to_string(self).map_err(|error| {
            Fault::program(
                "job.print",
                Place::file(&self.file),
                format!("the job cannot be printed: {error}"),
                "values that TOML has, and paths in UTF-8",
            )
        })
    }

    /// The JSON Schema of the job file (draft 2020-12), with the doc comments as descriptions.
    pub fn schema() -> serde_json::Value {
        schema::of_job()
    }
}
