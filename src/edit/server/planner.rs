//! Plans the jobs of a folder one after the other in the background, so that the map of all fields says how far each is.

use super::super::farm::{self, Known};
use super::super::state::Checked;
use super::Room;
use crate::edit::work::held;
use crate::read::sha256_of;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, PoisonError};
use std::time::Duration;

/// So long the field on the desk goes before all others.
const LONGEST_DESK: Duration = Duration::from_secs(600);

/// What is to be planned.
#[derive(Default)]
pub(super) struct Planner {
    wish: Mutex<Wish>,
    woken: Condvar,
}

#[derive(Default)]
struct Wish {
    wanted: bool,
    closed: bool,
    now: Option<PathBuf>,
}

impl Planner {
    /// Somebody looks at all fields.
    pub(super) fn want(&self) {
        held(&self.wish).wanted = true;
        self.woken.notify_all();
    }

    /// Nothing more is planned.
    pub(super) fn close(&self) {
        held(&self.wish).closed = true;
        self.woken.notify_all();
    }

    /// The job that is being planned.
    pub(super) fn now(&self) -> Option<PathBuf> {
        held(&self.wish).now.clone()
    }

    /// Waits until somebody looks; false once it is closed.
    fn wait(&self) -> bool {
        let wish = held(&self.wish);
        let idle = |wish: &mut Wish| !wish.wanted && !wish.closed;
        let mut wish = self
            .woken
            .wait_while(wish, idle)
            .unwrap_or_else(PoisonError::into_inner);
        wish.wanted = false;
        !wish.closed
    }

    fn begin(&self, file: Option<PathBuf>) -> bool {
        let mut wish = held(&self.wish);
        wish.now = file;
        !wish.closed
    }
}

/// Plans for as long as the page is open. For a thread of its own.
pub(super) fn run(room: &Room) {
    while room.planner.wait() {
        while let Some((file, sha256)) = next(room) {
            if let Some(desk) = room.desk() {
                desk.settle_whole(LONGEST_DESK);
            }
            if !room.planner.begin(Some(file.clone())) {
                return;
            }
            room.told_of_farm();
            let known = planned(room, &file);
            held(&room.decided).insert(file, (sha256, known));
            let goes_on = room.planner.begin(None);
            room.told_of_farm();
            if !goes_on {
                return;
            }
        }
    }
}

/// The next job that can be planned and of which nothing is known, with the SHA-256 of its text. The one on the desk is planned there.
fn next(room: &Room) -> Option<(PathBuf, String)> {
    let on_desk = room
        .desk()
        .and_then(|desk| std::fs::canonicalize(desk.file()).ok());
    let all = farm::files(&room.home).into_iter();
    let mut unknown = all.filter_map(|(_, file)| {
        let text = (room.commands.text)(&file).ok()?;
        let sha256 = sha256_of(&text);
        let is_known = held(&room.decided)
            .get(&file)
            .is_some_and(|(of, _)| *of == sha256);
        let on_desk = std::fs::canonicalize(&file).ok() == on_desk;
        let can_be = matches!(
            Checked::of(&text, &file, &room.commands.text),
            Checked::Job(_)
        );
        (!is_known && !on_desk && can_be).then_some((file, sha256))
    });
    unknown.next()
}

fn planned(room: &Room, file: &Path) -> Known {
    match (room.commands.order)(&[file.to_path_buf()]) {
        Ok(order) => {
            let plans = order.get("plans").and_then(Value::as_array);
            let open = plans.into_iter().flatten();
            let open = open.filter_map(|plan| plan.get("to_decide")?.as_u64());
            Known::Open(usize::try_from(open.sum::<u64>()).unwrap_or(usize::MAX))
        }
        Err(_) => Known::Faulty,
    }
}
