//! Tables in which a room's records leave the store and come back: one set of columns, whatever the form of the file.
//!
//! `table.rs` says which columns there are, `rows.rs` makes rows of what the store keeps, `csv_form.rs`, `json_form.rs` and
//! `parquet_form/` write and read them.

mod csv_form;
mod json_form;
mod out;
mod parquet_form;
mod rows;
mod table;
#[cfg(test)]
mod tests;

pub(crate) use out::Target;
pub(crate) use rows::{account, alarm, comparison, reading, refusal};
pub(crate) use table::{Cell, Column, Kind, Table};

use clap::ValueEnum;
use std::io::{self, Write};
use std::path::Path;

/// The form of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Form {
    /// Comma-separated values (RFC 4180), with a header.
    Csv,
    /// A JSON object in each line.
    Jsonl,
    /// Parquet, for programs that read columns.
    Parquet,
}

impl Form {
    /// By the ending of a file's name.
    pub(crate) fn of(file: &Path) -> Option<Self> {
        let ending = file.extension()?.to_str()?.to_ascii_lowercase();
        match ending.as_str() {
            "csv" => Some(Self::Csv),
            "jsonl" | "ndjson" => Some(Self::Jsonl),
            "parquet" => Some(Self::Parquet),
            _ => None,
        }
    }
}

/// Takes rows and writes them somewhere.
pub(crate) trait Sink {
    /// Writes one row: a cell for each column.
    fn row(&mut self, row: &[Cell]) -> io::Result<()>;
    /// Writes what is still to be written.
    fn end(self: Box<Self>) -> io::Result<()>;
}

/// A sink of a form. `about` goes into the file where its form has a place for that: names and values.
pub(crate) fn sink<'a>(
    form: Form,
    table: Table,
    about: &[(&str, String)],
    out: impl Write + Send + 'a,
) -> io::Result<Box<dyn Sink + 'a>> {
    Ok(match form {
        Form::Csv => Box::new(csv_form::Writer::new(table, out)?),
        Form::Jsonl => Box::new(json_form::Writer::new(table, out)),
        Form::Parquet => Box::new(parquet_form::Writer::new(table, about, out)?),
    })
}

/// What is wrong with one value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Flaw {
    /// Which column.
    pub field: String,
    /// The value and what to write instead.
    pub reason: String,
}

impl Flaw {
    pub(crate) fn new(field: &str, reason: impl Into<String>) -> Self {
        Self { field: field.to_owned(), reason: reason.into() }
    }
}

/// A row of a file: its cells in the order of the table's columns, or all that is wrong with it.
pub(crate) struct Row {
    /// Its line, or its number where the form has no lines; from 1.
    pub number: u64,
    /// What it says.
    pub cells: Result<Vec<Cell>, Vec<Flaw>>,
}

/// A file that is being read.
pub(crate) struct Source {
    /// What it holds.
    pub table: Table,
    /// Whether it says how a reading was judged when it came in.
    pub judged: bool,
    /// What its rows are counted as.
    pub counted: &'static str,
    /// Its rows; an error ends them.
    pub rows: Box<dyn Iterator<Item = Result<Row, String>>>,
}

/// Opens a file of a form.
///
/// # Errors
/// What cannot be read, without the file's name, and the cure.
pub(crate) fn source(form: Form, file: &Path) -> Result<Source, String> {
    match form {
        Form::Csv => csv_form::source(file),
        Form::Jsonl => json_form::source(file),
        Form::Parquet => parquet_form::source(file),
    }
}

/// What a file holds, by the names of its columns.
fn table_of(names: &[&str]) -> Result<Table, String> {
    let has = |name: &&str| names.contains(name);
    let all = Table::TAKEN;
    let needs = |t: &Table| t.columns().iter().filter(|c| c.needed).map(|c| c.name).collect::<Vec<_>>();
    let Some(table) = all.into_iter().find(|t| needs(t).iter().all(has)) else {
        let said: Vec<String> =
            all.iter().map(|t| format!("{} ({})", t.word(), needs(t).join(", "))).collect();
        return Err(format!(
            "its columns are {}; write those that are needed, of {}",
            if names.is_empty() { "none".to_owned() } else { names.join(", ") },
            said.join(", of ")
        ));
    };
    match names.iter().find(|n| table.index(n).is_none()) {
        Some(odd) => {
            let known: Vec<&str> = table.columns().iter().map(|c| c.name).collect();
            Err(format!(
                "column {odd:?}: {} have none of that name; leave it out, or write one of {}",
                table.word(),
                known.join(", ")
            ))
        }
        None => Ok(table),
    }
}

fn unreadable(e: &io::Error) -> String {
    format!("cannot be read: {e}; check the path and the rights on it")
}

fn missing(column: &Column) -> Flaw {
    Flaw::new(column.name, format!("is missing; write {}", column.about))
}
