//! `hatchwarden decode`: what a message would become, without a service.

use crate::config;
use clap::Args;
use readings::case::{Case, Outcome};
use readings::trial::{self, Tried};
use readings::{Message, TopicMap};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use units::Time;

/// Wrong use: the exit status that the other commands have from their parser.
const WRONG_USE: u8 = 2;

/// What to decode.
#[derive(Debug, Args)]
pub struct Options {
    /// A room's configuration, or a file of [[map]] entries alone.
    #[arg(long, value_name = "FILE", required_unless_present = "batch")]
    map: Option<PathBuf>,
    /// Topic of the message.
    #[arg(long, requires = "payload", required_unless_present = "batch")]
    topic: Option<String>,
    /// Its payload; "-" reads it from standard input, bytes and all.
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    payload: Option<String>,
    /// When it arrived (RFC 3339); now if not given.
    #[arg(long, value_name = "TIME", value_parser = Time::parse_rfc3339)]
    received: Option<Time>,
    /// It was kept by the broker and handed over on subscribing.
    #[arg(long)]
    retained: bool,
    /// A file of cases instead: a JSON list of messages, each with how it is read.
    #[arg(long, value_name = "FILE.json", conflicts_with_all = ["map", "topic", "payload", "received", "retained"])]
    batch: Option<PathBuf>,
    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// Prints what becomes of the message or of each case. Exit 0 when there is a reading (or the batch was read), 1 when the
/// message is refused, 2 for a file that cannot be used.
pub fn run(options: &Options, now: Time) -> ExitCode {
    let done = match (&options.batch, &options.map) {
        (Some(file), _) => batch(file, options.json),
        (None, Some(map)) => single(map, options, now),
        (None, None) => Err("give --map FILE, or --batch FILE.json".to_owned()),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(said) => {
            eprintln!("{said}");
            ExitCode::from(WRONG_USE)
        }
    }
}

fn read_file(file: &Path) -> Result<String, String> {
    std::fs::read_to_string(file)
        .map_err(|e| format!("{}: cannot be read: {e}; check the path", file.display()))
}

fn batch(file: &Path, json: bool) -> Result<bool, String> {
    let shown = file.display();
    let cases: Vec<Case> = serde_json::from_str(&read_file(file)?).map_err(|e| {
        format!("{shown}: {e}; a batch is a JSON list of messages, each with \"how_to_read\"")
    })?;
    // One broken case must not hide what became of the others.
    let (good, broken): (Vec<_>, Vec<_>) = cases.iter().map(Case::run).partition(Result::is_ok);
    let outcomes: Vec<Outcome> = good.into_iter().flatten().collect();
    if json {
        println!("{}", as_json(&outcomes)?);
    } else {
        for o in &outcomes {
            println!("{}: {}", o.id, words(&o.tried));
        }
    }
    let faults: Vec<String> =
        broken.into_iter().filter_map(Result::err).map(|e| format!("{shown}: {e}")).collect();
    if faults.is_empty() { Ok(true) } else { Err(faults.join("\n")) }
}

fn single(file: &Path, options: &Options, now: Time) -> Result<bool, String> {
    let (room, entries) =
        config::read_map(&read_file(file)?, &file.display().to_string()).map_err(|e| e.to_string())?;
    let map = TopicMap::new(room, entries).map_err(|e| format!("{}: {e}", file.display()))?;
    let payload = payload(options.payload.as_deref().unwrap_or_default())?;
    let message = Message {
        topic: options.topic.as_deref().unwrap_or_default(),
        payload: &payload,
        retained: options.retained,
        received: options.received.unwrap_or(now),
    };
    let all = trial::of(&map, &message);
    if options.json {
        println!("{}", as_json(&all)?);
    } else {
        for t in &all {
            println!("{}", words(t));
        }
    }
    Ok(all.iter().any(|t| t.reason.is_none()))
}

fn payload(given: &str) -> Result<Vec<u8>, String> {
    if given != "-" {
        return Ok(given.as_bytes().to_vec());
    }
    let mut bytes = Vec::new();
    std::io::stdin().read_to_end(&mut bytes).map_err(|e| format!("standard input cannot be read: {e}"))?;
    Ok(bytes)
}

fn as_json<T: serde::Serialize>(all: &T) -> Result<String, String> {
    serde_json::to_string_pretty(all).map_err(|e| e.to_string())
}

fn words(t: &Tried) -> String {
    let place = t.place.as_deref().map(|p| format!("{p}: ")).unwrap_or_default();
    if let Some(reason) = t.reason {
        return format!("{place}refused, {reason}");
    }
    // More digits than any probe has; all of them are in the JSON.
    let value = (t.value.unwrap_or_default() * 1e4).round() / 1e4;
    let unit = t.unit.as_deref().unwrap_or_default();
    let time = t.time.map_or_else(|| "at an unknown time".to_owned(), |t| format!("at {t}"));
    let source = t.time_source.unwrap_or_default().replace('_', " ");
    let flag = t.flag.map(|f| format!(", {f}")).unwrap_or_default();
    format!("{place}{value} {unit} {time} ({source}{flag})")
}
