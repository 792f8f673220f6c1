//! What comes onto the desk, and what is seen of it: rates and whole plans of the job as it is, or why there are none.

use super::Inner;
use crate::edit::state::Checked;
use crate::edit::work::{self, Doing, OnLand, Shown, Whole, Work};
use crate::findings::Fault;
use crate::job::{Job, Moisture};
use crate::plan::{Plan, Prepared, RatesOnLand};
use crate::zones::LandUnits;
use std::sync::Arc;

impl Inner {
    /// Puts rates on the desk: those of one job, or for a dry and a moist seedbed.
    pub(in crate::edit) fn show(
        &mut self,
        serial: u64,
        stated: &Job,
        land: u64,
        prepared: &Arc<Prepared>,
        made: Vec<OnLand>,
    ) {
        let before = [self.shown.take(), self.other.take()];
        let stated = Arc::new(stated.clone());
        for OnLand { job, rates } in made {
            let units = rates.units.map(Arc::new);
            let known = before.iter().flatten().find(|known| {
                known.land == land
                    && known.job.moisture() == job.moisture()
                    && rows_of_faces(&known.units) == rows_of_faces(&units)
            });
            let shown = Shown {
                serial,
                stated: Arc::clone(&stated),
                land,
                prepared: Arc::clone(prepared),
                with_drive: work::without_drive(&job).is_none(),
                rows: Arc::new(rates.rows),
                units,
                picture: known.map_or_else(|| self.next_picture(), |known| known.picture),
                edges: known.map_or_else(Arc::default, |known| Arc::clone(&known.edges)),
                job: Arc::new(job),
            };
            match shown.job.moisture().is_some_and(|of| of != self.seen) {
                true => self.other = Some(shown),
                false => self.shown = Some(shown),
            }
        }
        if self.serial == serial {
            self.fault = None;
            self.work = Work {
                stage: Doing::Drive,
                ..Work::default()
            };
        }
    }

    fn next_picture(&mut self) -> u64 {
        self.pictures += 1;
        self.pictures
    }

    /// Puts whole plans on the desk: one, or those for a dry and a moist seedbed.
    pub(in crate::edit) fn take_whole(
        &mut self,
        serial: u64,
        plans: Vec<Plan>,
        spread: Vec<(Arc<Prepared>, OnLand)>,
    ) {
        let spread = spread.into_iter();
        let spread = spread
            .map(|(prepared, OnLand { job, rates })| self.pictured(serial, job, prepared, rates));
        let spread = spread.collect();
        let is_other = |plan: &Plan| plan.job.moisture().is_some_and(|of| of != self.seen);
        let (mut others, mut seen): (Vec<Plan>, Vec<Plan>) = plans.into_iter().partition(is_other);
        if let Some(plan) = seen.pop() {
            self.whole = Some(Whole {
                serial,
                plan: Arc::new(plan),
                other: others.pop().map(Arc::new),
                spread,
            });
        }
    }

    /// Looks at the plan for a moist or for a dry seedbed.
    pub(super) fn see(&mut self, moisture: Moisture) {
        if self.seen == moisture {
            return;
        }
        self.seen = moisture;
        if let Some(other) = self.other.take() {
            self.other = self.shown.replace(other);
        }
        if let Some(whole) = &mut self.whole
            && let Some(other) = &mut whole.other
        {
            std::mem::swap(&mut whole.plan, other);
        }
    }

    /// The land of a job that is not finished, as what is shown of it.
    pub(in crate::edit) fn sketch_of(
        &mut self,
        serial: u64,
        job: Job,
        prepared: Arc<Prepared>,
        made: RatesOnLand,
    ) -> Shown {
        self.pictured(serial, job, prepared, made)
    }

    /// Land with rates, with a picture of its own.
    fn pictured(
        &mut self,
        serial: u64,
        job: Job,
        prepared: Arc<Prepared>,
        made: RatesOnLand,
    ) -> Shown {
        let job = Arc::new(job);
        Shown {
            serial,
            stated: Arc::clone(&job),
            job,
            land: self.edit.land(),
            prepared,
            with_drive: true,
            rows: Arc::new(made.rows),
            units: made.units.map(Arc::new),
            picture: self.next_picture(),
            edges: Arc::default(),
        }
    }

    /// The land that is known: of the planned job, or of one that is not finished.
    pub fn land(&self) -> Option<&Shown> {
        let sketch = || self.sketch.as_ref()?.shown.as_ref();
        self.shown.as_ref().or_else(sketch)
    }

    /// Says why there is no plan.
    pub(in crate::edit) fn fail(&mut self, serial: u64, fault: Box<Fault>) {
        self.fault = Some((serial, fault));
        self.work = Work::default();
    }

    /// Whether everything that the rates of this text need is done.
    pub(super) fn answered(&self) -> bool {
        let shown = self.shown.as_ref().map(|shown| shown.serial);
        let failed = self.fault.as_ref().map(|(serial, _)| *serial);
        let none = !matches!(self.checked.as_ref(), Checked::Job(_));
        none || shown == Some(self.serial) || failed == Some(self.serial)
    }

    /// Takes on what the text has become.
    pub(super) fn renewed(&mut self, checked: Checked) {
        self.serial += 1;
        self.work = match &checked {
            Checked::Job(_) => Work {
                stage: Doing::Rates,
                ..Work::default()
            },
            _ => Work::default(),
        };
        self.fault = match &checked {
            Checked::Faulty(fault) => Some((self.serial, fault.clone())),
            _ => None,
        };
        self.checked = Arc::new(checked);
    }
}

/// Which row each face of the land belongs to, where the pieces are not those of the geometry.
fn rows_of_faces(units: &Option<Arc<LandUnits>>) -> Option<&[Option<u32>]> {
    units.as_ref().map(|units| units.row_of_face.as_slice())
}
