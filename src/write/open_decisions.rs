//! What is open, how to settle it, and what somebody has signed for, in words: for the note that stands in place of
//! terminal files, the page on the stick, and the screen.

use crate::findings::{Concerns, Settled};
use crate::plan::{Case, Plan};
use std::fmt;

/// Name of the note in place of files for terminals.
pub(super) const NOTE: &str = "terminal/NOT-READY.txt";

/// A line about what is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OpenLine {
    /// A sentence, which may be broken to the width of a screen.
    Words(String),
    /// A line for the job file, to be copied as it is.
    Entry(String),
}

impl fmt::Display for OpenLine {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Words(line) | Self::Entry(line) => to.write_str(line),
        }
    }
}

/// The decisions that are open, and how each is settled; empty without any.
pub fn open_lines(plan: &Plan) -> Vec<OpenLine> {
    use OpenLine::{Entry, Words};
    let open = plan.open();
    let mut lines = Vec::new();
    let Some(first) = (match open.len() {
        0 => None,
        1 => Some("NOT READY FOR THE TERMINAL: 1 decision is open.".to_owned()),
        count => Some(format!(
            "NOT READY FOR THE TERMINAL: {count} decisions are open."
        )),
    }) else {
        return lines;
    };
    lines.push(Words(first));
    lines.push(Words(held_back(plan, open.len())));
    for (nth, case) in open.iter().enumerate() {
        lines.push(Words(String::new()));
        lines.push(Words(format!(
            "{}. {} [{}]",
            nth + 1,
            one_line(&case.message),
            case.decision.code()
        )));
        lines.push(Words(format!("   It concerns {}.", concerned(plan, case))));
        // A decision of the drill's plan is signed for there, in its words.
        if let Some(drill) = &plan.spreader_of
            && plan
                .of_drill
                .iter()
                .any(|of| of.accepted.is_none() && of.is_as(case))
            && case.decision.settled() == Settled::ByChangeOrSignature
        {
            lines.push(Words(format!(
                "   The drill's plan {drill} says how to settle it, in terminal/NOT-READY.txt there."
            )));
            continue;
        }
        lines.push(Words(format!("   {}", how(case))));
        if let Some(entry) = case.entry(&plan.job) {
            lines.push(Words(String::new()));
            lines.extend(entry.lines().map(|line| Entry(format!("   {line}"))));
        }
    }
    lines.push(Words(String::new()));
    lines.push(Words("Then plan the job again.".to_owned()));
    lines
}

/// What somebody has signed for; empty without anything.
pub fn signed_lines(plan: &Plan) -> Vec<String> {
    let signed = plan.signed();
    let line = |case: &Case| {
        let by = case.accepted.as_ref()?;
        Some(format!(
            "- {} [{}] Accepted by {} on {}: {}",
            one_line(&case.message),
            case.decision.code(),
            one_line(&by.by),
            by.on,
            one_line(&by.why)
        ))
    };
    let lines: Vec<String> = signed.iter().filter_map(line).collect();
    match lines.is_empty() {
        true => lines,
        false => [vec!["Signed for:".to_owned()], lines].concat(),
    }
}

/// The note in place of files for terminals.
pub(super) fn note(plan: &Plan) -> String {
    let mut lines = vec![
        format!("Plan {} - {}", plan.id, one_line(&plan.job.name)),
        String::new(),
    ];
    lines.extend(open_lines(plan).iter().map(OpenLine::to_string));
    for more in [signed_lines(plan), plan.seedbed_lines()] {
        if !more.is_empty() {
            lines.push(String::new());
            lines.extend(more);
        }
    }
    lines.push(String::new());
    lines.join("\r\n")
}

/// Which files are not there.
fn held_back(plan: &Plan, open: usize) -> String {
    let until = match open {
        1 => "Until it is settled",
        _ => "Until they are settled",
    };
    let ready: Vec<String> = (0..plan.job.products.len())
        .filter(|&nth| !plan.holds_back(nth))
        .map(|nth| name(plan, nth))
        .collect();
    match ready.is_empty() {
        true => format!(
            "{until} no file that a terminal could load is written: no task data, no Shapefile, neither below terminal nor below gis."
        ),
        false => format!(
            "{until} no task data are written, for a set is loaded as a whole, and Shapefiles for {} alone.",
            ready.join(", ")
        ),
    }
}

fn concerned(plan: &Plan, case: &Case) -> String {
    match &case.concerns {
        Concerns::Field => "the whole field".to_owned(),
        Concerns::Products(ids) => {
            let products = plan.job.products.iter().enumerate();
            let own = products.filter(|(_, product)| ids.contains(&product.id));
            let names: Vec<String> = own.map(|(nth, _)| name(plan, nth)).collect();
            names.join(", ")
        }
    }
}

fn how(case: &Case) -> &'static str {
    match case.decision.settled() {
        Settled::ByChange => "To settle it, change the job: nobody can sign for this.",
        Settled::ByChangeOrSignature => {
            "To settle it, change the job; or, where it is right all the same, fill in these lines, and put them at the end of the job:"
        }
    }
}

fn name(plan: &Plan, nth: usize) -> String {
    let product = plan.job.products.get(nth);
    product.map_or(String::new(), |own| one_line(&own.name))
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
