//! Structured logs to standard error.
//!
//! Levels: `error` needs a person, `warn` is degraded, `info` is a change of state, `debug` is per message.
//! Never logged: passwords, signing secrets, query strings of addresses.

use std::io::IsTerminal;
use tracing_subscriber::EnvFilter;

/// Starts logging. `HATCHWARDEN_LOG` chooses levels, e.g. `debug` or `info,intake=debug`.
pub fn start(default: &str) {
    let filter = EnvFilter::try_from_env("HATCHWARDEN_LOG").unwrap_or_else(|_| EnvFilter::new(default));
    let colours = std::io::stderr().is_terminal();
    let logs =
        tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(colours);
    // A second start in one process (tests) keeps the first.
    let _ = logs.try_init();
}
