//! The page that lists every published figure is made from the files themselves. To write the list anew:
//! `TWINSOW_BLESS=1 cargo test --test published`.

use super::{files, reader};
use std::fmt::Write as _;
use std::fs;

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/methods/check-values.md");
const MARK: &str =
    "<!-- The rest of this page is made from testdata/published by tests/published. -->\n";

#[test]
fn the_page_lists_every_figure() {
    let page = fs::read_to_string(PAGE).expect("docs/methods/check-values.md");
    let page = page.replace("\r\n", "\n");
    let (words, list) = page.split_once(MARK).expect("the mark");
    let mut wanted = String::new();
    for file in files() {
        let text = fs::read_to_string(&file).expect("a readable file");
        let name = file
            .file_name()
            .map(|name| name.to_string_lossy().into_owned());
        let name = name.unwrap_or_default();
        let checks = reader::parse(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        let _ = writeln!(
            wanted,
            "\n## {name}\n\n| check | published | within | unit | status | source and note |\n| --- | --- | --- | --- | --- | --- |"
        );
        for check in checks {
            let answers: Vec<String> = check
                .cases
                .iter()
                .map(|case| case.answer.to_string())
                .collect();
            let said = match check.note.is_empty() {
                true => check.source,
                false => format!("{}. {}", check.source.trim_end_matches('.'), check.note),
            };
            let _ = writeln!(
                wanted,
                "| {} | {} | {} | {} | {} | {} |",
                check.id,
                answers.join(", "),
                check.tolerance,
                check.unit,
                check.status,
                said.replace('|', "\\|")
            );
        }
    }
    if std::env::var_os("TWINSOW_BLESS").is_some() {
        fs::write(PAGE, format!("{words}{MARK}{wanted}")).expect("the page is written");
        return;
    }
    assert!(
        list == wanted,
        "docs/methods/check-values.md is out of date; run with TWINSOW_BLESS=1"
    );
}
