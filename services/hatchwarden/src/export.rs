//! `hatchwarden export`: what a room's store holds, as a file for other programs, for `hatchwarden import` or for
//! `hatchwarden replay`. Nothing is written into the store and nothing held: the service may be running.

mod recording;
mod tables;

use crate::exchange::{Form, Target};
use crate::{check, csv_file};
use clap::{Args, ValueEnum};
use serde_json::json;
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use store::{ReadError, Reader};
use units::{ProbeKey, Time};

/// What to write, and where.
#[derive(Debug, Args)]
pub struct Options {
    /// What to write.
    #[arg(value_enum, default_value_t = What::Recording)]
    what: What,
    /// The room's configuration.
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    /// From then on (RFC 3339), by the time at which a thing was measured or written down; all if not given.
    #[arg(long, value_name = "T", value_parser = Time::parse_rfc3339)]
    from: Option<Time>,
    /// Up to then.
    #[arg(long, value_name = "T", value_parser = Time::parse_rfc3339)]
    to: Option<Time>,
    /// Readings of these only: a vessel, V1, or a probe, V1/temperature or V1/temperature/MARK. May be given more than once.
    #[arg(long, value_name = "PROBE")]
    probe: Vec<String>,
    /// The form; by the ending of --out, else JSON lines.
    #[arg(long = "as", value_name = "FORM", value_enum)]
    form: Option<Form>,
    /// Into this file, which is there when it is whole; to standard output if not given.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Says what was written as JSON.
    #[arg(long, requires = "out")]
    json: bool,
}

/// What is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum What {
    /// Account, comparisons, alarms taken on and readings in one, as JSON lines for `hatchwarden replay`.
    Recording,
    /// Readings of probes, as they were read and corrected.
    Readings,
    /// Every entry of the account.
    Account,
    /// Comparisons of thermometers, from which offsets follow.
    Comparisons,
    /// Every change of an alarm.
    Alarms,
    /// What was refused, counted by place and reason.
    Refusals,
}

impl What {
    fn word(self) -> &'static str {
        match self {
            Self::Recording => "recording",
            Self::Readings => "readings",
            Self::Account => "account",
            Self::Comparisons => "comparisons",
            Self::Alarms => "alarms",
            Self::Refusals => "refusals",
        }
    }
}

/// The choice of what is written.
struct Choice {
    from: Time,
    to: Time,
    probes: Vec<ProbeKey>,
}

const FIRST: Time = Time::from_millis(i64::MIN);
const LAST: Time = Time::from_millis(i64::MAX);

/// Why something could not be written.
enum Trouble {
    Read(ReadError),
    /// A record that cannot be understood: which, and why.
    Record(String, serde_json::Error),
    Write(io::Error),
}

impl From<ReadError> for Trouble {
    fn from(e: ReadError) -> Self {
        Self::Read(e)
    }
}

impl From<io::Error> for Trouble {
    fn from(e: io::Error) -> Self {
        Self::Write(e)
    }
}

impl Trouble {
    fn words(&self, to: &str) -> String {
        match self {
            Self::Read(e) => e.to_string(),
            Self::Record(which, e) => {
                format!("{which} cannot be understood: {e}; restore a backup of the store")
            }
            Self::Write(e) => format!("{to}: cannot be written: {e}; make room, or read to the end"),
        }
    }
}

/// Writes it. Exit 0, or 2 with what is wrong and the cure.
pub fn run(options: &Options) -> ExitCode {
    csv_file::answered(written(options))
}

fn written(options: &Options) -> Result<String, String> {
    let form = form(options)?;
    let config = check::load(&options.config).map_err(|e| e.to_string())?;
    let reader = Reader::open(&config.store).map_err(|e| e.to_string())?;
    let choice = choice(options, &reader)?;
    let mut target = Target::of(options.out.as_deref(), &[&config.store, &options.config])?;
    if form == Form::Parquet && target.is_screen() {
        return Err(
            "a screen cannot show Parquet; name a file with --out, or send it into one with >".to_owned()
        );
    }
    let to = options.out.as_ref().map_or_else(|| "standard output".to_owned(), |f| f.display().to_string());
    let done = match options.what {
        What::Recording => recording::write(&reader, &choice, &mut target.writer()),
        what => tables::write(&reader, &choice, what, form, config.room.as_str(), &mut target.writer()),
    };
    let rows = done.and_then(|rows| target.finish().map(|()| rows).map_err(Trouble::Write));
    let rows = rows.map_err(|e| e.words(&to))?;
    Ok(said(options, form, rows, &to))
}

/// What was written; standard output has the rows themselves.
fn said(options: &Options, form: Form, rows: u64, to: &str) -> String {
    let (what, form) = (options.what.word(), form.to_possible_value());
    let form = form.as_ref().map_or("", |f| f.get_name());
    match &options.out {
        None => String::new(),
        Some(_) if options.json => {
            format!("{}\n", json!({ "what": what, "as": form, "rows": rows, "file": to }))
        }
        Some(_) => format!("{to}: {what}, {rows} rows\n"),
    }
}

fn form(options: &Options) -> Result<Form, String> {
    let by_name = options.out.as_deref().and_then(Form::of);
    let form = options.form.or(by_name).unwrap_or(Form::Jsonl);
    if options.what == What::Recording && form != Form::Jsonl {
        return Err(
            "a recording holds several tables and is JSON lines; name one of them: readings, account, comparisons, alarms, refusals"
                .to_owned(),
        );
    }
    if let Some((file, named)) = options.out.as_ref().zip(by_name).filter(|(_, named)| *named != form) {
        return Err(format!(
            "--out {}: its ending says {named:?}, --as says {form:?}; give the two the same form, or leave --as out",
            file.display()
        ));
    }
    Ok(form)
}

fn choice(options: &Options, reader: &Reader) -> Result<Choice, String> {
    let (from, to) = (options.from.unwrap_or(FIRST), options.to.unwrap_or(LAST));
    if from > to {
        return Err(format!("--from {from}: lies after --to {to}; give the earlier time as --from"));
    }
    if !options.probe.is_empty() && !matches!(options.what, What::Readings | What::Recording) {
        let what = options.what.word();
        return Err(format!("--probe: {what} are not of probes; leave it out, or export readings"));
    }
    let all = reader.probes().map_err(|e| e.to_string())?;
    let mut probes = Vec::new();
    for wanted in &options.probe {
        let found: Vec<ProbeKey> = all.iter().filter(|p| is_of(p, wanted)).cloned().collect();
        if found.is_empty() {
            let known: Vec<String> = all.iter().map(ToString::to_string).collect();
            return Err(format!(
                "--probe {wanted}: nothing was ever read there; name one of {}",
                known.join(", ")
            ));
        }
        probes.extend(found);
    }
    probes.sort();
    probes.dedup();
    Ok(Choice { from, to, probes: if options.probe.is_empty() { all } else { probes } })
}

/// Whether a probe is meant by a vessel, by vessel and quantity, or by its whole name.
fn is_of(probe: &ProbeKey, wanted: &str) -> bool {
    let name = probe.to_string();
    name.strip_prefix(wanted).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

/// Gives every reading of a probe in the choice, some thousands in memory at a time.
fn each_reading(
    reader: &Reader,
    probe: &ProbeKey,
    choice: &Choice,
    mut put: impl FnMut(&store::ReadingRow) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    /// So many readings are in memory at once.
    const PIECE: usize = 10_000;
    let mut next = choice.from;
    loop {
        let rows = reader.first_rows(probe, next, choice.to, PIECE)?;
        rows.iter().try_for_each(&mut put)?;
        match rows.last() {
            Some(last) if rows.len() == PIECE => next = last.time + units::Span::from_millis(1),
            _ => return Ok(()),
        }
    }
}

fn flushed(out: &mut dyn Write) -> Result<(), Trouble> {
    Ok(out.flush()?)
}
