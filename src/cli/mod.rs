//! The command line: one file per command. The only place that prints or reads clock and environment.
