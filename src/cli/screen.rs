//! Printing. A reader that closes the pipe early is no error.

use super::Exit;
use crate::findings::Fault;
use std::io::{self, ErrorKind, Write};

/// Standard output and error.
#[derive(Default)]
pub(super) struct Screen {
    /// The reader has gone: nothing more is printed.
    closed: bool,
    failed: bool,
}

impl Screen {
    /// Prints text to standard output.
    pub(super) fn print(&mut self, text: &str) {
        if !self.is_read() {
            return;
        }
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Ok(()) => {}
            Err(error) if error.kind() == ErrorKind::BrokenPipe => self.closed = true,
            Err(error) => {
                self.failed = true;
                self.complain(&format!(
                    "error: standard output cannot be written: {error}\n"
                ));
            }
        }
    }

    /// Whether what is printed still comes to anybody.
    pub(super) fn is_read(&self) -> bool {
        !self.closed && !self.failed
    }

    /// Prints text to standard error; if that fails there is nobody left to tell.
    pub(super) fn complain(&mut self, text: &str) {
        let _ = io::stderr().lock().write_all(text.as_bytes());
    }

    /// Prints a fault to standard error.
    pub(super) fn fault(&mut self, fault: &Fault) {
        self.complain(&format!("error: {fault}\n"));
    }

    /// The exit of the whole command: output that could not be written is the machine's fault.
    pub(super) fn exit(&self, exit: Exit) -> Exit {
        if self.failed {
            exit.max(Exit::Machine)
        } else {
            exit
        }
    }
}
