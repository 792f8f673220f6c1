//! The program as a user runs it: help, exit codes, faults, pipes.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn twinsow(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the program starts")
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder")
}

/// A square of 0.001 by 0.001 degrees in two halves, on the equator; and its boundary.
fn write_field(folder: &Path) {
    let polygon = |west: f64, east: f64, attributes: &str| {
        format!(
            r#"{{"type":"Feature","properties":{attributes},"geometry":{{"type":"Polygon","coordinates":[[[{west},0],[{east},0],[{east},0.001],[{west},0.001],[{west},0]]]}}}}"#
        )
    };
    let collection = |features: &[String]| {
        format!(
            r#"{{"type":"FeatureCollection","features":[{}]}}"#,
            features.join(",")
        )
    };
    let boundary = collection(&[polygon(0.0, 0.001, r#"{"name":"Plain Square"}"#)]);
    let soil = collection(&[
        polygon(0.0, 0.0004, r#"{"fid":1,"texture":"sand \"light\""}"#),
        polygon(0.0004, 0.001, r#"{"fid":2,"texture":"loam"}"#),
    ]);
    fs::write(folder.join("boundary.geojson"), boundary).expect("written");
    fs::write(folder.join("soil.geojson"), soil).expect("written");
}

#[test]
fn help_shows_examples_for_every_command() {
    let folder = folder();
    let top = twinsow(folder.path(), &["--help"]);
    assert_eq!(code(&top), Some(0));
    assert!(out(&top).contains("Exit codes:"), "{}", out(&top));
    for command in ["plan", "demo", "new", "describe", "calibrate", "order"] {
        let help = twinsow(folder.path(), &[command, "--help"]);
        assert_eq!(code(&help), Some(0));
        assert!(
            out(&help).contains(&format!("Examples:\n  twinsow {command}")),
            "{}",
            out(&help)
        );
        assert!(!out(&help).contains('\u{1b}'), "NO_COLOR is set");
    }
}

#[test]
fn wrong_arguments_are_the_inputs_fault() {
    let folder = folder();
    for args in [
        &["plam"][..],
        &["plan"],
        &["plan", "--thread", "2", "job.toml"],
        &["plan", "--threads", "0", "j.toml"],
    ] {
        let output = twinsow(folder.path(), args);
        assert_eq!(code(&output), Some(2), "{args:?}");
        assert!(
            out(&output).is_empty() && !err(&output).is_empty(),
            "{args:?}"
        );
    }
    assert!(err(&twinsow(folder.path(), &["plam"])).contains("'plan'"));
    // A number below 0, and one that a shell has cut off at a blank.
    for (args, part) in [
        (
            &["explain", "j.toml", "--at", "2.4,", "-54.7"][..],
            "together: 2.4,-54.7",
        ),
        (
            &["explain", "j.toml", "--at", "2.4,", "54.7"],
            "together: 2.4,54.7",
        ),
        (
            &["explain", "j.toml", "--at", "-190, 54.7"],
            "--at is '-190, 54.7'",
        ),
        (
            &["compare", "p", "t", "--loaded", "seed=", "-5"],
            "together: seed=-5",
        ),
        (
            &["compare", "p", "t", "--loaded", "seed=-5"],
            "kilograms from 0 up",
        ),
        (
            &["compare", "p", "t", "--rest", "j.toml", "--behind", "-3"],
            "0 to 50 m",
        ),
        (
            &[
                "week",
                "p",
                "--from",
                "2026-03-20",
                "--yard",
                "-2,5",
                "--fill-min",
                "-5",
            ],
            "--fill-min is -5",
        ),
        (
            &["stick", "p", "--to", "s", "--most-fields", "-3"],
            "--most-fields",
        ),
        (&["plan", "j.toml", "-3"], "'-3' stands where"),
    ] {
        let output = twinsow(folder.path(), args);
        assert_eq!(code(&output), Some(2), "{args:?}");
        assert!(err(&output).contains(part), "{args:?}: {}", err(&output));
        assert!(!err(&output).contains("unexpected argument"), "{args:?}");
    }
}

#[test]
fn job_files_that_are_none_get_one_fault_each() {
    let folder = folder();
    let path = folder.path();
    fs::write(path.join("empty.toml"), "").expect("written");
    fs::write(
        path.join("latin.toml"),
        b"name = \"x\"\nfarm = \"M\xfchle\"\n",
    )
    .expect("written");
    fs::write(path.join("utf16.toml"), b"\xff\xfen\0a\0").expect("written");
    fs::write(path.join("other.toml"), "boundary").expect("written");
    fs::create_dir_all(path.join("job")).expect("made");
    fs::write(path.join("job/job.toml"), "").expect("written");
    for (name, piece) in [
        ("empty.toml", "the job file is empty"),
        ("latin.toml", "latin.toml:2: the job file is not UTF-8 text"),
        ("utf16.toml", "not UTF-16"),
        ("other.toml", "other.toml:1: not TOML"),
        ("job", "name the file in it: job"),
        ("none.toml", "there is no such file"),
        ("empty.toml/none.toml", "there is no such file"),
    ] {
        let output = twinsow(path, &["plan", name]);
        assert_eq!(code(&output), Some(2), "{name}: {}", err(&output));
        assert!(err(&output).contains(piece), "{name}: {}", err(&output));
        assert!(out(&output).is_empty(), "{name}: {}", out(&output));
        assert_eq!(err(&output).matches("error: ").count(), 1);
    }
    assert!(!path.join("empty-plan").exists(), "nothing is written");
}

#[test]
fn an_unknown_key_names_line_and_nearest_key() {
    let folder = folder();
    let job = r#"name = "x"
field = { name = "f", boundary = { file = "b.geojson" } }
[drill]
working_widht_m = 6
hopper = [{ name = "a", usable_l = 900 }]
[[product]]
id = "p"
name = "p"
kind = "seed"
hopper = "a"
rate = { kg_per_ha = 100 }
"#;
    fs::write(folder.path().join("job.toml"), job).expect("written");
    let output = twinsow(folder.path(), &["plan", "job.toml"]);
    assert_eq!(code(&output), Some(2));
    let text = "error: job.toml:4: unknown key 'working_widht_m' in [drill].";
    assert!(err(&output).starts_with(text), "{}", err(&output));
    assert!(
        err(&output).ends_with("Next: did you mean 'working_width_m'?\n"),
        "{}",
        err(&output)
    );

    let right = job.replace("widht", "width");
    fs::write(folder.path().join("job.toml"), &right).expect("written");
    let output = twinsow(folder.path(), &["plan", "job.toml", "--print-job"]);
    assert_eq!((code(&output), err(&output).as_str()), (Some(0), ""));
    let file = Path::new("job.toml");
    let printed = twinsow::job::Job::parse(&out(&output), file).expect("a job");
    assert_eq!(
        printed,
        twinsow::job::Job::parse(&right, file).expect("a job")
    );
    assert!(
        out(&output).contains("cell_m = 6.0") && out(&output).contains("reserve_percent = 3.0")
    );
    assert!(
        !folder.path().join("job-plan").exists(),
        "nothing is planned"
    );
}

#[test]
fn several_jobs_are_summed_up_and_the_worst_counts() {
    let folder = folder();
    fs::write(folder.path().join("a.toml"), "").expect("written");
    let output = twinsow(folder.path(), &["plan", "a.toml", "b.toml"]);
    assert_eq!(code(&output), Some(2));
    assert!(
        out(&output).contains("0 of 2 jobs planned"),
        "{}",
        out(&output)
    );
    assert!(
        out(&output).contains("a.toml") && out(&output).contains("b.toml"),
        "{}",
        out(&output)
    );
    assert_eq!(err(&output).matches("error: ").count(), 2);
}

#[test]
fn json_is_one_object_per_job_and_nothing_else() {
    let folder = folder();
    fs::write(folder.path().join("a.toml"), "").expect("written");
    let output = twinsow(folder.path(), &["plan", "--json", "a.toml", "b.toml"]);
    assert_eq!((code(&output), err(&output).as_str()), (Some(2), ""));
    let lines: Vec<serde_json::Value> = out(&output)
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    let [first, second] = lines.as_slice() else {
        panic!("{} lines", lines.len())
    };
    assert_eq!(
        (&first["job"], &first["exit"]),
        (&"a.toml".into(), &2.into())
    );
    assert_eq!(first["fault"]["code"], "job.empty_file");
    assert_eq!(second["fault"]["code"], "job.no_file");
}

#[test]
fn a_closed_pipe_is_no_error() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .arg("schema")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!((code(&output), err(&output).as_str()), (Some(0), ""));
}

#[test]
fn schema_prints_the_schema() {
    let folder = folder();
    let output = twinsow(folder.path(), &["schema"]);
    assert_eq!(code(&output), Some(0));
    let schema: serde_json::Value = serde_json::from_str(&out(&output)).expect("JSON");
    assert_eq!(schema, twinsow::job::Job::schema());
}

/// A new job with what its user would write into the open places.
fn filled_in(text: &str) -> String {
    text.replace("crop = \"?\"", "crop = \"winter wheat\"")
        .replace("working_width_m = \"?\"", "working_width_m = 6")
        .replace("usable_l = \"?\"", "usable_l = 1900")
        .replace("= \"?\"", "= 160")
}

#[test]
fn a_new_job_fits_the_users_files() {
    let folder = folder();
    write_field(folder.path());
    let args = [
        "new",
        "plans/square",
        "--boundary",
        "boundary.geojson",
        "--layer",
        "soil.geojson",
    ];
    let output = twinsow(folder.path(), &args);
    assert_eq!(code(&output), Some(0), "{}", err(&output));
    let file = folder.path().join("plans/square/job.toml");
    let text = fs::read_to_string(&file).expect("the job file");
    // What nobody but the user knows is open, and a job with open settings is none.
    let open = twinsow::job::Job::load(&file).expect_err("open settings");
    let open = open.to_string();
    assert!(open.contains("8 settings are still \"?\""), "{open}");
    for (key, paper) in [
        ("drill.working_width_m", "the drill's manual"),
        (
            "drill.hopper.2.usable_l",
            "litres of this part of the hopper",
        ),
        ("product.1.crop", "the species on the seed tag"),
        (
            "product.1.rate.kg_per_ha.by_class.loam",
            "held against the seed tag",
        ),
        (
            "product.2.rate.kg_per_ha.by_class.loam",
            "the label on the bag",
        ),
    ] {
        let mut lines = open.lines();
        let line = lines.find(|line| line.contains(&format!(": {key} - ")));
        assert!(
            line.is_some_and(|line| line.contains(paper)),
            "{key}: {open}"
        );
    }
    let plan = twinsow(
        folder.path(),
        &["plan", "plans/square/job.toml", "--strict"],
    );
    assert_eq!(code(&plan), Some(2), "{}", err(&plan));
    assert!(!folder.path().join("plans/square/job-plan").exists());
    let job = twinsow::job::Job::parse(&filled_in(&text), &file)
        .map_err(|fault| fault.to_string())
        .expect("a job");
    assert_eq!(job.field.name, "Plain Square");
    assert_eq!(job.field.boundary.file, Path::new("../../boundary.geojson"));
    assert_eq!(
        (
            job.layers[0].name.as_str(),
            job.layers[0].class_attribute.as_str()
        ),
        ("soil", "texture")
    );
    // WGS 84: on the equator 0.001 degrees are 111.32 m east and 110.57 m north.
    assert!(text.contains("\"loam\" = \"?\""), "{text}");
    assert!(
        text.contains("0.74 ha of it") && text.contains("0.49 ha of it"),
        "{text}"
    );
    assert!(
        text.contains(r#"'sand "light"' = "?""#) || text.contains(r#""sand \"light\"" = "?""#),
        "{text}"
    );
    for line in text
        .lines()
        .enumerate()
        .filter(|(_, line)| line.contains("# EDIT"))
        .map(|(n, _)| n + 1)
    {
        assert!(
            out(&output).contains(&line.to_string()),
            "line {line} is not named: {}",
            out(&output)
        );
    }
    // Every key of the schema is there, to be found without the page.
    let schema = twinsow::job::Job::schema();
    let tables = schema["$defs"]
        .as_object()
        .expect("definitions")
        .values()
        .chain([&schema]);
    for key in tables
        .flat_map(|table| table["properties"].as_object().into_iter().flatten())
        .map(|(key, _)| key)
    {
        assert!(text.contains(key.as_str()), "'{key}' is not explained");
    }
    let again = twinsow(folder.path(), &args);
    assert_eq!(code(&again), Some(2));
    assert!(
        err(&again).contains("there is a job file already"),
        "{}",
        err(&again)
    );
    assert_eq!(fs::read_to_string(&file).expect("the job file"), text);
}

#[test]
fn a_new_job_takes_the_attribute_it_is_told() {
    let folder = folder();
    write_field(folder.path());
    let new = |attribute: &str| {
        let args = [
            "new",
            "x",
            "--boundary",
            "boundary.geojson",
            "--layer",
            "soil.geojson",
            "--class-attribute",
            attribute,
        ];
        twinsow(folder.path(), &args)
    };
    let output = new("texxture");
    assert_eq!(code(&output), Some(2));
    assert!(
        err(&output).contains("'fid', 'texture'"),
        "{}",
        err(&output)
    );
    assert!(!folder.path().join("x").exists(), "nothing is written");
    assert_eq!(code(&new("fid")), Some(0));
    let text = fs::read_to_string(folder.path().join("x/job.toml")).expect("the job file");
    assert!(
        text.contains("class_attribute = \"fid\"") && text.contains("\"2\" = \"?\""),
        "{text}"
    );
}

#[test]
fn commented_settings_of_a_new_job_are_right_too() {
    let folder = folder();
    write_field(folder.path());
    let output = twinsow(
        folder.path(),
        &["new", "x", "--boundary", "boundary.geojson"],
    );
    assert_eq!(code(&output), Some(0), "{}", err(&output));
    let file = folder.path().join("x/job.toml");
    let text = filled_in(&fs::read_to_string(&file).expect("the job file"));
    // Those that exclude another setting, or name a layer that is not there, stay comments.
    let stays = [
        "# width_m",
        "# [[layer]]",
        "# name = \"soil\"",
        "# source = { file = \"soil",
        "# class_",
        "# overlaps",
        "# from = ",
        "# spreads_width_m",
        "# along = ",
        "# avoid = ",
        "# seedbed = ",
    ];
    let setting = |line: &str| {
        let rest = line.strip_prefix("# ")?;
        let key = rest.split([' ', '=']).next()?;
        let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
        let is_key = !key.is_empty()
            && key.bytes().all(plain)
            && rest[key.len()..].trim_start().starts_with('=');
        (is_key || rest.starts_with('[')).then(|| rest.to_owned())
    };
    let live: Vec<String> = text
        .lines()
        .map(|line| match setting(line) {
            Some(setting) if !stays.iter().any(|stay| line.starts_with(stay)) => setting,
            _ => line.to_owned(),
        })
        .collect();
    let live = live.join("\n");
    assert!(
        live.contains("\nlot = ") && live.contains("\n[[setback]]"),
        "{live}"
    );
    twinsow::job::Job::parse(&live, &file)
        .map_err(|fault| format!("{fault}\n{live}"))
        .expect("a right job");
}

#[test]
fn describe_tells_what_is_there_and_goes_on_after_a_bad_file() {
    let folder = folder();
    write_field(folder.path());
    fs::write(folder.path().join("bad.geojson"), "{").expect("written");
    let output = twinsow(
        folder.path(),
        &["describe", "bad.geojson", "soil.geojson", "none.shp"],
    );
    assert_eq!(code(&output), Some(2));
    let text = out(&output);
    assert!(
        text.contains("2 (2 polygon)") && text.contains("WGS 84"),
        "{text}"
    );
    // 111.3195 m by 110.5743 m (WGS 84, on the equator): 1.2309 ha.
    assert!(text.contains("1.23 ha"), "{text}");
    assert!(
        text.contains("longitude 0.000000 to 0.001000, latitude 0.000000 to 0.001000"),
        "{text}"
    );
    assert!(text.contains("loam") && text.contains("0.74"), "{text}");
    assert_eq!(
        err(&output).matches("error: ").count(),
        2,
        "{}",
        err(&output)
    );
}

/// Areas of real parcels against geodesic areas by pyproj 3.7.2 (PROJ 9.5.1), which
/// `testdata/fields/figures.json` holds; holes and two CRSs among them.
#[test]
fn areas_of_real_parcels_are_the_geodesic_ones() {
    let fields = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields");
    let figures = fs::read_to_string(fields.join("figures.json")).expect("figures");
    let figures: serde_json::Value = serde_json::from_str(&figures).expect("JSON");
    let parcels = figures["parcels"].as_array().expect("parcels");
    let output = twinsow(
        &fields,
        &["describe", "nl_epsg28992.gpkg", "dk_epsg25832.shp.zip"],
    );
    assert_eq!(code(&output), Some(0), "{}", err(&output));
    let mut compared = 0;
    for parcel in parcels {
        let name = parcel["name"].as_str().expect("a name");
        let m2 = parcel["geodesic_m2"].as_f64().expect("an area");
        // The row of this parcel in the classes of its id: name, one feature, hectares.
        let text = out(&output);
        let row = text
            .lines()
            .find_map(|line| line.trim().strip_prefix(&format!("{name} ")));
        let area = row
            .and_then(|row| row.split_whitespace().nth(1))
            .expect("a row")
            .to_owned();
        let decimals = if m2 < 1000.0 { 4 } else { 2 };
        assert_eq!(area, format!("{:.decimals$}", m2 / 10_000.0), "{name}");
        compared += 1;
    }
    assert_eq!(compared, 10);
}

#[test]
fn describe_draws_a_small_map_where_it_is_asked() {
    let folder = folder();
    write_field(folder.path());
    let output = twinsow(folder.path(), &["describe", "--map", "boundary.geojson"]);
    assert_eq!(code(&output), Some(0), "{}", err(&output));
    let said = out(&output);
    let lines = said.lines().filter(|line| line.starts_with("  aaaa"));
    assert!(lines.count() > 3, "{said}");
    assert!(said.contains("north up, a letter is "), "{said}");
    // Not where nobody looks at it.
    let plain = twinsow(folder.path(), &["describe", "boundary.geojson"]);
    assert!(!out(&plain).contains("north up"));
}

#[test]
fn new_without_a_terminal_asks_nothing() {
    let folder = folder();
    for (arguments, lacks) in [
        (&["new"][..], "no folder"),
        (&["new", "x"], "no boundary is given"),
    ] {
        let output = twinsow(folder.path(), arguments);
        assert_eq!(code(&output), Some(2));
        assert!(err(&output).contains(lacks), "{}", err(&output));
    }
}
