//! A defect in one job must not stop the others: panics become faults.

use crate::findings::{Fault, Outcome, Place};
use std::any::Any;
use std::panic::{self, AssertUnwindSafe};
use std::sync::{Mutex, PoisonError};

/// What the last panic said, and where. Worker threads hand on the panic but not its place.
static LAST_PANIC: Mutex<Option<String>> = Mutex::new(None);

/// From now on a panic is remembered for [`guarded`] instead of printed.
pub(super) fn keep_quiet() {
    panic::set_hook(Box::new(|info| {
        let place = info
            .location()
            .map(|place| format!("{}:{}", place.file(), place.line()));
        let message = message(info.payload()).unwrap_or("no message");
        let text = format!(
            "{message} ({})",
            place.unwrap_or_else(|| "place unknown".to_owned())
        );
        *LAST_PANIC.lock().unwrap_or_else(PoisonError::into_inner) = Some(text);
    }));
}

/// What a panic says; nearly all say text.
fn message(payload: &(dyn Any + Send)) -> Option<&str> {
    payload
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| payload.downcast_ref::<String>().map(String::as_str))
}

/// Runs `work`; a panic in it, or in a worker thread it waits for, becomes a fault.
///
/// # Errors
/// Those of `work`, or `program.defect`.
pub fn guarded<T>(work: impl FnOnce() -> Outcome<T>) -> Outcome<T> {
    panic::catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|payload| {
        let remembered = LAST_PANIC
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        let said = remembered
            .unwrap_or_else(|| message(payload.as_ref()).unwrap_or("no message").to_owned());
        Err(Fault::program(
            "program.defect",
            Place::nowhere(),
            format!("the program itself failed: {said}"),
            "an answer or a fault for every input",
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_a_fault_of_the_program() {
        let fault = guarded::<()>(|| panic!("index 7")).expect_err("a panic");
        assert_eq!(fault.code, "program.defect");
        assert_eq!(fault.blame, crate::findings::Blame::Program);
        assert_eq!(
            super::super::Exit::of_fault(&fault),
            super::super::Exit::Machine
        );
        assert!(fault.found.contains("index 7"), "{fault}");
        assert_eq!(guarded(|| Ok(5)), Ok(5));
    }
}
