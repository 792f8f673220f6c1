//! `twinsow zones`: what is written comes back as the same zones.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

fn job(folder: &Path) -> String {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo");
    for entry in fs::read_dir(&demo).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, folder.join(path.file_name().unwrap())).unwrap();
    }
    fs::read_to_string(folder.join("job.toml")).unwrap()
}

#[test]
fn zones_come_back_as_they_were() {
    let folder = tempfile::tempdir().unwrap();
    let text = job(folder.path());
    let out = twinsow(folder.path(), &["zones", "job.toml"]);
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(
        out.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&out.stderr)
    );
    assert!(
        said.contains("source = { file = 'job-zones/zones.gpkg', table = \"zones_soil\" }"),
        "{said}"
    );
    // From a folder elsewhere, the path is as the job sees it, not as the user does.
    fs::create_dir(folder.path().join("work")).unwrap();
    let work = folder.path().join("work");
    let out = twinsow(&work, &["zones", "../job.toml", "--out", "edited"]);
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(said.contains("file = 'work/edited/zones.gpkg'"), "{said}");
    // The same job with the zones in place of the layers' own files, from every format.
    let plan = |text: &str| {
        fs::write(folder.path().join("again.toml"), text).unwrap();
        twinsow(folder.path(), &["plan", "again.toml"]);
        let file = folder.path().join("again-plan/plan.json");
        let plan: serde_json::Value = serde_json::from_slice(&fs::read(file).unwrap()).unwrap();
        let kg = |step: &serde_json::Value| step["kg"].as_f64().unwrap();
        let products = plan["tally"]["products"].as_array().unwrap().iter();
        let kg: Vec<f64> = products.map(|product| kg(&product["steps"][0])).collect();
        kg
    };
    let before = plan(&text);
    for form in ["gpkg", "geojson", "shp.zip"] {
        let layer = |name: &str| match form {
            "gpkg" => {
                format!("source = {{ file = \"job-zones/zones.gpkg\", table = \"zones_{name}\" }}")
            }
            other => format!("source = {{ file = \"job-zones/zones_{name}.{other}\" }}"),
        };
        let text = text
            .replace("source = { file = \"soil.geojson\" }", &layer("soil"))
            .replace("class_attribute = \"soil\"", "class_attribute = \"class\"")
            .replace(
                "source = { file = \"phosphate.geojson\" }",
                &layer("phosphate"),
            )
            .replace(
                "class_attribute = \"p_index\"",
                "class_attribute = \"class\"",
            );
        assert!(!text.contains("\"soil.geojson\"") && !text.contains("\"p_index\""));
        for (own, back) in before.iter().zip(plan(&text)) {
            // Nine decimals of a degree are a tenth of a millimetre.
            assert!((own - back).abs() < 0.01, "{form}: {own} {back}");
        }
    }
}

#[test]
fn edited_zones_are_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    job(folder.path());
    fs::create_dir(folder.path().join("job-zones")).unwrap();
    fs::write(folder.path().join("job-zones/mine.txt"), "edited").unwrap();
    let out = twinsow(folder.path(), &["zones", "job.toml"]);
    assert_eq!(out.status.code(), Some(2));
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(said.contains("--out"), "{said}");
    assert_eq!(
        fs::read_dir(folder.path().join("job-zones"))
            .unwrap()
            .count(),
        1
    );
}
