//! The cautions at the end of a plan.

use super::table::screen_columns;
use crate::agronomy::caution::{self, Caution};
use crate::job::{Job, Language};
use crate::texts::Words;
use std::fmt::Write as _;

/// Most columns of a line; a narrower terminal has fewer.
const WIDTH: usize = 100;

/// The job with cautions in English, as everything on the screen is; its pages have them in its own language.
fn in_english(job: &Job) -> Job {
    let mut job = job.clone();
    job.report.language = Language::En;
    job
}

/// The hazards by name, and where the cautions stand.
pub(super) fn in_short(job: &Job) -> String {
    let job = &in_english(job);
    let words = Words::of(job);
    let mut hazards: Vec<&str> = Vec::new();
    for of in caution::cautions(job) {
        for hazard in of.hazards {
            let name = hazard.name(words);
            if !hazards.contains(&name) {
                hazards.push(name);
            }
        }
    }
    let hazards = hazards.join(", ");
    let text = format!(
        "Before you fill or drive, read the cautions (report.html, or --details): {hazards}, working at the drill. {}",
        words.text(&Caution::Defer)
    );
    wrapped("", &text)
}

/// What comes first, then the cautions: each text once, with the products it is for.
pub(super) fn text(job: &Job) -> String {
    let job = &in_english(job);
    let words = Words::of(job);
    let first = wrapped("  ", words.text(&Caution::Defer));
    let mut out = format!("\nCautions\n{first}");
    for said in caution::by_text(job) {
        let line = format!("{}: {}", said.products.join(", "), said.text);
        out.push_str(&wrapped("  ", &line));
    }
    out.push_str(&wrapped("  ", words.text(&Caution::AtTheDrill)));
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
    fn the_screen_is_english_whatever_the_pages_are() {
        let text = std::fs::read_to_string("examples/demo/job.toml").expect("a job");
        let mut job = Job::parse(&text, std::path::Path::new("job.toml")).expect("a job");
        let all = |job: &Job| in_short(job) + &super::text(job);
        let english = all(&job);
        job.report.language = Language::De;
        assert_eq!(all(&job), english);
    }

    #[test]
    fn lines_stay_within_the_width_and_lose_no_word() {
        let defer = Words::default().text(&Caution::Defer);
        let text = wrapped("  ", defer);
        assert!(text.lines().count() > 1 && text.lines().all(|line| line.len() <= WIDTH));
        let words: Vec<&str> = text.split_whitespace().collect();
        assert_eq!(words.join(" "), defer);
    }
}
