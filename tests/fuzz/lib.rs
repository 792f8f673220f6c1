//! The targets themselves lie in `tests/fuzz_support`: `cargo test` replays them over the kept files.

#[path = "../fuzz_support/near.rs"]
mod near;
#[path = "../fuzz_support/readers.rs"]
pub mod readers;
