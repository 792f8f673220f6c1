//! A terminal's time log held against the plan it was to follow. Method: docs/methods/compare.md.

mod channels;
mod differences;
mod entries;
mod governing;
mod land;
mod ledger;
mod machine;
mod meters;
mod page;
mod planned;
mod record;
mod rest;
mod result;
mod sign;
mod state;
mod track;
mod verdict;

pub use channels::Channels;
pub use differences::{Differences, Square};
pub use ledger::ledger_rows;
pub use planned::{PlanMap, Planned};
pub use record::{FieldRecord, Near, Noted, Recorded};
pub use result::{Compared, RatesFrom, SownProduct, SownZone};
pub use verdict::{NOT_IN_ANY_LOG, Stop, Told, Trouble, Work};

use crate::findings::{Fault, Finding, Outcome, Place};
use crate::ledger::Piece;
use crate::plan::OtherSeedbed;
use crate::read::taskdata::{Task, TaskSet};
use land::Ground;

/// What the user says about the log.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// Id of the task whose logs count; without it the tasks that name the plan, or else all with logs.
    pub task: Option<String>,
    /// Ids of device element and product.
    pub elements: Vec<(String, String)>,
    /// Product id and kilograms that were loaded.
    pub loaded: Vec<(String, f64)>,
    /// Product id and kilograms that were weighed back at the end.
    pub weighed_back: Vec<(String, f64)>,
    /// By how much the outlets lie behind the place in the log, m, if not as the job says: the rest goes back so far.
    pub behind_m: Option<f64>,
    /// Whether the page is wanted.
    pub page: bool,
    /// Whether a field record is wanted: [`Comparison::laid`] is then filled.
    pub record: bool,
    /// Whether the land for a ledger is wanted: [`Comparison::pieces`] is then filled.
    pub ledger: bool,
}

/// What came of it: figures, the difference map, and what is drilled already.
pub struct Comparison {
    pub figures: Compared,
    /// Squares with planned and sown rates.
    pub differences: Differences,
    /// GeoJSON with the land that has been drilled.
    pub drilled: String,
    /// How far before the place where the drill stopped the rest begins, m.
    pub back_m: f64,
    /// A part of the field was sown by its plan for the other seedbed, so that the rest is not known from this log.
    pub also_by_other: bool,
    /// The page for people, HTML, where it was asked for.
    pub page: Option<Vec<u8>>,
    /// First and last record, by the terminal's clock: YYYY-MM-DD HH:MM.
    pub times: [String; 2],
    /// Where product was laid, for a field record; empty where none was asked for.
    pub laid: Vec<Laid>,
    /// Drilled land with what it got, for a ledger; empty where none was asked for.
    pub pieces: Vec<Piece>,
}

/// Land that was driven over in one stretch, by a part of the width.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// In the field's plane, m.
    corners: [[f64; 2]; 4],
    /// What is laid there, per product; none where it is off.
    kg_per_ha: Vec<Option<f64>>,
    area_m2: f64,
}

impl Laid {
    /// The middle of the stretch, m.
    pub fn middle(&self) -> [f64; 2] {
        [0, 1].map(|axis: usize| self.corners.iter().map(|at| at[axis]).sum::<f64>() / 4.0)
    }

    /// What is laid on it per product, kg/ha; 0 where it is off.
    pub fn rates(&self) -> Vec<f64> {
        self.kg_per_ha
            .iter()
            .map(|own| own.unwrap_or(0.0))
            .collect()
    }

    /// Its land, m2, on which any product is on; 0 where none is.
    pub fn land_m2(&self) -> f64 {
        match self.kg_per_ha.iter().flatten().any(|own| *own > 0.0) {
            true => self.area_m2,
            false => 0.0,
        }
    }

    /// South-west and north-east corner of the box around it, m.
    fn extent(&self) -> [[f64; 2]; 2] {
        let of = |pick: fn(f64, f64) -> f64, start: f64| {
            [0, 1].map(|axis: usize| self.corners.iter().map(|at| at[axis]).fold(start, pick))
        };
        [of(f64::min, f64::INFINITY), of(f64::max, f64::NEG_INFINITY)]
    }
}

/// Holds the logs of a set against a plan.
///
/// # Errors
/// No log; a product or task that is not known; values that cannot be turned into kilograms.
pub fn compare(plan: &PlanMap, set: &TaskSet, settings: &Settings) -> Outcome<Comparison> {
    let tasks = tasks(plan, set, settings)?;
    let mut findings: Vec<Finding> = set.findings.clone();
    let other = other_logged(plan, set).filter(|_| settings.task.is_none());
    if let Some(other) = other {
        findings.push(Finding::warning(
            "compare.also_other_seedbed",
            Place::file(&set.file),
            format!(
                "a part of the field was sown by plan {}, for a {} seedbed: what counts as missed or left out here may be sown by that one",
                other.other_plan,
                other.moisture.other().word()
            ),
        ));
    }
    for (id, _) in settings.loaded.iter().chain(&settings.weighed_back) {
        plan.product(id)?;
    }
    check_weights(settings)?;
    let channels = Channels::of(plan, set, &tasks, settings, &mut findings)?;
    let track = track::of(plan, &tasks, &channels, &mut findings);
    if track.segments.is_empty() {
        return Err(no_log(
            set,
            "The logs hold no stretch that was drilled",
            "records with positions, a rate above 0, and a work state that is on",
        ));
    }
    let mut ground = Ground::of(plan)?;
    // Logs beside each other are driven together.
    let mut in_time: Vec<(usize, &track::Segment)> = track.segments.iter().enumerate().collect();
    in_time.sort_by(|(_, a), (_, b)| a.start_s.total_cmp(&b.start_s));
    ground.trod = vec![Default::default(); track.segments.len()];
    for (at, segment) in in_time {
        let trod = ground.drive(segment);
        if let Some(own) = ground.trod.get_mut(at) {
            *own = trod;
        }
    }
    let parts = result::Parts {
        plan,
        channels: &channels,
        track: &track,
        ground: &ground,
        settings,
    };
    let mut figures = result::of(&parts, &tasks, findings);
    let day = crate::ledger::of_log(plan.sowing_date.as_deref(), &figures.first_day);
    figures.findings.extend(day);
    figures.signs = sign::signs(set, &tasks);
    figures.told = verdict::judge(&verdict::Case {
        plan,
        tasks: &tasks,
        channels: &channels,
        track: &track,
        ground: &ground,
        figures: &figures,
    });
    let back = rest::back(
        plan,
        &ground,
        &track,
        settings.behind_m.unwrap_or(plan.behind_m),
    );
    Ok(Comparison {
        back_m: back.metres,
        also_by_other: other.is_some(),
        differences: differences::of(plan, &ground),
        drilled: rest::geojson(plan, &ground, &back),
        page: match settings.page {
            true => Some(page::page(plan, &track, &figures)?),
            false => None,
        },
        times: result::times(&tasks),
        laid: match settings.record {
            true => track
                .segments
                .iter()
                .flat_map(track::Segment::laid)
                .collect(),
            false => Vec::new(),
        },
        pieces: match settings.ledger {
            true => ledger::pieces(plan, &ground, &figures),
            false => Vec::new(),
        },
        figures,
    })
}

/// What was weighed back says something only beside what was loaded, and is no more than that.
fn check_weights(settings: &Settings) -> Outcome<()> {
    for (id, back_kg) in &settings.weighed_back {
        let loaded = settings.loaded.iter().find(|(own, _)| own == id);
        let found = match loaded {
            Some((_, kg)) if kg >= back_kg => continue,
            Some((_, kg)) => {
                format!("Of '{id}' {back_kg} kg were weighed back, and {kg} kg loaded")
            }
            None => format!("Of '{id}' it is said what was weighed back, and not what was loaded"),
        };
        return Err(Fault::input(
            "compare.weighed",
            Place::nowhere(),
            found,
            "--loaded and --left for a product, the second no more than the first",
            "Correct the command; --loaded is everything that was filled in, over all fills.",
        ));
    }
    Ok(())
}

/// The other plan of the field, for its other seedbed, where the set holds logs of it.
fn other_logged<'a>(plan: &'a PlanMap, set: &TaskSet) -> Option<&'a OtherSeedbed> {
    let other = plan.other_seedbed.as_ref()?;
    let mut tasks = set.tasks.iter();
    let logged = tasks.any(|task| {
        task.name.split_whitespace().next() == Some(other.other_plan.as_str())
            && task.logs.iter().any(|(_, log)| !log.records.is_empty())
    });
    logged.then_some(other)
}

fn tasks<'a>(plan: &PlanMap, set: &'a TaskSet, settings: &Settings) -> Outcome<Vec<&'a Task>> {
    let with_logs = || {
        set.tasks
            .iter()
            .filter(|task| task.logs.iter().any(|(_, log)| !log.records.is_empty()))
    };
    if let Some(id) = &settings.task {
        let found: Vec<&Task> = with_logs().filter(|task| task.id == *id).collect();
        let ids: Vec<&str> = with_logs().map(|task| task.id.as_str()).collect();
        return match found.is_empty() {
            true => Err(no_log(
                set,
                &format!("No task '{id}' with a time log is there"),
                &format!("one of: {}", ids.join(", ")),
            )),
            false => Ok(found),
        };
    }
    let of_plan = |id: &str, task: &Task| {
        task.name
            .split_whitespace()
            .next()
            .is_some_and(|own| own == id)
    };
    let own: Vec<&Task> = with_logs().filter(|task| of_plan(&plan.id, task)).collect();
    if let Some(other) = other_logged(plan, set).filter(|_| own.is_empty()) {
        return Err(Fault::input(
            "compare.other_seedbed",
            Place::file(&set.file),
            format!(
                "The logs are of plan {}, which is for a {} seedbed; plan {} is for a {} one",
                other.other_plan,
                other.moisture.other().word(),
                plan.id,
                other.moisture.word()
            ),
            "the plan by which the field was sown",
            "Name the folder of that plan: it lies beside this one.",
        ));
    }
    let found = match own.is_empty() {
        true => with_logs().collect(),
        false => own,
    };
    match found.is_empty() {
        true => Err(no_log(
            set,
            "The task data hold no time log with records",
            "task data that came back from the terminal, with TLG files",
        )),
        false => Ok(found),
    }
}

fn no_log(set: &TaskSet, found: &str, allowed: &str) -> Box<Fault> {
    Fault::input(
        "compare.no_log",
        Place::file(&set.file),
        found,
        allowed,
        "Copy the whole folder TASKDATA from the terminal after the work is done.",
    )
}
