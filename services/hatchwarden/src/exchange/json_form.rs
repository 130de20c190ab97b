//! Tables as JSON lines: an object in each, its fields named as the columns, left out where there is no value.

use super::{Cell, Column, Flaw, Kind, Row, Sink, Source, Table, missing, table_of, unreadable};
use serde_json::{Map, Value};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::Path;
use units::Time;

/// Longest line that is read: no entry of the account comes near it.
const LONGEST: u64 = 1 << 20;

/// Writes a table.
pub(super) struct Writer<W> {
    table: Table,
    out: W,
}

impl<W: Write> Writer<W> {
    pub(super) fn new(table: Table, out: W) -> Self {
        Self { table, out }
    }
}

impl<W: Write> Sink for Writer<W> {
    fn row(&mut self, row: &[Cell]) -> io::Result<()> {
        let out = &mut self.out;
        let mut before = '{';
        for (column, cell) in self.table.columns().iter().zip(row).filter(|(_, c)| **c != Cell::Empty) {
            write!(out, "{before}\"{}\":", column.name)?;
            match cell {
                Cell::Empty => {}
                Cell::Time(t) => write!(out, "\"{t}\"")?,
                Cell::Text(text) => serde_json::to_writer(&mut *out, &**text)?,
                Cell::Number(x) => serde_json::to_writer(&mut *out, x)?,
                Cell::Count(n) => write!(out, "{n}")?,
                Cell::Flag(yes) => write!(out, "{yes}")?,
                Cell::Json(json) => out.write_all(json.as_bytes())?,
            }
            before = ',';
        }
        out.write_all(b"}\n")
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        self.out.flush()
    }
}

/// Opens a file; the fields of its first line say what it holds. Empty lines and those that begin with # say nothing.
pub(super) fn source(file: &Path) -> Result<Source, String> {
    let file = File::open(file).map_err(|e| unreadable(&e))?;
    let mut lines = Lines { from: BufReader::new(file), number: 0 };
    let Some(first) = lines.next().transpose()? else {
        return Err("there is no line in it; write a JSON object in each".to_owned());
    };
    let line = first.0;
    let object = object(&first).map_err(|e| format!("line {line}: {e}"))?;
    let names: Vec<&str> = object.keys().map(String::as_str).collect();
    let table = table_of(&names).map_err(|e| format!("line {line}: {e}{}", recording(&object)))?;
    let judged = table.index("fresh").is_some() && object.contains_key("fresh");
    let rows = std::iter::once(Ok(first)).chain(lines).map(move |line| {
        let line = line?;
        let read = self::object(&line).map_err(|e| vec![Flaw::new("line", e)]);
        Ok(Row { number: line.0, cells: read.and_then(|object| cells(table, &object)) })
    });
    Ok(Source { table, judged, counted: "line", rows: Box::new(rows) })
}

fn recording(object: &Map<String, Value>) -> &'static str {
    let only_there = ["event", "comparison", "withdrawn_comparison", "acknowledge", "availability"];
    if only_there.iter().any(|f| object.contains_key(*f)) {
        "; a recording for `hatchwarden replay` is not taken in: export readings, account and comparisons each by itself"
    } else {
        ""
    }
}

/// Lines that say something, each with its number.
struct Lines {
    from: BufReader<File>,
    number: u64,
}

impl Iterator for Lines {
    type Item = Result<(u64, Vec<u8>), String>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let mut line = Vec::new();
            match self.from.by_ref().take(LONGEST + 1).read_until(b'\n', &mut line) {
                Ok(0) => return None,
                Ok(_) => self.number += 1,
                Err(e) => return Some(Err(unreadable(&e))),
            }
            if line.len() as u64 > LONGEST {
                let number = self.number;
                return Some(Err(format!(
                    "line {number}: is longer than a million bytes; write one JSON object in a line"
                )));
            }
            let said = line.trim_ascii();
            if !said.is_empty() && !said.starts_with(b"#") {
                return Some(Ok((self.number, line)));
            }
        }
    }
}

fn object((_, line): &(u64, Vec<u8>)) -> Result<Map<String, Value>, String> {
    serde_json::from_slice(line).map_err(|e| format!("{e}; write one JSON object in a line"))
}

fn cells(table: Table, object: &Map<String, Value>) -> Result<Vec<Cell>, Vec<Flaw>> {
    let mut flaws: Vec<Flaw> =
        object.keys().filter(|k| table.index(k).is_none()).map(|k| odd_field(table, k)).collect();
    let mut cells = Vec::with_capacity(table.columns().len());
    for column in table.columns() {
        match cell(column, object.get(column.name).unwrap_or(&Value::Null)) {
            Ok(cell) => cells.push(cell),
            Err(flaw) => flaws.push(flaw),
        }
    }
    if flaws.is_empty() { Ok(cells) } else { Err(flaws) }
}

fn odd_field(table: Table, name: &str) -> Flaw {
    Flaw::new(name, format!("{} have no such field; leave it out", table.word()))
}

fn cell(column: &Column, value: &Value) -> Result<Cell, Flaw> {
    let odd = |cure: &str| Flaw::new(column.name, format!("{value} will not do; write {cure}"));
    if value.is_null() {
        return if column.needed { Err(missing(column)) } else { Ok(Cell::Empty) };
    }
    match column.kind {
        Kind::Time => match value {
            Value::String(text) => Time::parse_rfc3339(text).ok(),
            number => number.as_f64().and_then(Time::from_seconds),
        }
        .map(Cell::Time)
        .ok_or_else(|| odd("a time such as \"2031-03-14T02:10:00Z\", or seconds since 1970")),
        Kind::Text => value.as_str().map(Cell::text).ok_or_else(|| odd("text in quotes")),
        Kind::Number => match value.as_f64() {
            Some(x) if x.is_finite() => Ok(Cell::Number(x)),
            _ => Err(odd("a number without quotes")),
        },
        Kind::Count => value.as_u64().map(Cell::Count).ok_or_else(|| odd("a whole number from 0")),
        Kind::Flag => value.as_bool().map(Cell::Flag).ok_or_else(|| odd("true or false")),
        Kind::Json => Ok(Cell::Json(value.to_string().into())),
    }
}
