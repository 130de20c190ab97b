//! The published rows that the shipped table was made from: `tests/series.csv`.
//!
//! Copied from the project's reference figures. Stages are `from>to`; `hatch_50` is half hatched, `hatch_start` first
//! hatched.
#![allow(clippy::unwrap_used, missing_docs, dead_code, unreachable_pub, reason = "test code")]

use development::fit::Observation;
use units::Stage;

#[derive(Debug)]
pub struct Row {
    pub species: String,
    /// As the reference has it.
    pub label: String,
    pub stage: Stage,
    pub after: Option<Stage>,
    pub observation: Observation,
    /// `[R10]` and so on.
    pub tag: String,
    pub how: String,
}

/// Fields of a line of CSV; a field in quotes may hold commas.
fn fields(line: &str) -> Vec<String> {
    let (mut all, mut quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => all.push(String::new()),
            c => all.last_mut().unwrap().push(c),
        }
    }
    all
}

pub fn rows() -> Vec<Row> {
    include_str!("../series.csv").lines().skip(1).map(row).collect()
}

fn row(line: &str) -> Row {
    let [species, label, celsius, value, unit, source, how]: [String; 7] =
        fields(line).try_into().unwrap_or_else(|f| panic!("{f:?}"));
    let (from, to) = label.split_once('>').unwrap();
    let stage = match to {
        "first_feeding" => Stage::FirstFeeding,
        "yolk_absorbed" => Stage::FreeSwimming,
        _ if to.starts_with("release") => Stage::Release,
        _ if to.starts_with("hatch") => Stage::Hatch,
        _ => panic!("{label}"),
    };
    let in_a_day = if unit == "h" { 24.0 } else { 1.0 };
    Row {
        after: (from == "hatch").then_some(Stage::Hatch),
        observation: Observation {
            celsius: celsius.parse().unwrap(),
            days: value.parse::<f64>().unwrap() / in_a_day,
            sd: None,
        },
        tag: source.split(' ').next().unwrap().to_owned(),
        species,
        label,
        stage,
        how,
    }
}
