//! No control flow looks into English text: what a message says may be put better at any time.
//!
//! The check reads the source without line breaks, comments and tests, and looks for a part of a message, a fault or a
//! finding that is searched or held against a text. What it cannot see: a text that went through a variable of
//! another name first, and a comparison with a constant. Names of rules, steps and causes are enums, so that the
//! compiler sees to these.

use std::fs;
use std::path::{Path, PathBuf};

/// What people read.
const TEXTS: [&str; 9] = [
    ".found",
    ".allowed",
    ".next",
    ".text",
    ".message",
    ".message()",
    "message",
    "error.to_string()",
    "fault.to_string()",
];
/// Stable ids: not English, but something better decides.
const IDS: [&str; 1] = [".code"];
const LOOKS: [&str; 11] = [
    "==\"",
    "!=\"",
    ".as_str()==\"",
    ".contains(",
    ".starts_with(",
    ".ends_with(",
    ".find(",
    ".matches(",
    ".strip_prefix(",
    ".strip_suffix(",
    ".split_once(",
];
/// Where it is right all the same.
const ALLOWED: [(&str, &str); 2] = [
    // The toml crate has no other way to say which of its errors it is.
    ("job/tree.rs", ".message().starts_with("),
    // Two codes of faults for which a question can be asked; the fault itself is told first.
    ("cli/new/questions.rs", "match fault.code{"),
];

/// What in a source is held against a text.
fn held_against(source: &str) -> Vec<String> {
    let lines = source
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"));
    let is_name = |c: char| c.is_alphanumeric() || c == '_';
    let mut close = String::new();
    for word in lines.flat_map(str::split_whitespace) {
        // Two names stay two.
        if close.ends_with(is_name) && word.starts_with(is_name) {
            close.push(' ');
        }
        close.push_str(word);
    }
    let source = close;
    let looked = TEXTS.iter().chain(&IDS).flat_map(|text| {
        let looks = LOOKS.iter().map(move |look| format!("{text}{look}"));
        looks.chain([format!("{text}{{\""), format!("{text}.as_str(){{\"")])
    });
    let in_source = |needle: &String| {
        source.match_indices(needle.as_str()).any(|(at, _)| {
            let before = source[..at].chars().next_back();
            // `message` is a name of its own.
            needle.starts_with(['.', 'e', 'f']) || !before.is_some_and(|c| is_name(c) || c == '.')
        })
    };
    let mut found: Vec<String> = looked.filter(in_source).collect();
    for (at, _) in source.match_indices("match ") {
        let head = source[at..].split(['{', ';']).next().unwrap_or_default();
        if head.ends_with(".code") {
            found.push(format!("{head}{{"));
        }
    }
    found
}

/// A source without the module of tests at its end.
fn without_tests(source: &str) -> &str {
    let end = source.find("#[cfg(test)]\nmod tests {");
    &source[..end.unwrap_or(source.len())]
}

/// The files that are in the program: modules for tests alone are left out.
fn rust_files(folder: &Path, files: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    let mut sources = vec![folder.join("mod.rs"), folder.join("lib.rs")];
    sources.push(folder.with_extension("rs"));
    let declared: String = sources
        .iter()
        .filter_map(|file| fs::read_to_string(file).ok())
        .collect();
    for path in entries {
        let module = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let is_test = declared.contains(&format!("#[cfg(test)]\nmod {module};"));
        if is_test || module.ends_with("_tests") {
            continue;
        }
        if path.is_dir() {
            rust_files(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
}

#[test]
fn no_text_for_people_decides_anything() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    assert!(files.len() > 300, "{} files", files.len());
    let mut found = Vec::new();
    for file in &files {
        let name = file.strip_prefix(&src).unwrap().to_str().unwrap();
        let source = fs::read_to_string(file).unwrap();
        for held in held_against(without_tests(&source)) {
            found.push((name.to_owned(), held));
        }
    }
    let allowed = ALLOWED.map(|(name, held)| (name.to_owned(), held.to_owned()));
    let more: Vec<_> = found.iter().filter(|one| !allowed.contains(one)).collect();
    assert!(more.is_empty(), "{more:#?}");
    let gone: Vec<_> = allowed.iter().filter(|one| !found.contains(one)).collect();
    assert!(gone.is_empty(), "needless exceptions: {gone:#?}");
}

/// The check itself: each of these is seen, and none of those.
#[test]
fn the_check_sees_what_it_should() {
    for seen in [
        "if let Some(at) = fault.next.find(\" (more to correct\") {}",
        "own.any(|found| found.text.contains(SHIFTED))",
        "if message.contains(\"duplicate key\") {}",
        "let types = message\n    .strip_prefix(\"invalid type: \");",
        "finding.code == \"drill.no_rotor\"",
        "match fault.code {",
        "match error.message() { \"no\" => 1 }",
        "error.to_string().starts_with(\"x\")",
    ] {
        assert_eq!(held_against(seen).len(), 1, "{seen}");
    }
    for passed in [
        "// fault.next.find(\"x\")",
        "finding.code == code",
        "let text = message.replace('\\n', \" \");",
        "words.contains(\"key\")",
        "the_message.contains(\"key\")",
    ] {
        assert_eq!(held_against(passed), Vec::<String>::new(), "{passed}");
    }
}
