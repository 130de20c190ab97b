//! `hatchwarden import`: takes readings, account and comparisons in from files, each of them whole or not at all. The service
//! must be stopped: it holds the account in memory, and would have to wait for a file of a year.

mod take;

use crate::exchange::{self, Flaw, Form, Source, Table};
use crate::{check, csv_file, service};
use clap::Args;
use serde_json::{Value, json};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use store::access::AuditRow;
use store::{CommitError, Filling};
use take::Taken;
use units::Time;

/// What to take in.
#[derive(Debug, Args)]
pub struct Options {
    /// Files of readings, account or comparisons, as `hatchwarden export` writes them. What each holds is told by its columns.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The room's configuration.
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    /// The form of the files; by the endings of their names if not given.
    #[arg(long = "as", value_name = "FORM", value_enum)]
    form: Option<Form>,
    /// Says what would be taken in and what is wrong, and writes nothing.
    #[arg(long)]
    check: bool,
    /// Says it as JSON.
    #[arg(long)]
    json: bool,
}

/// So many faults of a file are told one by one; of others only how many.
const TOLD: usize = 20;

/// What is wrong with a file: some of its faults, and how many there are.
#[derive(Debug, Default)]
struct Faults {
    told: Vec<(u64, Flaw)>,
    all: u64,
}

impl Faults {
    fn add(&mut self, number: u64, flaw: Flaw) {
        self.all += 1;
        if self.told.len() < TOLD {
            self.told.push((number, flaw));
        }
    }
}

/// What became of a file.
struct Outcome {
    table: Table,
    counted: &'static str,
    taken: Taken,
    faults: Faults,
}

/// Takes them in and says what came of each. Exit 0 when all was good, 1 when a file was left out for what is wrong in it, 2
/// with what is wrong and the cure when nothing could be tried.
pub fn run(options: &Options, now: Time) -> ExitCode {
    match done(options, now) {
        Ok((text, true)) => csv_file::answered(Ok(text)),
        Ok((text, false)) => {
            print!("{text}");
            ExitCode::FAILURE
        }
        Err(fault) => csv_file::answered(Err(fault)),
    }
}

fn done(options: &Options, now: Time) -> Result<(String, bool), String> {
    let forms = options.files.iter().map(|f| form(options, f)).collect::<Result<Vec<_>, _>>()?;
    let config = check::load(&options.config).map_err(|e| e.to_string())?;
    // A store that is not there yet is not made for a look.
    let nowhere = tempfile::tempdir()
        .map_err(|e| format!("a folder for trying cannot be made: {e}; make room in it"))?;
    let store = if options.check && !config.store.exists() {
        nowhere.path().join("room.db")
    } else {
        service::make_folder(&config.store).map_err(|e| e.to_string())?;
        config.store.clone()
    };
    let mut filling = Filling::open(&store).map_err(|e| e.to_string())?;
    let (mut said, mut good) = (Vec::new(), true);
    for (file, form) in options.files.iter().zip(forms) {
        let came = one(&mut filling, file, form, options.check, now);
        let came = came.map_err(|e| format!("{}{}", told(&said, options), e))?;
        good &= came.as_ref().is_ok_and(|o| o.faults.all == 0);
        said.push((file.clone(), came));
    }
    Ok((told(&said, options), good))
}

fn form(options: &Options, file: &Path) -> Result<Form, String> {
    options.form.or_else(|| Form::of(file)).ok_or_else(|| {
        let name = file.display();
        format!("{name}: its ending tells no form; give it .csv, .jsonl or .parquet, or say --as csv, jsonl or parquet")
    })
}

/// What became of a file that could be read, or why it could not.
type Came = Result<Outcome, String>;

/// One file, in one transaction. The error is the store's: then no other file can be tried either.
fn one(filling: &mut Filling, file: &Path, form: Form, check: bool, now: Time) -> Result<Came, String> {
    let source = match exchange::source(form, file) {
        Ok(source) => source,
        Err(e) => return Ok(Err(e)),
    };
    let (table, counted) = (source.table, source.counted);
    let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let tried = |e: CommitError| e.to_string();
    filling.begin().map_err(tried)?;
    let mut faults = Faults::default();
    let taken = match taken(filling, source, &mut faults) {
        Ok(taken) => taken,
        Err(Stop::File(e)) => {
            filling.undo().map_err(tried)?;
            return Ok(Err(e));
        }
        Err(Stop::Store(e)) => return Err(e),
    };
    if check || faults.all > 0 || taken.new == 0 {
        filling.undo().map_err(tried)?;
    } else {
        let what = format!("took in {} {} from {name}", taken.new, table.word());
        filling.add(&[], &[line(what, now)]).map_err(tried)?;
        filling.keep().map_err(tried)?;
    }
    Ok(Ok(Outcome { table, counted, taken, faults }))
}

/// Why a file was not read to its end.
enum Stop {
    /// It cannot be read on.
    File(String),
    /// The store cannot be read or written.
    Store(String),
}

impl From<CommitError> for Stop {
    fn from(e: CommitError) -> Self {
        Self::Store(e.to_string())
    }
}

fn taken(filling: &mut Filling, source: Source, faults: &mut Faults) -> Result<Taken, Stop> {
    match source.table {
        Table::Account => take::account(filling, source, faults),
        Table::Comparisons => take::comparisons(filling, source, faults),
        _ => take::readings(filling, source, faults),
    }
}

/// For the audit log.
fn line(what: String, now: Time) -> AuditRow {
    let text = str::to_owned;
    AuditRow {
        at: now,
        who: text("the command line"),
        how: text(web::access::How::Machine.word()),
        address: text("this machine"),
        what,
        place: text("hatchwarden import"),
    }
}

fn told(said: &[(PathBuf, Came)], options: &Options) -> String {
    if options.json {
        let all: Vec<Value> = said.iter().map(|(file, came)| as_json(file, came, options.check)).collect();
        return if all.is_empty() { String::new() } else { format!("{}\n", Value::Array(all)) };
    }
    said.iter().map(|(file, came)| as_text(file, came, options.check)).collect()
}

fn as_text(file: &Path, came: &Came, check: bool) -> String {
    let name = file.display();
    let o = match came {
        Ok(o) => o,
        Err(e) => return format!("{name}: {e}\nNothing was taken in from it.\n"),
    };
    let mut out = String::new();
    // A string takes everything.
    for (number, flaw) in &o.faults.told {
        let _ = writeln!(out, "{name}, {} {number}: {}: {}", o.counted, flaw.field, flaw.reason);
    }
    let rest = o.faults.all - o.faults.told.len() as u64;
    if rest > 0 {
        let _ = writeln!(out, "{name}: and {rest} more");
    }
    for (number, other) in &o.taken.others {
        let _ = writeln!(out, "{name}, {} {number}: {other}", o.counted);
    }
    let Taken { new, known, other, .. } = o.taken;
    let kept = if other > 0 { format!(", {other} left out for what stands") } else { String::new() };
    let word = o.table.word();
    let _ = match (o.faults.all, check) {
        (0, true) => writeln!(out, "{name}: good; {word}: {new} would be new, {known} stand already{kept}"),
        (0, false) => writeln!(out, "{name}: {word}: {new} new, {known} stood already{kept}"),
        (n, _) => writeln!(out, "{name}: faults: {n}. Nothing was taken in from it."),
    };
    out
}

fn as_json(file: &Path, came: &Came, check: bool) -> Value {
    let file = file.display().to_string();
    match came {
        Err(e) => json!({ "file": file, "taken": false, "fault": e }),
        Ok(o) => json!({
            "file": file, "what": o.table.word(), "taken": !check && o.faults.all == 0, "new": o.taken.new,
            "known": o.taken.known, "other": o.taken.other, "faults": o.faults.all,
            "told": o.faults.told.iter().map(|(n, f)| json!({ o.counted: n, "field": f.field, "reason": f.reason }))
                .collect::<Vec<_>>(),
        }),
    }
}
