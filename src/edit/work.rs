//! What is worked out of a job: rates at once, the whole plan in the background. The newest wish wins.

use super::desk::{Desk, Inner};
use super::draw::Edges;
use super::ground::{self, Part};
use super::state::Checked;
use crate::findings::{Fault, Outcome};
use crate::job::{Job, Moisture};
use crate::plan::{
    self, Combination, Disk, Options, Plan, Prepared, RatesOnLand, Step, prepare, rates_on_land,
};
use crate::zones::LandUnits;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// What is being worked out now.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Work {
    /// Which part of the work.
    pub stage: Doing,
    /// Its step, from 1; 0 for one without steps.
    pub nth: usize,
    /// How many there are.
    pub of: usize,
    /// What is done in it.
    pub what: String,
}

/// The parts of the work.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Doing {
    /// Everything is known.
    #[default]
    None,
    /// Files are read and the land is made.
    Land,
    /// Rates.
    Rates,
    /// Maps, drive, totals, order.
    Drive,
}

/// The land of a job and the rates on it.
#[derive(Clone)]
pub struct Shown {
    /// Of which text of the job.
    pub serial: u64,
    /// The job as its file states it.
    pub stated: Arc<Job>,
    /// The job that is planned; of one whose seedbed is not known that for one of the two.
    pub job: Arc<Job>,
    /// Which geometry.
    pub land: u64,
    /// The geometry; of a job with a drive mostly without it, so that the map is there before the drive is.
    pub prepared: Arc<Prepared>,
    /// The geometry holds the drive too, or the job has none.
    pub with_drive: bool,
    /// The rate table.
    pub rows: Arc<Vec<Combination>>,
    /// The pieces of land, where they are others than those of the geometry.
    pub units: Option<Arc<LandUnits>>,
    /// Number of the picture of these pieces.
    pub picture: u64,
    /// Its corners and edges, found when something is drawn: all of them, or those between the zones of a layer.
    pub edges: Arc<Mutex<BTreeMap<Option<usize>, Arc<Edges>>>>,
}

impl Shown {
    /// The pieces of land.
    pub fn units(&self) -> &LandUnits {
        self.units.as_deref().unwrap_or(&self.prepared.units)
    }

    /// The corners and edges of the map, or those between the zones of a layer.
    pub fn edges(&self, layer: Option<usize>) -> Arc<Edges> {
        let mut known = held(&self.edges);
        let found = known.entry(layer);
        Arc::clone(found.or_insert_with(|| Arc::new(Edges::of(self, layer))))
    }
}

/// The land of a job that is not finished.
#[derive(Clone)]
pub struct Sketch {
    /// The text that it was made from, and how often files had been read anew.
    pub of: (String, u64),
    /// Border and zones, with rates that mean nothing; none where they cannot be made.
    pub shown: Option<Shown>,
    /// Why a part of it, or all, cannot be made.
    pub fault: Option<Box<Fault>>,
}

/// A whole plan.
#[derive(Clone)]
pub struct Whole {
    /// Of which text of the job.
    pub serial: u64,
    /// The plan that is looked at.
    pub plan: Arc<Plan>,
    /// Of two plans the other one.
    pub other: Option<Arc<Plan>>,
    /// The land of each plan of a spreader, in their order, with the rates on it.
    pub spread: Vec<Shown>,
}

impl Whole {
    /// Number of its drive: two plans of one text have two.
    pub fn drive(&self) -> u64 {
        let moist = self.plan.job.moisture() == Some(Moisture::Moist);
        self.serial * 2 + u64::from(moist)
    }

    /// The plan for a seedbed; the one that is looked at where none is named.
    pub fn in_seedbed(&self, moisture: Option<Moisture>) -> Option<&Arc<Plan>> {
        let mut all = self.all();
        all.find(|plan| moisture.is_none() || plan.job.moisture() == moisture)
    }

    /// The plan that is looked at, then the other one of two.
    pub fn all(&self) -> impl Iterator<Item = &Arc<Plan>> {
        std::iter::once(&self.plan).chain(&self.other)
    }
}

/// How often each part was worked out, since the beginning.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Files read and land made.
    pub land: u64,
    /// The same with the drive, where the map came before it.
    pub drive: u64,
    /// Rates put on it.
    pub rates: u64,
    /// Whole plans.
    pub whole: u64,
}

/// Works out rates for as long as the desk is open. For a thread of its own.
pub fn rates(desk: &Desk) {
    let mut worked = None;
    loop {
        let Some((serial, land, known)) = desk.wait(|inner| next_rates(inner, worked)) else {
            return;
        };
        worked = Some(serial);
        let checked = desk.look(|inner| Arc::clone(&inner.checked));
        let job = match checked.as_ref() {
            Checked::Job(job) => job.as_ref(),
            Checked::Open(_) => {
                sketched(desk, serial);
                continue;
            }
            Checked::Faulty(_) => continue,
        };
        let made = guarded(desk, || shown(desk, job, land, known.as_ref()));
        desk.change(|inner| {
            inner.counts.rates += 1;
            match made {
                // What came meanwhile is worked out next; this may still be looked at until then.
                Ok((prepared, made)) => inner.show(serial, job, land, &prepared, made),
                Err(fault) if inner.serial == serial => inner.fail(serial, fault),
                Err(_) => {}
            }
        });
    }
}

/// The text to work on next, and the geometry that is known.
fn next_rates(inner: &Inner, worked: Option<u64>) -> Option<(u64, u64, Option<Shown>)> {
    (worked != Some(inner.serial)).then(|| (inner.serial, inner.edit.land(), inner.shown.clone()))
}

/// A job that is planned, and its rates.
pub(super) struct OnLand {
    pub(super) job: Job,
    pub(super) rates: RatesOnLand,
}

/// The land of a job and its rates, for each seedbed of two the dry one first.
fn shown(
    desk: &Desk,
    job: &Job,
    land: u64,
    known: Option<&Shown>,
) -> Outcome<(Arc<Prepared>, Vec<OnLand>)> {
    plan::can_be(job)?;
    let prepared = match known.filter(|known| known.land == land) {
        Some(known) => Arc::clone(&known.prepared),
        None => {
            let tell = |step: &Step| {
                desk.change(|inner| {
                    inner.work = Work {
                        stage: Doing::Land,
                        nth: step.nth,
                        of: step.of,
                        what: step.what.clone(),
                    };
                });
            };
            let options = Options {
                tell: &tell,
                ..Options::rates_only()
            };
            desk.change(|inner| inner.counts.land += 1);
            let bare = without_drive(job);
            Arc::new(prepare(bare.as_ref().unwrap_or(job), &Disk, &options)?)
        }
    };
    let jobs: Vec<Job> = match job.is_for_two_seedbeds() {
        true => Moisture::BOTH.map(|of| job.in_seedbed(of)).into(),
        false => vec![job.clone()],
    };
    let made = jobs.into_iter().map(|job| {
        let rates = rates_on_land(&prepared, &job)?;
        Ok(OnLand { job, rates })
    });
    Ok((Arc::clone(&prepared), made.collect::<Outcome<_>>()?))
}

/// Works out the land of a job that is not finished, where it is not known yet.
fn sketched(desk: &Desk, serial: u64) {
    let (text, file, rereads, known) = desk.look(|inner| {
        (
            Arc::clone(inner.edit.text()),
            inner.edit.file().to_path_buf(),
            inner.edit.rereads(),
            inner.sketch.as_ref().map(|sketch| sketch.of.clone()),
        )
    });
    let part = |part: Part| ground::text(&text, part);
    let of = (part(Part::All).unwrap_or_default(), rereads);
    if known.as_ref() == Some(&of) {
        return;
    }
    let made = |part: Part| -> Option<Outcome<(Job, Arc<Prepared>, RatesOnLand)>> {
        let job = ground::job(&ground::text(&text, part)?, &file, &desk.commands.text)?;
        Some(guarded(desk, || {
            let prepared = Arc::new(prepare(&job, &Disk, &Options::rates_only())?);
            let rates = rates_on_land(&prepared, &job)?;
            Ok((job, prepared, rates))
        }))
    };
    let (made, fault) = match made(Part::All) {
        Some(Ok(made)) => (Some(made), None),
        Some(Err(fault)) => {
            // What is wrong with a layer need not keep the border from being seen.
            let border = made(Part::Border).and_then(Result::ok);
            (border, Some(fault))
        }
        None => (None, None),
    };
    desk.change(|inner| {
        let shown =
            made.map(|(job, prepared, rates)| inner.sketch_of(serial, job, prepared, rates));
        inner.sketch = Some(Sketch { of, shown, fault });
    });
}

/// A job with a drive without it; none where there is no drive, or where the land depends on it.
pub(super) fn without_drive(job: &Job) -> Option<Job> {
    let drive = job.drive.as_ref()?;
    (!drive.join_too_fine).then(|| Job {
        drive: None,
        tramline: None,
        ..job.clone()
    })
}

/// Works out whole plans for as long as the desk is open. For a thread of its own.
pub fn whole(desk: &Desk) {
    let mut worked = None;
    // The geometry with the drive, of the land with this number.
    let mut driven: Option<(u64, Arc<Prepared>)> = None;
    loop {
        let Some(shown) = desk.wait(|inner| {
            let shown = inner.shown.as_ref()?;
            (worked != Some(shown.serial)).then(|| shown.clone())
        }) else {
            return;
        };
        worked = Some(shown.serial);
        let options = Options {
            spreader_land: true,
            ..Options::rates_only()
        };
        let made = guarded(desk, || {
            let prepared = match driven.take().filter(|(land, _)| *land == shown.land) {
                _ if shown.with_drive => Arc::clone(&shown.prepared),
                Some((_, prepared)) => prepared,
                None => {
                    desk.change(|inner| inner.counts.drive += 1);
                    Arc::new(prepare(&shown.stated, &Disk, &options)?)
                }
            };
            driven = Some((shown.land, Arc::clone(&prepared)));
            let plans = plan::rate_each(&prepared, &shown.stated, &options)?;
            let spread = spread(&plans)?;
            Ok((plans, spread))
        });
        desk.change(|inner| {
            inner.counts.whole += 1;
            let newest = inner.serial == shown.serial;
            match made {
                Ok((plans, spread)) => inner.take_whole(shown.serial, plans, spread),
                Err(fault) if newest => inner.fail(shown.serial, fault),
                Err(_) => {}
            }
            if newest {
                inner.work = Work::default();
            }
        });
    }
}

/// The land of the spreaders' plans with the rates on it.
fn spread(plans: &[Plan]) -> Outcome<Vec<(Arc<Prepared>, OnLand)>> {
    let all = plans.iter().flat_map(|plan| &plan.spreaders);
    let all = all.filter_map(|own| Some((own, own.land.as_ref()?)));
    let each = all.map(|(own, land)| {
        let job = own.plan.job.clone();
        let rates = rates_on_land(land, &job)?;
        Ok((Arc::clone(land), OnLand { job, rates }))
    });
    each.collect()
}

/// Runs work; a panic in it becomes a fault.
fn guarded<T>(desk: &Desk, work: impl FnOnce() -> Outcome<T>) -> Outcome<T> {
    let mut work = Some(work);
    let mut made = None;
    (desk.commands.guard)(&mut || {
        made = work.take().map(|work| work());
        Ok(())
    })?;
    made.unwrap_or_else(|| Err(nothing_done()))
}

fn nothing_done() -> Box<Fault> {
    Fault::program(
        "edit.nothing_done",
        crate::findings::Place::nowhere(),
        "work was asked for and not done",
        "work that is done or refused",
    )
}

/// A lock whose last holder panicked is taken all the same: what it holds is replaced as a whole.
pub(super) fn held<T>(lock: &std::sync::Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
