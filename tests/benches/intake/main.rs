//! How fast messages come in, and what that costs. Every rate is a ratio to one bare floor measured in the same run:
//! mosquitto with a subscriber that only counts.
//!
//! `cargo build --release --bin hatchwarden && cargo bench -p hatchwarden-tests --bench intake -- --help`
#![allow(
    clippy::unwrap_used,
    missing_docs,
    reason = "a bench: a broken expectation is the failure to report"
)]

mod counter;
mod flood;
mod idle;
mod latency;
mod load;
mod machine;
mod paced;
mod report;
mod rig;
mod saturation;
mod soak;
mod stall;
mod wire;

use clap::{Parser, ValueEnum};
use report::Report;
use std::process::ExitCode;
use std::time::Duration;

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    /// Messages a second: bare floor, behind mosquitto, through the front door.
    Saturation,
    /// PUBACK latency at a steady rate.
    Latency,
    /// Worst PUBACK beside a subscriber that never reads.
    Stall,
    /// Processor time of a quiet room.
    Idle,
    /// Memory at a steady rate.
    Soak,
}

/// Measures the intake of a release build.
#[derive(Debug, Parser)]
struct Line {
    /// What to measure; all of it if nothing is named.
    #[arg(long, value_delimiter = ',')]
    only: Vec<Part>,
    /// Interleaved rounds; the median counts.
    #[arg(long, default_value_t = 5)]
    rounds: usize,
    /// Messages in each round.
    #[arg(long, default_value_t = 200_000)]
    messages: usize,
    /// Length of each latency run, in seconds.
    #[arg(long, default_value_t = 20)]
    latency: u64,
    /// Length of the quiet run, in seconds.
    #[arg(long, default_value_t = 60)]
    idle: u64,
    /// Length of the soak, in seconds; the goal speaks of 600.
    #[arg(long, default_value_t = 60)]
    soak: u64,
    /// Fails if a goal is missed.
    #[arg(long)]
    strict: bool,
    /// Given by cargo.
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() -> ExitCode {
    let line = Line::parse();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let report = runtime.block_on(measure(&line));
    report.print();
    if line.strict && !report.all_met() { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

async fn measure(line: &Line) -> Report {
    let wanted = |part| line.only.is_empty() || line.only.contains(&part);
    let mut report = Report::new();
    if wanted(Part::Saturation) {
        saturation::run(line.rounds, line.messages, &mut report).await;
    }
    if wanted(Part::Latency) {
        latency::run(Duration::from_secs(line.latency), &mut report).await;
    }
    if wanted(Part::Stall) {
        stall::run(line.messages, &mut report).await;
    }
    if wanted(Part::Idle) {
        idle::run(Duration::from_secs(line.idle), &mut report).await;
    }
    if wanted(Part::Soak) {
        soak::run(Duration::from_secs(line.soak), &mut report).await;
    }
    report
}
