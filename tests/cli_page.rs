//! The page about the commands shows their help as the program prints it, and the exit codes. To
//! write it anew: `TWINSOW_BLESS=1 cargo test --test cli_page`.

use std::fmt::Write as _;
use std::fs;
use std::process::Command;
use twinsow::cli::Exit;

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/commands.md");
const MARK: &str =
    "<!-- The rest of this page is made from the program by tests/cli_page.rs. -->\n";

fn help(command: &str) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args([command, "--help"])
        .env("NO_COLOR", "1")
        .env_remove("COLUMNS")
        .output()
        .expect("the program starts");
    let text = String::from_utf8(output.stdout)
        .expect("UTF-8")
        .replace("\r\n", "\n")
        .replace(".exe", "");
    text.lines()
        .map(|line| format!("{}\n", line.trim_end()))
        .collect()
}

#[test]
fn the_page_shows_the_help_of_every_command() {
    let page = fs::read_to_string(PAGE)
        .expect("docs/commands.md")
        .replace("\r\n", "\n");
    let (words, helps) = page.split_once(MARK).expect("the mark");
    let mut wanted = String::new();
    for command in [
        "plan",
        "edit",
        "explain",
        "demo",
        "new",
        "describe",
        "zones",
        "counting",
        "establishment",
        "harvest",
        "ledger",
        "calibrate",
        "order",
        "week",
        "reissue",
        "stick",
        "contents",
        "audit",
        "compare",
        "card",
        "stream",
        "completions",
        "man",
        "schema",
    ] {
        let _ = write!(
            wanted,
            "\n## `twinsow {command}`\n\n```text\n{}```\n",
            help(command)
        );
    }
    if std::env::var_os("TWINSOW_BLESS").is_some() {
        fs::write(PAGE, format!("{words}{MARK}{wanted}")).expect("the page is written");
        return;
    }
    assert!(
        helps == wanted,
        "docs/commands.md is out of date; run with TWINSOW_BLESS=1"
    );
}

#[test]
fn the_page_names_every_exit_code() {
    let page = fs::read_to_string(PAGE).expect("docs/commands.md");
    for exit in [Exit::Done, Exit::Decide, Exit::Input, Exit::Machine] {
        let row = format!("| {} | {}", u8::from(exit), exit.words());
        assert!(page.contains(&row), "'{row}' is not on the page");
    }
}
