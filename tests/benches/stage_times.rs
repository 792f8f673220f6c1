//! Seconds of processor of each stage of a job, as one JSON object: what `compare.py` holds against the
//! other side. Usage: `stage_times JOB.toml REPETITIONS`; RAYON_NUM_THREADS=1 for one thread.

use cpu_time::ProcessTime;
use std::collections::BTreeMap;
use std::hint::black_box;
use std::path::Path;
use twinsow::job::{Job, Lookup};
use twinsow::land::{self, LandLayers};
use twinsow::map;
use twinsow::plan::{self, Disk, Options};
use twinsow::write::{self, Form, Forms};
use twinsow::zones::{self, ZoneLayers};

const TIMESTAMP: &str = "2026-01-01T00:00:00Z";

/// Seconds of all repetitions, by stage.
#[derive(Default)]
struct Times(BTreeMap<&'static str, Vec<f64>>);

impl Times {
    fn of<T>(&mut self, stage: &'static str, work: impl FnOnce() -> T) -> T {
        let start = ProcessTime::now();
        let made = black_box(work());
        let seconds = start.elapsed().as_secs_f64();
        self.0.entry(stage).or_default().push(seconds);
        made
    }

    /// The median of each stage.
    fn json(mut self) -> String {
        let medians = self.0.iter_mut().map(|(stage, times)| {
            times.sort_by(f64::total_cmp);
            (*stage, times[times.len() / 2])
        });
        serde_json::to_string(&medians.collect::<BTreeMap<_, _>>()).expect("numbers")
    }
}

fn main() {
    let given: Vec<String> = std::env::args()
        .skip(1)
        .filter(|arg| arg != "--bench")
        .collect();
    let [job, repetitions] = given.as_slice() else {
        println!("usage: stage_times JOB.toml REPETITIONS");
        return;
    };
    let mut times = Times::default();
    for _ in 0..repetitions
        .parse::<usize>()
        .expect("a number of repetitions")
    {
        once(Path::new(job), &mut times);
    }
    println!("{}", times.json());
}

/// The job with another rate for one class of its first product.
fn with_a_changed_rate(job: &Job) -> Job {
    let mut changed = job.clone();
    let product = changed.products.first_mut().expect("a product");
    match &mut product.rate.kg_per_ha {
        Some(Lookup::Same(rate)) => *rate += 1.0,
        Some(Lookup::ByClass(of)) => *of.by_class.values_mut().next().expect("a class") += 1.0,
        _ => panic!("the first product has no rate in kg/ha, one or by class"),
    }
    changed
}

fn once(job: &Path, times: &mut Times) {
    let folder = tempfile::tempdir().expect("a folder");
    times.of("whole job", || {
        let job = Job::load(job).expect("a job");
        let plan = plan::plan(&job, &Disk, &Options::rates_only()).expect("a plan");
        let forms = Forms::only([Form::Geojson, Form::Geotiff]);
        write::content(&plan, folder.path(), TIMESTAMP, &forms).expect("files")
    });
    let job = Job::load(job).expect("a job");
    let inputs = times.of("read and project", || {
        plan::gather(&job, &Disk, &Options::rates_only()).expect("inputs")
    });
    let layers = LandLayers {
        boundary: &inputs.boundary,
        exclusions: &inputs.exclusions,
        setbacks: &inputs.setbacks,
        guide: inputs.guide.as_ref(),
    };
    let (land, _) = times.of("headland", || {
        land::build(&layers, &job, &inputs.frame).expect("land")
    });
    let layers = ZoneLayers {
        zones: &inputs.zones,
        special_areas: &inputs.special_areas,
    };
    let (units, _) = times.of("overlay", || {
        zones::overlay(&land, &layers, &job, &inputs.frame).expect("units")
    });
    times.of("cells", || {
        map::cells(&units, &land, &job, &inputs.frame).expect("cells")
    });
    times.of("metric cells", || {
        map::metric_cells(&units, &land, &job, &inputs.frame).expect("cells")
    });
    drop((units, land));
    drop(inputs);
    let prepared = plan::prepare(&job, &Disk, &Options::rates_only()).expect("geometry");
    let plan = times.of("first rates", || {
        plan::rate(&prepared, &job, &Options::rates_only()).expect("a plan")
    });
    let changed = with_a_changed_rate(&job);
    times.of("replan", || {
        plan::rate(&prepared, &changed, &Options::rates_only()).expect("a plan")
    });
    let rates: Vec<Vec<f64>> = plan
        .rates
        .rows
        .iter()
        .map(|row| row.rates.iter().map(|rate| rate.kg_per_ha).collect())
        .collect();
    times.of("dissolve", || {
        map::united(&prepared.units, &rates, &prepared.frame)
    });
    times.of("rates of cells", || {
        map::metric_grid(&prepared.cells, &rates, &[0, 1])
    });
    let folder = tempfile::tempdir().expect("a folder");
    // What every form has: checks before writing, the search of the gate check, plan.json. The report is
    // left to the caller.
    times.of("write plan.json", || {
        write::content(
            &plan,
            folder.path(),
            TIMESTAMP,
            &Forms::only([Form::Report]),
        )
        .expect("files")
    });
    for (stage, form) in [
        ("write GeoJSON", Form::Geojson),
        ("write GeoTIFF", Form::Geotiff),
        ("write GeoPackage", Form::Geopackage),
        ("write Shapefile", Form::Shapefile),
        ("write task data", Form::TaskData),
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        times.of(stage, || {
            write::content(&plan, folder.path(), TIMESTAMP, &Forms::only([form])).expect("files")
        });
    }
}
