//! `twinsow schema`: the JSON Schema of the job file.

use super::Exit;
use super::screen::Screen;
use crate::job::Job;

pub(super) fn run(screen: &mut Screen) -> Exit {
    screen.print(&format!("{:#}\n", Job::schema()));
    Exit::Done
}
