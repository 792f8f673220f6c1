//! The page: its files, compiled in.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use std::sync::OnceLock;

/// A file of the page.
pub struct Asset {
    /// Its path, from the root.
    pub path: &'static str,
    /// What it is.
    pub media_type: &'static str,
    /// Its bytes.
    pub bytes: &'static [u8],
}

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const SVG: &str = "image/svg+xml";

/// A file of `page/` under its own name.
macro_rules! asset {
    ($media_type:expr, $name:literal) => {
        Asset {
            path: concat!("/", $name),
            media_type: $media_type,
            bytes: include_bytes!(concat!("page/", $name)),
        }
    };
}

/// All files of the page; `/` is the page itself.
pub const ASSETS: &[Asset] = &[
    Asset {
        path: "/",
        ..asset!(HTML, "page.html")
    },
    asset!(SVG, "icon.svg"),
    asset!(CSS, "style.css"),
    asset!(CSS, "parts.css"),
    asset!(SCRIPT, "aloud.js"),
    asset!(SCRIPT, "begin.js"),
    asset!(SCRIPT, "begin_map.js"),
    asset!(SCRIPT, "beside_seed.js"),
    asset!(SCRIPT, "catch.js"),
    asset!(SCRIPT, "choices.js"),
    asset!(SCRIPT, "draw.js"),
    asset!(SCRIPT, "drawing.js"),
    asset!(SCRIPT, "drawing_panel.js"),
    asset!(SCRIPT, "engine.js"),
    asset!(SCRIPT, "farm.js"),
    asset!(SCRIPT, "farm_many.js"),
    asset!(SCRIPT, "farm_map.js"),
    asset!(SCRIPT, "field.js"),
    asset!(SCRIPT, "files.js"),
    asset!(SCRIPT, "ground_maps.js"),
    asset!(SCRIPT, "hand.js"),
    asset!(SCRIPT, "hatch.js"),
    asset!(SCRIPT, "here.js"),
    asset!(SCRIPT, "keep.js"),
    asset!(SCRIPT, "land_map.js"),
    asset!(SCRIPT, "legend.js"),
    asset!(SCRIPT, "list_form.js"),
    asset!(SCRIPT, "lookup.js"),
    asset!(SCRIPT, "make.js"),
    asset!(SCRIPT, "map.js"),
    asset!(SCRIPT, "maps.js"),
    asset!(SCRIPT, "mixture.js"),
    asset!(SCRIPT, "names.js"),
    asset!(SCRIPT, "notices.js"),
    asset!(SCRIPT, "others.js"),
    asset!(SCRIPT, "part_bags.js"),
    asset!(SCRIPT, "part_bouts.js"),
    asset!(SCRIPT, "part_clear.js"),
    asset!(SCRIPT, "part_farm.js"),
    asset!(SCRIPT, "part_ground.js"),
    asset!(SCRIPT, "part_handover.js"),
    asset!(SCRIPT, "part_rates.js"),
    asset!(SCRIPT, "part_settle.js"),
    asset!(SCRIPT, "parts.js"),
    asset!(SCRIPT, "samples.js"),
    asset!(SCRIPT, "scene.js"),
    asset!(SCRIPT, "seedbeds.js"),
    asset!(SCRIPT, "shapes.js"),
    asset!(SCRIPT, "sketch.js"),
    asset!(SCRIPT, "spreader_form.js"),
    asset!(SCRIPT, "start.js"),
    asset!(SCRIPT, "state.js"),
    asset!(SCRIPT, "sums.js"),
    asset!(SCRIPT, "tip.js"),
    asset!(SCRIPT, "tools.js"),
    asset!(SCRIPT, "top.js"),
    asset!(SCRIPT, "trials.js"),
    asset!(SCRIPT, "view.js"),
    asset!(SCRIPT, "words.js"),
    asset!(SCRIPT, "zones.js"),
];

/// The words of the page in a language, by section and key, in TOML.
pub fn source(language: Language) -> &'static str {
    crate::texts::files(language).page
}

/// The same as values. `tests/languages.rs` holds every file to the English one.
///
/// # Errors
/// A file of texts that is no TOML, which is the program's own fault.
pub fn texts(language: Language) -> Outcome<serde_json::Value> {
    toml::from_str(source(language)).map_err(|error| {
        Fault::program(
            "edit.texts",
            Place::nowhere(),
            format!("the texts of the page cannot be read: {error}"),
            "a TOML file of texts",
        )
    })
}

/// What the page calls a key of the job file, in English, as faults and the names of actions are; the key itself where it has no
/// word for it.
pub fn field_name(key: &str) -> &str {
    static NAMES: OnceLock<toml::Table> = OnceLock::new();
    let texts = NAMES.get_or_init(|| toml::from_str(source(Language::En)).unwrap_or_default());
    let name = texts
        .get("fields")
        .and_then(|fields| fields.get(key)?.as_str());
    name.unwrap_or(key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_key_has_the_name_that_the_page_has_for_it() {
        assert_eq!(field_name("crop"), "Species");
        assert_eq!(field_name("no_such_key"), "no_such_key");
    }

    /// A script that is not in the list would be missing only in the browser.
    #[test]
    fn every_file_of_the_page_is_in_the_list() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/edit/page");
        let there = std::fs::read_dir(folder).unwrap();
        let there = there.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let listed = ASSETS.iter().map(|asset| match asset.path {
            "/" => "page.html".to_owned(),
            path => path.trim_start_matches('/').to_owned(),
        });
        assert_eq!(
            listed.collect::<BTreeSet<_>>(),
            there.collect::<BTreeSet<_>>()
        );
    }

    /// A text that is missing would show its key, and that only in the browser.
    #[test]
    fn every_text_that_a_script_names_is_there() {
        let texts: toml::Table = toml::from_str(source(Language::En)).unwrap();
        let has = |key: &str| {
            let found = key
                .split_once('.')
                .and_then(|(section, key)| texts.get(section)?.get(key));
            found.is_some_and(toml::Value::is_str)
        };
        let mut named = 0;
        for asset in ASSETS.iter().filter(|asset| asset.media_type == SCRIPT) {
            let script = std::str::from_utf8(asset.bytes).unwrap();
            for (call, endings) in [("say(\"", &[""][..]), ("count(\"", &["_one", "_many"])] {
                for after in script.split(call).skip(1) {
                    let key = after.split('"').next().unwrap();
                    for ending in endings {
                        assert!(
                            has(&format!("{key}{ending}")),
                            "{}: {key}{ending}",
                            asset.path
                        );
                        named += 1;
                    }
                }
            }
        }
        assert!(named > 100, "only {named} texts are named");
    }
}
