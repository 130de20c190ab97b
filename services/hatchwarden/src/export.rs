//! `hatchwarden export`: what a room's store holds, as JSON lines that `hatchwarden replay` takes. The service may be running.

use crate::room::{COMPARISONS_NOTE, KeptComparison};
use crate::{check, csv_file};
use clap::Args;
use serde_json::{Value, json};
use std::io::{self, BufWriter, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use store::{AlarmRow, EntryRow, ReadError, Reader, ReadingRow};
use units::{Span, Time};

/// What to write.
#[derive(Debug, Args)]
pub struct Options {
    /// The room's configuration.
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    /// Readings measured from then on (RFC 3339); all if not given. The account is written whole, as its clutches need it.
    #[arg(long, value_name = "T", value_parser = Time::parse_rfc3339)]
    from: Option<Time>,
    /// Readings measured up to then.
    #[arg(long, value_name = "T", value_parser = Time::parse_rfc3339)]
    to: Option<Time>,
}

/// So many readings are in memory at once.
const PIECE: usize = 10_000;

/// Writes to standard output: entries of the account, comparisons of thermometers, alarms that were taken on, then the readings of each probe, oldest
/// first. Exit 0, or 2 with what is wrong and the cure.
pub fn run(options: &Options) -> ExitCode {
    csv_file::answered(written(options).map(|()| String::new()))
}

fn written(options: &Options) -> Result<(), String> {
    let config = check::load(&options.config).map_err(|e| e.to_string())?;
    let reader = Reader::open(&config.store).map_err(|e| e.to_string())?;
    let mut out = BufWriter::new(io::stdout().lock());
    let done = all(&reader, options, &mut out).and_then(|()| out.flush().map_err(Trouble::Write));
    done.map_err(|e| match e {
        Trouble::Read(e) => e.to_string(),
        Trouble::Entry(id, e) => {
            format!("account entry {id} cannot be understood: {e}; restore a backup of the store")
        }
        Trouble::Comparisons(e) => {
            format!(
                "the comparisons of thermometers cannot be understood: {e}; restore a backup of the store"
            )
        }
        Trouble::Write(e) => {
            format!("standard output: cannot be written: {e}; make room, or read to the end")
        }
    })
}

enum Trouble {
    Read(ReadError),
    /// An entry of the account, by its number, that cannot be understood.
    Entry(u64, serde_json::Error),
    /// The comparisons cannot be understood.
    Comparisons(serde_json::Error),
    Write(io::Error),
}

impl From<ReadError> for Trouble {
    fn from(e: ReadError) -> Self {
        Trouble::Read(e)
    }
}

fn all(reader: &Reader, options: &Options, out: &mut impl Write) -> Result<(), Trouble> {
    let mut put = |line: Value| writeln!(out, "{line}").map_err(Trouble::Write);
    let (from, to) = (options.from.unwrap_or(FIRST), options.to.unwrap_or(LAST));
    for e in reader.entries()?.into_iter().filter(|e| e.recorded <= to) {
        put(entry(&e)?)?;
    }
    compared(reader, to)?.into_iter().try_for_each(&mut put)?;
    for a in reader.alarm_log_between(from, to)?.into_iter().filter(|a| a.to == "acknowledged") {
        put(acknowledged(&a))?;
    }
    for probe in reader.probes()? {
        let mut next = from;
        loop {
            let rows = reader.first_rows(&probe, next, to, PIECE)?;
            rows.iter().map(reading).try_for_each(&mut put)?;
            match rows.last() {
                Some(last) if rows.len() == PIECE => next = last.time + Span::from_millis(1),
                _ => break,
            }
        }
    }
    Ok(())
}

/// What thermometers were compared with, whole as the account: an offset holds for readings before it was entered too.
fn compared(reader: &Reader, to: Time) -> Result<Vec<Value>, Trouble> {
    let note = reader.note(COMPARISONS_NOTE)?.filter(|note| !note.is_empty());
    let kept: Vec<KeptComparison> =
        note.map_or(Ok(Vec::new()), |note| serde_json::from_str(&note)).map_err(Trouble::Comparisons)?;
    let mut lines = Vec::new();
    for (number, k) in (1..).zip(kept).filter(|(_, k)| k.recorded <= to) {
        lines.push(json!({ "t": k.recorded, "by": k.by, "comparison": k.comparison }));
        if let Some((by, at)) = k.withdrawn.filter(|(_, at)| *at <= to) {
            lines.push(json!({ "t": at, "by": by, "withdrawn_comparison": number }));
        }
    }
    Ok(lines)
}

const FIRST: Time = Time::from_millis(i64::MIN);
const LAST: Time = Time::from_millis(i64::MAX);

fn entry(e: &EntryRow) -> Result<Value, Trouble> {
    let event: Value = serde_json::from_str(&e.json).map_err(|fault| Trouble::Entry(e.id, fault))?;
    Ok(json!({ "t": e.recorded, "by": e.by, "event": event }))
}

fn acknowledged(a: &AlarmRow) -> Value {
    json!({ "t": a.at, "acknowledge": a.key })
}

fn reading(r: &ReadingRow) -> Value {
    let (vessel, quantity) = (&r.probe.vessel, r.probe.quantity);
    let mut line = json!({
        "t": r.time, "received": r.received, "vessel": vessel, "quantity": quantity, "value": r.value,
        "unit": quantity.unit().symbol(),
    });
    if let Some(mark) = &r.probe.mark {
        line["mark"] = json!(mark);
    }
    line
}
