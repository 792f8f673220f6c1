//! The page about crops lists every published range, as the table in the program has it. To write the list anew:
//! `TWINSOW_BLESS=1 cargo test --test crop_page`.

use std::fmt::Write as _;
use std::fs;
use twinsow::agronomy::crop_list;
use twinsow::agronomy::crops::{Quantity, published};

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/methods/crops.md");
const MARK: &str = "<!-- The rest of this page is made from the table by tests/crop_page.rs. -->\n";

#[test]
fn the_page_lists_every_range() {
    let page = fs::read_to_string(PAGE)
        .expect("docs/methods/crops.md")
        .replace("\r\n", "\n");
    let (words, list) = page.split_once(MARK).expect("the mark");
    let wanted = list_of_all();
    if std::env::var_os("TWINSOW_BLESS").is_some() {
        fs::write(PAGE, format!("{words}{MARK}{wanted}")).expect("the page is written");
        return;
    }
    assert!(
        list == wanted,
        "docs/methods/crops.md is out of date; run with TWINSOW_BLESS=1"
    );
}

fn list_of_all() -> String {
    let all = published().expect("the table");
    let ranges: usize = all.crops.iter().map(|crop| crop.ranges.len()).sum();
    let mut page = format!(
        "\n{} crops, {ranges} published values, {} sources.\n",
        all.crops.len(),
        all.sources.len()
    );
    let mut group = "";
    for crop in &all.crops {
        if crop.group != group {
            group = &crop.group;
            let _ = writeln!(page, "\n## {}{}", group[..1].to_uppercase(), &group[1..]);
        }
        let also: Vec<&str> = crop_list::all()
            .filter(|own| all.crop(own.name()).map(|held| held.crop) == Some(crop.crop))
            .flat_map(|own| own.words().iter().copied())
            .filter(|word| *word != crop.name())
            .collect();
        let also = match also.is_empty() {
            true => String::new(),
            false => format!(" ({})", also.join(", ")),
        };
        let _ = writeln!(page, "\n### {}{also}\n", crop.name());
        if crop.ranges.is_empty() {
            page.push_str("Nothing found in print yet.\n");
            continue;
        }
        page.push_str("| what | printed | source | where |\n| --- | --- | --- | --- |\n");
        for quantity in Quantity::ALL {
            let (what, unit) = quantity.words();
            for range in crop.of(quantity) {
                let source = all.source(range).expect("a source");
                let [least, most] = range.span().map(short);
                let own = match least == most {
                    true => least,
                    false => format!("{least} to {most}"),
                };
                let printed = range.as_printed();
                let printed =
                    match printed.starts_with("at least") || printed == format!("{own} {unit}") {
                        true => printed,
                        false => format!("{printed} = {own} {unit}"),
                    };
                let _ = writeln!(
                    page,
                    "| {what} | {printed} | {}: {} | {} |",
                    source.publisher, source.title, range.at
                );
            }
        }
    }
    page.push_str("\n## Sources\n\n| publisher | title | year | country | address |\n| --- | --- | --- | --- | --- |\n");
    for source in all.sources.values() {
        let _ = writeln!(
            page,
            "| {} | {} | {} | {} | {} |",
            source.publisher, source.title, source.year, source.country, source.address
        );
    }
    page
}

/// Three figures.
fn short(value: f64) -> String {
    let decimals = match value {
        small if small < 1.0 => 3,
        small if small < 10.0 => 2,
        small if small < 100.0 => 1,
        _ => 0,
    };
    let text = format!("{value:.decimals$}");
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}
