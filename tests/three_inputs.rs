//! The example with three kinds of input: polygons, points and a raster lead to one plan.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use twinsow::agronomy::Rule;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};

fn example() -> Plan {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/three-inputs/job.toml");
    let job = Job::load(&file).unwrap_or_else(|fault| panic!("{fault}"));
    plan::plan(&job, &Disk, &Options::default()).unwrap_or_else(|fault| panic!("{fault}"))
}

#[test]
fn polygons_points_and_a_raster_lead_to_one_plan() {
    let plan = example();
    let [soil, phosphate, harvest] = [0, 1, 2].map(|layer| {
        let rows = plan.rates.rows.iter();
        let mut all: Vec<&str> = rows.map(|row| row.facts.classes[layer].as_str()).collect();
        all.sort_unstable();
        all.dedup();
        all
    });
    assert_eq!(soil, ["clay", "loam", "sandy loam"]);
    assert_eq!(phosphate, ["1", "2", "3"]);
    // A number for each of the four soil polygons, two of them of one soil.
    assert_eq!(harvest.len(), 4, "{harvest:?}");
    for row in &plan.rates.rows {
        let reasons = |product: usize, rule: Rule| {
            let reasons = &row.rates[product].reasons;
            reasons.iter().any(|reason| reason.rule == rule)
        };
        assert!(
            reasons(0, Rule::SeedPopulation),
            "{:?}",
            row.rates[0].reasons
        );
        let seed = &row.rates[0].reasons;
        assert!(
            seed.iter()
                .any(|reason| reason.text.contains("by its curve")),
            "{seed:?}"
        );
        let starter = row.rates[1].kg_per_ha;
        assert_eq!(starter == 0.0, row.facts.classes[1] == "3", "{starter}");
    }
    // Every value has its land: nothing of the field is left over.
    let area: f64 = plan.rates.rows.iter().map(|row| row.area_m2).sum();
    assert!((area - plan.tally.planned.mapped_m2).abs() < 1e-6 * area);
    let said = |code: &str| {
        let mut findings = plan.findings.iter();
        findings.any(|finding| finding.code == code)
    };
    assert!(
        said("surface.zonal") && said("surface.fit"),
        "{:?}",
        plan.findings
    );
}

/// The pictures of the documentation are what `twinsow zones` draws of the example. To draw them anew:
/// `TWINSOW_BLESS=1 cargo test --test three_inputs`.
#[test]
fn the_pictures_in_the_documentation_are_those_of_the_example() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("zones");
    let run = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["zones", "examples/three-inputs/job.toml", "--out"])
        .arg(&out)
        .current_dir(root)
        .output()
        .unwrap();
    assert!(
        run.status.success(),
        "{}",
        String::from_utf8_lossy(&run.stderr)
    );
    for layer in ["soil", "phosphate", "yield"] {
        let drawn = fs::read_to_string(out.join(format!("zones_{layer}.svg"))).unwrap();
        let kept = root.join(format!("docs/pictures/layer-{layer}.svg"));
        if std::env::var_os("TWINSOW_BLESS").is_some() {
            fs::write(&kept, &drawn).unwrap();
        }
        let kept = fs::read_to_string(&kept).unwrap().replace("\r\n", "\n");
        assert!(
            kept == drawn,
            "docs/pictures/layer-{layer}.svg is out of date; run with TWINSOW_BLESS=1"
        );
    }
}

#[test]
fn each_step_is_told_once_and_in_order() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/three-inputs/job.toml");
    let job = Job::load(&file).unwrap();
    let told = Mutex::new(Vec::new());
    plan::plan(
        &job,
        &Disk,
        &Options {
            tell: &|step| told.lock().unwrap().push(step.clone()),
            ..Options::default()
        },
    )
    .unwrap();
    let told = told.into_inner().unwrap();
    let nths: Vec<usize> = told.iter().map(|step| step.nth).collect();
    assert_eq!(nths, [1, 2, 3, 4, 5, 6, 7]);
    assert!(told.iter().all(|step| step.of == 7));
    assert_eq!(told[2].what, "layer 'phosphate'");
}

#[test]
fn nothing_is_said_of_progress_where_nobody_looks() {
    let folder = tempfile::tempdir().unwrap();
    let run = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["plan", "examples/three-inputs/job.toml", "--out"])
        .arg(folder.path().join("plan"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(run.status.success());
    assert_eq!(String::from_utf8_lossy(&run.stderr), "");
}
