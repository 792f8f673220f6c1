//! Every rule that can stand in a rate's reasons has its page under docs/methods: which rules, formula and units,
//! source, a worked example, and the test that works it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::agronomy::Rule;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All files below a folder that end so.
fn files(folder: &Path, end: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(files(&path, end));
        } else if path.to_string_lossy().ends_with(end) {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// Ids of all rules.
fn in_code() -> BTreeSet<String> {
    let schema = schemars::schema_for!(Rule);
    let ids = schema.get("enum").expect("ids").as_array().expect("a list");
    ids.iter()
        .map(|id| id.as_str().expect("text").to_owned())
        .collect()
}

/// Ids with words for people, which the report needs for every rule.
fn in_words() -> BTreeSet<String> {
    let text = fs::read_to_string(root().join("src/report/texts/en.toml")).expect("words");
    let words: toml::Table = toml::from_str(&text).expect("TOML");
    let rules = words["rules"].as_table().expect("[rules]");
    rules.keys().cloned().collect()
}

/// Per rule the pages whose line `Rule ...` or `Rules ...` names it.
fn pages() -> BTreeMap<String, Vec<PathBuf>> {
    let mut pages: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    for path in files(&root().join("docs/methods"), ".md") {
        let text = fs::read_to_string(&path).expect("a page");
        let lines = text.lines().filter(|line| line.starts_with("Rule"));
        for id in lines.flat_map(|line| line.split('`').skip(1).step_by(2)) {
            pages.entry(id.to_owned()).or_default().push(path.clone());
        }
    }
    pages
}

#[test]
fn every_rule_has_words_and_one_page() {
    let (code, words, pages) = (in_code(), in_words(), pages());
    assert_eq!(code, words, "rules, and their words in the report");
    for id in &words {
        // It is the same in and out.
        let rule: Rule = serde_json::from_value(id.as_str().into()).expect(id);
        assert_eq!(rule.to_string(), *id);
        let of = pages.get(id).map_or(0, Vec::len);
        assert_eq!(
            of, 1,
            "pages of docs/methods with a line 'Rules ...' that names '{id}'"
        );
    }
    let named: Vec<&String> = pages.keys().filter(|id| id.contains('.')).collect();
    for id in named.into_iter().filter(|id| !id.ends_with(".rs")) {
        assert!(
            code.contains(id),
            "a page names the rule '{id}', which there is not"
        );
    }
}

#[test]
fn every_page_of_a_rule_has_formula_source_example_and_a_test_that_exists() {
    let code: String = [root().join("src"), root().join("tests")]
        .iter()
        .flat_map(|folder| files(folder, ".rs"))
        .map(|path| fs::read_to_string(path).expect("code"))
        .collect();
    let all: BTreeSet<PathBuf> = pages().into_values().flatten().collect();
    for path in all {
        let text = fs::read_to_string(&path).expect("a page");
        let name = path.display();
        for part in ["ource", "## Worked example", "Test"] {
            assert!(text.contains(part), "{name} lacks '{part}'");
        }
        assert!(
            text.contains("\n    "),
            "{name} has no formula or example set apart"
        );
        assert!(text.contains("kg/ha"), "{name} names no unit");
        // A test is named as `like_this` after the word.
        let named = text
            .split("Test")
            .skip(1)
            .filter_map(|after| after.split('`').nth(1));
        let mut tests = 0;
        for test in named {
            let there = match test.ends_with(".rs") {
                true => root().join(test).exists(),
                false => code.contains(&format!("fn {test}(")),
            };
            assert!(there, "{name}: there is no test '{test}'");
            tests += 1;
        }
        assert!(tests > 0, "{name} names no test");
    }
}
