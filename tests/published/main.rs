//! Our arithmetic against published figures, each with its citation, tolerance and unit, in
//! `testdata/published/*.txt`.

mod formulas;
mod machine;
mod page;
mod reader;
mod tables;

use std::fs;
use std::path::{Path, PathBuf};

/// How many numbers are checked. May only rise: a lost block or file must be noticed.
const CASES: usize = 337;

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/published");
    let mut files: Vec<PathBuf> = fs::read_dir(&folder)
        .expect("testdata/published is there")
        .map(|entry| entry.expect("a readable folder").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "txt"))
        .collect();
    files.sort();
    files
}

#[test]
fn published_figures_come_out() {
    let mut cases = 0;
    let mut failures = Vec::new();
    for file in files() {
        let text = fs::read_to_string(&file).expect("a readable file");
        let name = file
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        let checks = reader::parse(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        for check in checks {
            for (number, case) in check.cases.iter().enumerate() {
                cases += 1;
                let got = formulas::run(&check.formula, case.inputs.clone())
                    .unwrap_or_else(|error| panic!("{name}, {}: {error}", check.id));
                let off = (got - case.answer).abs();
                // The width of a float is no part of the tolerance: 202.5 against 203 is just inside.
                if off > check.tolerance * (1.0 + 1e-12) || !off.is_finite() {
                    failures.push(format!(
                        "{name}, {} number {}: published {} {unit}, got {got} {unit}, tolerance {} {unit} ({})",
                        check.id,
                        number + 1,
                        case.answer,
                        check.tolerance,
                        check.source,
                        unit = check.unit,
                    ));
                }
            }
        }
    }
    assert!(
        failures.is_empty(),
        "{} of {cases} differ:\n{}",
        failures.len(),
        failures.join("\n")
    );
    assert_eq!(
        cases, CASES,
        "the number of published figures checked has changed"
    );
}
