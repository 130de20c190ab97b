//! `hatchwarden project`: windows of every stage from a temperature record, without a service.

mod record;
mod say;

use crate::csv_file;
use clap::Args;
use development::{Ask, Course, Doubts, Projection, ProjectionError, Species, SpeciesTable, likely_day0};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use units::{Day0, Grade, Sighting, Stage, Time};

/// What to project.
#[derive(Debug, Args)]
pub struct Options {
    /// Key or name of a species entry.
    #[arg(long, value_name = "NAME")]
    species: String,
    /// When the eggs were laid (RFC 3339), or the two looks between which they were.
    #[arg(long, value_name = "T[/T]", value_parser = day0)]
    day0: Day0,
    /// Water temperatures as CSV with the header time,celsius: RFC 3339 with zone, °C, oldest first.
    #[arg(long, value_name = "FILE")]
    temps: PathBuf,
    /// Species entries beside the shipped ones, or in their place.
    #[arg(long, value_name = "FILE")]
    species_file: Option<PathBuf>,
    /// Up to when readings count (RFC 3339); the last reading if not given.
    #[arg(long, value_name = "T", value_parser = Time::parse_rfc3339)]
    now: Option<Time>,
    /// What the keeper saw: STAGE@T, STAGE@T1/T2 between two looks, STAGE@../T when it was already past.
    #[arg(long, value_name = "STAGE@T", num_args = 1..)]
    seen: Vec<Sighting>,
    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// All that is said.
struct Answer<'a> {
    species: &'a Species,
    now: Time,
    /// °C·d above the likely base from the middle of day 0 to now.
    degree_days: f64,
    /// Day 0 by what was seen since: earliest, likeliest, latest; for people, where it was given as two looks.
    spawned: Option<[Time; 3]>,
    projection: Projection,
}

/// Prints the windows. Exit 0, or 2 with the fault and its cure.
pub fn run(options: &Options) -> ExitCode {
    csv_file::answered(projected(options))
}

fn projected(options: &Options) -> Result<String, String> {
    let table = table(options.species_file.as_deref())?;
    let species = table.find(&options.species).map_err(|e| format!("--species: {e}"))?;
    let readings = record::read(&options.temps)?;
    let now = now(options, &readings)?;
    let seen = options.seen.iter().map(|s| possible(*s, now)).collect::<Result<Vec<_>, _>>()?;
    // A reading after now must not bend the water before it either.
    let mut course = Course::new(species, options.day0.earliest);
    course.extend(readings.into_iter().filter(|(t, _)| *t <= now));
    let ask = Ask {
        species,
        course: &course,
        until: Some(now),
        day0: options.day0,
        seen: &seen,
        water_to_come: None,
        doubts: Doubts::USUAL,
    };
    let mut projection = development::project(&ask).map_err(|e| e.to_string())?;
    projection.warnings.extend(silence(&course, now));
    let from = options.day0.middle();
    let degree_days = if from < now { course.degree_days(from, now).likely } else { 0.0 };
    let spawned = spawned(&ask).map_err(|e| e.to_string())?;
    let answer = Answer { species, now, degree_days, spawned, projection };
    Ok(if options.json { format!("{}\n", say::as_json(&answer)) } else { say::as_text(&answer) })
}

fn spawned(ask: &Ask<'_>) -> Result<Option<[Time; 3]>, ProjectionError> {
    if ask.seen.is_empty() || ask.day0.earliest == ask.day0.latest {
        return Ok(None);
    }
    let (earliest, likeliest, latest) = likely_day0(ask)?;
    Ok(Some([earliest, likeliest, latest]))
}

fn day0(text: &str) -> Result<Day0, String> {
    let time = |t: &str| Time::parse_rfc3339(t).map_err(|e| e.to_string());
    match text.split_once('/') {
        None => Ok(Day0::seen(time(text)?)),
        Some((a, b)) => Day0::new(time(a)?, time(b)?, Grade::Window).map_err(|e| e.to_string()),
    }
}

fn table(own: Option<&Path>) -> Result<SpeciesTable, String> {
    let shipped = SpeciesTable::shipped();
    let Some(file) = own else { return Ok(shipped) };
    let name = file.display();
    let text = std::fs::read_to_string(file)
        .map_err(|e| format!("--species-file {name}: cannot be read: {e}; check the path"))?;
    let own = SpeciesTable::from_toml(&text).map_err(|e| format!("--species-file {name}: {e}"))?;
    Ok(shipped.with(own))
}

fn now(options: &Options, readings: &[(Time, f64)]) -> Result<Time, String> {
    let file = options.temps.display();
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else {
        return Err(format!("{file}, line 1: no reading follows; add lines such as {}", record::EXAMPLE));
    };
    match options.now {
        Some(now) if now < first.0 => Err(format!(
            "--now {now} lies before the first reading of {file} ({}); give a later time, or a record that begins earlier",
            first.0
        )),
        now => Ok(now.unwrap_or(last.0)),
    }
}

/// A sighting that can have been made by now.
fn possible(sighting: Sighting, now: Time) -> Result<Sighting, String> {
    if sighting.seen.by() > now {
        return Err(format!("--seen {sighting} lies after now ({now}); correct it, or give a later --now"));
    }
    if sighting.sign.stage() == Some(Stage::Egg) {
        return Err(format!("--seen {sighting}: when eggs were laid is day 0; give it with --day0"));
    }
    Ok(sighting)
}

/// A warning where the record ends long before now.
fn silence(course: &Course, now: Time) -> Option<String> {
    let (last, _) = course.last()?;
    (now - last > development::GAP_AFTER).then(|| {
        format!(
            "no reading for {} before now; its degree-days are filled with the last hour's mean",
            now - last
        )
    })
}
