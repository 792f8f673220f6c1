//! Two plans of one field, for a moist and a dry seedbed: their folders, and what is said of them.

use super::plan::Made;
use super::show::cautions::fitted;
use crate::agronomy::seedbed;
use crate::findings::{Fault, Outcome, Place};
use crate::plan::{OtherSeedbed, Plan};
use crate::write::folder::MARKER;
use std::path::{Path, PathBuf};

/// The folder of a plan: `out`, or below it one of its own for each of two.
pub(super) fn folder(plan: &Plan, out: &Path) -> PathBuf {
    match &plan.other_seedbed {
        Some(own) => out.join(own.moisture.word()),
        None => out.to_path_buf(),
    }
}

/// What tells a field apart in files for all fields.
pub(super) fn named(field: &str, of: Option<&OtherSeedbed>) -> String {
    match of {
        Some(own) => format!("{} {field}", own.moisture.mark()),
        None => field.to_owned(),
    }
}

/// Refuses a folder that holds the one plan of an earlier run: 'twinsow stick' would find that one in it, not the two.
pub(super) fn check(plans: &[Plan], out: &Path) -> Outcome<()> {
    let two = plans.iter().any(|plan| plan.other_seedbed.is_some());
    match two && out.join(MARKER).exists() {
        false => Ok(()),
        true => Err(Fault::input(
            "plan.one_plan_there",
            Place::file(out),
            "The folder holds one plan of an earlier run, and this job now makes two, each in a folder below it",
            "a folder without a plan of its own",
            "Rename or remove the folder, and plan the job again; nothing was touched.",
        )),
    }
}

/// How to choose between the plans of one field; empty for one plan.
pub(super) fn said(all: &[Made]) -> String {
    let own = all.iter().filter_map(|made| {
        let other = made.plan.other_seedbed.as_ref()?;
        Some((other.moisture, &made.plan))
    });
    let both: Vec<_> = own.collect();
    if both.is_empty() {
        return String::new();
    }
    let mut text =
        "\nTwo plans of this field, for the seedbed is not known before sowing:\n".to_owned();
    for (moisture, plan) in &both {
        let ready = match plan.holds_any_back() {
            true => "NOT READY FOR THE TERMINAL, see terminal/NOT-READY.txt there",
            false => "ready",
        };
        text += &fitted(
            "  ",
            &format!("{}: plan {}, {ready}.", moisture.mark(), plan.id),
        );
    }
    let orders = "The order of each covers what either needs: order once.";
    text += &fitted("", orders);
    for line in seedbed::how_to_choose() {
        text += &fitted("", &line);
    }
    text
}
