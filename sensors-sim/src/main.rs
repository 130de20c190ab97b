//! `hatchwarden-sim`: a simulated fish room against any MQTT broker, or into files.

use clap::{Parser, Subcommand};
use sensors_sim::publish::{Broker, run_flat_out, run_live};
use sensors_sim::{Happening, Lapse, Moment, Room, Scenario, Shipped, configuration, record, shipped, story};
use std::error::Error;
use std::fs::File;
use std::io::{self, BufWriter, ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::str::FromStr;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;
use units::{Span, Time};

/// A simulated fish room: tanks, air, mains, devices, fish and people, and what goes wrong with all of them.
#[derive(Parser)]
#[command(version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Lists the scenarios that come with the program.
    List {
        /// As JSON, one line for each.
        #[arg(long)]
        json: bool,
    },
    /// Says what stands in a room, and what will happen when.
    Explain {
        #[command(flatten)]
        which: Which,
        /// Instead, the configuration with which `hatchwarden run` watches this room.
        #[arg(long)]
        config: bool,
        /// What will happen as JSON, one line for each.
        #[arg(long, conflicts_with = "config")]
        json: bool,
    },
    /// Lets a room live and publishes over MQTT until its time is over or Ctrl-C.
    Run {
        #[command(flatten)]
        which: Which,
        /// mqtt://host or mqtt://host:port
        #[arg(long)]
        broker: Broker,
        /// How many times as fast as real time, 0.1 to 1000; or max: as fast as the broker takes it, so that the
        /// scenario ends now.
        #[arg(long, default_value = "1")]
        speed: Speed,
        /// Where in the scenario to begin: "day 9 02:10", or "5 min" after its start.
        #[arg(long, default_value = "0 s")]
        from: Moment,
        /// How long to play, e.g. "2 h"; without it until Ctrl-C, or with --speed max to the scenario's end.
        #[arg(long = "for", value_name = "LAPSE")]
        length: Option<Lapse>,
    },
    /// Writes what a room publishes and what is true into two files, at once and without a broker.
    Record {
        #[command(flatten)]
        which: Which,
        /// Folder for messages.jsonl and truth.jsonl; it is made if it is not there. Files in it are not overwritten.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// How long, e.g. "36 h"; without it the scenario's own length.
        #[arg(long = "for", value_name = "LAPSE")]
        length: Option<Lapse>,
        /// When the room begins: its day 1, 00:00.
        #[arg(long, default_value = "2031-03-01T00:00:00Z", value_parser = Time::parse_rfc3339)]
        start: Time,
        /// The counts as JSON.
        #[arg(long)]
        json: bool,
    },
}

#[derive(clap::Args)]
struct Which {
    /// A scenario's file, or the name of one that `list` shows.
    scenario: String,
    /// The same seed plays the same room, to the byte.
    #[arg(long, default_value_t = 7)]
    seed: u64,
}

#[derive(Clone, Copy)]
enum Speed {
    Times(f64),
    Max,
}

impl FromStr for Speed {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        if text == "max" {
            return Ok(Self::Max);
        }
        let x: f64 = text.parse().unwrap_or(f64::NAN);
        let fits = (0.1..=1000.0).contains(&x).then_some(Self::Times(x));
        fits.ok_or_else(|| "write a number from 0.1 to 1000, or max".to_owned())
    }
}

type Done = Result<(), Box<dyn Error>>;

#[tokio::main]
async fn main() -> ExitCode {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env();
    tracing_subscriber::fmt()
        .with_env_filter(filter.unwrap_or_else(|_| "info,rumqttc=warn".into()))
        .with_writer(io::stderr)
        .with_ansi(io::stderr().is_terminal())
        .with_target(false)
        .init();
    let done = match Arguments::parse().command {
        Command::List { json } => list(json),
        Command::Explain { which, config, json } => explain(&which, config, json),
        Command::Run { which, broker, speed, from, length } => run(&which, broker, speed, from, length).await,
        Command::Record { which, out, length, start, json } => write_files(&which, &out, length, start, json),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        // The reader of a pipe has seen enough.
        Err(e) if e.downcast_ref::<io::Error>().is_some_and(|e| e.kind() == ErrorKind::BrokenPipe) => {
            ExitCode::SUCCESS
        }
        Err(e) => {
            eprintln!("hatchwarden-sim: {e}");
            ExitCode::from(2)
        }
    }
}

/// A scenario that comes with the program, else a file.
fn find(name: &str) -> Result<Scenario, Box<dyn Error>> {
    if let Some(known) = shipped(name) {
        return Ok(Scenario::from_toml(&known.text)?);
    }
    let text = std::fs::read_to_string(name)
        .map_err(|e| format!("scenario {name:?} cannot be read ({e}); give a file or a name from `list`"))?;
    Ok(Scenario::from_toml(&text)?)
}

fn list(json: bool) -> Done {
    let mut out = io::stdout().lock();
    for known in Shipped::all() {
        let scenario = Scenario::from_toml(&known.text)?;
        if json {
            let line =
                serde_json::json!({"name": known.name, "about": scenario.about, "length": scenario.length});
            writeln!(out, "{line}")?;
        } else {
            writeln!(out, "{:24} {}", known.name, scenario.about)?;
        }
    }
    Ok(())
}

/// Years in which a recording may begin.
const EARLIEST: Time = Time::from_millis(0);
const LATEST: Time = Time::from_millis(221_845_392_000_000);
/// With a length of its own a room may be played on past its scenario.
const LONGEST: Lapse = Lapse::of(Span::days(40_000));

/// Any start will do: a scenario counts from its own.
const SOME_START: Time = Time::from_millis(1_930_089_600_000);

fn explain(which: &Which, config: bool, json: bool) -> Done {
    let scenario = find(&which.scenario)?;
    let mut out = BufWriter::new(io::stdout().lock());
    if config {
        return Ok(write!(out, "{}", configuration(&scenario))?);
    }
    if !json {
        writeln!(out, "{}\n", scenario.about)?;
        writeln!(out, "{}\nIn {} with seed {}:", story::inventory(&scenario), scenario.length, which.seed)?;
    }
    let mut wrote = Ok(());
    story::tell(&scenario, which.seed, SOME_START, |moment, truth| {
        if wrote.is_ok() {
            wrote = if json {
                record::truth(&mut out, truth)
            } else {
                writeln!(out, "{moment:18} {}", truth.what)
            };
        }
    });
    wrote?;
    Ok(out.flush()?)
}

async fn run(which: &Which, broker: Broker, speed: Speed, from: Moment, length: Option<Lapse>) -> Done {
    let scenario = find(&which.scenario)?;
    let (now, zero) = (system_now(), Time::from_millis(0));
    let before = from.after(zero) - zero;
    if before < Span::ZERO || before > length.map_or(scenario.length, |_| LONGEST).span() {
        return Err(format!(
            "--from {from} lies outside the scenario; write day 1 00:00 or later, up to its {}",
            scenario.length
        )
        .into());
    }
    let stop = ctrl_c();
    let (name, seed) = (scenario.room.clone(), which.seed);
    match speed {
        Speed::Max => {
            let rest = scenario.length.span() - before;
            let span = length.map_or(rest, Lapse::span);
            let room = begun(scenario, seed, now - span - before, before);
            tracing::info!(room = name, %broker, seed, "as fast as the broker takes it; Ctrl-C ends it");
            run_flat_out(room, broker, now, stop).await?;
        }
        Speed::Times(speed) => {
            let room = begun(scenario, seed, now - before, before);
            let begun = Instant::now();
            let clock = move || now + Span::from_days(begun.elapsed().as_secs_f64() * speed / 86_400.0);
            let wait =
                move |due: Time| Duration::from_secs_f64((due - clock()).as_seconds().max(0.0) / speed);
            tracing::info!(room = name, %broker, seed, speed, "the room lives; Ctrl-C ends it");
            // No wishes from the command line: what goes wrong stands in the scenario.
            let (_, wishes) = mpsc::channel(1);
            let live = run_live(room, broker, clock, wait, wishes, after(stop, length, speed));
            live.await?;
        }
    }
    Ok(())
}

/// A room that has lived for a while already.
fn begun(scenario: Scenario, seed: u64, start: Time, before: Span) -> Room {
    let mut room = Room::new(scenario, seed, start);
    let mut happened = Vec::new();
    // Minute by minute, so that weeks do not lie in memory.
    while room.now() < start + before {
        let step = (room.now() + Span::minutes(1)).min(start + before);
        room.play(step, &mut happened);
        happened.clear();
    }
    room
}

fn ctrl_c() -> watch::Receiver<bool> {
    let (stop, stopped) = watch::channel(false);
    tokio::spawn(async move {
        // Should the signal be out of reach, the room stops rather than run for ever.
        let _ = tokio::signal::ctrl_c().await;
        stop.send_replace(true);
    });
    stopped
}

/// Says stop when told to, or when the time is over.
fn after(mut stop: watch::Receiver<bool>, length: Option<Lapse>, speed: f64) -> watch::Receiver<bool> {
    let Some(length) = length else { return stop };
    let (tell, told) = watch::channel(false);
    let real = Duration::from_secs_f64(length.seconds() / speed);
    tokio::spawn(async move {
        let _ = tokio::time::timeout(real, stop.wait_for(|s| *s)).await;
        tell.send_replace(true);
    });
    told
}

fn write_files(which: &Which, folder: &Path, length: Option<Lapse>, start: Time, json: bool) -> Done {
    let scenario = find(&which.scenario)?;
    let end = start + length.unwrap_or(scenario.length).span();
    if !(EARLIEST..=LATEST).contains(&start) {
        return Err(format!("--start {start}: write a time from the year 1970 to 9000").into());
    }
    let mut room = Room::new(scenario, which.seed, start);
    std::fs::create_dir_all(folder).map_err(|e| format!("--out {}: {e}; name a folder", folder.display()))?;
    let (messages, truth) = (folder.join("messages.jsonl"), folder.join("truth.jsonl"));
    if let Some(path) = [&messages, &truth].into_iter().find(|p| p.exists()) {
        return Err(format!("--out: {} is there already; name another folder", path.display()).into());
    }
    let (mut messages, mut truths) = (new_file(&messages)?, new_file(&truth)?);
    let (mut happened, mut sent, mut told) = (Vec::new(), 0_u64, 0_u64);
    // Minute by minute, so that a year does not lie in memory.
    while room.now() < end {
        let step = (room.now() + Span::minutes(1)).min(end);
        room.play(step, &mut happened);
        record::both(&mut messages, &mut truths, &happened)?;
        for h in happened.drain(..) {
            match h {
                Happening::Sent(_) => sent += 1,
                Happening::Truth(_) => told += 1,
                Happening::Link { .. } => {}
            }
        }
    }
    messages.flush()?;
    truths.flush()?;
    let mut out = io::stdout().lock();
    if json {
        let counts = serde_json::json!({"messages": sent, "truth": told, "from": start, "to": end});
        writeln!(out, "{counts}")?;
    } else {
        writeln!(out, "{sent} messages and {told} lines of truth in {}", folder.display())?;
    }
    Ok(())
}

fn new_file(path: &Path) -> Result<BufWriter<File>, Box<dyn Error>> {
    let file = File::create_new(path)
        .map_err(|e| format!("--out: {} cannot be made: {e}; name another folder", path.display()))?;
    Ok(BufWriter::with_capacity(1 << 20, file))
}

#[expect(clippy::disallowed_methods, reason = "the binary is the edge that owns the clock")]
fn system_now() -> Time {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Time::from_millis(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}
