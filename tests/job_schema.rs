//! The job file, its schema, its printed form and its page say the same.

mod job_support;

use job_support::{WHOLE, parse};
use serde_json::Value;
use twinsow::job::{Fallback, Job};

#[test]
fn a_printed_job_parses_back_to_itself() {
    let small = r#"
        name = "n"
        field = { name = "f", boundary = { file = "b.geojson" } }
        [drill]
        working_width_m = 3
        hopper = [{ name = "a", usable_l = 500 }]
        [[product]]
        id = "p"
        name = "p"
        kind = "seed"
        hopper = "a"
        rate = { kg_per_ha = 120.5 }
    "#;
    for text in [WHOLE, small] {
        let job = parse(text)
            .map_err(|fault| fault.to_string())
            .expect("a right job");
        let printed = job.print().expect("printed");
        let again = parse(&printed)
            .map_err(|fault| format!("{fault}\n{printed}"))
            .expect("printed job");
        assert_eq!(again, job);
        assert_eq!(again.print().expect("printed"), printed);
    }
}

#[test]
fn defaults_are_filled_in() {
    let text = WHOLE
        .replace("sections_m = [3, 3]\n", "")
        .replace("cell_m = 6\nrim_m = 6\n", "");
    let text = text
        .split("[terminal]")
        .next()
        .unwrap_or("")
        .replace("most_cells = 500000\n", "");
    let job = parse(&text)
        .map_err(|fault| fault.to_string())
        .expect("a right job");
    assert_eq!(job.drill.sections_m, [6.0]);
    assert_eq!((job.grid.cell_m, job.grid.rim_m), (Some(6.0), Some(6.0)));
    assert_eq!(job.grid.most_cells, 1_000_000);
    assert_eq!(job.order.reserve_percent, 3.0);
    assert_eq!(job.terminal.position_lost, Fallback::BaseRate);
    let without_grid = parse(&text.replace("[grid]", ""))
        .map_err(|fault| fault.to_string())
        .expect("a job");
    assert_eq!(
        without_grid.grid, job.grid,
        "a missing table has the defaults of an empty one"
    );
    let narrow = text
        .replace("working_width_m = 6", "working_width_m = 3")
        .replace("rows = 48", "rows = 24");
    let job = parse(&narrow)
        .map_err(|fault| fault.to_string())
        .expect("a right job");
    assert_eq!(
        (job.grid.cell_m, job.grid.rim_m),
        (Some(5.0), Some(3.0)),
        "a cell has at least 5 m"
    );
}

#[test]
fn paths_start_from_the_folder_of_the_job() {
    let job = parse(WHOLE)
        .map_err(|fault| fault.to_string())
        .expect("a right job");
    assert_eq!(job.folder, std::path::Path::new("farm"));
    assert_eq!(job.file, std::path::Path::new("farm/job.toml"));
}

/// Calls `each` with every table of keys in the schema: its name and its schema.
fn tables(schema: &Value, each: &mut dyn FnMut(&str, &Value)) {
    each("Job", schema);
    for (name, table) in schema["$defs"].as_object().expect("definitions") {
        each(name, table);
    }
}

#[test]
fn the_schema_is_a_2020_12_schema_with_a_description_for_every_key() {
    let schema = Job::schema();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    let mut keys = 0;
    tables(&schema, &mut |name, table| {
        for (key, below) in table["properties"].as_object().into_iter().flatten() {
            keys += 1;
            let description = below["description"].as_str().unwrap_or("");
            assert!(!description.is_empty(), "{name}.{key} has no description");
            assert!(
                !below.to_string().contains("\"null\""),
                "{name}.{key}: TOML has no null"
            );
        }
        if table["type"] == "object" {
            assert_eq!(
                table["additionalProperties"], false,
                "{name} accepts unknown keys"
            );
        }
    });
    assert!(keys > 70, "only {keys} keys");
}

/// Validation by the keywords of JSON Schema 2020-12 that the schema uses, written from the
/// specification and independent of the program; an unknown keyword fails. What is invalid, if any.
fn invalid(value: &Value, schema: &Value, root: &Value) -> Option<String> {
    let all =
        |values: Vec<(&Value, &Value)>| values.into_iter().find_map(|(v, s)| invalid(v, s, root));
    let length = |value: &Value| match value {
        Value::String(text) => Some(text.chars().count() as u64),
        _ => None,
    };
    for (keyword, limit) in schema.as_object()? {
        let number = |holds: fn(f64, f64) -> bool| match (value.as_f64(), limit.as_f64()) {
            (Some(value), Some(limit)) => holds(value, limit),
            _ => true,
        };
        let items = value.as_array().map(Vec::len).map(|n| n as u64);
        let right = match keyword.as_str() {
            "$schema" | "$defs" | "title" | "description" | "default" | "format" => true,
            "$ref" => {
                let target = root
                    .pointer(limit.as_str()?.trim_start_matches('#'))
                    .expect("a target");
                invalid(value, target, root).is_none()
            }
            "anyOf" => limit
                .as_array()?
                .iter()
                .any(|choice| invalid(value, choice, root).is_none()),
            "oneOf" => {
                limit
                    .as_array()?
                    .iter()
                    .filter(|choice| invalid(value, choice, root).is_none())
                    .count()
                    == 1
            }
            "enum" => limit.as_array()?.contains(value),
            "const" => limit == value,
            "type" => match limit.as_str().expect("one type") {
                "object" => value.is_object(),
                "array" => value.is_array(),
                "string" => value.is_string(),
                "boolean" => value.is_boolean(),
                "number" => value.is_number(),
                "integer" => value.as_f64().is_some_and(|number| number.fract() == 0.0),
                other => panic!("unknown type {other}"),
            },
            "minimum" => number(|value, limit| value >= limit),
            "exclusiveMinimum" => number(|value, limit| value > limit),
            "maximum" => number(|value, limit| value <= limit),
            "minLength" => length(value).is_none_or(|n| n >= limit.as_u64().unwrap_or(0)),
            "maxLength" => length(value).is_none_or(|n| n <= limit.as_u64().unwrap_or(0)),
            "minItems" => items.is_none_or(|n| n >= limit.as_u64().unwrap_or(0)),
            "maxItems" => items.is_none_or(|n| n <= limit.as_u64().unwrap_or(0)),
            "pattern" => {
                assert_eq!(limit, "^[a-z0-9_-]+$");
                let fits =
                    |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "_-".contains(c);
                value
                    .as_str()
                    .is_none_or(|text| !text.is_empty() && text.chars().all(fits))
            }
            "items" => match value.as_array() {
                Some(items) => all(items.iter().map(|item| (item, limit)).collect()).is_none(),
                None => true,
            },
            "required" => value.as_object().is_none_or(|object| {
                limit
                    .as_array()
                    .into_iter()
                    .flatten()
                    .all(|key| object.contains_key(key.as_str().unwrap_or("")))
            }),
            "properties" => value.as_object().is_none_or(|object| {
                let given = object
                    .iter()
                    .filter_map(|(key, value)| Some((value, limit.get(key)?)));
                all(given.collect()).is_none()
            }),
            "additionalProperties" => value.as_object().is_none_or(|object| {
                let known = schema.get("properties").and_then(Value::as_object);
                let mut more = object
                    .iter()
                    .filter(|(key, _)| known.is_none_or(|k| !k.contains_key(*key)));
                match limit {
                    Value::Bool(allowed) => *allowed || more.next().is_none(),
                    limit => more.all(|(_, value)| invalid(value, limit, root).is_none()),
                }
            }),
            other => panic!("the check does not know the keyword {other}"),
        };
        if !right {
            return Some(format!("{value} against {keyword}: {limit}"));
        }
    }
    None
}

#[test]
fn jobs_validate_against_the_schema_and_broken_ones_do_not() {
    let schema = Job::schema();
    let json = |text: &str| -> Value { toml::from_str(text).expect("TOML") };
    let job = parse(WHOLE)
        .map_err(|fault| fault.to_string())
        .expect("a right job");
    for text in [WHOLE, job.print().expect("printed").as_str()] {
        assert_eq!(invalid(&json(text), &schema, &schema), None);
    }
    for (part, by) in [
        ("rows = 48", "row = 48"),
        ("working_width_m = 6", "working_width_m = 600"),
        ("kind = \"seed\"", "kind = \"sed\""),
        ("plants_per_m2 = 280", "plants_per_m2 = \"280\""),
        ("plants_per_m2 = 280", "plants_per_m2 = -280"),
        ("barley = 115", "barley = 1150"),
        ("id = \"barley\"", "id = \"Barley\""),
        ("step_kg_per_ha = 1", "step_kg_per_ha = 0"),
        ("name = \"Long Furrow\"\n", ""),
    ] {
        let broken = json(&WHOLE.replacen(part, by, 1));
        assert!(
            invalid(&broken, &schema, &schema).is_some(),
            "the schema accepts '{by}'"
        );
    }
}

/// Every job in `examples` is a right one, by the program and by the schema.
#[test]
fn the_examples_are_right_jobs() {
    let examples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let schema = Job::schema();
    let mut jobs = 0;
    for folder in std::fs::read_dir(examples).expect("examples") {
        let folder = folder.expect("a folder").path();
        for file in std::fs::read_dir(folder).expect("a folder") {
            let file = file.expect("a file").path();
            if file.extension().is_none_or(|extension| extension != "toml") {
                continue;
            }
            jobs += 1;
            Job::load(&file)
                .map_err(|fault| fault.to_string())
                .expect("a right job");
            let text = std::fs::read_to_string(&file).expect("text");
            let value: Value = toml::from_str(&text).expect("TOML");
            assert_eq!(
                invalid(&value, &schema, &schema),
                None,
                "{}",
                file.display()
            );
        }
    }
    assert!(jobs >= 1);
}
