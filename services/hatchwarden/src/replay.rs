//! `hatchwarden replay`: recorded readings again through judging, projections and alarms, on the clock of the record. The
//! same file gives the same bytes.

mod play;
mod recording;
mod unknown;

use crate::check;
use crate::csv_file;
use crate::room::Setup;
use crate::service;
use alarms::Place;
use clap::Args;
use play::{Change, Play};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use units::Time;

/// What to play.
#[derive(Debug, Args)]
pub struct Options {
    /// What `hatchwarden export` has written, or readings one JSON object in a line: {"t":…,"vessel":…,"quantity":…,"value":…}; t is RFC 3339 or seconds
    /// since 1970. Beside them {"t":…,"event":{…}} of the account, {"t":…,"vessel":…,"availability":"offline"} and
    /// {"t":…,"acknowledge":"TU2.air-stopped"}.
    file: PathBuf,
    /// The room's configuration. Vessels that it does not name are watched by the defaults of what is read in them.
    #[arg(long, value_name = "FILE")]
    config: Option<PathBuf>,
    /// Lets time pass up to then (RFC 3339) after the last line.
    #[arg(long, value_name = "T", value_parser = Time::parse_rfc3339)]
    until: Option<Time>,
    /// Prints every transition as a JSON line: t, vessel, condition, from, to, text.
    #[arg(long)]
    json: bool,
}

/// Prints every transition of an alarm in order of time. Exit 0, or 2 with the line and the cure.
pub fn run(options: &Options) -> ExitCode {
    csv_file::answered(replayed(options))
}

fn replayed(options: &Options) -> Result<String, String> {
    let lines = recording::read(&options.file)?;
    let mut setup = setup(options.config.as_deref())?;
    for vessel in unknown::vessels(&setup, &lines) {
        setup.add(vessel);
    }
    let mut play = Play::new(setup)?;
    for line in &lines {
        play.line(line).map_err(|e| format!("{}, line {}: {e}", options.file.display(), line.number))?;
    }
    play.end(options.until);
    for (what, count) in play.passed_over() {
        eprintln!("hatchwarden: {what} ({count})");
    }
    let mut out = String::new();
    for change in play.changes() {
        let said = if options.json { as_json(change) } else { as_text(change) };
        let _ = writeln!(out, "{said}"); // a string takes everything
    }
    Ok(out)
}

fn setup(config: Option<&Path>) -> Result<Setup, String> {
    let Some(file) = config else {
        return "replay".parse().map(Setup::bare).map_err(|e: units::IdError| e.to_string());
    };
    let config = check::load(file).map_err(|e| e.to_string())?;
    let species = service::species(&config).map_err(|e| e.to_string())?;
    Setup::new(&config, species).map_err(|e| e.to_string())
}

fn as_json(c: &Change) -> String {
    serde_json::json!({
        "t": c.at,
        "vessel": (c.key.place != Place::Room).then(|| c.key.place.to_string()),
        "condition": c.key.condition.word(),
        "from": c.from,
        "to": c.to,
        "text": c.text,
    })
    .to_string()
}

fn as_text(c: &Change) -> String {
    format!("{} {}: {} -> {}. {}", c.clock, c.key, c.from, c.to, c.text)
}
