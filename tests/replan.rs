//! A plan made anew after a rate has changed takes polygons from the one before. It must be the plan that a
//! new start makes, to the byte.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, job, line, prepared, rectangle};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use twinsow::findings::Blame;
use twinsow::job::Job;
use twinsow::plan::{self, Options, Plan, Prepared};
use twinsow::write::{self, Form, Forms};

const LAND: &str = r#"
[[setback]]
name = "brook"
source = { file = "brook.geojson" }
distance_m = 5.0
products = ["starter"]
[headland]
bouts = 1
"#;

/// Three zones; `seed` and `starter` are the rates of a, b and c, kg/ha.
fn job_with(made: &Made, seed: [f64; 3], starter: [f64; 3]) -> Job {
    let by_class = |[a, b, c]: [f64; 3]| format!("{{ a = {a:.1}, b = {b:.1}, c = {c:.1} }}");
    let text = job(LAND)
        .replace("{ a = 150.0, b = 190.0 }", &by_class(seed))
        .replace("{ a = 100.0, b = 0.0 }", &by_class(starter));
    made.write("job.toml", text);
    Job::load(&made.path().join("job.toml")).expect("a job")
}

fn field() -> Made {
    let made = Made::new();
    let zone = |name: &str, low, high| {
        feature(PLACE, &format!(r#""soil":"{name}""#), &rectangle(low, high))
    };
    let boundary = rectangle([0.0, 0.0], [200.0, 150.0]);
    let boundary = feature(PLACE, r#""name":"made""#, &boundary);
    made.write("boundary.geojson", collection(&[boundary]));
    // Land of a on both sides of b, c in the midst of it.
    let zones = [
        zone("c", [90.0, 60.0], [110.0, 80.0]),
        zone("a", [-10.0, -10.0], [70.0, 160.0]),
        zone("b", [70.0, -10.0], [130.0, 160.0]),
        zone("a", [130.0, -10.0], [210.0, 160.0]),
    ];
    made.write("soil.geojson", collection(&zones));
    let brook = line(PLACE, &[[-10.0, 152.0], [210.0, 152.0]]);
    made.write("brook.geojson", collection(&[brook]));
    made
}

/// Every file of a plan.
fn files(plan: &Plan) -> BTreeMap<String, Vec<u8>> {
    fn below(folder: &Path, root: &Path, found: &mut BTreeMap<String, Vec<u8>>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                below(&path, root, found);
                continue;
            }
            let name = path.strip_prefix(root).expect("below").display();
            found.insert(name.to_string(), fs::read(&path).expect("a file"));
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let forms = Forms::only([Form::Geojson, Form::Geotiff]);
    write::content(plan, folder.path(), "2026-01-01T00:00:00Z", &forms).expect("files");
    let mut found = BTreeMap::new();
    below(folder.path(), folder.path(), &mut found);
    assert!(found.len() > 3, "{:?}", found.keys());
    found
}

fn planned(prepared: &Prepared, job: &Job) -> Plan {
    plan::rate(prepared, job, &Options::rates_only()).expect("a plan")
}

/// How many zones of the map hold the very polygons of the one before.
fn kept(before: &Plan, after: &Plan) -> usize {
    let same = |zone: &Arc<_>| {
        let mut known = before.maps.rate.zones.iter();
        known.any(|known| Arc::ptr_eq(&known.polygons, zone))
    };
    let zones = after.maps.rate.zones.iter();
    zones.filter(|zone| same(&zone.polygons)).count()
}

#[test]
fn a_plan_after_a_changed_rate_is_the_plan_of_a_new_start() {
    let made = field();
    // Rates of the seed, zones of the map, and how many of them keep the polygons of the plan before. a and b alike are
    // four zones, headland and interior with and without starter, for the setback reaches over the headland; c is one.
    let starter = [100.0, 100.0, 60.0];
    let steps = [
        ("first", [150.0, 150.0, 170.0], 5, 0),
        ("the groups stay", [155.0, 155.0, 170.0], 5, 5),
        ("a group is split", [155.0, 160.0, 170.0], 9, 1),
        ("the groups stay once more", [150.0, 160.0, 180.0], 9, 9),
        ("two groups are joined", [165.0, 165.0, 170.0], 5, 1),
    ];
    let first = job_with(&made, steps[0].1, starter);
    let kept_land = prepared(&first).expect("land");
    let mut before: Option<Plan> = None;
    for (what, seed, zones, same) in steps {
        let job = job_with(&made, seed, starter);
        let again = planned(&kept_land, &job);
        let anew = planned(&prepared(&job).expect("land"), &job);
        let (again_files, anew_files) = (files(&again), files(&anew));
        assert!(again_files.keys().eq(anew_files.keys()), "{what}");
        for (name, bytes) in &again_files {
            assert!(*bytes == anew_files[name], "{what}: {name} differs");
        }
        assert!(again.maps.rate.zones == anew.maps.rate.zones, "{what}");
        assert_eq!(again.maps.rate.zones.len(), zones, "{what}");
        let found = before.as_ref().map_or(0, |before| kept(before, &again));
        assert_eq!(found, same, "{what}: zones with the polygons of before");
        before = Some(again);
    }
}

/// Nobody who wrote a job can bring that about: whoever calls the library with two jobs can.
#[test]
fn land_that_was_cut_with_another_job_is_the_programs_fault() {
    let made = field();
    let job = job_with(&made, [150.0; 3], [100.0; 3]);
    let land = prepared(&job).expect("land");
    let other = Job {
        setbacks: Vec::new(),
        ..job
    };
    let refused = plan::rate(&land, &other, &Options::rates_only()).err();
    let fault = refused.expect("a setback that the job has not");
    assert_eq!(
        (fault.code, fault.blame),
        ("agronomy.facts", Blame::Program)
    );
    assert!(fault.next.contains("report it"), "{fault}");
}
