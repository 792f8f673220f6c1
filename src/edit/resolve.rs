//! Actions that take something from the plan: a signature its entry, zones changed by hand their file.

use super::action::Action;
use super::by_hand::{self, Change};
use super::desk::Desk;
use super::draw::{self, Made, Shaped};
use super::drawn_files::DrawnFiles;
use super::view;
use super::work::Shown;
use crate::findings::{Fault, Outcome, Place};

impl Desk {
    /// An action with everything in it that it takes from the plan, so that it can be replayed without one.
    ///
    /// # Errors
    /// A decision that is not open; zones that are not known, or a change of them that is none.
    pub(super) fn resolved(&self, action: Action, files: &mut DrawnFiles) -> Outcome<Action> {
        self.drawn(self.redrawn(self.signed(action)?, files)?, files)
    }

    /// A change of zones with the file that it becomes.
    fn redrawn(&self, mut action: Action, files: &mut DrawnFiles) -> Outcome<Action> {
        let (layer, change, file) = match &mut action {
            Action::Class {
                layer,
                zone,
                class,
                file,
            } => (layer, Change::Class { zone: *zone, class }, file),
            Action::Join {
                layer,
                zone,
                to,
                file,
            } => (
                layer,
                Change::Join {
                    zone: *zone,
                    to: *to,
                },
                file,
            ),
            Action::Cut {
                layer,
                zone,
                line,
                side,
                class,
                file,
            } => {
                let change = Change::Cut {
                    zone: *zone,
                    line,
                    side: *side,
                    class,
                };
                (layer, change, file)
            }
            Action::Border {
                layer,
                change,
                file,
            } => (layer, Change::Borders(change), file),
            _ => return Ok(action),
        };
        let shown = self.shown_now()?;
        let nth = shown.job.layers.iter().position(|of| of.name == *layer);
        let nth = nth.ok_or_else(not_yet)?;
        if let Some(why) = shown.job.layers.get(nth).and_then(by_hand::why_not) {
            return Err(Fault::input(
                "edit.not_by_hand",
                Place::nowhere(),
                format!("the zones of '{layer}' are not changed by hand: {why}"),
                "a layer of zones with classes",
                "change what the layer is made from",
            ));
        }
        let text = by_hand::changed(&shown, nth, &change)?;
        let name = format!("{layer}-by-hand.geojson");
        *file = Some(files.put(&self.folder(), &name, text)?);
        Ok(action)
    }

    /// What was drawn on the map, with what comes of it.
    fn drawn(&self, mut action: Action, files: &mut DrawnFiles) -> Outcome<Action> {
        if let Action::Draw { drawing, made } = &mut action {
            *made = Some(match draw::made(drawing, &*self.shown_now()?)? {
                Shaped::File { name, text } => {
                    Made::File(files.put(&self.folder(), &name, text)?)
                }
                Shaped::LonLat(lon_lat) => Made::LonLat(lon_lat),
            });
        }
        Ok(action)
    }

    /// The land of the job as it is.
    fn shown_now(&self) -> Outcome<Box<Shown>> {
        let shown = self.look(|inner| {
            let shown = inner.shown.clone()?;
            (shown.serial == inner.serial).then_some(shown)
        });
        shown.map(Box::new).ok_or_else(not_yet)
    }

    /// A signature with the entry that it becomes.
    fn signed(&self, action: Action) -> Outcome<Action> {
        let Action::Sign {
            decision,
            why,
            by,
            on,
            seedbed,
            ..
        } = action
        else {
            return Ok(action);
        };
        let day = on.clone().unwrap_or_else(self.commands.today);
        let entry = self.look(|inner| {
            let whole = inner.whole.as_ref()?;
            // What is signed for is what is seen: the plan of the job as it is.
            let whole = (whole.serial == inner.serial).then_some(whole)?;
            let plan = whole.in_seedbed(seedbed)?;
            view::decisions::entry(plan, &decision, &why, &by, &day)
        });
        Ok(Action::Sign {
            decision,
            why,
            by,
            on,
            seedbed,
            entry,
        })
    }
}

fn not_yet() -> Box<Fault> {
    Fault::input(
        "edit.not_yet",
        Place::nowhere(),
        "the land of the job as it is is not known yet, or it has no such layer",
        "land and zones that are on the map",
        "wait until the map is drawn, and do this again",
    )
}
