//! The spreader and trials on the page: each is begun, filled in, worked out as the command does it, told at a place, and taken back to
//! the byte.

#[path = "edit_support/demo.rs"]
mod demo;

use demo::{desk, read, worked_out};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use twinsow::edit::action::{Action, List};
use twinsow::edit::desk::Desk;
use twinsow::edit::key::KeyPath;
use twinsow::edit::view;
use twinsow::job::Job;
use twinsow::plan::{Disk, Options, Plan, plan};

/// A field of 600 x 400 m in UTM zone 31, in two zones.
const FIELD: &str = r#"{"type":"Polygon","coordinates":[[[467000,6072000],[467600,6072000],[467600,6072400],[467000,6072400],[467000,6072000]]]}"#;
const ZONES: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"z":"low"},"geometry":{"type":"Polygon","coordinates":[[[466900,6071900],[467310,6071900],[467290,6072500],[466900,6072500],[466900,6071900]]]}},
{"type":"Feature","properties":{"z":"high"},"geometry":{"type":"Polygon","coordinates":[[[467310,6071900],[467700,6071900],[467700,6072500],[467290,6072500],[467310,6071900]]]}}]}"#;

const JOB: &str = r#"# A job by hand.
name = "machines"
[field]
name = "Small Piece"
boundary = { file = "field.geojson", crs = "EPSG:32631" }
[headland]
bouts = 4
[[layer]]
name = "soil"
source = { file = "zones.geojson", crs = "EPSG:32631" }
class_attribute = "z"
[drill]
working_width_m = 6
rows = 40
row_spacing_m = 0.15
[[drill.hopper]]
name = "front"
usable_l = 1000
[[drill.hopper]]
name = "rear"
usable_l = 1000
[drive]
heading_deg = 0
[grid]
cell_m = 6
[[product]]
id = "barley"
name = "barley"
kind = "seed"
crop = "spring barley"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
bulk_density_kg_per_l = 0.65
rate.kg_per_ha = { layer = "soil", by_class = { low = 140.0, high = 195.0 } }
limits = { min_kg_per_ha = 80, max_kg_per_ha = 260, step_kg_per_ha = 1 }
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
bulk_density_kg_per_l = 1.0
grade = { p2o5_percent = 46.0 }
rate = { kg_per_ha = { layer = "soil", by_class = { low = 100.0, high = 63.0 } }, placed_percent = 50.0 }
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "spring barley"
grade = { p2o5_percent = 46.0 }
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#;

fn begun() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("job.toml");
    for (name, text) in [
        ("field.geojson", FIELD),
        ("zones.geojson", ZONES),
        ("job.toml", JOB),
    ] {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    (folder, file)
}

fn set(desk: &Desk, keys: &[&str], value: Value) {
    let path = KeyPath::of(keys);
    desk.act(Action::Set { path, value }).expect("set");
}

fn by_command(file: &Path) -> Plan {
    plan(&Job::load(file).expect("a job"), &Disk, &Options::default()).expect("a plan")
}

/// What a place of the plane is told, metres.
fn told(desk: &Desk, place: [f64; 2]) -> Value {
    let (shown, whole) = desk.look(|inner| (inner.shown.clone(), inner.whole.clone()));
    let shown = shown.expect("land");
    view::explain::of(
        &shown,
        whole.as_ref(),
        None,
        Some(place.map(|m| m * view::PER_M)),
    )
    .expect("land")
}

/// Undone to the beginning, the job is the first one to the byte.
fn undone(desk: &Desk, file: &Path) {
    while desk.look(|inner| inner.edit.before().is_some()) {
        desk.undo().expect("undone");
    }
    assert_eq!(read(file).expect("the job"), JOB);
    desk.close();
}

#[test]
fn the_spreader_is_set_up_on_the_page_and_spreads_as_the_command_says() {
    let (_folder, file) = begun();
    let desk = desk(&file);
    assert_eq!(view::state(&desk, 1)["plan"]["spread"], json!([]));
    set(&desk, &["spreader"], json!({ "working_width_m": "?" }));
    let state = view::state(&desk, 2);
    assert_eq!(
        state["open_settings"][0]["path"],
        json!(["spreader", "working_width_m"])
    );
    // It stands under a heading of its own.
    assert!(
        read(&file)
            .expect("the job")
            .contains("[spreader]\nworking_width_m = \"?\""),
        "{}",
        read(&file).expect("it")
    );
    desk.act(Action::Answer {
        path: KeyPath::of(&["spreader", "working_width_m"]),
        value: json!(24),
    })
    .expect("answered");
    set(&desk, &["spreader", "limits", "step_kg_per_ha"], json!(10));
    worked_out(&desk);
    let state = view::state(&desk, 3);
    let own = by_command(&file);
    let [spreader] = own.spreaders.as_slice() else {
        panic!("a plan")
    };
    let map = &state["plan"]["spread"][0];
    assert_eq!(map["plan"], spreader.plan.id.as_str());
    let rates: Vec<f64> = spreader
        .plan
        .rates
        .rows
        .iter()
        .map(|row| row.rates[0].kg_per_ha)
        .collect();
    assert_eq!(map["kg_per_ha"], json!(rates));
    assert!(rates.contains(&50.0) && rates.contains(&30.0), "{rates:?}");
    // Its land has a picture of its own, with an outline for each row that has some.
    let shown = desk
        .look(|inner| inner.whole.as_ref().map(|whole| whole.spread[0].clone()))
        .expect("it");
    let picture = view::picture::of(&shown);
    assert_eq!(picture["picture"], map["picture"]);
    assert_eq!(picture["land"].as_array().map(Vec::len), Some(rates.len()));
    // 150 m west and east of the middle of the field.
    let at = |x: f64| told(&desk, [x, 0.0])["spread"][0]["kg_per_ha"].clone();
    assert_eq!([at(-150.0), at(150.0)], [json!(50.0), json!(30.0)]);
    undone(&desk, &file);
}

#[test]
fn a_trial_is_laid_out_from_the_page_and_its_plots_are_told() {
    let (_folder, file) = begun();
    let desk = desk(&file);
    let entry = json!({ "name": "pays", "design": "map_against_flat", "header_width_m": "?" });
    let entry = entry.as_object().expect("an entry").clone();
    desk.act(Action::Add {
        table: List::Trial,
        entry,
    })
    .expect("added");
    assert_eq!(
        view::state(&desk, 1)["open_settings"][0]["path"],
        json!(["trial", 0, "header_width_m"])
    );
    desk.act(Action::Answer {
        path: KeyPath::of(&["trial", "0", "header_width_m"]),
        value: json!(9),
    })
    .expect("answered");
    set(&desk, &["trial", "0", "product"], json!("barley"));
    set(&desk, &["trial", "0", "blocks"], json!(4));
    worked_out(&desk);
    let own = by_command(&file);
    let trial = &own.trials[0];
    let state = view::state(&desk, 2);
    let shown = &state["plan"]["trials"][0];
    assert_eq!(shown["blocks"], trial.sight.blocks);
    assert_eq!(
        shown["plots"].as_array().map(Vec::len),
        Some(trial.plots.len())
    );
    assert!(
        shown["sees_text"]
            .as_str()
            .is_some_and(|text| text.ends_with("kg/ha")),
        "{shown}"
    );
    for plot in &trial.plots {
        let corners = &plot.outline_lon_lat[..4];
        let middle = [0, 1].map(|axis| {
            corners
                .iter()
                .map(|at| own.land.frame.to_plane(*at).pair()[axis])
                .sum::<f64>()
                / 4.0
        });
        let told = told(&desk, middle);
        assert_eq!(told["plot"]["id"], plot.id.as_str(), "{told}");
        assert_eq!(told["plot"]["treatment"], plot.treatment.as_str());
    }
    // Beside the field's border lies no plot.
    assert_eq!(told(&desk, [-295.0, 0.0])["plot"], Value::Null);
    // Taken out again by the page.
    desk.act(Action::Remove {
        table: List::Trial,
        nth: 0,
    })
    .expect("removed");
    assert_eq!(
        view::state(&desk, 3)["history"]["done"]
            .as_array()
            .and_then(|all| all.last()),
        Some(&json!("Taken out, trial: pays"))
    );
    undone(&desk, &file);
}

/// Design and drive have to fit: what cannot be is refused where it is entered, and the job stays.
#[test]
fn a_trial_without_a_drive_is_refused() {
    let (_folder, file) = begun();
    let text = JOB.replace("[drive]\nheading_deg = 0\n", "");
    std::fs::write(&file, &text).expect("written");
    let desk = desk(&file);
    let entry = json!({ "name": "pays", "design": "map_against_flat", "header_width_m": 9 });
    let entry = entry.as_object().expect("an entry").clone();
    let refused = desk
        .act(Action::Add {
            table: List::Trial,
            entry,
        })
        .expect_err("refused");
    assert!(refused.to_string().contains("[drive]"), "{refused}");
    assert_eq!(read(&file).expect("the job"), text);
    desk.close();
}
