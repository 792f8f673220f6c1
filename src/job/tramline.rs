//! What a job file says about tramlines.

use super::closed_flow::ClosedFlow;
use super::rules::{Check, at};
use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Tramlines: rows left unsown for the wheels of the sprayer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tramline {
    /// Working width of the sprayer, in whole millimetres.
    #[schemars(range(min = 1.0, max = 100.0))]
    pub sprayer_width_m: f64,
    /// Middle to middle of its two wheels.
    #[schemars(range(min = 0.5, max = 6.0))]
    pub track_width_m: f64,
    /// Width of a tyre.
    #[schemars(range(min = 0.05, max = 2.0))]
    pub tyre_width_m: f64,
    /// Free on each side of the tyre: a row whose middle lies within tyre and clearance is closed.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1.0))]
    pub clearance_m: f64,
    /// Whether the drill starts along the edge with a whole bout or with half of one.
    #[serde(default)]
    pub start: Start,
    /// Outlets that the drill can close, numbered from 1, from the left looking ahead; without it, any.
    #[serde(default)]
    #[schemars(inner(range(min = 1, max = 1000)))]
    pub closable_outlets: Vec<u32>,
    /// The sprayer's round along the border, on the headland; without it 'closed', as far as the headland holds both
    /// wheels and the outlets can close. A warning says what stays sown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub headland: Option<HeadlandRound>,
    /// What becomes of the product of a closed row; without it as `shut_flow` of the drill says for sections.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed_flow: Option<ClosedFlow>,
}

/// The first bout along the edge.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Start {
    #[default]
    Whole,
    Half,
}

/// The sprayer's round along the border, half its width inside: what the drill does under its wheels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeadlandRound {
    /// Rows under its wheels stay unsown, but for corners.
    Closed,
    /// It is driven over sown rows: no row of the headland closes.
    Sown,
    /// There is none: bouts of the sprayer begin at the edge of the interior.
    None,
}

/// Settings that tramlines need.
pub(super) fn check(check: &mut Check<'_>, job: &Job) {
    let Some(tramline) = &job.tramline else {
        return;
    };
    let (Some(rows), Some(_)) = (job.drill.rows, job.drill.row_spacing_m) else {
        check.add(
            at!["tramline"],
            "tramlines are asked for, but [drill] does not say both 'rows' and 'row_spacing_m'",
            "tramlines for a drill whose rows are known",
            "add 'rows' and 'row_spacing_m' to [drill]",
        );
        return;
    };
    for (n, outlet) in tramline.closable_outlets.iter().enumerate() {
        if *outlet > rows {
            check.add(
                at!["tramline", "closable_outlets", n],
                format!("outlet {outlet} is named, and the drill has {rows} rows"),
                format!("outlets 1 to {rows}"),
                "correct the number; outlets count from the left, looking ahead",
            );
        }
    }
    let whole_mm = |metres: f64| (metres * 1000.0 - (metres * 1000.0).round()).abs() < 1e-6;
    for (path, metres) in [
        (at!["tramline", "sprayer_width_m"], tramline.sprayer_width_m),
        (at!["drill", "working_width_m"], job.drill.working_width_m),
    ] {
        if !whole_mm(metres) {
            check.add(
                path,
                format!("{metres} m is no whole number of millimetres, so no rhythm repeats"),
                "widths in whole millimetres where tramlines are asked for",
                "round it to the millimetre",
            );
        }
    }
    if tramline.track_width_m + tramline.tyre_width_m >= tramline.sprayer_width_m {
        check.add(
            at!["tramline", "track_width_m"],
            format!(
                "wheels {} m apart do not fit under a sprayer of {} m",
                tramline.track_width_m, tramline.sprayer_width_m
            ),
            "a track narrower than the sprayer",
            "correct one of the two",
        );
    }
}
