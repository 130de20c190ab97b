//! The command line.

use clap::{Parser, Subcommand};
use hatchwarden::{
    check, clock::Clock, decode, demo, export, fit, import, logging, night, people, project, replay, run,
};
use std::path::PathBuf;
use std::process::ExitCode;

/// Watches tumblers and tanks of mouthbrooding fish: readings over MQTT, dates by degree-days, alarms.
/// It watches and tells; it switches nothing.
#[derive(Parser)]
#[command(name = "hatchwarden", version, about)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// A whole simulated room on this machine, nothing to configure; prints the address of its page.
    Demo(demo::Options),
    /// The service for one room.
    Run {
        /// The room's configuration.
        #[arg(long, value_name = "FILE")]
        config: PathBuf,
    },
    /// Reads a configuration and reports every fault with its line and cure.
    Check {
        /// The room's configuration.
        #[arg(long, value_name = "FILE")]
        config: PathBuf,
        /// Prints the faults as JSON.
        #[arg(long)]
        json: bool,
    },
    /// What a message would become: a reading, or a refusal with its reason.
    Decode(decode::Options),
    /// Laws of development from observations of how many days a stage took at which temperature.
    Fit(fit::Options),
    /// Windows of every stage from a temperature record.
    Project(project::Options),
    /// Readings, account and more of a room as a file: CSV, JSON lines or Parquet. The service running or not.
    Export(export::Options),
    /// Takes in readings, account and comparisons from files that `export` has written, or of their shape. The service stopped.
    Import(import::Options),
    /// What a night was for each vessel and clutch, the service running or not.
    Night(night::look::Options),
    /// Who may sign in at the page: lets people in, sets forgotten passwords anew. The service running or not.
    People(people::Options),
    /// What the alarms would have done over recorded readings.
    Replay(replay::Options),
}

fn main() -> ExitCode {
    match Line::parse().command {
        Command::Check { config, json } => check::run(&config, json),
        Command::Decode(options) => decode::run(&options, Clock::real().now()),
        Command::Fit(options) => fit::run(&options),
        Command::Project(options) => project::run(&options),
        Command::Export(options) => export::run(&options),
        Command::Import(options) => import::run(&options, Clock::real().now()),
        Command::Night(options) => night::look::run(&options, Clock::real().now()),
        Command::People(options) => people::run(options, Clock::real().now()),
        Command::Replay(options) => replay::run(&options),
        Command::Run { config } => {
            logging::start("info");
            block_on(run::run(&config))
        }
        Command::Demo(options) => {
            // The simulated devices complain when the service they talk to stops: that is no news here.
            logging::start("warn,sensors_sim=error");
            block_on(demo::run(options))
        }
    }
}

fn block_on(work: impl Future<Output = ExitCode>) -> ExitCode {
    match tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build() {
        Ok(runtime) => runtime.block_on(work),
        Err(e) => {
            eprintln!("hatchwarden: cannot start threads: {e}; free some memory or raise the process limit");
            ExitCode::FAILURE
        }
    }
}
