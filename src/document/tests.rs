use super::*;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// The key of a part as the document's schema has it.
fn same(
    part: &Value,
    whole: &Value,
    from: (&Value, &Value),
    at: &str,
    seen: &mut BTreeSet<String>,
) {
    let (part_root, whole_root) = from;
    let target = |schema: &Value, root: &Value| {
        let name = schema
            .get("$ref")?
            .as_str()?
            .trim_start_matches('#')
            .to_owned();
        let target = root.pointer(&name).expect("a target").clone();
        Some((name, target))
    };
    match (target(part, part_root), target(whole, whole_root)) {
        (Some((name, part)), Some((other, whole))) => {
            assert_eq!(name, other, "{at}");
            if seen.insert(name) {
                same(&part, &whole, from, at, seen);
            }
        }
        (None, None) => match (part, whole) {
            (Value::Object(part), Value::Object(whole)) => {
                for (key, value) in part {
                    // Titles name the type; a part says by itself what it needs.
                    if !matches!(key.as_str(), "title" | "description" | "required" | "$defs") {
                        let at = format!("{at}/{key}");
                        same(value, whole.get(key).expect(&at), from, &at, seen);
                    }
                }
            }
            _ => assert_eq!(part, whole, "{at}"),
        },
        _ => panic!("{at}"),
    }
}

#[test]
fn what_a_command_reads_is_a_part_of_what_is_written() {
    let whole = PlanDocument::schema();
    let read = |root: schemars::Schema| {
        let mut root = root.to_value();
        super::open(&mut root);
        let keys = root["properties"].as_object().expect("keys").len();
        same(
            &root.clone(),
            &whole,
            (&root, &whole),
            "",
            &mut BTreeSet::new(),
        );
        keys
    };
    let generator = || {
        SchemaSettings::draft2020_12()
            .for_serialize()
            .into_generator()
    };
    let keys = [
        read(generator().into_root_schema_for::<ToAudit>()),
        read(generator().into_root_schema_for::<ToCompare>()),
        read(generator().into_root_schema_for::<ToOrder>()),
        read(generator().into_root_schema_for::<ToStick>()),
    ];
    assert_eq!(keys, [11, 8, 6, 11]);
}

#[test]
fn every_key_is_described() {
    let schema = PlanDocument::schema();
    let mut keys = 0;
    let definitions = schema["$defs"].as_object().expect("definitions");
    for (name, table) in definitions
        .iter()
        .chain([(&"the document".to_owned(), &schema)])
    {
        let numbered = name.ends_with(|last: char| last.is_ascii_digit());
        assert!(!numbered, "{name}: two types of one name");
        for (key, below) in table["properties"].as_object().into_iter().flatten() {
            keys += 1;
            let description = below["description"].as_str().unwrap_or("");
            assert!(!description.is_empty(), "{name}.{key} has no description");
        }
    }
    assert!(keys > 300, "only {keys} keys");
}

#[test]
fn the_page_names_every_key_of_the_top() {
    let page = include_str!("../../docs/formats/plan-json.md");
    let schema = PlanDocument::schema();
    for (key, _) in schema["properties"].as_object().expect("keys") {
        let named = [format!("`{key}`"), format!("`{key}."), format!("\"{key}\"")];
        assert!(named.iter().any(|word| page.contains(word)), "{key}");
    }
}

/// What reading a file with this text says.
fn refused(text: &str) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("plan.json");
    fs::write(&path, text).expect("a file");
    let fault = read::<ToOrder>(folder.path()).expect_err("no plan");
    assert_eq!(fault.place.file, Some(path.display().to_string()));
    assert!(!fault.allowed.is_empty() && !fault.next.is_empty());
    fault.found
}

#[test]
fn what_is_no_plan_of_this_version_is_refused_by_name() {
    for (text, found) in [
        ("", "no JSON"),
        (r#"{"format": "twinsow-plan", "#, "no JSON"),
        ("[1, 2]", "no plan of this program"),
        (r#"{"type": "FeatureCollection"}"#, "no key 'format'"),
        (
            r#"{"format": "other", "version": 1}"#,
            "its format is 'other'",
        ),
        (r#"{"format": "twinsow-plan"}"#, "it has no version"),
        (
            r#"{"format": "twinsow-plan", "version": "1"}"#,
            "no plan of this program",
        ),
        (
            r#"{"format": "twinsow-plan", "version": 0}"#,
            "version 0, older than",
        ),
        (
            r#"{"format": "twinsow-plan", "version": 2, "made_by": "twinsow 9.0"}"#,
            "version 2, newer than what this program reads; twinsow 9.0 has made it",
        ),
        (
            r#"{"format": "twinsow-plan", "version": 1, "id": "abc123"}"#,
            "in the outermost object, missing field `job`",
        ),
        (
            r#"{"format": "twinsow-plan", "version": 1, "findings": [{"code": "a.b", "severity": "note", "place": {"line": "x"}}]}"#,
            "in 'findings[0].place.line', invalid type",
        ),
    ] {
        let said = refused(text);
        assert!(said.contains(found), "{text}\n{said}");
    }
    let nowhere = read::<ToOrder>(Path::new("no/such/plan.json")).expect_err("no file");
    assert!(nowhere.found.contains("cannot be read"), "{nowhere}");
}
