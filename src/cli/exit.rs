//! Exit codes.

use crate::findings::{Blame, Fault, Finding, Severity};
use serde::Serialize;
use std::process::ExitCode;

/// How a command ended, from good to bad. The numbers are the exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(into = "u8")]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Done, with something to decide; files for terminals wait for it.
    Decide = 1,
    /// The input is at fault.
    Input = 2,
    /// The machine is at fault, or the program itself.
    Machine = 3,
}

impl Exit {
    /// What a fault means for the exit code.
    pub fn of_fault(fault: &Fault) -> Self {
        match fault.blame {
            Blame::Input => Self::Input,
            Blame::Machine | Blame::Program => Self::Machine,
        }
    }

    /// What findings mean for the exit code: a decision asks until somebody has signed for it. With `strict` warnings
    /// ask as well; files are the same with it and without.
    pub fn of_findings(findings: &[Finding], strict: bool) -> Self {
        let asks = |finding: &Finding| {
            finding.is_open() || strict && finding.severity == Severity::Warning
        };
        match findings.iter().any(asks) {
            true => Self::Decide,
            false => Self::Done,
        }
    }

    /// In words, for the summary of several jobs.
    pub fn words(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Decide => "done, with something to decide",
            Self::Input => "input at fault",
            Self::Machine => "machine or program at fault",
        }
    }
}

impl From<Exit> for u8 {
    fn from(exit: Exit) -> Self {
        exit as u8
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Place;

    #[test]
    fn the_one_at_fault_decides_the_exit_code() {
        let place = Place::nowhere;
        let faults = [
            (Fault::input("a.b", place(), "x", "y", "z"), 2),
            (Fault::machine("a.b", place(), "x", "y", "z"), 3),
            (Fault::program("a.b", place(), "x", "y"), 3),
        ];
        for (fault, code) in faults {
            assert_eq!(u8::from(Exit::of_fault(&fault)), code, "{fault:?}");
        }
    }
}
