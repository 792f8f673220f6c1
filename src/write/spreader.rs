//! The plans of the spreader, each in a folder of its own below that of the drill: nothing of them lies where the drill's terminal
//! looks.

use super::terminal_shapefiles::{mass, one_line};
use super::{Form, Forms, Written, content};
use crate::findings::Outcome;
use crate::plan::{Plan, YardTest};
use crate::texts::Words;
use std::path::Path;

/// Why one stick never holds both; for pages and errors.
pub const NEVER_TOGETHER: &str = "a terminal runs a task with whatever machine is coupled, so the drill's meters would get the spreader's rates";

/// The forms in which a spreader's plan comes: what its terminal loads, and the map to look at. None where none of them is wanted.
fn forms_of(wanted: &Forms) -> Option<Forms> {
    let own = [
        Form::Geojson,
        Form::Geopackage,
        Form::Geotiff,
        Form::TaskData,
        Form::Fallback,
    ];
    let own: Vec<Form> = own.into_iter().filter(|form| wanted.has(*form)).collect();
    (!own.is_empty()).then(|| Forms::only(own))
}

/// Writes the plans of the spreader of a drill's plan below `folder`.
///
/// # Errors
/// As [`content`].
pub(super) fn plans(
    plan: &Plan,
    folder: &Path,
    timestamp: &str,
    forms: &Forms,
) -> Outcome<Vec<Written>> {
    let Some(forms) = forms_of(forms) else {
        return Ok(Vec::new());
    };
    let mut written = Vec::new();
    for own in &plan.spreaders {
        let below = Path::new(&own.folder);
        for file in content(&own.plan, &folder.join(below), timestamp, &forms)? {
            written.push(Written {
                path: below.join(&file.path),
                what: format!("for the spreader: {}", file.what),
                ..file
            });
        }
    }
    Ok(written)
}

/// The folders with a spreader's plan that [`content`] has written, relative to that of the drill's plan.
pub fn folders_of_spreader<'a>(plan: &'a Plan, forms: &Forms) -> Vec<&'a str> {
    match forms_of(forms) {
        Some(_) => plan
            .spreaders
            .iter()
            .map(|own| own.folder.as_str())
            .collect(),
        None => Vec::new(),
    }
}

/// Takes the folders of the spreader's plans out of the plan where [`content`] will write nothing of them, so that no file
/// names what is not there.
pub fn without_folders(plan: &mut Plan, forms: &Forms) {
    if forms_of(forms).is_some() {
        return;
    }
    let balances = plan.tally.planned.balances.iter_mut();
    for own in balances.filter_map(|of| of.spreader.as_mut()) {
        own.folder.clear();
    }
}

/// What the page beside the drill's files says of the spreader's, and what that beside the spreader's says first.
pub(super) fn on_page(plan: &Plan) -> String {
    if let Some(drill) = &plan.spreader_of {
        return format!(
            "FOR THE SPREADER, not for the drill, whose plan is {drill}. A stick of its own: {NEVER_TOGETHER}.\r\n\
             The wanted rates are rounded to the spreader's own steps, and it is off along setbacks as far as it throws.\r\n\r\n"
        );
    }
    let mut page = String::new();
    for own in plan
        .tally
        .planned
        .balances
        .iter()
        .filter_map(|of| Some((of, of.spreader.as_ref()?)))
    {
        let (balance, spread) = own;
        if spread.folder.is_empty() {
            page.push_str(&format!(
                "\r\nWhat is left to broadcast ({}) has a map of its own for the spreader, which was not written: --only named none of its forms.\r\n",
                one_line(&balance.name)
            ));
            continue;
        }
        let held = match spread.held_back {
            true => " It is held back: see terminal/NOT-READY.txt there.",
            false => "",
        };
        page.push_str(&format!(
            "\r\nThe spreader has a map of its own ({}, {}): plan {} in {}/, for a stick of its own.{held}\r\n\
             Never copy both to one stick: {NEVER_TOGETHER}.\r\n",
            one_line(&balance.name),
            mass(&plan.job, spread.map_kg),
            spread.plan,
            spread.folder
        ));
    }
    page
}

/// What to do where the spreader's map does not load: no flat rate, for it would spread where nothing is wanted.
pub(super) fn without_map(unit: &str) -> String {
    format!(
        "\r\nIf no map loads, spread by zones set by hand, from ../../gis/rates.geojson, and nothing where the rate is 0 or a setback\r\n\
         is. One flat rate would also spread where nothing is wanted.\r\n\
         Before spreading, compare the plan id, product and unit ({unit}) on the screen with this page.\r\n"
    )
}

/// What to try in the yard, a line each; empty where no land has rate 0.
pub(super) fn yard_test(plan: &Plan) -> Vec<String> {
    match plan.yard_test().is_empty() {
        true => Vec::new(),
        false => [YardTest::Spreader, YardTest::SpreaderSet]
            .map(|line| Words::of(&plan.job).say(&line))
            .to_vec(),
    }
}
