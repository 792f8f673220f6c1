//! Progress on a terminal: one line on standard error that is written over and goes at the end.

use crate::plan::Step;
use std::io::{self, IsTerminal, Write};

/// Says each step where somebody looks: nothing on a pipe or in a file.
pub(super) fn told(step: &Step) {
    if io::stderr().is_terminal() {
        write_over(&format!("{} of {}: {} ...", step.nth, step.of, step.what));
    }
}

/// Takes the line away.
pub(super) fn over() {
    if io::stderr().is_terminal() {
        write_over("");
    }
}

/// If standard error is gone, nobody waits.
fn write_over(line: &str) {
    let mut out = io::stderr().lock();
    let _ = write!(out, "\r\x1b[2K{line}").and_then(|()| out.flush());
}
