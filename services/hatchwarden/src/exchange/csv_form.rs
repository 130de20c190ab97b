//! Tables as CSV after RFC 4180: a header, lines that end in CRLF, quotes where they are needed, nothing for no value.

use super::{Cell, Column, Flaw, Kind, Row, Sink, Source, Table, missing, table_of, unreadable};
use std::fs::File;
use std::io::{self, Write};
use std::path::Path;
use units::Time;

/// Writes a table.
pub(super) struct Writer<W: Write> {
    csv: csv::Writer<W>,
}

impl<W: Write> Writer<W> {
    pub(super) fn new(table: Table, out: W) -> io::Result<Self> {
        let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        csv.write_record(table.columns().iter().map(|c| c.name))?;
        Ok(Self { csv })
    }
}

impl<W: Write> Sink for Writer<W> {
    fn row(&mut self, row: &[Cell]) -> io::Result<()> {
        for cell in row {
            match cell {
                Cell::Empty => self.csv.write_field("")?,
                Cell::Time(t) => self.csv.write_field(t.to_string())?,
                Cell::Text(text) | Cell::Json(text) => self.csv.write_field(&**text)?,
                Cell::Number(x) => self.csv.write_field(x.to_string())?,
                Cell::Count(n) => self.csv.write_field(n.to_string())?,
                Cell::Flag(yes) => self.csv.write_field(if *yes { "true" } else { "false" })?,
            }
        }
        Ok(self.csv.write_record(None::<&[u8]>)?)
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        self.csv.flush()
    }
}

/// Opens a file; its columns may come in any order, and those that are not needed may be missing.
pub(super) fn source(file: &Path) -> Result<Source, String> {
    let file = File::open(file).map_err(|e| unreadable(&e))?;
    let mut reader = csv::ReaderBuilder::new().from_reader(file);
    let header = reader.headers().map_err(|e| format!("line 1: {}", said(&e)))?.clone();
    let names: Vec<&str> = header.iter().map(str::trim).collect();
    let table = table_of(&names).map_err(|e| format!("line 1: {e}"))?;
    if let Some(twice) = names.iter().enumerate().find(|(i, n)| names[..*i].contains(n)) {
        return Err(format!("line 1: column {:?} comes twice; leave one of them out", twice.1));
    }
    let places: Vec<Option<usize>> =
        table.columns().iter().map(|c| names.iter().position(|n| *n == c.name)).collect();
    let judged = names.contains(&"fresh");
    let rows = reader.into_records().map(move |record| match record {
        Ok(record) => {
            let number = record.position().map_or(0, csv::Position::line);
            Ok(Row { number, cells: cells(table, &places, &record) })
        }
        Err(e) => torn(&e),
    });
    Ok(Source { table, judged, counted: "line", rows: Box::new(rows) })
}

/// A record that is no row: told as a fault of its line where the next one can still be read.
fn torn(e: &csv::Error) -> Result<Row, String> {
    let number = e.position().map_or(0, csv::Position::line);
    match e.kind() {
        csv::ErrorKind::UnequalLengths { .. } | csv::ErrorKind::Utf8 { .. } => {
            Ok(Row { number, cells: Err(vec![Flaw::new("line", said(e))]) })
        }
        _ => Err(said(e)),
    }
}

fn said(e: &csv::Error) -> String {
    match e.kind() {
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!(
                "has {len} values where the header has {expected_len}; write as many, and quotes round a value with commas"
            )
        }
        csv::ErrorKind::Utf8 { .. } => "is not text in UTF-8; save the file as CSV in UTF-8".to_owned(),
        csv::ErrorKind::Io(e) => unreadable(e),
        _ => format!("cannot be read: {e}; save the file as CSV in UTF-8"),
    }
}

fn cells(table: Table, places: &[Option<usize>], record: &csv::StringRecord) -> Result<Vec<Cell>, Vec<Flaw>> {
    let mut flaws = Vec::new();
    let mut cells = Vec::with_capacity(places.len());
    for (column, place) in table.columns().iter().zip(places) {
        let text = place.and_then(|i| record.get(i)).unwrap_or_default();
        match cell(column, text) {
            Ok(cell) => cells.push(cell),
            Err(flaw) => flaws.push(flaw),
        }
    }
    if flaws.is_empty() { Ok(cells) } else { Err(flaws) }
}

fn cell(column: &Column, text: &str) -> Result<Cell, Flaw> {
    let odd = |cure: &str| Flaw::new(column.name, format!("{text:?} will not do; write {cure}"));
    let bare = text.trim();
    match column.kind {
        // A text of no letters is a text; nothing at all is none.
        Kind::Text if text.is_empty() => {
            if column.needed {
                Err(missing(column))
            } else {
                Ok(Cell::Empty)
            }
        }
        Kind::Text => Ok(Cell::text(text)),
        _ if bare.is_empty() => {
            if column.needed {
                Err(missing(column))
            } else {
                Ok(Cell::Empty)
            }
        }
        Kind::Json => Ok(Cell::Json(text.into())),
        Kind::Time => Time::parse_rfc3339(bare)
            .map(Cell::Time)
            .map_err(|_| odd("a time with its zone, such as 2031-03-14T02:10:00Z")),
        Kind::Number => match bare.parse::<f64>() {
            Ok(x) if x.is_finite() => Ok(Cell::Number(x)),
            _ => Err(odd("a number with a point, such as 26.9")),
        },
        Kind::Count => bare.parse().map(Cell::Count).map_err(|_| odd("a whole number from 0")),
        Kind::Flag => match bare {
            "true" | "TRUE" | "True" => Ok(Cell::Flag(true)),
            "false" | "FALSE" | "False" => Ok(Cell::Flag(false)),
            _ => Err(odd("true or false")),
        },
    }
}
