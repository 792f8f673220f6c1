//! A machine file that several jobs share: its values, whose word counts, and where its faults lie.

use std::path::Path;
use twinsow::findings::{Fault, Outcome};
use twinsow::job::Job;

const MACHINE: &str = "# made for this test\n[drill]\nworking_width_m = 6\nrows = 48\nrow_spacing_m = 0.125\n\
    opener_spread_m = 0.03\nreference_to_outlets_m = 2.5\n\n\
    [[drill.hopper]]\nname = \"front\"\nusable_l = 1900\ndelays = { start_s = 1.5, step_up_s = 2 }\n";

fn job(drill: &str, more: &str) -> String {
    format!(
        "name = \"t\"\n[field]\nname = \"f\"\nboundary = {{ file = \"b.geojson\" }}\n\
         [drill]\nfrom = \"../shed/drill.toml\"\n{drill}\n\
         [[product]]\nid = \"a\"\nname = \"A\"\nkind = \"seed\"\nhopper = \"front\"\n{more}\n[product.rate]\nkg_per_ha = 100\n"
    )
}

fn parsed(text: &str, machine: &str) -> Outcome<Job> {
    Job::parse_with(text, Path::new("farm/job.toml"), &|path| {
        assert_eq!(path, Path::new("farm/../shed/drill.toml"));
        Ok(machine.to_owned())
    })
}

fn fault(text: &str, machine: &str) -> Fault {
    *parsed(text, machine).expect_err("a fault")
}

#[test]
fn the_machine_file_gives_what_the_job_leaves_out() {
    let job = parsed(&job("rows = 24\nrow_spacing_m = 0.25", ""), MACHINE).expect("a job");
    let drill = &job.drill;
    // The job's own keys count, one by one.
    assert_eq!((drill.rows, drill.row_spacing_m), (Some(24), Some(0.25)));
    assert_eq!(drill.working_width_m, 6.0);
    assert_eq!(drill.sections_m, [6.0]);
    assert_eq!(drill.reference_to_outlets_m, 2.5);
    assert_eq!(drill.hoppers[0].delays.start_s, 1.5);
    assert_eq!(
        job.machine_file.as_deref(),
        Some(Path::new("../shed/drill.toml"))
    );
    // The resolved job stands on its own.
    let printed = job.print().expect("printed");
    assert!(!printed.contains("from ="), "{printed}");
    let again = Job::parse(&printed, Path::new("farm/job.toml")).expect("a job");
    assert_eq!(again.drill, job.drill);
}

#[test]
fn a_products_own_delays_count_instead_of_its_hoppers() {
    use twinsow::drive::Delays;
    let of_hopper = parsed(&job("", ""), MACHINE).expect("a job");
    let delays = Delays::of(&of_hopper);
    assert_eq!((delays[0].start_s, delays[0].step_up_s), (1.5, 2.0));
    assert_eq!(delays[0].ahead_m, 2.5);
    let own = parsed(&job("", "delays = { stop_s = 3 }"), MACHINE).expect("a job");
    let delays = Delays::of(&own);
    assert_eq!((delays[0].start_s, delays[0].stop_s), (0.0, 3.0));
}

#[test]
fn the_spread_at_the_opener_is_the_default_of_seed_safe_limits() {
    let more = "\n[[product]]\nid = \"b\"\nname = \"B\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nform = \"monoammonium_phosphate\"\n\
        grade = { n_percent = 12, p2o5_percent = 52 }\nrate = { kg_per_ha = 50 }\n\
        [[seed_safe]]\ntable = \"manitoba_phosphate\"\ncrop = \"cereals\"\n";
    let machine = format!("{MACHINE}[[drill.hopper]]\nname = \"rear\"\nusable_l = 900\n");
    let text = job("", "") + more;
    let with = parsed(&text, &machine).expect("a job");
    assert_eq!(with.seed_safe[0].spread_m, Some(0.03));
    let own = parsed(&(text.clone() + "spread_m = 0.05\n"), &machine).expect("a job");
    assert_eq!(own.seed_safe[0].spread_m, Some(0.05));
    let without = machine.replace("opener_spread_m = 0.03\n", "");
    let fault = fault(&text, &without);
    assert!(fault.next.contains("opener_spread_m"), "{fault}");
}

#[test]
fn faults_lie_in_the_file_that_has_them() {
    // Of shape: a misspelt key.
    let wrong = fault(
        &job("", ""),
        &MACHINE.replace("rows = 48", "row_count = 48"),
    );
    assert_eq!(wrong.code, "job.unknown_key");
    assert_eq!(wrong.place.file.as_deref(), Some("farm/../shed/drill.toml"));
    assert_eq!(wrong.place.line, Some(4));
    // Of a rule: rows and spacing do not make the width.
    let wrong = fault(&job("", ""), &MACHINE.replace("rows = 48", "rows = 40"));
    assert_eq!(wrong.code, "job.rule");
    assert_eq!(wrong.place.file.as_deref(), Some("farm/../shed/drill.toml"));
    assert_eq!(wrong.place.line, Some(4));
    assert!(wrong.found.contains("make 5 m"), "{wrong}");
    // Of the same rule, by a key of the job.
    let wrong = fault(&job("rows = 40", ""), MACHINE);
    assert_eq!(wrong.place.file.as_deref(), Some("farm/job.toml"));
    assert_eq!(wrong.place.line, Some(7));
    // Of TOML, of a second machine file, of another table.
    assert_eq!(fault(&job("", ""), "[drill\n").code, "job.not_toml");
    let chained = MACHINE.replace("rows = 48", "from = \"other.toml\"");
    assert_eq!(fault(&job("", ""), &chained).code, "job.unknown_key");
    let foreign = format!("{MACHINE}[tramline]\nsprayer_width_m = 24\n");
    assert_eq!(fault(&job("", ""), &foreign).code, "job.unknown_key");
    // Of a hopper that nobody has: the product's line, in the job.
    let wrong = fault(
        &job("", "").replace("hopper = \"front\"", "hopper = \"side\""),
        MACHINE,
    );
    assert_eq!(wrong.place.file.as_deref(), Some("farm/job.toml"));
}

#[test]
fn a_machine_file_that_is_not_there_is_told_by_its_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("job.toml");
    std::fs::write(&file, job("", "")).expect("written");
    let fault = Job::load(&file).expect_err("a fault");
    assert_eq!(fault.code, "job.no_file");
    assert!(
        fault
            .place
            .file
            .as_ref()
            .is_some_and(|file| file.ends_with("drill.toml"))
    );
    assert!(fault.next.contains("names in line 6"), "{fault}");
}
