//! CSV files that a keeper writes: a header, # for comments, blanks around values; every fault with file, line and cure.

use serde::de::DeserializeOwned;
use std::path::Path;
use std::process::ExitCode;

/// Wrong use: the exit status that the other commands have from their parser.
const WRONG_USE: u8 = 2;

/// Prints what a command says, or the fault and its cure.
pub(crate) fn answered(said: Result<String, String>) -> ExitCode {
    match said {
        Ok(text) => {
            print!("{text}");
            ExitCode::SUCCESS
        }
        Err(fault) => {
            eprintln!("hatchwarden: {fault}");
            ExitCode::from(WRONG_USE)
        }
    }
}

/// What a file looks like.
pub(crate) struct Shape {
    /// Columns that the header begins with.
    pub columns: [&'static str; 2],
    /// The headers that can be, in words.
    pub headers: &'static str,
    /// What to write where a value cannot be read.
    pub cure: &'static str,
}

/// Rows of a file, each with its line.
pub(crate) fn rows<T: DeserializeOwned>(file: &Path, shape: &Shape) -> Result<Vec<(u64, T)>, String> {
    let name = file.display();
    let text = std::fs::read_to_string(file)
        .map_err(|e| format!("{name}: cannot be read: {e}; check the path, and that it is text in UTF-8"))?;
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|e| format!("{name}: {e}; write {}", shape.headers))?.clone();
    if !shape.columns.iter().enumerate().all(|(i, c)| header.get(i) == Some(*c)) {
        let line = header.position().map_or(1, |p| line_of(&text, p));
        let got = header.iter().collect::<Vec<_>>().join(",");
        return Err(format!("{name}, line {line}: the header is {got:?}; write {}", shape.headers));
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| {
            let line = e.position().map_or(0, |p| line_of(&text, p));
            format!("{name}, line {line}: {e}; write as many values as the header has")
        })?;
        let line = record.position().map_or(0, |p| line_of(&text, p));
        let row = record
            .deserialize(Some(&header))
            .map_err(|e| format!("{name}, line {line}: {e}; {}", shape.cure))?;
        rows.push((line, row));
    }
    Ok(rows)
}

/// The reader's position of a record lies before the comments and empty lines above it.
fn line_of(text: &str, position: &csv::Position) -> u64 {
    let rest = usize::try_from(position.byte()).ok().and_then(|from| text.get(from..)).unwrap_or_default();
    let passed = rest.lines().take_while(|l| l.is_empty() || l.starts_with('#')).count();
    position.line() + passed as u64
}
