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
        let job = parse(text).map_err(|fault| fault.to_string()).expect("a right job");
        let printed = job.print();
        let again = parse(&printed).map_err(|fault| format!("{fault}\n{printed}")).expect("printed job");
        assert_eq!(again, job);
        assert_eq!(again.print(), printed);
    }
}

#[test]
fn defaults_are_filled_in() {
    let text = WHOLE.replace("sections_m = [3, 3]\n", "").replace("cell_m = 6\nrim_m = 6\n", "");
    let text = text.split("[terminal]").next().unwrap_or("").replace("most_cells = 500000\n", "");
    let job = parse(&text).map_err(|fault| fault.to_string()).expect("a right job");
    assert_eq!(job.drill.sections_m, [6.0]);
    assert_eq!((job.grid.cell_m, job.grid.rim_m), (Some(6.0), Some(6.0)));
    assert_eq!(job.grid.most_cells, 1_000_000);
    assert_eq!(job.order.reserve_percent, 3.0);
    assert_eq!(job.terminal.position_lost, Fallback::BaseRate);
    let without_grid = parse(&text.replace("[grid]", "")).map_err(|fault| fault.to_string()).expect("a job");
    assert_eq!(without_grid.grid, job.grid, "a missing table has the defaults of an empty one");
    let narrow = text.replace("working_width_m = 6", "working_width_m = 3").replace("rows = 48", "rows = 24");
    let job = parse(&narrow).map_err(|fault| fault.to_string()).expect("a right job");
    assert_eq!((job.grid.cell_m, job.grid.rim_m), (Some(5.0), Some(3.0)), "a cell has at least 5 m");
}

#[test]
fn paths_start_from_the_folder_of_the_job() {
    let job = parse(WHOLE).map_err(|fault| fault.to_string()).expect("a right job");
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
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    let mut keys = 0;
    tables(&schema, &mut |name, table| {
        for (key, below) in table["properties"].as_object().into_iter().flatten() {
            keys += 1;
            let description = below["description"].as_str().unwrap_or("");
            assert!(!description.is_empty(), "{name}.{key} has no description");
            assert!(!below.to_string().contains("\"null\""), "{name}.{key}: TOML has no null");
        }
        if table["type"] == "object" {
            assert_eq!(table["additionalProperties"], false, "{name} accepts unknown keys");
        }
    });
    assert!(keys > 70, "only {keys} keys");
}

#[test]
fn jobs_validate_against_the_schema_and_broken_ones_do_not() {
    let validator = jsonschema::draft202012::new(&Job::schema()).expect("a valid schema");
    let json = |text: &str| -> Value { toml::from_str(text).expect("TOML") };
    let job = parse(WHOLE).map_err(|fault| fault.to_string()).expect("a right job");
    for text in [WHOLE, job.print().as_str()] {
        let errors: Vec<String> = validator.iter_errors(&json(text)).map(|error| error.to_string()).collect();
        assert_eq!(errors, [""; 0]);
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
        assert!(!validator.is_valid(&json(&WHOLE.replacen(part, by, 1))), "the schema accepts '{by}'");
    }
}
