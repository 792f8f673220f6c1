//! Fuzzing with kept files: each reader gets seeded changes of the files in `testdata/fuzz/<reader>`.

mod memory;
mod mutate;
mod near;
pub mod readers;

use mutate::{Dice, mutated};
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Only one target runs at a time, for allocations are counted.
static TURN: Mutex<()> = Mutex::new(());

/// Bytes that a reader may hold at once for a file of up to 128 kB, besides 64 for each byte of it.
pub const MOST_BYTES: usize = 96 << 20;

/// A reader, and how many changed files it gets.
pub struct Target<'a> {
    /// Folder below `testdata/fuzz`.
    pub name: &'a str,
    /// More files to start from.
    pub seeds: &'a [&'a str],
    pub rounds: usize,
    /// Bytes that it may hold at once.
    pub most_bytes: usize,
}

impl Target<'_> {
    /// Reads every kept file as it is, then changed ones. `TWINSOW_FUZZ_ROUNDS` times as many where that is set.
    ///
    /// # Panics
    /// A reader that panics, or that takes memory beyond what the file's size allows; the file is written to
    /// `target/fuzz` first, to be kept below `testdata/fuzz` once it is mended.
    pub fn run(&self, read: impl Fn(&[u8])) {
        let _turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
        let corpus = self.corpus();
        assert!(!corpus.is_empty(), "nothing to start from");
        for (name, bytes) in &corpus {
            self.one(bytes, &read, &format!("{name}, unchanged"));
        }
        let times = std::env::var("TWINSOW_FUZZ_ROUNDS").ok();
        let times: usize = times.and_then(|text| text.parse().ok()).unwrap_or(1);
        for round in 0..self.rounds * times {
            let mut dice = Dice(round as u64 ^ (self.name.len() as u64 * 0x1234_5678));
            let (name, bytes) = &corpus[dice.below(corpus.len())];
            let (_, other) = &corpus[dice.below(corpus.len())];
            let changed = mutated(bytes, other, &mut dice);
            self.one(&changed, &read, &format!("{name}, round {round}"));
        }
    }

    fn one(&self, bytes: &[u8], read: &impl Fn(&[u8]), what: &str) {
        let mut panicked = false;
        let most = memory::most_of(|| {
            panicked = catch_unwind(AssertUnwindSafe(|| read(bytes))).is_err();
        });
        let allowed = self.most_bytes + 64 * bytes.len();
        if panicked || most > allowed {
            let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz");
            let file = folder.join(format!("{}-{}", self.name, bytes.len()));
            fs::create_dir_all(&folder).expect("a folder");
            fs::write(&file, bytes).expect("the file");
            panic!(
                "{} ({what}): {} bytes were held, {allowed} are allowed; panicked: {panicked}; the file is {}",
                self.name,
                most,
                file.display()
            );
        }
    }

    fn corpus(&self) -> Vec<(String, Vec<u8>)> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata");
        let kept = fs::read_dir(root.join("fuzz").join(self.name));
        let kept = kept
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.path());
        let more = self.seeds.iter().map(|seed| root.join(seed));
        let mut files: Vec<PathBuf> = kept.chain(more).collect();
        files.sort();
        let named = files.into_iter().map(|path| {
            let bytes = fs::read(&path).expect("a kept file");
            (path.display().to_string(), bytes)
        });
        named.collect()
    }
}
