//! Reads blocks of published check values, and refuses one that does not say where it comes from, how
//! exact it is or in which unit.

use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

/// A block that may be trusted.
#[derive(Debug)]
pub struct Check {
    pub id: String,
    pub source: String,
    pub formula: String,
    pub unit: String,
    /// "read" or "derived".
    pub status: &'static str,
    pub note: String,
    /// In `unit`.
    pub tolerance: f64,
    pub cases: Vec<Case>,
}

/// One number to get.
#[derive(Debug)]
pub struct Case {
    pub inputs: BTreeMap<String, f64>,
    /// In the block's unit.
    pub answer: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    check: Vec<Block>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Block {
    id: String,
    source: String,
    status: Status,
    formula: String,
    inputs: BTreeMap<String, Numbers>,
    answer: Numbers,
    unit: String,
    tolerance: f64,
    #[serde(default)]
    note: String,
}

/// Values from memory or at second hand have no name here, so a block cannot carry them.
#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Status {
    Read,
    Derived,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Numbers {
    One(f64),
    Many(Vec<f64>),
}

impl Numbers {
    fn count(&self) -> usize {
        match self {
            Self::One(_) => 1,
            Self::Many(values) => values.len(),
        }
    }

    fn at(&self, index: usize) -> Option<f64> {
        match self {
            Self::One(value) => Some(*value),
            Self::Many(values) => values.get(index).copied(),
        }
    }
}

/// The blocks of a file.
///
/// # Errors
/// Not TOML, a field that is missing or unknown, an empty id, source, formula or unit, a tolerance that is
/// not above 0, lists that do not match, the same id twice.
pub fn parse(text: &str) -> Result<Vec<Check>, String> {
    let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
    let mut ids = BTreeSet::new();
    file.check
        .into_iter()
        .map(|block| {
            let id = block.id.clone();
            if !ids.insert(id.clone()) {
                return Err(format!("block '{id}' is there twice"));
            }
            check(block).map_err(|problem| format!("block '{id}': {problem}"))
        })
        .collect()
}

fn check(block: Block) -> Result<Check, String> {
    for (name, value) in [
        ("id", &block.id),
        ("source", &block.source),
        ("formula", &block.formula),
        ("unit", &block.unit),
    ] {
        if value.trim().is_empty() {
            return Err(format!("{name} is empty"));
        }
    }
    if !(block.tolerance > 0.0 && block.tolerance.is_finite()) {
        return Err(format!("tolerance {} is not above 0", block.tolerance));
    }
    // A tolerance wider than a tenth of the answer proves nothing, unless a note argues for it.
    let count = block.answer.count();
    let status = match block.status {
        Status::Read => "read",
        Status::Derived => "derived",
    };
    let cases = (0..count)
        .map(|index| {
            let answer = block.answer.at(index).ok_or("no answer")?;
            if block.tolerance > answer.abs() / 10.0 && block.note.trim().is_empty() {
                return Err(format!(
                    "a {status} answer of {answer} with a tolerance over a tenth of it needs a note"
                ));
            }
            let inputs = block.inputs.iter().map(|(name, numbers)| {
                if matches!(numbers, Numbers::Many(values) if values.len() != count) {
                    return Err(format!(
                        "{name} has {} numbers for {count} answers",
                        numbers.count()
                    ));
                }
                let value = numbers
                    .at(index)
                    .ok_or_else(|| format!("{name} is empty"))?;
                Ok((name.clone(), value))
            });
            Ok(Case {
                inputs: inputs.collect::<Result<_, String>>()?,
                answer,
            })
        })
        .collect::<Result<_, String>>()?;
    Ok(Check {
        id: block.id,
        source: block.source,
        formula: block.formula,
        unit: block.unit,
        status,
        note: block.note,
        tolerance: block.tolerance,
        cases,
    })
}

#[cfg(test)]
mod tests {
    use super::parse;

    const GOOD: &str = r#"
[[check]]
id = "a"
source = "Somebody, a table, page 1"
status = "read"
formula = "p2o5_from_p"
inputs = { p = [1, 2] }
answer = [2.291, 4.582]
unit = "kg/kg"
tolerance = 0.001
"#;

    #[test]
    fn a_whole_block_is_taken() {
        let checks = parse(GOOD).expect("a good block");
        assert_eq!(checks.len(), 1);
        assert_eq!(checks[0].cases[1].answer, 4.582);
        assert_eq!(checks[0].cases[1].inputs["p"], 2.0);
    }

    #[test]
    fn a_block_without_source_tolerance_or_unit_is_refused() {
        for field in [
            "id",
            "source",
            "status",
            "formula",
            "inputs",
            "answer",
            "unit",
            "tolerance",
        ] {
            let without: String = GOOD
                .lines()
                .filter(|line| !line.starts_with(field))
                .map(|line| format!("{line}\n"))
                .collect();
            let error = parse(&without).expect_err(field);
            assert!(error.contains(field), "{field}: {error}");
        }
    }

    #[test]
    fn a_block_that_says_nothing_is_refused() {
        for (good, bad) in [
            ("\"Somebody, a table, page 1\"", "\" \""),
            ("\"kg/kg\"", "\"\""),
            ("tolerance = 0.001", "tolerance = 0"),
            ("tolerance = 0.001", "tolerance = 0.5"),
            ("tolerance = 0.001", "tolerance = nan"),
            ("\"read\"", "\"memory\""),
            ("[1, 2]", "[1, 2, 3]"),
            ("tolerance = 0.001", "tolerance = 0.001\nsurce = \"x\""),
        ] {
            assert!(GOOD.contains(good), "{good}");
            assert!(parse(&GOOD.replace(good, bad)).is_err(), "{bad} was taken");
        }
        assert!(
            parse(&format!("{GOOD}{GOOD}")).is_err(),
            "the same id twice was taken"
        );
    }
}
