//! The frame of a command that ends in a text: it runs, and its text is printed, or its fault. A panic becomes a fault.

use super::exit::Exit;
use super::guard;
use super::progress;
use super::screen::Screen;
use crate::findings::{Fault, Outcome, Place};
use serde::Serialize;

/// What a command ends in.
pub(super) struct Said {
    pub text: String,
    pub exit: Exit,
    /// What failed after the rest was done.
    pub fault: Option<Box<Fault>>,
}

impl From<String> for Said {
    fn from(text: String) -> Self {
        (text, Exit::Done).into()
    }
}

impl From<(String, Exit)> for Said {
    fn from((text, exit): (String, Exit)) -> Self {
        Self {
            text,
            exit,
            fault: None,
        }
    }
}

/// Runs a command, says what comes of it, and gives its exit.
pub(super) fn run<T: Into<Said>>(screen: &mut Screen, work: impl FnOnce() -> Outcome<T>) -> Exit {
    let said = guard::guarded(|| work().map(T::into));
    progress::over();
    let Said { text, exit, fault } = said.unwrap_or_else(|fault| Said {
        text: String::new(),
        exit: Exit::Done,
        fault: Some(fault),
    });
    screen.print(&text);
    let Some(fault) = fault else { return exit };
    screen.fault(&fault);
    exit.max(Exit::of_fault(&fault))
}

/// A value as JSON on one line, with its line end.
///
/// # Errors
/// A value that is none in JSON: the program's own fault.
pub(super) fn json(value: &impl Serialize) -> Outcome<String> {
    ended(serde_json::to_string(value))
}

/// The same on several lines, to be read by people too.
///
/// # Errors
/// As [`json`].
pub(super) fn json_lines(value: &impl Serialize) -> Outcome<String> {
    ended(serde_json::to_string_pretty(value))
}

fn ended(text: serde_json::Result<String>) -> Outcome<String> {
    let text = text.map_err(|error| {
        Fault::program(
            "program.json",
            Place::nowhere(),
            format!("what is to be told is no JSON: {error}"),
            "numbers and texts",
        )
    });
    Ok(text? + "\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn what_fails_decides_the_exit_and_what_is_no_json_is_told() {
        let mut screen = Screen::default();
        let fault = || Fault::input("a.b", Place::nowhere(), "x", "y", "z");
        assert_eq!(run(&mut screen, || Ok(String::new())), Exit::Done);
        let decide = || Ok((String::new(), Exit::Decide));
        assert_eq!(run(&mut screen, decide), Exit::Decide);
        assert_eq!(run::<String>(&mut screen, || Err(fault())), Exit::Input);
        assert_eq!(
            run::<String>(&mut screen, || panic!("made up")),
            Exit::Machine
        );
        let late = || {
            Ok(Said {
                text: String::new(),
                exit: Exit::Decide,
                fault: Some(fault()),
            })
        };
        assert_eq!(run(&mut screen, late), Exit::Input);
        // Keys of JSON are texts.
        let no_json = BTreeMap::from([([1.0_f64.to_bits(), 2], 3)]);
        let told = json(&no_json).map_err(|fault| Exit::of_fault(&fault));
        assert_eq!(told, Err(Exit::Machine));
    }
}
