//! How long a recorded day of a large room takes, and how much memory: load-1000 has 1,000 probes with a reading each
//! 10 s, 8.64 million lines. The first 2 hours beside the day show whether memory grows.
//!
//! `cargo bench -p hatchwarden-sim --bench record -- --help`
#![allow(
    clippy::unwrap_used,
    missing_docs,
    reason = "a bench: a broken expectation is the failure to report"
)]

use clap::Parser;
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

/// Most seconds for a day.
const GOAL_S: f64 = 10.0;
/// Most memory, MB, and how much more of it a day may take than two hours.
const GOAL_MB: f64 = 20.0;
const GOAL_GROWTH_MB: f64 = 2.0;

/// Measures `hatchwarden-sim record load-1000`.
#[derive(Debug, Parser)]
struct Line {
    /// Rounds; the median counts.
    #[arg(long, default_value_t = 3)]
    rounds: usize,
    /// Fails if a goal is missed.
    #[arg(long)]
    strict: bool,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

/// One run.
struct Run {
    seconds: f64,
    /// Most memory that was resident, MB.
    memory: f64,
    bytes: u64,
}

fn main() -> ExitCode {
    let line = Line::parse();
    let short = record("2 h");
    let mut days: Vec<Run> = (0..line.rounds.max(1)).map(|_| record("1 d")).collect();
    days.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    let day = &days[days.len() / 2];
    let most = days.iter().map(|d| d.memory).fold(0.0, f64::max);
    let all: Vec<String> = days.iter().map(|d| format!("{:.2}", d.seconds)).collect();
    println!("{:.0} MB written; seconds of each round: {}", day.bytes as f64 / 1e6, all.join(", "));
    let met = [
        goal("a day of load-1000: under 10 s", day.seconds, GOAL_S, "s"),
        goal("peak memory: under 20 MB", most, GOAL_MB, "MB"),
        goal("more of it than for two hours: under 2 MB", most - short.memory, GOAL_GROWTH_MB, "MB"),
    ];
    if line.strict && met.contains(&false) { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

fn goal(what: &str, found: f64, most: f64, unit: &str) -> bool {
    println!("{what:<45} | {found:>6.2} {unit:<2} | {}", if found < most { "yes" } else { "NO" });
    found < most
}

/// Records into a folder that is removed again.
fn record(length: &str) -> Run {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("record-{}", std::process::id()));
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_hatchwarden-sim"))
        .args(["record", "load-1000", "--for", length, "--out"])
        .arg(&out)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let (tell, ended) = mpsc::channel();
    std::thread::spawn(move || tell.send((child.wait().unwrap(), begun.elapsed())));
    let mut memory = 0.0_f64;
    // The kernel keeps the peak, so a look now and then is enough.
    let (exit, took) = loop {
        memory = memory.max(peak_mb(&status).unwrap_or(0.0));
        if let Ok(end) = ended.recv_timeout(Duration::from_millis(20)) {
            break end;
        }
    };
    assert!(exit.success());
    let bytes = std::fs::metadata(out.join("messages.jsonl")).unwrap().len();
    std::fs::remove_dir_all(&out).unwrap();
    Run { seconds: took.as_secs_f64(), memory, bytes }
}

/// Most memory that a process had resident so far.
fn peak_mb(status: &str) -> Option<f64> {
    let text = std::fs::read_to_string(status).ok()?;
    let line = text.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    Some(line.trim().trim_end_matches("kB").trim().parse::<f64>().ok()? / 1024.0)
}
