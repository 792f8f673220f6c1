//! Numbers below 0 and numbers behind a blank, as they are typed: a minus begins no option, and what a shell has taken apart is told.

use crate::findings::{Fault, Outcome, Place};
use clap::Command;

/// The command with options whose values may begin with a minus and a digit: what each of them allows it says itself.
pub(super) fn below_zero(command: Command) -> Command {
    command.mut_subcommands(|own| {
        own.mut_args(|argument| {
            let takes = argument.get_action().takes_values() && !argument.is_positional();
            match takes && !argument.is_allow_hyphen_values_set() {
                true => argument.allow_negative_numbers(true),
                false => argument,
            }
        })
    })
}

/// What to say where an argument that nobody expects is a number, which a shell has cut off at a blank; none elsewhere.
pub(super) fn cut_off(arguments: &[String]) -> Option<Box<Fault>> {
    let is_number = |text: &str| text.parse::<f64>().is_ok();
    let mut pairs = arguments.iter().zip(arguments.iter().skip(1));
    let ends_open = |text: &str| text.ends_with([',', '=']);
    let (before, number) = pairs
        .clone()
        .find(|(before, own)| is_number(own) && ends_open(before))
        .or_else(|| pairs.find(|(_, own)| is_number(own) && own.starts_with('-')))?;
    let (found, next) = match ends_open(before) {
        true => (
            format!("'{before}' and '{number}' stand apart, with a blank between them"),
            format!("Write them together: {before}{number}"),
        ),
        false => (
            format!("'{number}' stands where no number is expected"),
            "Put it behind the option that it belongs to, or leave it out.".to_owned(),
        ),
    };
    Some(Fault::input(
        "command.number",
        Place::nowhere(),
        found,
        "a value without blanks, or in quotes, right behind its option",
        next,
    ))
}

/// A number behind an option, within bounds.
///
/// # Errors
/// One outside of them, or none at all.
pub(super) fn within(
    option: &str,
    value: f64,
    [least, most]: [f64; 2],
    code: &'static str,
) -> Outcome<f64> {
    match (least..=most).contains(&value) {
        true => Ok(value),
        false => Err(Fault::input(
            code,
            Place::nowhere(),
            format!("{option} is {value}"),
            match most < f64::MAX {
                true => format!("a number from {least} to {most}"),
                false => format!("a number from {least} up"),
            },
            "Correct that option.",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_a_shell_cut_off_is_told_with_what_stands_before_it() {
        let told = |line: &str| {
            let words: Vec<String> = line.split(' ').map(str::to_owned).collect();
            cut_off(&words).map(|fault| fault.to_string())
        };
        for (line, part) in [
            ("explain job.toml --at 2.4, -54.7", "together: 2.4,-54.7"),
            ("explain job.toml --at 2.4, 54.7", "together: 2.4,54.7"),
            ("compare p t --loaded seed= -5", "together: seed=-5"),
            ("plan job.toml -3", "'-3' stands where"),
        ] {
            assert!(told(line).is_some_and(|told| told.contains(part)), "{line}");
        }
        assert_eq!(told("plan job.toml --strikt"), None);
        assert_eq!(told("plan 2027 job.toml"), None);
    }
}
