//! The CRS database is the one inside the binary, whatever the surroundings say.
//!
//! The test starts itself again as a child, in a working folder and with an environment of its own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use twinsow::frame::{Crs, epsg_version};
use twinsow::read::{DeclaredCrs, Feature, Geometry, Layer};

const CHILD: &str = "TWINSOW_TEST_CHILD";
const GRIDS: &str = "TWINSOW_TEST_GRIDS";

/// What the child prints: the four CRSs of the task, each with a place in it, and one that needs a grid.
fn report() {
    println!("= {}", epsg_version());
    for (code, at) in [
        ("EPSG:28992", [155_000.0, 463_000.0]),
        ("EPSG:25832", [600_000.0, 5_800_000.0]),
        ("EPSG:2193", [1_570_000.0, 5_180_000.0]),
        ("EPSG:3067", [385_000.0, 6_672_000.0]),
        ("EPSG:31467", [3_500_000.0, 5_800_000.0]),
    ] {
        let layer = Layer {
            file: PathBuf::from("field.gpkg"),
            format: "GeoPackage",
            table: None,
            crs: DeclaredCrs::Text(code.into()),
            attributes: vec![],
            features: vec![Feature {
                name: "1".into(),
                geometry: Geometry::Points(vec![at]),
                values: vec![],
            }],
            findings: vec![],
        };
        let grids = std::env::var_os(GRIDS).map(PathBuf::from);
        match Crs::with_grids(&layer, None, grids.as_deref()) {
            Ok(crs) => {
                let done = crs.to_wgs84(&[at]);
                let (points, done) = (done.as_ref().ok(), done.as_ref().map(|_| ()));
                println!(
                    "= {} {:?} {points:?} {done:?} {:?}",
                    crs.name, crs.accuracy_m, crs.findings
                );
            }
            Err(fault) => println!("= {fault}"),
        }
    }
}

fn child(folder: &Path, variables: &[(&str, &Path)]) -> Output {
    let mut command = Command::new(std::env::current_exe().expect("this test"));
    command.args([
        "--exact",
        "the_database_inside_is_used_whatever_the_surroundings",
        "--nocapture",
    ]);
    command.current_dir(folder).env(CHILD, "1");
    for name in [
        "PROJ_DATA",
        "PROJ_LIB",
        "PROJ_AUX_DB",
        "PROJ_DEBUG",
        "PROJ_NETWORK",
    ] {
        command.env_remove(name);
    }
    command.envs(variables.iter().copied());
    command.output().expect("a child")
}

fn lines(output: &Output) -> Vec<String> {
    String::from_utf8_lossy(&output.stdout)
        .lines()
        .filter(|l| l.starts_with("= "))
        .map(String::from)
        .collect()
}

#[test]
fn the_database_inside_is_used_whatever_the_surroundings() {
    if std::env::var_os(CHILD).is_some() {
        return report();
    }
    let empty = tempfile::tempdir().expect("a folder");
    let bad = tempfile::tempdir().expect("a folder");
    for name in ["proj.db", "proj.ini", "BETA2007.gsb", "de_adv_BETA2007.tif"] {
        std::fs::write(bad.path().join(name), b"this is no database and no grid").expect("a file");
    }
    std::fs::create_dir(bad.path().join("proj")).expect("a folder");
    std::fs::write(bad.path().join("proj").join("proj.db"), b"rubbish").expect("a file");

    let plain = child(empty.path(), &[]);
    let right = lines(&plain);
    assert_eq!(right.len(), 6, "{plain:?}");
    for name in [
        "Amersfoort / RD New",
        "ETRS89 / UTM zone 32N",
        "New Zealand Transverse Mercator",
        "TM35FIN",
    ] {
        assert!(
            right
                .iter()
                .any(|l| l.contains(name) && l.contains("Ok(())")),
            "{name}: {right:?}"
        );
    }

    let on = Path::new("ON");
    let all: [(&Path, &[(&str, &Path)]); 6] = [
        (
            empty.path(),
            &[("PROJ_DATA", empty.path()), ("PROJ_LIB", empty.path())],
        ),
        (empty.path(), &[("PROJ_DATA", bad.path())]),
        (empty.path(), &[("PROJ_LIB", bad.path())]),
        (bad.path(), &[]),
        (
            empty.path(),
            &[
                ("XDG_DATA_HOME", bad.path()),
                ("PROJ_USER_WRITABLE_DIRECTORY", bad.path()),
            ],
        ),
        (
            bad.path(),
            &[
                ("PROJ_DATA", bad.path()),
                ("PROJ_DEBUG", Path::new("3")),
                ("PROJ_NETWORK", on),
            ],
        ),
    ];
    for (folder, variables) in all {
        let output = child(folder, variables);
        assert_eq!(lines(&output), right, "{variables:?}: {output:?}");
        // PROJ prints nothing of its own.
        assert!(
            output.stderr.is_empty(),
            "{variables:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
    }

    // A database in the folder of grids, in PROJ_DATA and in the working folder is none either. The grid
    // there is no grid, which the last line says.
    let output = child(
        bad.path(),
        &[(GRIDS, bad.path()), ("PROJ_DATA", bad.path())],
    );
    assert_eq!(lines(&output)[..5], right[..5], "{output:?}");
    assert!(lines(&output)[5].contains("frame.grid_unfit"), "{output:?}");
    assert!(output.stderr.is_empty(), "{output:?}");

    // A second database beside the first cannot be had with the one inside: said, not ignored.
    let aux = bad.path().join("proj.db");
    let output = child(empty.path(), &[("PROJ_AUX_DB", &aux)]);
    let said = String::from_utf8_lossy(&output.stdout)
        .matches("Next: unset PROJ_AUX_DB")
        .count();
    assert_eq!(said, 5, "{output:?}");
    assert!(output.stderr.is_empty(), "{output:?}");
}
