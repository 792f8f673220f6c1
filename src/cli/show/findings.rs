//! Findings by weight, with repeats collapsed.

use super::cautions::fitted;
use super::number::Numbers;
use crate::findings::{Finding, Place, Severity};
use std::fmt::Write as _;

/// The groups: their title, and how many of one code are told one by one.
const GROUPS: [(Severity, &str, usize); 3] = [
    (Severity::Decision, "Decisions", 5),
    (Severity::Warning, "Worth a look", 3),
    (Severity::Note, "Notes", 1),
];

/// One warning of each kind, notes by their number; decisions stand at the beginning.
pub(super) fn in_short(findings: &[Finding], numbers: Numbers) -> String {
    let (severity, title, _) = GROUPS[1];
    let mut text = group(findings, severity, title, 1, numbers);
    let notes = findings
        .iter()
        .filter(|finding| finding.severity == Severity::Note);
    match notes.count() {
        0 => {}
        1 => text.push_str("\n1 note: --details\n"),
        notes => {
            let _ = writeln!(text, "\n{notes} notes: --details");
        }
    }
    text
}

/// All findings: what needs a decision first, or has been signed for.
pub(in crate::cli) fn grouped(findings: &[Finding], numbers: Numbers) -> String {
    if findings.is_empty() {
        return "\nNo findings.\n".to_owned();
    }
    let of_group =
        GROUPS.map(|(severity, title, told)| group(findings, severity, title, told, numbers));
    of_group.concat()
}

/// All findings, decisions and warnings one by one: where each is land to walk to, and no other output has them.
pub(in crate::cli) fn each(findings: &[Finding], numbers: Numbers) -> String {
    let of_group = GROUPS.map(|(severity, title, told)| {
        let told = match severity {
            Severity::Note => told,
            _ => usize::MAX,
        };
        group(findings, severity, title, told, numbers)
    });
    of_group.concat()
}

/// The findings of one weight under their title; of each code as many as are told one by one.
fn group(
    findings: &[Finding],
    severity: Severity,
    title: &str,
    told: usize,
    numbers: Numbers,
) -> String {
    let of_group = findings
        .iter()
        .filter(|finding| finding.severity == severity);
    let of_group: Vec<&Finding> = of_group.collect();
    if of_group.is_empty() {
        return String::new();
    }
    let mut text = format!("\n{title} ({})\n", of_group.len());
    let mut codes: Vec<&str> = Vec::new();
    for finding in &of_group {
        if !codes.contains(&finding.code.as_ref()) {
            codes.push(&finding.code);
        }
    }
    for code in codes {
        let same = of_group.iter().filter(|finding| finding.code == code);
        let same: Vec<&Finding> = same.copied().collect();
        text.push_str(&repeats(code, &same, told, numbers));
    }
    text
}

fn repeats(code: &str, same: &[&Finding], told: usize, numbers: Numbers) -> String {
    let mut text = String::new();
    let collapsed = same.len() > told && same.len() > 1;
    if collapsed {
        let area: f64 = same.iter().filter_map(|finding| finding.area_m2).sum();
        let area = if area > 0.0 {
            format!(", {} together", numbers.area_of(area))
        } else {
            String::new()
        };
        let _ = writeln!(text, "  {} x {code}{area}, such as:", same.len());
    }
    let indent = if collapsed { "      " } else { "  " };
    for finding in same.iter().take(told) {
        let place = match &finding.place {
            place if *place == Place::nowhere() => String::new(),
            place => format!(" ({place})"),
        };
        text.push_str(&fitted(
            indent,
            &format!("{}{place} [{code}]", finding.message),
        ));
        if let Some(signed) = &finding.accepted {
            let said = format!("Accepted by {} on {}: {}", signed.by, signed.on, signed.why);
            text.push_str(&fitted(&format!("{indent}  "), &said));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Decision;

    #[test]
    fn every_warning_is_told_where_no_other_output_has_them() {
        let land = |nth: usize| format!("Land {nth} lies below the line.");
        let below = |nth| Finding::warning("establishment.below_line", Place::nowhere(), land(nth));
        let findings: Vec<Finding> = (0..6).map(below).collect();
        let text = each(&findings, Numbers::METRIC);
        assert!((0..6).all(|nth| text.contains(&land(nth))), "{text}");
    }

    #[test]
    fn repeats_are_counted_with_their_area() {
        let gap = Finding::note("zones.gap", Place::file("a.shp"), "A gap.").area(5_000.0);
        let mut findings = vec![gap; 12];
        findings.push(Finding::decision(
            Decision::GapsLarge,
            Place::nowhere(),
            "Land is lost.",
        ));
        let text = grouped(&findings, Numbers::METRIC);
        assert!(
            text.contains("12 x zones.gap, 6.00 ha together, such as:"),
            "{text}"
        );
        assert_eq!(text.matches("A gap.").count(), 1, "{text}");
        let (decision, note) = (text.find("Decisions (1)"), text.find("Notes (12)"));
        assert!(decision.is_some() && decision < note, "{text}");
    }
}
