//! Every language says everything: each folder `texts` in the source has a file for each language, with the keys, the lists and the
//! places of the English one. What is missing is told for all languages at once.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::job::Language;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Folders of texts by their names for people: `report` is `src/report/texts`, `texts` is `src/texts`.
fn folders() -> BTreeMap<String, PathBuf> {
    fn look(folder: &Path, found: &mut BTreeMap<String, PathBuf>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if !path.is_dir() {
                continue;
            }
            if path.join("en.toml").is_file() {
                let own = path
                    .strip_prefix(root().join("src"))
                    .expect("in the source");
                let parent = own.parent().filter(|parent| *parent != Path::new(""));
                let name = parent.unwrap_or(own).display().to_string();
                found.insert(name, path.clone());
            }
            look(&path, found);
        }
    }
    let mut found = BTreeMap::new();
    look(&root().join("src"), &mut found);
    found
}

/// Texts by key (`section.key`); entries of a list have their place in it behind the key.
fn texts(file: &Path) -> BTreeMap<String, String> {
    fn flat(value: &toml::Value, key: String, into: &mut BTreeMap<String, String>) {
        let below = |part: &str| match key.as_str() {
            "" => part.to_owned(),
            key => format!("{key}.{part}"),
        };
        match value {
            toml::Value::Table(table) => {
                for (part, value) in table {
                    flat(value, below(part), into);
                }
            }
            toml::Value::Array(list) => {
                for (nth, value) in list.iter().enumerate() {
                    flat(value, below(&nth.to_string()), into);
                }
            }
            value => {
                let text = value.as_str().expect("a text");
                into.insert(key, text.to_owned());
            }
        }
    }
    let text = fs::read_to_string(file).unwrap_or_default();
    let table: toml::Table = text
        .parse()
        .unwrap_or_else(|wrong| panic!("{}: {wrong}", file.display()));
    let mut found = BTreeMap::new();
    flat(&toml::Value::Table(table), String::new(), &mut found);
    found
}

/// What stands between braces, in order.
fn places(text: &str) -> Vec<&str> {
    let parts = text.split('{').skip(1);
    parts
        .filter_map(|part| part.split_once('}').map(|(place, _)| place))
        .collect()
}

/// Names of what is filled in: `{rate}`, `{rate:number}` and `{n|piece|pieces}` are `rate`, `rate` and `n`.
fn names(text: &str) -> BTreeSet<&str> {
    places(text)
        .into_iter()
        .map(|place| place.split(['|', ':']).next().unwrap_or(place))
        .collect()
}

/// Words without what is filled in.
fn has_words(text: &str) -> bool {
    let mut bare = text.to_owned();
    for place in places(text) {
        bare = bare.replace(&format!("{{{place}}}"), "");
    }
    bare.chars().any(char::is_alphabetic)
}

/// What a file of a language lacks, has too much, or says wrongly. `same`: keys whose text may be that of English.
fn faults(
    language: Language,
    english: &BTreeMap<String, String>,
    own: &BTreeMap<String, String>,
    same: &dyn Fn(&str) -> bool,
) -> Vec<String> {
    let mut faults = Vec::new();
    // Things that are counted have as many forms as the language knows.
    let has_few = language.forms() > 2;
    let few = |key: &str| key.strip_suffix("_few").map(|stem| format!("{stem}_many"));
    for (key, text) in english {
        let Some(found) = own.get(key) else {
            faults.push(format!("{key} is missing: {text:?}"));
            continue;
        };
        if names(found) != names(text) {
            faults.push(format!(
                "{key}: fills in {:?}, not {:?}",
                names(found),
                names(text)
            ));
        }
        if found.is_empty() && !text.is_empty() {
            faults.push(format!("{key} is empty: {text:?}"));
        }
        if found == text && language != Language::En && has_words(text) && !same(key) {
            faults.push(format!("{key} is as in English: {text:?}"));
        }
        let stem = key.strip_suffix("_one").filter(|_| has_few);
        if let Some(stem) = stem.filter(|stem| !own.contains_key(&format!("{stem}_few"))) {
            faults.push(format!("{stem}_few is missing: {text:?}"));
        }
    }
    for (key, text) in own {
        let of = few(key)
            .filter(|_| has_few)
            .and_then(|many| english.get(&many));
        match of {
            Some(many) if names(many) != names(text) => {
                faults.push(format!(
                    "{key}: fills in {:?}, not {:?}",
                    names(text),
                    names(many)
                ));
            }
            Some(_) => {}
            None if !english.contains_key(key) => {
                faults.push(format!("{key}: English has no such key"))
            }
            None => {}
        }
        for place in places(text).into_iter().filter(|place| place.contains('|')) {
            let forms = place.split('|').count() - 1;
            if forms != language.forms() {
                faults.push(format!(
                    "{key}: {{{place}}} has {forms} forms, not {}",
                    language.forms()
                ));
            }
        }
    }
    faults
}

#[test]
fn every_language_says_everything() {
    let list = fs::read_to_string(root().join("tests/languages_same.toml")).expect("the list");
    let list: BTreeMap<String, Vec<String>> = toml::from_str(&list).expect("lists of keys");
    let mut all = Vec::new();
    for (name, folder) in folders() {
        let english = texts(&folder.join("en.toml"));
        for language in Language::ALL {
            let tag = language.tag();
            let file = folder.join(format!("{tag}.toml"));
            let same = |key: &str| {
                let whole = format!("{name}/{key}");
                let lists = ["all", tag].into_iter().filter_map(|of| list.get(of));
                lists.flatten().any(|known| match known.strip_suffix('*') {
                    Some(start) => whole.starts_with(start),
                    None => *known == whole,
                })
            };
            let found = faults(language, &english, &texts(&file), &same);
            all.extend(found.iter().map(|fault| format!("{tag}: {name}/{fault}")));
        }
        for entry in fs::read_dir(&folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            let tag = path
                .file_stem()
                .and_then(|stem| stem.to_str())
                .unwrap_or_default();
            if path.extension().is_some_and(|of| of == "toml") && Language::of_tag(tag).is_none() {
                all.push(format!("{}: no language has this tag", path.display()));
            }
        }
    }
    assert!(all.is_empty(), "{} faults:\n{}", all.len(), all.join("\n"));
}

#[test]
fn the_check_finds_each_fault() {
    let table = |pairs: &[(&str, &str)]| -> BTreeMap<String, String> {
        pairs
            .iter()
            .map(|(key, text)| ((*key).to_owned(), (*text).to_owned()))
            .collect()
    };
    let english = table(&[
        ("a.gone", "Rate"),
        ("a.same", "Plan"),
        ("a.place", "{rate} of {name}"),
        ("a.bags_one", "{count} bag"),
        ("a.bags_many", "{count} bags"),
        ("a.pieces", "{n|piece|pieces}"),
        ("a.unit", "{low}–{high}"),
        ("a.empty", "Land"),
    ]);
    let polish = table(&[
        ("a.same", "Plan"),
        ("a.place", "{rate} z {nazwa}"),
        ("a.bags_one", "{count} worek"),
        ("a.bags_many", "{count} worków"),
        ("a.pieces", "{n|sztuka|sztuki}"),
        ("a.unit", "{low}–{high}"),
        ("a.empty", ""),
        ("a.new", "Nowe"),
    ]);
    let found = faults(Language::Pl, &english, &polish, &|_| false);
    for wanted in [
        "a.gone is missing",
        "a.same is as in English",
        "a.place: fills in",
        "a.bags_few is missing",
        "a.pieces: {n|sztuka|sztuki} has 2 forms, not 3",
        "a.empty is empty",
        "a.new: English has no such key",
    ] {
        assert_eq!(
            found.iter().filter(|fault| fault.contains(wanted)).count(),
            1,
            "{wanted}: {found:#?}"
        );
    }
    assert_eq!(found.len(), 7, "{found:#?}");
    assert!(faults(Language::Pl, &english, &polish, &|key| key == "a.same").len() == 6);
}
