//! A job that names task data of its terminal: the field keeps its id, each map names the part of the machine that
//! meters it, and the guidance line goes back.

use geographiclib_rs::{Geodesic, InverseGeodesic};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use twinsow::codec::taskdata::{Element, parse};
use twinsow::findings::{Fault, Severity};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};
use twinsow::read::taskdata::{self, TaskSet};
use twinsow::write;

/// Set with a field of its own, a line, a drill with two bins and a terminal with so many channels.
fn set(channels: u8, rear: &str) -> String {
    let ring = [[8.0, 50.0], [8.004, 50.0], [8.004, 50.003], [8.0, 50.003]];
    let ring = ring.map(|[lon, lat]| format!("<PNT A=\"2\" C=\"{lat}\" D=\"{lon}\"/>"));
    format!(
        r#"<ISO11783_TaskData VersionMajor="4" VersionMinor="3" DataTransferOrigin="2">
<CTR A="CTR-4" B="Estate of the Four Winds"/><FRM A="FRM7" B="Larkrise" I="CTR-4"/>
<PFD A="PFD-2" C="Lower" D="1" E="CTR-4" F="FRM7"><PLN A="1"><LSG A="1">{ring}</LSG></PLN>
<GGP A="GGP1"><GPN A="GPN1" B="north" C="1"><LSG A="5"><PNT A="6" C="50.0005" D="8.001"/><PNT A="7" C="50.0025" D="8.001"/></LSG></GPN></GGP></PFD>
<DVC A="DVC-1" B="drill" D="a00086000de0012a" F="41424344454647" G="FF000000006564" P094_x="1">
<DET A="DET-1" B="1" C="1" D="drill" E="0" F="0"/>
<DET A="DET-2" B="2" C="3" D="Front" E="1" F="1"><DOR A="10"/></DET>
<DET A="DET-3" B="3" C="3" D="{rear}" E="2" F="1"><DOR A="11"/></DET>
<DPD A="10" B="0006" C="2" D="9"/><DPD A="11" B="0006" C="2" D="9"/></DVC>
<TCC A="A000860020000001" B="cab" C="4" D="63" E="1" F="2" G="{channels}"/>
</ISO11783_TaskData>"#,
        ring = ring.concat()
    )
}

const JOB: &str = r#"
name = "two"
field = { name = "lower", boundary = { file = "boundary.geojson" } }
drive = { along = { file = "TASKDATA", table = "guidance" } }
terminal = { from = "TASKDATA" }
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper]]
name = "rear"
usable_l = 1300.0
element = "DET-3"
[[product]]
id = "barley"
name = "Barley"
kind = "seed"
hopper = "front"
rate = { kg_per_ha = 180.0 }
[[product]]
id = "starter"
name = "Starter"
kind = "fertiliser"
hopper = "rear"
grade = { n_percent = 12.0, p2o5_percent = 52.0 }
form = "monoammonium_phosphate"
rate = { kg_per_ha = 90.0 }
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "barley"
row_spacing_m = 2.0
form = "monoammonium_phosphate"
grade = { n_percent = 12, p2o5_percent = 52 }
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#;

const BOUNDARY: &str = r#"{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[8,50],[8.004,50],[8.004,50.003],[8,50.003],[8,50]]]}}"#;

fn planned(set: &str, job: &str) -> Result<(Plan, TempDir), Box<Fault>> {
    let folder = TempDir::new().expect("a folder");
    let inner = folder.path().join("TASKDATA");
    fs::create_dir(&inner).expect("a folder");
    fs::write(inner.join("TASKDATA.XML"), set).expect("the set");
    fs::write(folder.path().join("boundary.geojson"), BOUNDARY).expect("the boundary");
    let mut job = Job::parse(job, &folder.path().join("job.toml"))?;
    job.folder = folder.path().to_path_buf();
    Ok((plan::plan(&job, &Disk, &Options::default())?, folder))
}

fn delivered(plan: &Plan, folder: &Path) -> PathBuf {
    let out = folder.join("out");
    write::deliver(plan, &out, "2026-03-20T06:00:00Z").expect("files");
    out.join("terminal")
}

fn read(path: &Path) -> TaskSet {
    let set = taskdata::read(path).expect("a set");
    assert!(set.findings.is_empty(), "{:?}", set.findings);
    set
}

#[test]
fn every_form_names_field_machine_and_meters_as_the_terminal_does() {
    let (plan, folder) = planned(&set(2, "Tank 2"), JOB).expect("a plan");
    let terminal = delivered(&plan, folder.path());
    let forms = [
        "TASKDATA",
        "fallback/task-data-3.3/TASKDATA",
        "fallback/task-data-3.3-task-per-product/TASKDATA",
        "fallback/task-data-4.3-zone-numbers/TASKDATA",
        "fallback/task-data-4.3-polygons/TASKDATA",
        "fallback/task-data-3.3-zone-numbers/TASKDATA",
        "fallback/task-data-3.3-polygons/TASKDATA",
    ];
    for form in forms {
        let set = read(&terminal.join(form));
        let field = &set.partfields[0];
        let ids = [
            Some(&field.id),
            field.customer_id.as_ref(),
            field.farm_id.as_ref(),
        ];
        let wanted = ["PFD-2", "CTR-4", "FRM7"].map(String::from);
        assert_eq!(ids, wanted.each_ref().map(Some), "{form}");
        assert_eq!(field.customer, "Estate of the Four Winds");
        // The line, to 9 decimals of a degree there and back through the plane.
        let [line] = field.guidance.as_slice() else {
            panic!("{form}: {:?}", field.guidance);
        };
        assert_eq!(line.swath_m, Some(6.0));
        for (found, wanted) in line.line.iter().zip([[8.001, 50.0005], [8.001, 50.0025]]) {
            let off = (found.lon - wanted[0]).hypot(found.lat - wanted[1]);
            assert!(off < 2e-9, "{form}: {found:?}");
        }
        // The machine is described as it came, less what the standard does not know.
        assert_eq!(set.elements.len(), 3, "{form}");
        assert_eq!(set.elements[2].settable, [6]);
        assert_eq!(set.devices[0].description.get("P094_x"), None);
        let mut metered = Vec::new();
        for task in &set.tasks {
            let zone = &task.zones[0];
            for variable in &zone.variables {
                let product = variable.product.clone().expect("a product");
                let element = variable.element.clone().expect("an element");
                assert!(task.allocations.contains(&(product, element.clone())));
                metered.push(element);
            }
            let same = |other: &taskdata::TreatmentZone| {
                let pairs = other.variables.iter().zip(&zone.variables);
                pairs
                    .into_iter()
                    .all(|(own, first)| own.element == first.element)
            };
            assert!(task.zones.iter().all(same), "{form}");
        }
        assert_eq!(metered, ["DET-2", "DET-3"], "{form}");
    }
    let page = fs::read_to_string(terminal.join("fallback/README.txt")).expect("the page");
    assert!(page.contains("Hopper 'rear' (Starter) is DET-3 'Tank 2'"));
}

#[test]
fn too_few_channels_ask_for_a_decision() {
    let decided = |channels, job: &str| {
        let (plan, _folder) = planned(&set(channels, "Rear"), job).expect("a plan");
        let told = plan.findings.iter().find(|own| own.code == "plan.channels");
        told.map(|own| own.severity == Severity::Decision)
    };
    assert_eq!(decided(1, JOB), Some(true));
    assert_eq!(decided(2, JOB), Some(false));
    let one = JOB.replace(
        "from = \"TASKDATA\"",
        "from = \"TASKDATA\", products_per_task = \"one\"",
    );
    assert_eq!(decided(1, &one), Some(false));
}

#[test]
fn an_element_that_takes_no_rate_by_mass_asks_for_a_decision() {
    let count = set(2, "Rear").replace("A=\"11\" B=\"0006\"", "A=\"11\" B=\"000B\"");
    let (plan, _folder) = planned(&count, JOB).expect("a plan");
    let told = plan
        .findings
        .iter()
        .find(|own| own.code == "plan.element_rate")
        .expect("a finding");
    assert_eq!(told.severity, Severity::Decision);
    assert!(told.message.contains("count per area only"), "{told:?}");
}

#[test]
fn a_hopper_without_its_element_is_one_clear_fault() {
    let refused = |set: &str, job: &str, parts: &[&str]| {
        let fault = planned(set, job).err().expect("a fault").to_string();
        for part in parts {
            assert!(fault.contains(part), "{part}: {fault}");
        }
    };
    let unnamed = JOB.replace("element = \"DET-3\"", "");
    refused(
        &set(2, "Tank 2"),
        &unnamed,
        &["called 'rear'", "DET-3 'Tank 2'", "element = \"DET3\""],
    );
    refused(&set(2, "Front"), JOB, &["2 elements", "'front'"]);
    let both = JOB.replace("DET-3", "DET-2");
    refused(&set(2, "Tank 2"), &both, &["would meter two products"]);
    let without = JOB.replace("terminal = { from = \"TASKDATA\" }", "");
    refused(&set(2, "Rear"), &without, &["no task data describe"]);
    let none = JOB.replace("from = \"TASKDATA\"", "from = \"boundary.geojson\"");
    refused(&set(2, "Rear"), &none, &["This is no task data"]);
    let broken = set(2, "Rear").replace("F=\"41424344454647\"", "");
    refused(
        &broken,
        JOB,
        &["cannot be sent back", "lacks the attribute F"],
    );
}

#[test]
fn a_description_for_version_4_only_leaves_version_3_without_meters() {
    let long = set(2, "Rear").replace("41424344454647", "4142434445464748");
    let (plan, folder) = planned(&long, JOB).expect("a plan");
    assert!(plan.findings.iter().any(|own| own.code == "plan.device"));
    let terminal = delivered(&plan, folder.path());
    assert_eq!(read(&terminal.join("TASKDATA")).elements.len(), 3);
    let older = read(&terminal.join("fallback/task-data-3.3"));
    assert!(older.elements.is_empty() && older.tasks[0].allocations.is_empty());
}

#[test]
fn a_field_that_the_terminal_does_not_know_is_said() {
    let job = JOB.replace("name = \"lower\"", "name = \"upper\"");
    let (plan, folder) = planned(&set(2, "Rear"), &job).expect("a plan");
    let told = plan
        .findings
        .iter()
        .any(|own| own.code == "plan.new_partfield");
    assert!(told, "{:?}", plan.findings);
    let set = read(&delivered(&plan, folder.path()).join("TASKDATA"));
    assert_ne!(set.partfields[0].id, "PFD-2");
}

#[test]
fn a_boundary_out_of_task_data_keeps_its_id() {
    let boundary = "boundary = { file = \"TASKDATA\", only = { field = \"Lower\" } }";
    let job = JOB
        .replace("boundary = { file = \"boundary.geojson\" }", boundary)
        .replace("name = \"lower\"", "name = \"Bottom field\"")
        .replace("terminal = { from = \"TASKDATA\" }", "")
        .replace("element = \"DET-3\"", "");
    let (plan, folder) = planned(&set(2, "Rear"), &job).expect("a plan");
    let set = read(&delivered(&plan, folder.path()).join("TASKDATA"));
    assert_eq!(set.partfields[0].id, "PFD-2");
    assert_eq!(set.partfields[0].name, "Lower");
    assert!(set.elements.is_empty());
}

/// Elements with this tag, as they stand in the XML of a set.
fn elements(folder: &Path, tag: &str) -> Vec<Element> {
    let bytes = fs::read(folder.join("TASKDATA.XML")).expect("the main file");
    let root = parse(&bytes).expect("XML");
    let mut found = Vec::new();
    let mut open = vec![root];
    while let Some(element) = open.pop() {
        open.extend(element.children.iter().rev().cloned());
        if element.tag == tag {
            found.push(element);
        }
    }
    found
}

#[test]
fn a_task_asks_for_what_its_log_is_read_for_and_names_bins() {
    let set = set(2, "Rear")
        .replace("<DOR A=\"10\"/>", "<DOR A=\"10\"/><DOR A=\"20\"/><DOR A=\"21\"/>")
        .replace("<DOR A=\"11\"/>", "<DOR A=\"11\"/><DOR A=\"22\"/>")
        .replace(
            "</DVC>",
            "<DPD A=\"20\" B=\"0160\" C=\"1\" D=\"17\"/><DPT A=\"21\" B=\"00B2\" C=\"0\"/><DPT A=\"22\" B=\"00B2\" C=\"1\"/></DVC>",
        );
    let (plan, folder) = planned(&set, JOB).expect("a plan");
    let terminal = delivered(&plan, folder.path());
    let newest = terminal.join("TASKDATA");
    let asked: Vec<[String; 3]> = elements(&newest, "DLT")
        .iter()
        .map(|own| ["A", "B", "H"].map(|name| own.get(name).unwrap_or("-").to_owned()))
        .collect();
    // The default set, and the one entry that this machine offers.
    assert_eq!(
        asked,
        [["DFFF", "31", "-"], ["0160", "17", "DET-2"]].map(|own| own.map(String::from))
    );
    let instances = |folder: &Path| -> Vec<Option<String>> {
        let variables = elements(folder, "PDV");
        let all = variables.iter().map(|own| own.get("G").map(str::to_owned));
        all.collect()
    };
    let both = [Some("0".to_owned()), Some("1".to_owned())];
    assert!(instances(&newest).chunks(2).all(|pair| *pair == both));
    let older = terminal.join("fallback/task-data-3.3/TASKDATA");
    assert!(instances(&older).iter().all(Option::is_none));
    // Without a description the job may say it, and what a drill by mass usually has is asked for.
    let alone = JOB
        .replace("terminal = { from = \"TASKDATA\" }", "")
        .replace("element = \"DET-3\"", "bin_number = 1")
        .replace("usable_l = 1900.0", "usable_l = 1900.0\nbin_number = 2");
    let (plan, folder) = planned(&set, &alone).expect("a plan");
    let newest = delivered(&plan, folder.path()).join("TASKDATA");
    let turned = [Some("1".to_owned()), Some("0".to_owned())];
    assert!(instances(&newest).chunks(2).all(|pair| *pair == turned));
    assert_eq!(elements(&newest, "DLT").len(), 8);
    let twice = alone.replace("bin_number = 2", "bin_number = 1");
    let fault = planned(&set, &twice).err().expect("a fault").to_string();
    assert!(fault.contains("the same bin_number"), "{fault}");
}

#[test]
fn crop_colours_and_tramlines_lie_in_the_set() {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
    let job = Job::load(&job).expect("the job");
    let plan = plan::plan(&job, &Disk, &Options::default()).expect("a plan");
    let folder = TempDir::new().expect("a folder");
    let terminal = delivered(&plan, folder.path());
    let ready = terminal.join("TASKDATA");
    let crops = elements(&ready, "CTP");
    let [crop] = crops.as_slice() else {
        panic!("{crops:?}");
    };
    assert_eq!(crop.get("B"), Some("spring barley"));
    let field = &elements(&ready, "PFD")[0];
    assert_eq!(field.get("G"), crop.get("A"));
    // A 36 m sprayer with 1.8 m between its wheels: two lines for each bout of the interior that closes rows.
    let lines = elements(&ready, "LSG");
    let lines = lines.iter().filter(|own| own.get("A") == Some("3"));
    let mut by_bout: BTreeMap<&str, Vec<Vec<[f64; 2]>>> = BTreeMap::new();
    for line in lines {
        assert_eq!(line.get("C"), Some("300"), "two rows of 0.15 m");
        let places = line.children.iter().map(|point| {
            ["C", "D"].map(|name| {
                point
                    .get(name)
                    .and_then(|text| text.parse().ok())
                    .unwrap_or(0.0)
            })
        });
        let bout = line.get("B").expect("a name");
        by_bout.entry(bout).or_default().push(places.collect());
    }
    let apart =
        |[a, b]: [[f64; 2]; 2]| -> f64 { Geodesic::wgs84().inverse(a[0], a[1], b[0], b[1]) };
    let straight: Vec<_> = by_bout.values().filter(|own| own.len() == 2).collect();
    assert!(straight.len() >= 3, "{}", straight.len());
    let mut pairs = 0;
    for own in by_bout.values().filter(|own| own.len() == 2) {
        let [one, other] = [&own[0], &own[1]];
        if one.len() != other.len() || one.len() > 12 {
            continue;
        }
        pairs += 1;
        for (a, b) in one.iter().zip(other) {
            let metres = apart([*a, *b]);
            assert!((metres - 1.8).abs() < 0.002, "{metres}");
        }
    }
    assert!(pairs >= 3, "{pairs}");
    // Zones with rates have colours: darker for more of the first product.
    let zones = elements(
        &terminal.join("fallback/task-data-4.3-zone-numbers/TASKDATA"),
        "TZN",
    );
    let mut seen = Vec::new();
    for zone in &zones {
        let code: u8 = zone
            .get("A")
            .and_then(|text| text.parse().ok())
            .expect("a code");
        let colour: Option<u16> = zone.get("C").and_then(|text| text.parse().ok());
        assert_eq!(colour.is_some(), code >= 5, "{zone:?}");
        let rate: i32 = zone.children[0]
            .get("B")
            .and_then(|text| text.parse().ok())
            .expect("a rate");
        if let Some(colour) = colour.filter(|_| rate > 0) {
            let [r, g, b] = [(colour - 16) / 36, (colour - 16) / 6 % 6, (colour - 16) % 6];
            // Weights of the parts in luminance, WCAG 2.2.
            seen.push((
                rate,
                0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b),
            ));
        }
    }
    seen.sort_by_key(|own| own.0);
    assert!(seen.len() > 3, "{seen:?}");
    let (first, last) = (seen[0].1, seen[seen.len() - 1].1);
    assert!(first > last + 1.0, "{seen:?}");
    assert!(
        seen.windows(2).all(|pair| pair[1].1 <= pair[0].1),
        "{seen:?}"
    );
}
