//! Task data from a terminal as the input of a job: a field with its obstacles, out of a set with two fields.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn ring(kind: u8, west: f64, south: f64, east: f64, north: f64) -> String {
    let points = [[west, south], [east, south], [east, north], [west, north]];
    let points = points.map(|[lon, lat]| format!("<PNT A=\"2\" C=\"{lat}\" D=\"{lon}\"/>"));
    format!("<LSG A=\"{kind}\">{}</LSG>", points.concat())
}

/// Two fields; the second has a pond and an AB line, and a task with a grid.
fn write(folder: &Path) {
    let north = ring(1, 8.0, 50.1, 8.004, 50.102);
    let south = ring(1, 8.0, 50.0, 8.006, 50.004);
    let pond = ring(1, 8.002, 50.001, 8.003, 50.002);
    let xml = format!(
        "<ISO11783_TaskData VersionMajor=\"4\" VersionMinor=\"3\" DataTransferOrigin=\"2\" P094_x=\"1\">
<CTR A=\"CTR1\" B=\"Estate of the Four Winds\"/><FRM A=\"FRM1\" B=\"Larkrise\" I=\"CTR1\"/>
<PFD A=\"PFD1\" C=\"Upper\" D=\"1\"><PLN A=\"1\">{north}</PLN></PFD>
<PFD A=\"PFD2\" C=\"Lower\" D=\"1\" E=\"CTR1\" F=\"FRM1\"><PLN A=\"1\">{south}</PLN><PLN A=\"3\" B=\"pond\">{pond}</PLN>
<GGP A=\"GGP1\" B=\"g\"><GPN A=\"GPN1\" B=\"east\" C=\"1\"><LSG A=\"5\" C=\"6000\"><PNT A=\"6\" C=\"50\" D=\"8\"/><PNT A=\"7\" C=\"50\" D=\"8.006\"/></LSG></GPN></GGP></PFD>
<PDT A=\"PDT1\" B=\"Need\"/>
<TSK A=\"TSK1\" B=\"need\" E=\"PFD2\" G=\"1\"><TZN A=\"1\"><PDV A=\"0006\" B=\"0\" C=\"PDT1\"/></TZN>
<GRD A=\"50\" B=\"8\" C=\"0.004\" D=\"0.003\" E=\"2\" F=\"1\" G=\"GRD00001\" I=\"2\" J=\"1\"/></TSK></ISO11783_TaskData>"
    );
    fs::create_dir_all(folder).unwrap();
    fs::write(folder.join("TASKDATA.XML"), xml).unwrap();
    let cells: Vec<u8> = [9_000_i32, 12_000]
        .iter()
        .flat_map(|v| v.to_le_bytes())
        .collect();
    fs::write(folder.join("GRD00001.BIN"), cells).unwrap();
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_twinsow"));
    command
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_job_starts_from_one_field_of_a_set_and_leaves_its_pond_out() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("TASKDATA"));
    let described = run(folder.path(), &["describe", "TASKDATA"]);
    let said = text(&described.stdout);
    assert!(described.status.success(), "{}", text(&described.stderr));
    for part in [
        "layer 'boundary'",
        "layer 'obstacles'",
        "layer 'guidance'",
        "layer 'grid'",
        "Need_kg_per_ha",
        "Lower",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }

    let none = run(folder.path(), &["new", "job", "--boundary", "TASKDATA"]);
    assert_eq!(none.status.code(), Some(2));
    assert!(
        text(&none.stderr).contains("'Lower' (PFD2)"),
        "{}",
        text(&none.stderr)
    );
    let made = run(
        folder.path(),
        &[
            "new",
            "job",
            "--boundary",
            "TASKDATA",
            "--field",
            "Lower",
            "--layer",
            "TASKDATA",
        ],
    );
    assert!(made.status.success(), "{}", text(&made.stderr));
    let job = fs::read_to_string(folder.path().join("job/job.toml")).unwrap();
    for part in [
        "table = \"obstacles\"",
        "farm = \"Larkrise\"",
        "class_attribute = \"Need_kg_per_ha\"",
    ] {
        assert!(job.contains(part), "{part}: {job}");
    }

    let job = job
        .replace("crop = \"?\"", "crop = \"wheat\"")
        .replace("working_width_m = \"?\"", "working_width_m = 6")
        .replace("usable_l = \"?\"", "usable_l = 1900")
        .replace("= \"?\"", "= 160");
    fs::write(folder.path().join("job/job.toml"), &job).unwrap();
    let planned = run(folder.path(), &["plan", "job/job.toml", "--out", "plan"]);
    assert!(
        planned.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&planned.stderr)
    );
    let plan = fs::read_to_string(folder.path().join("plan/plan.json")).unwrap();
    let plan: serde_json::Value = serde_json::from_str(&plan).unwrap();
    // Lower less its pond: 0.006 x 0.004 less 0.001 x 0.001 degrees at 50 degrees north; a degree is 111 229 m of
    // latitude and 71 696 m of longitude there (WGS 84, meridian and normal radius of curvature).
    let wanted = (0.006 * 0.004 - 0.001 * 0.001) * 111_229.0 * 71_696.0;
    let mapped = plan["tally"]["mapped_m2"].as_f64().unwrap();
    assert!(
        (mapped / wanted - 1.0).abs() < 1e-3,
        "{mapped}, not {wanted}"
    );

    // Without the exclusion the pond is told of.
    let start = job.find("[[exclusion]]").unwrap();
    let end = start + job[start..].find("\n\n").unwrap();
    let without = format!("{}{}", &job[..start], &job[end..]);
    fs::write(folder.path().join("job/without.toml"), without).unwrap();
    let planned = run(
        folder.path(),
        &["plan", "job/without.toml", "--out", "other"],
    );
    assert!(
        planned.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&planned.stderr)
    );
    let told = text(&planned.stdout) + &text(&planned.stderr);
    assert!(told.contains("1 obstacles in this field"), "{told}");
}
