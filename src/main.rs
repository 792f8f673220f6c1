//! The `twinsow` program; everything it does is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    too_large_is_an_error();
    twinsow::cli::main()
}

/// A file that grows beyond what the system allows is an error like a full disk, and no reason to end at once. Where
/// this cannot be had, the system ends the program as it does any other.
#[cfg(unix)]
fn too_large_is_an_error() {
    use std::sync::Arc;
    use std::sync::atomic::AtomicBool;
    /// The signal SIGXFSZ, which has this number on Linux and macOS.
    const FILE_SIZE_EXCEEDED: i32 = 25;
    let seen = Arc::new(AtomicBool::new(false));
    let _ = signal_hook::flag::register(FILE_SIZE_EXCEEDED, seen);
}

#[cfg(not(unix))]
fn too_large_is_an_error() {}
