//! The `twinsow` program; everything it does is in the library.

use mimalloc::MiMalloc;
use std::process::ExitCode;

/// A plan takes and gives back much memory; this allocator keeps pages instead of asking the system anew.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    twinsow::cli::main()
}
