//! `hatchwarden fit`: laws of development from observations, without a service.

use crate::csv_file::{self, Shape};
use clap::Args;
use development::fit::{Fit, Fitted, ModelKind, Observation, Prediction, fit};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What to fit.
#[derive(Debug, Args)]
pub struct Options {
    /// Observations as CSV with the header temperature_c,days or temperature_c,days,sd: °C, and days that a stage took.
    observations: PathBuf,
    /// Temperatures (°C) at which to say the days.
    #[arg(long, value_name = "T", num_args = 1.., allow_negative_numbers = true)]
    predict: Vec<f64>,
    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// Prints the fits. Exit 0 when there is one, 2 with the line and the cure when there is none.
pub fn run(options: &Options) -> ExitCode {
    csv_file::answered(fitted(options))
}

fn fitted(options: &Options) -> Result<String, String> {
    if let Some(bad) = options.predict.iter().find(|t| !(-10.0..=60.0).contains(*t)) {
        return Err(format!("--predict {bad}: write °C from -10 to 60"));
    }
    let rows = read(&options.observations)?;
    let observations: Vec<Observation> = rows.iter().map(|r| r.observation).collect();
    let found = fit(&observations).map_err(|e| with_line(&options.observations, &rows, &e))?;
    if options.json {
        Ok(format!("{}\n", as_json(&found, &options.predict)))
    } else {
        Ok(as_text(&found, &options.predict))
    }
}

/// An observation, and where it stands.
struct Row {
    observation: Observation,
    line: u64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Columns {
    temperature_c: f64,
    days: f64,
    #[serde(default)]
    sd: Option<f64>,
}

const SHAPE: Shape = Shape {
    columns: ["temperature_c", "days"],
    headers: "temperature_c,days or temperature_c,days,sd",
    cure: "write numbers with a point, such as 27.0,6.5",
};

fn read(file: &Path) -> Result<Vec<Row>, String> {
    let row = |(line, c): (u64, Columns)| Row {
        observation: Observation { celsius: c.temperature_c, days: c.days, sd: c.sd },
        line,
    };
    Ok(csv_file::rows(file, &SHAPE)?.into_iter().map(row).collect())
}

fn with_line(file: &Path, rows: &[Row], error: &development::fit::FitError) -> String {
    let line = match error {
        development::fit::FitError::Value { number, .. } => rows.get(number - 1).map(|r| r.line),
        _ => None,
    };
    let place = line.map(|l| format!(", line {l}")).unwrap_or_default();
    format!("{}{place}: {error}", file.display())
}

fn as_json(found: &Fit, predict: &[f64]) -> Value {
    let mut models = serde_json::Map::new();
    let mut add = |kind: ModelKind, mut model: Value| {
        // A model that could not be fitted is null.
        if let Value::Object(fields) = &mut model {
            let all: Vec<Option<Prediction>> = predict.iter().map(|t| found.predict(kind, *t)).collect();
            fields.insert("predictions".to_owned(), json!(all));
        }
        models.insert(kind.word().to_owned(), model);
    };
    add(ModelKind::Line, json!(found.line));
    add(ModelKind::Power, json!(found.power));
    add(ModelKind::Curve, json!(found.curve));
    let predictions: Vec<Prediction> = predict.iter().map(|t| found.predict_best(*t)).collect();
    json!({
        "chosen": found.chosen,
        "models": models,
        "predictions": predictions,
        "range_c": [found.range.0, found.range.1],
        "left_out": found.left_out,
    })
}

fn as_text(found: &Fit, predict: &[f64]) -> String {
    let mut out = String::new();
    let line = &found.line.law;
    let error = line.standard_errors.as_ref();
    let pm = |e: Option<f64>| e.map_or(String::new(), |e| format!(" ± {e:.2}"));
    let (t0, k) = (pm(error.map(|e| e.t0)), pm(error.map(|e| e.k)));
    put(&mut out, format_args!("line    days = {:.2}{k} °C·d / (T - {:.2}{t0} °C)", line.k, line.t0));
    put(&mut out, format_args!("{}\n", unseen(&found.line)));
    match &found.power {
        Some(p) => {
            let law = &p.law;
            put(
                &mut out,
                format_args!(
                    "power   ln days = {:.3} {:+.3} ln(T - {:.2} °C){}\n",
                    law.ln_a,
                    law.b,
                    law.c,
                    unseen(p)
                ),
            );
        }
        None => put(&mut out, format_args!("power   falls nowhere as it gets warmer\n")),
    }
    let knots = found.curve.law.celsius.len();
    put(&mut out, format_args!("curve   rate through {knots} temperatures{}\n", unseen(&found.curve)));
    put(&mut out, format_args!("chosen  {}\n", found.chosen.word()));
    for o in &found.left_out {
        put(
            &mut out,
            format_args!(
                "left out: {} d at {} °C, which no model can make fit with the others\n",
                o.days, o.celsius
            ),
        );
    }
    for t in predict {
        predicted(&mut out, found, *t);
    }
    out
}

fn predicted(out: &mut String, found: &Fit, t: f64) {
    let p = found.predict_best(t);
    match (p.days, p.low, p.high) {
        (Some(days), Some(low), Some(high)) => {
            put(out, format_args!("{t} °C: {days:.2} d, four of five between {low:.2} and {high:.2} d"));
        }
        (Some(days), ..) => put(out, format_args!("{t} °C: {days:.2} d")),
        _ => put(out, format_args!("{t} °C: nothing develops")),
    }
    let (low, high) = found.range;
    let beyond = if t < low || t > high {
        format!(" (beyond the {low} to {high} °C that were observed)")
    } else {
        String::new()
    };
    put(out, format_args!("{beyond}\n"));
}

fn unseen<P: Serialize>(model: &Fitted<P>) -> String {
    model.leave_one_out_percent.map_or(String::new(), |p| format!("; {p:.1} % off on what it has not seen"))
}

fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    // A string takes everything.
    let _ = out.write_fmt(what);
}
