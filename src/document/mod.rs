//! `plan.json` as one type: written from it, read back through it. Page: docs/formats/plan-json.md.
//!
//! [`PlanDocument`] is the whole; [`ToAudit`], [`ToCompare`], [`ToOrder`], [`ToWeek`] and [`ToStick`] are the keys that one command needs,
//! made of the same types, so that reading them leaves the rest of a large file unlooked at.

mod grids;
mod land;
mod names;
mod parts;
mod reading;
mod terminal;
#[cfg(test)]
mod tests;

pub use grids::{GridOfPlan, Grids, TurnedGridOfPlan};
pub use land::{Frame, InFile, LandRates, LayerClass, RateOfProduct, Zone, ZoneMap};
pub use names::ProductNames;
pub use parts::{ToAudit, ToCompare, ToOrder, ToRecord, ToStick, ToWeek};
pub use reading::{file_of, read};
pub use terminal::{LandOutline, TerminalFiles, TerminalPolygons, TerminalProduct, TerminalZone};

use crate::agronomy::caution::Cautions;
use crate::drill;
use crate::drive;
use crate::drive::as_driven::AsDriven;
use crate::drive::hoppers::Refills;
use crate::drive::response::Transition;
use crate::drive::setback::InSetback;
use crate::drive::spread::Spread;
use crate::drive::tramline::Rhythm;
use crate::findings::Finding;
use crate::job::Job;
use crate::plan::{GatePlace, Input, LaidTrial, Later, OtherSeedbed};
use crate::tally::Tally;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::borrow::Cow;

/// Version of the layout. It goes up when a reader of the older one would go wrong; new keys alone do not raise it.
pub const VERSION: u32 = 1;

/// What the key `format` says.
pub const FORMAT: &str = "twinsow-plan";

/// What the key `made_by` says in plans of this program.
pub const MADE_BY: &str = concat!("twinsow ", env!("CARGO_PKG_VERSION"));

/// Everything about a plan but the geometry. Keys carry their units; longitude and latitude are in degrees on
/// WGS 84; null means not known, or that there is none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanDocument<'a> {
    /// Says that this is a plan.
    #[schemars(extend("const" = FORMAT))]
    pub format: Cow<'a, str>,
    /// Version of the layout; goes up when a reader of the older one would go wrong.
    #[schemars(extend("const" = VERSION))]
    pub version: u32,
    /// Short id of the plan, six characters; in every file of it.
    pub id: Cow<'a, str>,
    /// Program and version that planned.
    pub made_by: Cow<'a, str>,
    /// When it was planned, RFC 3339.
    pub made_at: Cow<'a, str>,
    /// Version of the EPSG data that coordinates were brought to WGS 84 with.
    pub epsg_version: Cow<'a, str>,
    /// Every file that was read.
    pub inputs: Cow<'a, [Input]>,
    /// Of two plans for a moist and a dry seedbed, which this is and which is the other; left out where there is one plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedbed: Option<Cow<'a, OtherSeedbed>>,
    /// The job, every default filled in.
    pub job: Cow<'a, Job>,
    /// The field's own plane.
    pub frame: Frame<'a>,
    /// Where the boundary is.
    pub boundary: InFile<'a>,
    /// Where exclusions with their buffers are.
    pub exclusions: InFile<'a>,
    /// Per kind of land: what is known of it, and the rate of each product with its reasons.
    pub rate_table: Vec<LandRates<'a>>,
    /// The rate map.
    pub map: ZoneMap<'a>,
    /// Zones of the map of what is left to broadcast, with one rate per entry of `tally.balances`; empty without one.
    pub balance: Vec<Zone<'a>>,
    /// The grids.
    pub grids: Grids<'a>,
    /// What terminals are given.
    pub terminal: TerminalFiles<'a>,
    /// Places near the entrance that the screen is compared at before sowing, nearest first.
    pub gate_check: Cow<'a, [GatePlace]>,
    /// Mistakes that these places do not show, in words.
    pub gate_check_misses: Cow<'a, [String]>,
    /// Land where the operator shuts a product by hand; empty without such.
    pub shut_by_hand: Vec<ShutByHand<'a>>,
    /// What metering units and air stream make of the rates.
    pub drill: drill::Report,
    /// Which rows close in which bout; null without tramlines.
    pub tramlines: Option<Cow<'a, Rhythm>>,
    /// The field driven on paper; null where the job does not ask for it.
    pub drive: Option<Cow<'a, drive::Report>>,
    /// What that drive leaves on the land; null without one.
    pub as_driven: Option<Cow<'a, AsDriven>>,
    /// What units of their own spread on the surface along it; empty without such.
    pub spread: Cow<'a, [Spread]>,
    /// The hoppers along the drive; null without one, or where a bulk density is not known.
    pub refills: Option<Cow<'a, Refills>>,
    /// How far the drill goes until a change of rate is on the ground, per product.
    pub transitions: Vec<Transition>,
    /// What the bouts lay in the strips that setbacks keep.
    pub in_setbacks: Cow<'a, [InSetback]>,
    /// What cutting the map to the bouts changes; left out where the job does not ask for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_map: Option<Cow<'a, drive::cut_map::Report>>,
    /// Trials in the map, with their plots; left out where the job asks for none.
    #[serde(default, skip_serializing_if = "<[LaidTrial]>::is_empty")]
    pub trials: Cow<'a, [LaidTrial]>,
    /// Areas, and per product the steps from the map to the order.
    pub tally: Cow<'a, Tally>,
    /// What sowing a week later would need; null where no rate goes by date.
    pub one_week_later: Option<Cow<'a, Later>>,
    /// What to mind when handling the products.
    pub cautions: AllCautions<'a>,
    /// Everything repaired, filled, capped or rounded.
    pub findings: Cow<'a, [Finding]>,
    /// Of the plan of a spreader: the id of the drill's plan that it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreader_of: Option<Cow<'a, str>>,
    /// The forms that were written, where not all were; files of other forms that are named above are not there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub only: Option<Vec<Cow<'a, str>>>,
}

/// Land where the operator shuts a product by hand, because the terminal would sow where its rate is 0.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShutByHand<'a> {
    /// Id of the product.
    pub product: Cow<'a, str>,
    /// Land with rate 0, m2.
    pub area_m2: f64,
    /// What would be sown there if it stayed open, kg.
    pub at_stake_kg: f64,
}

/// Cautions in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AllCautions<'a> {
    /// What comes before all figures.
    pub first: Cow<'a, str>,
    /// Around the drill, or the spreader in a plan of its own.
    pub at_the_drill: Cow<'a, str>,
    /// Per product, and per product that is broadcast for a balance.
    pub products: Vec<Cautions>,
}

impl PlanDocument<'_> {
    /// The text of `plan.json`: pretty-printed, keys in the order of the fields, a line feed at the end.
    ///
    /// # Errors
    /// A path in the job that is no Unicode.
    pub fn text(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }

    /// The JSON Schema of `plan.json` (draft 2020-12), with the doc comments as descriptions. It lets keys be
    /// that it does not name: a later program may write more of them under the same version.
    pub fn schema() -> Value {
        let settings = SchemaSettings::draft2020_12().for_serialize();
        let schema = settings.into_generator().into_root_schema_for::<Self>();
        let mut schema = schema.to_value();
        open(&mut schema);
        schema
    }
}

/// Opens what the job closes: its tables refuse keys that they do not know, but a later program may write more.
fn open(schema: &mut Value) {
    let definitions = schema.get_mut("$defs").and_then(Value::as_object_mut);
    for (_, definition) in definitions.into_iter().flatten() {
        if definition.get("additionalProperties") == Some(&Value::Bool(false))
            && let Some(definition) = definition.as_object_mut()
        {
            definition.remove("additionalProperties");
        }
    }
}
