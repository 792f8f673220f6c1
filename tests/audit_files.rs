//! `twinsow audit` on the scenario's files: as written it agrees, and what is done to a file is said in
//! one plain line.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;
use twinsow::read::taskdata::{self, TaskGrid};

fn twinsow(args: &[&str]) -> (i32, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(args)
        .env("NO_COLOR", "1")
        .env("SOURCE_DATE_EPOCH", "1790000000")
        .output()
        .expect("the program starts");
    let text = [output.stdout, output.stderr].concat();
    let text = String::from_utf8(text).expect("UTF-8");
    (output.status.code().expect("an exit code"), text)
}

/// The scenario, planned once.
fn demo() -> &'static Path {
    static DEMO: OnceLock<TempDir> = OnceLock::new();
    let folder = DEMO.get_or_init(|| {
        let folder = TempDir::new().expect("a folder");
        let (exit, text) = twinsow(&["demo", "--out", &folder.path().display().to_string()]);
        assert_eq!(exit, 0, "{text}");
        folder
    });
    folder.path()
}

fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copied(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).expect("a copy");
        }
    }
}

/// The audit of a copy of the task data, or of another file of the plan, that somebody has changed.
fn audit_of(path: &str, change: impl FnOnce(&Path)) -> (i32, String) {
    let folder = TempDir::new().expect("a folder");
    let from = demo().join("job-plan").join(path);
    let to: PathBuf = folder.path().join(from.file_name().expect("a name"));
    if from.is_dir() {
        copied(&from, &to);
    } else {
        fs::copy(&from, &to).expect("a copy");
    }
    change(&to);
    let plan = demo().join("job-plan/plan.json").display().to_string();
    twinsow(&["audit", &to.display().to_string(), "--plan", &plan])
}

const TASK_DATA: &str = "terminal/TASKDATA";
const COLUMNS: usize = 107;

/// The grid's values, two per cell.
fn cells(folder: &Path, change: impl FnOnce(&mut Vec<[u8; 8]>)) {
    let path = folder.join("GRD00001.bin");
    let bytes = fs::read(&path).expect("a grid");
    let mut cells: Vec<[u8; 8]> = bytes
        .chunks_exact(8)
        .map(|cell| cell.try_into().expect("eight bytes"))
        .collect();
    change(&mut cells);
    fs::write(path, cells.concat()).expect("a grid");
}

fn xml(folder: &Path, from: &str, to: &str) {
    let path = folder.join("TASKDATA.XML");
    let text = fs::read_to_string(&path).expect("text");
    assert!(text.contains(from), "{from} is not there");
    fs::write(path, text.replace(from, to)).expect("text");
}

/// Exactly one thing is wrong, and it is said in these words.
fn refused(what: &str, (exit, text): (i32, String), words: &str) {
    let wrong: Vec<&str> = text.lines().filter(|line| line.contains("WRONG")).collect();
    assert_eq!(exit, 1, "{what}: {text}");
    assert_eq!(wrong.len(), 1, "{what}: {text}");
    assert!(wrong[0].contains(words), "{what}: {}", wrong[0]);
}

#[test]
fn the_plan_has_audited_itself() {
    let text = fs::read_to_string(demo().join("job-plan/audit.json")).expect("audit.json");
    let audit: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let files = audit["files"].as_array().expect("files");
    assert!(files.len() >= 7, "{text}");
    for file in files {
        assert_eq!(file["faults"], serde_json::json!([]), "{file}");
        assert_eq!(file["plan"], audit["plan"], "{file}");
    }
    let marker = fs::read_to_string(demo().join("job-plan/.twinsow-plan")).expect("marker");
    assert!(marker.contains("audit.json"), "{marker}");
}

#[test]
fn unchanged_files_agree_also_without_the_plan() {
    let folder = demo().join("job-plan").display().to_string();
    let plan = demo().join("job-plan/plan.json").display().to_string();
    let (exit, text) = twinsow(&["audit", &folder, "--plan", &plan]);
    assert_eq!(exit, 0, "{text}");
    let (exit, text) = twinsow(&["audit", &folder]);
    assert_eq!(exit, 0, "{text}");
    let (exit, text) = audit_of(TASK_DATA, |_| {});
    assert_eq!(exit, 0, "{text}");
    assert!(text.contains("cells instead of zones"), "{text}");
}

#[test]
fn what_was_done_to_the_grid_is_said_in_one_line() {
    let one_cell = audit_of(TASK_DATA, |f| {
        cells(f, |cells| {
            let cell = &mut cells[50 * COLUMNS + 60];
            let rate = i32::from_le_bytes([cell[0], cell[1], cell[2], cell[3]]) + 700;
            cell[..4].copy_from_slice(&rate.to_le_bytes());
        });
    });
    refused(
        "one cell",
        one_cell,
        "Spring barley: the cell in column 60, row 50 (from 0, south-west) is +7.00 kg/ha off",
    );
    let swapped = audit_of(TASK_DATA, |f| {
        cells(f, |cells| {
            cells.iter_mut().for_each(|cell| cell.rotate_left(4))
        });
    });
    refused("swapped", swapped, "the two products are swapped");
    let flipped = audit_of(TASK_DATA, |f| {
        cells(f, |cells| {
            let rows: Vec<Vec<[u8; 8]>> = cells.chunks(COLUMNS).map(<[_]>::to_vec).collect();
            *cells = rows.into_iter().rev().flatten().collect();
        });
    });
    refused("flipped", flipped, "order of the rows is flipped");
    let moved = audit_of(TASK_DATA, |f| cells(f, |cells| cells.rotate_right(COLUMNS)));
    refused("moved", moved, "shifted by 1 rows to the north");
    let cut = audit_of(TASK_DATA, |f| cells(f, |cells| cells.truncate(1000)));
    refused(
        "cut",
        cut,
        "is cut off: 107 x 84 cells need 71904 bytes, it has 8000 (1000 whole cells)",
    );
    let gone = audit_of(TASK_DATA, |f| {
        fs::remove_file(f.join("GRD00001.bin")).expect("gone")
    });
    refused("gone", gone, "the binary of the grid GRD00001 is not there");
}

#[test]
fn what_was_done_to_the_main_file_is_said_in_one_line() {
    let corner = audit_of(TASK_DATA, |f| {
        xml(f, "B=\"2.493745905\"", "B=\"2.493845905\"")
    });
    refused("corner", corner, "the corner of the grid is shifted by +6.");
    let plan = audit_of(TASK_DATA, |f| {
        let text = fs::read_to_string(f.join("TASKDATA.XML")).expect("text");
        let at = text.find("<TSK A=").expect("the task");
        let at = at + text[at..].find(" B=\"").expect("its name") + 4;
        xml(f, &text[at..at + 6], "ABC234");
    });
    refused(
        "another plan",
        plan,
        "the file is of plan ABC234, not of plan",
    );
    let product = audit_of(TASK_DATA, |f| xml(f, "B=\"Spring barley\"", "B=\"Oats\""));
    refused(
        "another product",
        product,
        "'Oats' is no product of the plan",
    );
}

#[test]
fn what_was_done_to_a_gis_file_is_said() {
    let edit = |path: &Path, from: &str, to: &str| {
        let text = fs::read_to_string(path).expect("text");
        assert!(text.contains(from), "{from} is not there");
        fs::write(path, text.replacen(from, to, 1)).expect("text");
    };
    let (exit, text) = audit_of("gis/rates.geojson", |f| {
        edit(f, "\"barley_kg_ha\":205", "\"barley_kg_ha\":206");
    });
    assert_eq!(exit, 1, "{text}");
    assert!(text.contains("Spring barley 206 kg/ha with"), "{text}");
    let swapped = audit_of("gis/rates.geojson", |f| {
        let text = fs::read_to_string(f).expect("text");
        let text = text
            .replace("barley_kg_ha", "x")
            .replace("starter_kg_ha", "barley_kg_ha");
        fs::write(f, text.replace("\"x\"", "\"starter_kg_ha\"")).expect("text");
    });
    refused("swapped", swapped, "the two products are swapped");
}

/// The audit of a changed copy against the job alone.
fn audit_by_job(path: &str, change: impl FnOnce(&Path)) -> (i32, String) {
    let folder = TempDir::new().expect("a folder");
    let from = demo().join("job-plan").join(path);
    let to: PathBuf = folder.path().join(from.file_name().expect("a name"));
    copied(&from, &to);
    change(&to);
    let job = demo().join("job.toml").display().to_string();
    twinsow(&["audit", &to.display().to_string(), "--job", &job])
}

#[test]
fn a_job_tells_product_in_a_setback_and_rates_beyond_its_limits() {
    let folder = demo().join("job-plan").display().to_string();
    let job = demo().join("job.toml").display().to_string();
    let (exit, text) = twinsow(&["audit", &folder, "--job", &job]);
    assert_eq!(exit, 0, "{text}");
    let (exit, text) = audit_by_job(TASK_DATA, |f| {
        cells(f, |cells| {
            for cell in cells.iter_mut().filter(|cell| cell[4..] == [0; 4]) {
                cell[4..].copy_from_slice(&5000_i32.to_le_bytes());
            }
        });
    });
    assert_eq!(exit, 1, "{text}");
    for words in [
        "in the setback 'Shoal Brook'",
        "in the setback 'Dew pond bank'",
    ] {
        assert!(text.contains(words), "{text}");
    }
    let high = audit_by_job(TASK_DATA, |f| {
        cells(f, |cells| {
            cells[50 * COLUMNS + 60][..4].copy_from_slice(&99_900_i32.to_le_bytes());
        });
    });
    refused(
        "high",
        high,
        "the highest rate is 999 kg/ha, and the job allows 235",
    );
    let low = audit_by_job(TASK_DATA, |f| {
        cells(f, |cells| {
            cells[50 * COLUMNS + 60][..4].copy_from_slice(&700_i32.to_le_bytes());
        });
    });
    refused("low", low, "the lowest rate above 0 is 7 kg/ha");
}

#[test]
fn polygons_that_overlap_or_leave_land_out_are_told() {
    let feature = |west: f64, east: f64| {
        format!(
            "{{\"type\":\"Feature\",\"properties\":{{\"barley_kg_ha\":180.0}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[[{west},54.8],[{east},54.8],[{east},54.801],[{west},54.801],[{west},54.8]]]}}}}"
        )
    };
    let folder = TempDir::new().expect("a folder");
    let file = folder.path().join("map.geojson");
    let text = format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[{},{}]}}",
        feature(2.5, 2.502),
        feature(2.501, 2.503)
    );
    fs::write(&file, text).expect("a file");
    let file = file.display().to_string();
    refused(
        "overlap",
        twinsow(&["audit", &file]),
        "polygons overlap on 71",
    );
    let job = demo().join("job.toml").display().to_string();
    let (exit, text) = twinsow(&["audit", &file, "--job", &job]);
    assert_eq!(exit, 1, "{text}");
    assert!(text.contains("m2 of the land are in no polygon"), "{text}");
}

#[test]
fn what_holds_no_map_is_one_clear_error() {
    let folder = TempDir::new().expect("a folder");
    let (exit, text) = twinsow(&["audit", &folder.path().display().to_string()]);
    assert_eq!(exit, 2, "{text}");
    assert!(text.contains("There is no rate map here"), "{text}");
    let boundary = demo().join("boundary.geojson").display().to_string();
    let (exit, text) = twinsow(&["audit", &boundary]);
    assert_eq!(exit, 2, "{text}");
    let (exit, text) = twinsow(&["audit", &boundary, "--plan", &boundary]);
    assert_eq!(exit, 2, "{text}");
    assert!(text.contains("This is no plan of this program"), "{text}");
}

/// What the screen shows at a place: the values of the grid's cell there, none where there is no cell.
fn on_screen(grid: &TaskGrid, place: &serde_json::Value) -> Option<Vec<i32>> {
    let number = |at: usize| place["lon_lat"][at].as_f64().expect("degrees");
    let cell = |at: usize| ((number(at) - grid.origin[at]) / grid.cell[at]).floor() as isize;
    let (column, row) = (
        usize::try_from(cell(0)).ok()?,
        usize::try_from(cell(1)).ok()?,
    );
    if column >= grid.columns || row >= grid.rows {
        return None;
    }
    let values = grid.raw.iter();
    values
        .map(|raw| raw.get(row * grid.columns + column).copied().flatten())
        .collect()
}

/// The places of the gate check, on the grid as it is delivered and on grids that something happened to.
#[test]
fn the_gate_check_shows_what_was_done_to_the_delivered_grid() {
    let text = fs::read_to_string(demo().join("job-plan/plan.json")).expect("plan.json");
    let plan: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let places = plan["gate_check"].as_array().expect("places");
    assert_eq!(places.len(), 3);
    assert_eq!(plan["gate_check_misses"], serde_json::json!([]));
    let set = taskdata::read(&demo().join("job-plan").join(TASK_DATA)).expect("a set");
    let grid = set.tasks[0].grid.as_ref().expect("a grid");
    let wanted = |place: &serde_json::Value| -> Vec<i32> {
        let rates = place["kg_per_ha"].as_array().expect("rates");
        let raw = rates
            .iter()
            .map(|rate| rate.as_f64().expect("a rate") * 100.0);
        raw.map(|raw| raw.round() as i32).collect()
    };
    for place in places {
        assert_eq!(on_screen(grid, place), Some(wanted(place)), "{place}");
    }
    let (columns, rows) = (grid.columns, grid.rows);
    let from = |cell: fn(usize, usize, usize, usize) -> usize| {
        let mut other = grid.clone();
        for (raw, own) in other.raw.iter_mut().zip(&grid.raw) {
            for (at, value) in raw.iter_mut().enumerate() {
                *value = own[cell(at % columns, at / columns, columns, rows)];
            }
        }
        other
    };
    let mut swapped = grid.clone();
    swapped.raw.reverse();
    let mut shifted = grid.clone();
    shifted.origin[1] += (rows / 4) as f64 * grid.cell[1];
    let mut ten_times = grid.clone();
    for value in ten_times.raw.iter_mut().flatten() {
        *value = value.map(|raw| raw / 10);
    }
    let wrong = [
        ("products swapped", swapped),
        (
            "rows flipped",
            from(|c, r, all, rows| (rows - 1 - r) * all + c),
        ),
        ("mirrored", from(|c, r, all, _| r * all + all - 1 - c)),
        (
            "turned",
            from(|c, r, all, rows| (rows - 1 - r) * all + all - 1 - c),
        ),
        ("shifted", shifted),
        ("wrong unit", ten_times),
    ];
    for (what, wrong) in wrong {
        let differs = |place: &serde_json::Value| on_screen(&wrong, place) != Some(wanted(place));
        assert!(places.iter().any(differs), "{what}");
    }
}
