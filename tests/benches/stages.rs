//! Time of each stage of a job. Jobs are named in TWINSOW_BENCH_JOBS, separated by commas; without it the
//! built-in scenario is timed. `cargo bench --bench stages -- overlay` times what has `overlay` in its name.

use divan::{Bencher, black_box};
use std::path::Path;
use twinsow::job::Job;
use twinsow::land::{self, LandLayers};
use twinsow::plan::{self, Disk, Gathered, Options};
use twinsow::zones::{self, ZoneLayers};
use twinsow::{map, read, write};

fn main() {
    divan::main();
}

const TIMESTAMP: &str = "2026-01-01T00:00:00Z";

fn jobs() -> Vec<String> {
    match std::env::var("TWINSOW_BENCH_JOBS") {
        Ok(jobs) => jobs.split(',').map(str::to_owned).collect(),
        Err(_) => vec![concat!(env!("CARGO_MANIFEST_DIR"), "/examples/demo/job.toml").to_owned()],
    }
}

fn load(file: &str) -> Job {
    Job::load(Path::new(file)).expect("a job")
}

fn gathered(job: &Job) -> Gathered {
    plan::gather(job, &Disk, &Options::default()).expect("inputs")
}

fn layers_of(inputs: &Gathered) -> LandLayers<'_> {
    LandLayers {
        boundary: &inputs.boundary,
        exclusions: &inputs.exclusions,
        setbacks: &inputs.setbacks,
        guide: inputs.guide.as_ref(),
    }
}

/// Files to layers.
#[divan::bench(args = jobs())]
fn a_read(bencher: Bencher, file: &str) {
    let job = load(file);
    bencher.bench(|| {
        for source in [&job.field.boundary]
            .into_iter()
            .chain(job.layers.iter().map(|l| &l.source))
        {
            black_box(read::open(source, &job.folder).expect("a layer"));
        }
    });
}

/// Reading, hashing, placing in the field's plane.
#[divan::bench(args = jobs())]
fn b_gather(bencher: Bencher, file: &str) {
    let job = load(file);
    bencher.bench(|| gathered(&job));
}

/// Field, headland, interior.
#[divan::bench(args = jobs())]
fn c_land(bencher: Bencher, file: &str) {
    let job = load(file);
    let inputs = gathered(&job);
    bencher.bench(|| land::build(&layers_of(&inputs), &job, &inputs.frame).expect("land"));
}

/// Land and zone layers as one arrangement.
#[divan::bench(args = jobs())]
fn d_overlay(bencher: Bencher, file: &str) {
    let job = load(file);
    let inputs = gathered(&job);
    let (land, _) = land::build(&layers_of(&inputs), &job, &inputs.frame).expect("land");
    bencher.bench(|| {
        let layers = ZoneLayers {
            zones: &inputs.zones,
            special_areas: &inputs.special_areas,
        };
        zones::overlay(&land, &layers, &job, &inputs.frame).expect("units")
    });
}

/// Coverage of the cells of both grids.
#[divan::bench(args = jobs())]
fn e_cells(bencher: Bencher, file: &str) {
    let job = load(file);
    let prepared = plan::prepare(&job, &Disk, &Options::default()).expect("geometry");
    bencher.bench(|| {
        map::cells(&prepared.units, &prepared.land, &job, &prepared.frame).expect("cells")
    });
}

/// What a changed rate costs: rates, dissolved map, both grids, tally; writing excluded.
#[divan::bench(args = jobs())]
fn f_rate(bencher: Bencher, file: &str) {
    let job = load(file);
    let prepared = plan::prepare(&job, &Disk, &Options::default()).expect("geometry");
    bencher.bench(|| plan::rate(&prepared, &job, &Options::default()).expect("a plan"));
}

/// All files.
#[divan::bench(args = jobs())]
fn g_write(bencher: Bencher, file: &str) {
    let plan = plan::plan(&load(file), &Disk, &Options::default()).expect("a plan");
    bencher
        .with_inputs(|| tempfile::tempdir().expect("a folder"))
        .bench_values(|folder| {
            write::content(&plan, folder.path(), TIMESTAMP, &write::Forms::all()).expect("files");
            folder
        });
}

/// Everything from the job file to the files.
#[divan::bench(args = jobs())]
fn h_whole(bencher: Bencher, file: &str) {
    bencher
        .with_inputs(|| tempfile::tempdir().expect("a folder"))
        .bench_values(|folder| {
            let plan = plan::plan(&load(file), &Disk, &Options::default()).expect("a plan");
            write::content(&plan, folder.path(), TIMESTAMP, &write::Forms::all()).expect("files");
            folder
        });
}
