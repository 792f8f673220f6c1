//! The cautions at the end of a plan.

use super::table::screen_columns;
use crate::agronomy::caution::{self, AT_THE_DRILL, DEFER};
use crate::job::Job;
use std::fmt::Write as _;

/// Most columns of a line; a narrower terminal has fewer.
const WIDTH: usize = 100;

/// The hazards by name, and where the cautions stand.
pub(super) fn in_short(job: &Job) -> String {
    let mut hazards: Vec<&str> = Vec::new();
    for of in caution::cautions(job) {
        for hazard in of.hazards {
            if !hazards.contains(&hazard.name()) {
                hazards.push(hazard.name());
            }
        }
    }
    let hazards = hazards.join(", ");
    let text = format!(
        "Before you fill or drive, read the cautions (report.html, or --details): {hazards}, working at the drill. {DEFER}"
    );
    wrapped("", &text)
}

/// What comes first, then the cautions: each text once, with the products it is for.
pub(super) fn text(job: &Job) -> String {
    let mut out = format!("\nCautions\n{}", wrapped("  ", DEFER));
    for said in caution::by_text(job) {
        let line = format!("{}: {}", said.products.join(", "), said.text);
        out.push_str(&wrapped("  ", &line));
    }
    out.push_str(&wrapped("  ", AT_THE_DRILL));
    out
}

/// A paragraph that fits the terminal; on a pipe one line, for whoever looks for words in it.
pub(in crate::cli) fn fitted(indent: &str, text: &str) -> String {
    match screen_columns() {
        Some(_) => wrapped(indent, text),
        None => format!("{indent}{text}\n"),
    }
}

/// A paragraph in lines: the first after `indent`, the others two columns further in.
pub(super) fn wrapped(indent: &str, text: &str) -> String {
    let width = screen_columns().map_or(WIDTH, |columns| columns.clamp(40, WIDTH));
    let mut out = String::new();
    let mut line = indent.to_owned();
    for word in text.split(' ') {
        if line.len() + 1 + word.len() > width && line.len() > indent.len() + 2 {
            let _ = writeln!(out, "{}", line.trim_end());
            line = format!("{indent}  ");
        }
        line.push_str(word);
        line.push(' ');
    }
    let _ = writeln!(out, "{}", line.trim_end());
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_stay_within_the_width_and_lose_no_word() {
        let text = wrapped("  ", DEFER);
        assert!(text.lines().count() > 1 && text.lines().all(|line| line.len() <= WIDTH));
        let words: Vec<&str> = text.split_whitespace().collect();
        assert_eq!(words.join(" "), DEFER);
    }
}
