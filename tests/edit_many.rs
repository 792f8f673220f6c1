//! The same change for many fields of a folder: told first, made in all or in none, taken back to the byte; and the land of a job
//! that is not finished.

#[path = "edit_support/page.rs"]
mod page;

use page::Page;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::cli::edit_commands;
use twinsow::edit::key::KeyPath;
use twinsow::edit::many::{Change, make, preview, take_back};
use twinsow::read::sha256_of;

const JOB: &str = r#"
name = "F"        # the first
[field]
name = "F"
boundary = { file = "b.geojson" }
[headland]
bouts = 0
[drill]
working_width_m = 6
[[drill.hopper]]
name = "front"
usable_l = 1900
[[product]]
id = "seed"
name = "winter wheat"
kind = "seed"
hopper = "front"
crop = "wheat"
lot = "A-1"
rate = { kg_per_ha = 160 }
"#;

/// A folder with three fields side by side on the equator, each 0.002 degrees wide.
fn farm() -> (tempfile::TempDir, Vec<PathBuf>) {
    let folder = tempfile::tempdir().expect("a folder");
    let files = ["east", "mill", "west"].iter().enumerate().map(|(nth, name)| {
        let own = folder.path().join(name);
        fs::create_dir(&own).expect("a folder");
        let (from, to) = (nth as f64 * 0.004, nth as f64 * 0.004 + 0.002);
        let border = json!({
            "type": "Feature", "properties": {},
            "geometry": { "type": "Polygon", "coordinates": [[[from, 0.0], [to, 0.0], [to, 0.002], [from, 0.002], [from, 0.0]]] },
        });
        fs::write(own.join("b.geojson"), border.to_string()).expect("written");
        let file = own.join("job.toml");
        fs::write(&file, JOB.replace("\"F\"", &format!("\"{name}\""))).expect("written");
        file
    });
    let files = files.collect();
    (folder, files)
}

fn text(file: &Path) -> String {
    fs::read_to_string(file).expect("a job")
}

fn told(files: &[PathBuf]) -> Vec<(PathBuf, String)> {
    files
        .iter()
        .map(|file| (file.clone(), sha256_of(text(file))))
        .collect()
}

fn lot(value: &str) -> Change {
    Change::Product {
        product: "winter wheat".to_owned(),
        path: KeyPath::of(&["lot"]),
        value: Value::from(value),
    }
}

#[test]
fn a_change_is_made_in_all_fields_and_taken_back_to_the_byte() {
    let (_folder, files) = farm();
    let before: Vec<String> = files.iter().map(|file| text(file)).collect();
    let commands = edit_commands();
    let changes = [
        lot("B-2"),
        Change::Rate {
            product: "seed".to_owned(),
            key: "kg_per_ha".to_owned(),
            value: 175.0,
        },
        Change::Setting {
            path: KeyPath::of(&["sowing_date"]),
            value: Value::from("2027-03-20"),
        },
    ];
    let mut done = Vec::new();
    for change in &changes {
        done.push(make(change, "words", &told(&files), None, &commands).expect("made"));
    }
    for file in &files {
        let now = text(file);
        for new in [
            "lot = \"B-2\"",
            "kg_per_ha = 175",
            "sowing_date = \"2027-03-20\"",
            "# the first",
        ] {
            assert!(now.contains(new), "{new}: {now}");
        }
    }
    for change in done.iter().rev() {
        assert_eq!(change.count(), 3);
        take_back(change, None, &commands).expect("taken back");
    }
    let after: Vec<String> = files.iter().map(|file| text(file)).collect();
    assert_eq!(after, before);
}

#[test]
fn what_would_change_is_told_and_what_cannot_is_told_why() {
    let (folder, files) = farm();
    // One has no such product, one goes by class, one has the value already.
    fs::write(
        &files[0],
        text(&files[0]).replace("winter wheat", "spring oats"),
    )
    .expect("written");
    fs::write(&files[2], text(&files[2]).replace("A-1", "B-2")).expect("written");
    let commands = edit_commands();
    let named: Vec<(String, PathBuf)> = files
        .iter()
        .map(|file| {
            (
                file.strip_prefix(folder.path())
                    .expect("below")
                    .display()
                    .to_string(),
                file.clone(),
            )
        })
        .collect();
    let told = preview(&lot("B-2"), &named, &commands);
    assert_eq!(told[0]["fault"]["code"], "edit.no_product");
    assert_eq!(
        (&told[1]["before"], &told[1]["after"]),
        (&json!("A-1"), &json!("B-2"))
    );
    assert_eq!(
        (&told[1]["changes"], &told[2]["changes"]),
        (&json!(true), &json!(false))
    );
    let by_class = text(&files[1]).replace(
        "rate = { kg_per_ha = 160 }",
        "rate = { kg_per_ha = { layer = \"soil\", by_class = { a = 1 } } }",
    );
    fs::write(&files[1], by_class).expect("written");
    let rate = Change::Rate {
        product: "winter wheat".to_owned(),
        key: "kg_per_ha".to_owned(),
        value: 150.0,
    };
    let told = preview(&rate, &named, &commands);
    assert_eq!(told[1]["fault"]["code"], "edit.rate_by_class");
    let impossible = preview(
        &Change::Product {
            product: "seed".to_owned(),
            path: KeyPath::of(&["germination_percent"]),
            value: Value::from(960),
        },
        &named,
        &commands,
    );
    assert!(
        impossible.iter().all(|field| !field["fault"].is_null()),
        "960 % germinate nowhere"
    );
}

#[test]
fn where_one_field_cannot_be_changed_none_is() {
    let (_folder, files) = farm();
    let commands = edit_commands();
    let told = told(&files);
    fs::write(&files[2], text(&files[2]).replace("A-1", "Z-9")).expect("written");
    let before: Vec<String> = files.iter().map(|file| text(file)).collect();
    let fault = make(&lot("B-2"), "words", &told, None, &commands)
        .err()
        .expect("refused");
    assert_eq!(fault.code, "edit.changed_outside");
    let after: Vec<String> = files.iter().map(|file| text(file)).collect();
    assert_eq!(after, before);
}

#[test]
fn a_change_is_not_taken_back_over_what_somebody_did_since() {
    let (_folder, files) = farm();
    let commands = edit_commands();
    let done = make(&lot("B-2"), "words", &told(&files), None, &commands).expect("made");
    fs::write(&files[1], text(&files[1]).replace("B-2", "C-3")).expect("written");
    let before: Vec<String> = files.iter().map(|file| text(file)).collect();
    let fault = take_back(&done, None, &commands).expect_err("refused");
    assert_eq!(fault.code, "edit.changed_outside");
    assert_eq!(
        files.iter().map(|file| text(file)).collect::<Vec<_>>(),
        before
    );
}

#[test]
fn a_number_in_one_unit_is_never_entered_in_another() {
    let (_folder, files) = farm();
    let other = text(&files[1]).replace("kg_per_ha = 160", "lb_per_acre = 143");
    fs::write(&files[1], &other).expect("written");
    let commands = edit_commands();
    let rate = Change::Rate {
        product: "seed".to_owned(),
        key: "kg_per_ha".to_owned(),
        value: 170.0,
    };
    let before = text(&files[0]);
    let fault = make(&rate, "words", &told(&files), None, &commands)
        .err()
        .expect("refused");
    assert_eq!(fault.code, "edit.other_rate");
    assert_eq!([text(&files[0]), text(&files[1])], [before, other]);
}

#[test]
fn what_is_back_already_does_not_keep_the_others_from_going_back() {
    let (_folder, files) = farm();
    let before: Vec<String> = files.iter().map(|file| text(file)).collect();
    let commands = edit_commands();
    let done = make(&lot("B-2"), "words", &told(&files), None, &commands).expect("made");
    fs::write(&files[0], &before[0]).expect("written");
    take_back(&done, None, &commands).expect("taken back");
    let after: Vec<String> = files.iter().map(|file| text(file)).collect();
    assert_eq!(after, before);
}

#[test]
fn where_one_cannot_be_taken_back_none_is() {
    let (_folder, files) = farm();
    let commands = edit_commands();
    let done = make(&lot("B-2"), "words", &told(&files), None, &commands).expect("made");
    let changed: Vec<String> = files.iter().map(|file| text(file)).collect();
    // What it was before is kept beside a job: no file can take the place of a folder.
    let kept = files[2].with_file_name("job.toml.before");
    fs::remove_file(&kept).expect("it was kept");
    fs::create_dir(&kept).expect("a folder");
    let fault = take_back(&done, None, &commands).expect_err("refused");
    assert_eq!(fault.code, "edit.unwritable");
    let after: Vec<String> = files.iter().map(|file| text(file)).collect();
    assert_eq!(after, changed);
    fs::remove_dir(&kept).expect("a folder");
    take_back(&done, None, &commands).expect("taken back");
}

#[test]
fn the_page_shows_all_fields_of_a_folder_and_changes_them_together() {
    let (folder, files) = farm();
    fs::write(
        &files[2],
        text(&files[2]).replace("crop = \"wheat\"", "crop = \"?\""),
    )
    .expect("written");
    let page = Page::of(folder, "");
    let cookie = page.cookie();
    let farm = page.look(&cookie, "/jobs").json();
    assert_eq!(farm["of_folder"], true);
    let jobs = farm["jobs"].as_array().expect("jobs");
    assert_eq!(jobs.len(), 3);
    // WGS 84: on the equator 0.002 degrees are 222.64 m east and 221.15 m north: 4.92 ha.
    for job in jobs {
        let m2 = job["m2"].as_f64().expect("an area");
        assert!((m2 - 49_236.0).abs() < 20.0, "{m2}");
        assert!(!job["rings"][0].as_array().expect("rings").is_empty());
    }
    assert_eq!(jobs[2]["state"], "unfinished");
    assert_eq!(jobs[2]["field"], "west");
    assert_eq!(jobs[0]["products"][0]["rate"], "kg_per_ha");
    let post = |path: &str, body: Value| {
        page.send(
            page.post(path, &page.own(&cookie), &body.to_string())
                .as_bytes(),
        )
    };
    let names: Vec<&Value> = jobs.iter().map(|job| &job["file"]).collect();
    let change = json!({ "what": "product", "product": "seed", "path": ["lot"], "value": "B-2" });
    let looked = post("/many/look", json!({ "files": names, "change": change })).json();
    let fields = looked["fields"].as_array().expect("fields");
    let of: Vec<Value> = fields
        .iter()
        .map(|field| json!([field["file"], field["sha256"]]))
        .collect();
    let made = post(
        "/many",
        json!({ "files": of, "change": change, "words": "lot B-2" }),
    )
    .json();
    assert_eq!(
        made["changed"], 3,
        "the one on the desk and the unfinished one too: {made}"
    );
    let undo = &page.look(&cookie, "/jobs").json()["undo"];
    assert_eq!(
        (&undo["words"], &undo["count"]),
        (&json!("lot B-2"), &json!(3))
    );
    assert_eq!(post("/many/undo", json!({})).json()["changed"], 3);
    assert_eq!(post("/many/undo", json!({})).code(), "edit.no_turn");
    let outside = post(
        "/many/look",
        json!({ "files": ["../secret.toml"], "change": change }),
    );
    assert_eq!(
        (outside.status, outside.code().as_str()),
        (403, "edit.not_below")
    );
    let ordered = post("/order", json!({ "files": [names[0], names[1]] })).json();
    assert_eq!(
        ordered["plans"].as_array().map(Vec::len),
        Some(2),
        "{ordered}"
    );
    assert_eq!(ordered["order"][0]["article"]["product"], "winter wheat");
    // They were planned for it, so that it is known how far they are.
    let farm = page.look(&cookie, "/jobs").json();
    let known = ["open", "ready"].map(Value::from);
    assert!(
        (0..2).all(|nth| known.contains(&farm["jobs"][nth]["state"])),
        "{farm}"
    );
}

#[test]
fn fields_of_one_boundary_file_each_have_their_own_border() {
    let (folder, files) = farm();
    let mut all = Vec::new();
    for file in &files {
        let own = file.with_file_name("b.geojson");
        let mut border: Value = serde_json::from_str(&text(&own)).expect("JSON");
        let name = text(file);
        let name = name.split('"').nth(1).expect("a name").to_owned();
        border["properties"] = json!({ "name": name });
        all.push(border);
        let shared = format!("{{ file = \"../all.geojson\", only = {{ name = \"{name}\" }} }}");
        let job = text(file).replace("{ file = \"b.geojson\" }", &shared);
        fs::write(file, job).expect("written");
    }
    let all = json!({ "type": "FeatureCollection", "features": all });
    fs::write(folder.path().join("all.geojson"), all.to_string()).expect("written");
    let page = Page::of(folder, "");
    let cookie = page.cookie();
    let farm = page.look(&cookie, "/jobs").json();
    let jobs = farm["jobs"].as_array().expect("jobs");
    let mut rings: Vec<String> = Vec::new();
    for job in jobs {
        let m2 = job["m2"].as_f64().expect("an area");
        assert!((m2 - 49_236.0).abs() < 20.0, "{m2}");
        rings.push(job["rings"].to_string());
    }
    rings.sort();
    rings.dedup();
    assert_eq!(rings.len(), 3);
}

#[test]
fn the_land_is_shown_before_a_job_can_be_planned() {
    let (folder, files) = farm();
    let zones = json!({ "type": "FeatureCollection", "features": [
        { "type": "Feature", "properties": { "soil": "sand" }, "geometry": { "type": "Polygon", "coordinates": [[[0.0, 0.0], [0.001, 0.0], [0.001, 0.002], [0.0, 0.002], [0.0, 0.0]]] } },
        { "type": "Feature", "properties": { "soil": "clay" }, "geometry": { "type": "Polygon", "coordinates": [[[0.001, 0.0], [0.002, 0.0], [0.002, 0.002], [0.001, 0.002], [0.001, 0.0]]] } },
    ] });
    let own = files[0].parent().expect("a folder");
    fs::write(own.join("soil.geojson"), zones.to_string()).expect("written");
    let mut samples = String::from("lon,lat,P\n");
    for nth in 0..12 {
        samples += &format!("0.000{}3,0.000{}4,{}\n", nth % 4 * 2, nth / 4 * 3, 4 + nth);
    }
    fs::write(own.join("samples.csv"), samples).expect("written");
    let open = text(&files[0]).replace("working_width_m = 6", "working_width_m = \"?\"")
        + r#"
[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "soil"
[[layer]]
name = "phosphate"
source = { file = "samples.csv" }
values = { method = "natural_breaks", classes = 3, class_names = ["low", "middle", "high"], surface = "inverse_distance", column = "P" }
"#;
    fs::write(&files[0], open).expect("written");
    let page = Page::of(folder, "east/job.toml");
    let cookie = page.cookie();
    let mut state = page.look(&cookie, "/state").json();
    for _ in 0..100 {
        if !state["ground"].is_null() {
            break;
        }
        state = page
            .look(&cookie, &format!("/state?after={}", state["beat"]))
            .json();
    }
    assert!(
        state["plan"].is_null()
            && state["open_settings"]
                .as_array()
                .is_some_and(|open| open.len() == 1),
        "{state}"
    );
    let maps = state["ground"]["maps"].as_array().expect("maps");
    assert_eq!(maps[0]["name"], "soil");
    let bars = maps[0]["bars"].as_array().expect("bars");
    assert_eq!(bars.len(), 2);
    for bar in bars {
        // Half of 4.92 ha each.
        assert!(
            (bar["m2"].as_f64().expect("an area") - 24_618.0).abs() < 20.0,
            "{bar}"
        );
    }
    let order: Vec<&Value> = maps[1]["bars"]
        .as_array()
        .expect("bars")
        .iter()
        .map(|bar| &bar["text"])
        .collect();
    assert_eq!(order, [&json!("low"), &json!("middle"), &json!("high")]);
    let picture = page
        .look(&cookie, &format!("/picture/{}", state["ground"]["picture"]))
        .json();
    assert!(!picture["boundary"].as_array().expect("a border").is_empty());
    let samples = page.look(&cookie, "/samples?layer=1").json();
    assert_eq!(samples["steps"].as_array().map(Vec::len), Some(12));
    assert_eq!(
        samples["points"][0].as_array().map(Vec::len),
        Some(24),
        "a step east and one north for each"
    );
    assert_eq!(samples["legend"].as_array().map(Vec::len), Some(5));
}

#[test]
fn lists_inside_a_table_grow_and_shrink_by_hand() {
    use twinsow::edit::action::Action;
    // What a rotor meters by volume needs the weight of a litre.
    let heavy = JOB.replace(
        "lot = \"A-1\"",
        "lot = \"A-1\"\nbulk_density_kg_per_l = 0.7",
    );
    let two_hoppers = heavy.replace(
        "usable_l = 1900\n",
        "usable_l = 1900   # measured\n[[drill.hopper]]\nname = \"rear\"\nusable_l = 900\n",
    );
    let file = Path::new("job.toml");
    let rotor = |name: &str| {
        let entry = json!({ "name": name, "cm3_per_rev": 650, "min_rev_per_min": 10, "max_rev_per_min": 100 });
        Action::AddTo {
            path: KeyPath::of(&["drill", "hopper", "0", "rotor"]),
            entry: entry.as_object().expect("an object").clone(),
        }
    };
    let one = rotor("A").apply(&two_hoppers, file).expect("a text");
    let two = rotor("B").apply(&one, file).expect("a text");
    let job = twinsow::job::Job::parse(&two, file)
        .map_err(|fault| fault.to_string())
        .expect("a job");
    let names: Vec<usize> = job
        .drill
        .hoppers
        .iter()
        .map(|hopper| hopper.rotors.len())
        .collect();
    assert_eq!(names, [2, 0], "both belong to the first hopper: {two}");
    assert!(two.contains("# measured"), "{two}");
    let gone = |nth: &str, text: &str| {
        let path = KeyPath::of(&["drill", "hopper", "0", "rotor", nth]);
        Action::Unset { path }.apply(text, file).expect("a text")
    };
    assert_eq!(gone("0", &gone("1", &two)), two_hoppers);
}
