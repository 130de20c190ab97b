//! `hatchwarden-sim`: a simulated room against any MQTT broker.

use clap::{Parser, Subcommand};
use sensors_sim::publish::{Broker, run_live};
use sensors_sim::{Plan, Room, Sent, shipped};
use std::error::Error;
use std::io::{self, BufWriter, ErrorKind, Write};
use std::process::ExitCode;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;
use units::{Span, Time};

/// A simulated fish room: tanks, an air line, devices, and what goes wrong with them.
#[derive(Parser)]
#[command(version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Lets a room live in real time and publishes over MQTT until Ctrl-C.
    Run {
        /// A plan's file, or the name of one that `list` shows.
        plan: String,
        /// mqtt://host or mqtt://host:port
        #[arg(long)]
        broker: Broker,
        /// The same seed plays the same room.
        #[arg(long, default_value_t = 7)]
        seed: u64,
        /// How many times as fast as real time, 0.1 to 1000.
        #[arg(long, default_value_t = 1.0, value_parser = speed)]
        speed: f64,
    },
    /// Lists the plans that come with the program.
    List,
    /// Writes what a room would publish as JSON lines, at once and without a broker.
    Record {
        /// A plan's file, or the name of one that `list` shows.
        plan: String,
        /// How long, in hours.
        #[arg(long, value_parser = clap::value_parser!(u32).range(1..=87_600))]
        hours: u32,
        /// The same seed writes the same lines.
        #[arg(long, default_value_t = 7)]
        seed: u64,
        /// When the room begins.
        #[arg(long, default_value = "2031-03-01T00:00:00Z", value_parser = Time::parse_rfc3339)]
        start: Time,
    },
}

fn speed(text: &str) -> Result<f64, String> {
    let x: f64 = text.parse().unwrap_or(f64::NAN);
    (0.1..=1000.0).contains(&x).then_some(x).ok_or_else(|| "write a number from 0.1 to 1000".to_owned())
}

#[tokio::main]
async fn main() -> ExitCode {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env();
    tracing_subscriber::fmt()
        .with_env_filter(filter.unwrap_or_else(|_| "info,rumqttc=warn".into()))
        .with_writer(io::stderr)
        .init();
    let done = match Arguments::parse().command {
        Command::Run { plan, broker, seed, speed } => run(&plan, broker, seed, speed).await,
        Command::List => list(),
        Command::Record { plan, hours, seed, start } => record(&plan, hours, seed, start),
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

/// A plan that comes with the program, else a file.
fn find(name: &str) -> Result<Plan, Box<dyn Error>> {
    if let Some(known) = shipped().iter().find(|s| s.name == name) {
        return Ok(Plan::from_toml(known.text)?);
    }
    let text = std::fs::read_to_string(name)
        .map_err(|e| format!("plan {name:?} cannot be read ({e}); give a file or a name from `list`"))?;
    Ok(Plan::from_toml(&text)?)
}

async fn run(plan: &str, broker: Broker, seed: u64, speed: f64) -> Result<(), Box<dyn Error>> {
    let (start, begun) = (system_now(), Instant::now());
    let room = Room::new(find(plan)?, seed, start);
    let now = move || start + Span::from_days(begun.elapsed().as_secs_f64() * speed / 86_400.0);
    let wait = move |due: Time| Duration::from_secs_f64((due - now()).as_seconds().max(0.0) / speed);
    let (stop, stopped) = watch::channel(false);
    tokio::spawn(async move {
        // Should the signal be out of reach, the room stops rather than run for ever.
        let _ = tokio::signal::ctrl_c().await;
        stop.send_replace(true);
    });
    tracing::info!(room = room.name(), %broker, seed, speed, "the room lives; Ctrl-C ends it");
    // No wishes from the command line: what goes wrong stands in the plan.
    let (_, wishes) = mpsc::channel(1);
    Ok(run_live(room, broker, now, wait, wishes, stopped).await?)
}

fn list() -> Result<(), Box<dyn Error>> {
    let mut out = io::stdout().lock();
    for known in shipped() {
        writeln!(out, "{:20} {}", known.name, Plan::from_toml(known.text)?.about)?;
    }
    Ok(())
}

fn record(plan: &str, hours: u32, seed: u64, start: Time) -> Result<(), Box<dyn Error>> {
    let mut room = Room::new(find(plan)?, seed, start);
    let mut out = BufWriter::new(io::stdout().lock());
    // Hour by hour, so that a year does not lie in memory.
    for hour in 1..=i64::from(hours) {
        for sent in room.advance(start + Span::hours(hour)) {
            writeln!(out, "{}", line(&sent))?;
        }
    }
    Ok(out.flush()?)
}

fn line(sent: &Sent) -> serde_json::Value {
    serde_json::json!({
        "at": sent.at,
        "device": sent.device,
        "topic": sent.topic,
        "payload": String::from_utf8_lossy(&sent.payload),
        "retain": sent.retain,
        "qos": sent.qos,
    })
}

#[expect(clippy::disallowed_methods, reason = "the binary is the edge that owns the clock")]
fn system_now() -> Time {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Time::from_millis(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}
