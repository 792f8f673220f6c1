//! Real parcels, grown: sides up to 2 km and beyond, turned, put into twelve kinds of coordinate systems, with soil and
//! with exclusions along the border. Every job is planned, its files are written and read back as `twinsow plan` does;
//! none may end with exit code 3, nor with a plan that the writers call broken.
//!
//! `cargo test` takes some of the ten parcels in testdata. All 10 000 jobs of the 200 shared ones, or some of them:
//! `TWINSOW_GROWN_FROM=../shared/fields TWINSOW_GROWN_JOBS=1..10000 cargo test --test grown_fields -- --nocapture`.
//! `TWINSOW_GROWN_KEEP=folder` keeps the files of each job below `folder`, by its number.

mod exact_support;
mod grown_support;

use grown_support::{Grown, parcels};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use twinsow::cli::{guarded, plan_one};
use twinsow::findings::{Blame, Fault};

/// Jobs of the ten parcels in testdata that every test run plans.
const FEW: [u64; 2] = [1, 24];
/// Of the slowest jobs, so many are named.
const SLOWEST: usize = 5;

#[derive(Default)]
struct Count {
    planned: usize,
    refused: usize,
    own: usize,
}

#[derive(Default)]
struct Table {
    rows: BTreeMap<(u8, String), Count>,
    codes: BTreeMap<String, Vec<u64>>,
    own: Vec<String>,
    slowest: Vec<(Duration, u64)>,
}

impl Table {
    /// A disk that is full is not the input's fault either: here it has to be free.
    fn is_ours(fault: &Fault) -> bool {
        fault.blame != Blame::Input
    }

    fn add(&mut self, number: u64, grown: &Grown, end: &Result<(), Box<Fault>>, took: Duration) {
        let length = match grown.longest_m {
            m if m < 300.0 => "1 longest side below 300 m",
            m if m < 500.0 => "2 300 to 500 m",
            m if m < 1000.0 => "3 500 to 1000 m",
            m if m < 2000.0 => "4 1000 to 2000 m",
            _ => "5 2 km and more",
        };
        let rows = [
            (0, "all".to_owned()),
            (1, length.to_owned()),
            (2, grown.kind.words().to_owned()),
            (3, grown.place.to_owned()),
        ];
        for row in rows {
            let count = self.rows.entry(row).or_default();
            match end {
                Ok(()) => count.planned += 1,
                Err(fault) if Self::is_ours(fault) => count.own += 1,
                Err(_) => count.refused += 1,
            }
        }
        if let Err(fault) = end {
            let ours = Self::is_ours(fault);
            let blame = if ours { "OUR FAULT" } else { "refused" };
            let code = format!("{blame} {}", fault.code);
            self.codes.entry(code).or_default().push(number);
            if ours {
                self.own.push(format!(
                    "{number} ({}, {}, {}, {:.0} m): {fault}",
                    grown.parcel,
                    grown.kind.words(),
                    grown.crs,
                    grown.longest_m
                ));
            }
        }
        self.slowest.push((took, number));
        self.slowest.sort();
        self.slowest.reverse();
        self.slowest.truncate(SLOWEST);
    }

    fn text(&self) -> String {
        let mut text = format!(
            "{:44} {:>7} {:>7} {:>7} {:>7}\n",
            "", "jobs", "planned", "refused", "ours"
        );
        for ((_, row), count) in &self.rows {
            let jobs = count.planned + count.refused + count.own;
            let _ = writeln!(
                text,
                "{row:44} {jobs:7} {:7} {:7} {:7}",
                count.planned, count.refused, count.own
            );
        }
        for (code, numbers) in &self.codes {
            let some: Vec<String> = numbers.iter().take(12).map(u64::to_string).collect();
            let _ = writeln!(text, "{} {code}: {}", numbers.len(), some.join(" "));
        }
        for (took, number) in &self.slowest {
            let _ = writeln!(text, "job {number} took {:.1} s", took.as_secs_f64());
        }
        text
    }
}

/// The folder of the parcels and the jobs asked for.
fn asked() -> (PathBuf, std::ops::RangeInclusive<u64>) {
    let few = || {
        (
            Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields"),
            FEW,
        )
    };
    let from = std::env::var_os("TWINSOW_GROWN_FROM").map(|from| (PathBuf::from(from), [1, 200]));
    let (from, mut jobs) = from.unwrap_or_else(few);
    if let Ok(text) = std::env::var("TWINSOW_GROWN_JOBS") {
        let (first, last) = text.split_once("..").unwrap_or((&text, &text));
        jobs = [first, last].map(|number| number.parse().expect("FIRST..LAST"));
    }
    (from, jobs[0]..=jobs[1])
}

/// Files of a job go to memory where the machine has a folder for that.
fn temporary() -> tempfile::TempDir {
    let in_memory = tempfile::tempdir_in("/dev/shm");
    in_memory.unwrap_or_else(|_| tempfile::tempdir().expect("a folder"))
}

#[test]
fn no_grown_field_ends_with_our_own_fault() {
    // One core: the jobs are many, and other tests run beside them.
    let _ = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build_global();
    let keep = std::env::var_os("TWINSOW_GROWN_KEEP").map(PathBuf::from);
    let (from, jobs) = asked();
    let parcels = parcels(&from);
    let mut table = Table::default();
    for number in jobs {
        let grown = Grown::new(&parcels, number);
        let temporary = temporary();
        let folder = match &keep {
            Some(keep) => keep.join(number.to_string()),
            None => temporary.path().to_path_buf(),
        };
        grown.write(&folder);
        let start = Instant::now();
        let end = guarded(|| {
            plan_one(
                &folder.join("job.toml"),
                &folder.join("job-plan"),
                "2026-03-20T06:00:00Z",
            )
        });
        table.add(number, &grown, &end.map(|_| ()), start.elapsed());
        if number % 100 == 0 {
            println!("{number}: {} ended with our own fault", table.own.len());
        }
    }
    println!("{}", table.text());
    let own = &table.own;
    assert!(
        own.is_empty(),
        "{} jobs end with our own fault:\n{}",
        own.len(),
        own.join("\n")
    );
}
