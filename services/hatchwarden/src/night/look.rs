//! `hatchwarden night`: the review of a night, the service running or not.

use crate::room::{Past, Room, Setup};
use crate::{check, csv_file, engine, service};
use chrono::NaiveDate;
use clap::{ArgGroup, Args};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use store::Reader;
use units::Time;
use web::review::{Pictures, Review, Verdict, document, text};

/// Which night, and how.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("form").args(["json", "html", "csv"]))]
pub struct Options {
    /// The room's configuration.
    #[arg(long, value_name = "FILE", default_value = "config/room.toml")]
    config: PathBuf,
    /// The date of its evening, e.g. 2026-11-25; the last night that has ended if not given.
    #[arg(long, value_name = "D", value_parser = web::review::date)]
    date: Option<NaiveDate>,
    /// Prints it as JSON, the same as the API.
    #[arg(long)]
    json: bool,
    /// Prints it as an HTML file with its pictures.
    #[arg(long)]
    html: bool,
    /// Prints it as CSV, one line for each vessel and clutch.
    #[arg(long)]
    csv: bool,
}

/// Prints the review. Exit 0 when all was well, 1 when something was not or is not known, 2 with what is wrong and the cure.
pub fn run(options: &Options, now: Time) -> ExitCode {
    let said = looked(options, now).and_then(|r| Ok((said(&r, options)?, r.verdict)));
    match said {
        Ok((text, Verdict::Good)) => csv_file::answered(Ok(text)),
        Ok((text, _)) => {
            print!("{text}");
            ExitCode::FAILURE
        }
        Err(fault) => csv_file::answered(Err(fault)),
    }
}

fn said(r: &Review, options: &Options) -> Result<String, String> {
    match options {
        Options { json: true, .. } => {
            serde_json::to_string_pretty(r).map(|json| json + "\n").map_err(|e| e.to_string())
        }
        Options { html: true, .. } => Ok(document(r, Pictures::Inside) + "\n"),
        Options { csv: true, .. } => super::csv(r),
        _ => Ok(text(r)),
    }
}

fn looked(options: &Options, now: Time) -> Result<Review, String> {
    let config = check::load(&options.config).map_err(|e| e.to_string())?;
    let species = service::species(&config).map_err(|e| e.to_string())?;
    let setup = Arc::new(Setup::new(&config, species).map_err(|e| e.to_string())?);
    // Nothing is written and nothing held: the service may be running, or not.
    let reader = Reader::open(&config.store).map_err(|e| e.to_string())?;
    let past = engine::past(&reader, now).map_err(|e| e.to_string())?;
    // What only the alarms of the hour need is left out: it is most of what there is.
    let past = Past { courses: Vec::new(), day: Vec::new(), alarms: Vec::new(), ..past };
    let room = Room::restore(setup, past, now).map_err(|e| format!("{e}; restore a backup of the store"))?;
    let mut asked = room.night_asked(options.date, now).map_err(|e| format!("--{e}"))?;
    let readings = super::read(&reader, &mut asked).map_err(|e| e.to_string())?;
    Ok(super::review(&asked, &readings))
}
