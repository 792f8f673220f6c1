//! The demo never writes over what somebody has changed.

use std::fs;
use std::process::Command;

#[test]
fn a_changed_demo_is_left_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let demo = folder.path().join("demo");
    fs::create_dir(&demo).expect("made");
    fs::write(demo.join("job.toml"), "name = \"mine\"\n").expect("written");
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["demo", "--out", "demo"])
        .current_dir(folder.path())
        .output()
        .expect("the program starts");
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("this file of the demo has been changed"),
        "{said}"
    );
    assert_eq!(
        fs::read_to_string(demo.join("job.toml")).expect("the file"),
        "name = \"mine\"\n"
    );
    assert_eq!(
        fs::read_dir(&demo).expect("the folder").count(),
        1,
        "nothing else is written"
    );
}
