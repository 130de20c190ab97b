//! What `hatchwarden project` says, as JSON and for people.

use super::Answer;
use development::{Form, PROBABILITY, Species, StageWindow};
use serde_json::{Value, json};
use std::fmt::Write;
use units::Time;

pub(super) fn as_json(answer: &Answer<'_>) -> Value {
    let range = answer.species.calibrated.map(|b| json!({"low": b.low, "high": b.high}));
    json!({
        "species": answer.species.key,
        "model": model(answer.species),
        "now": answer.now,
        "degree_days": answer.degree_days,
        "stages": answer.projection.stages,
        "calibrated_range": range,
        "warnings": answer.projection.warnings,
    })
}

fn kind(species: &Species) -> &'static str {
    match species.law.form {
        Form::Line => "line",
        Form::Power { .. } => "power",
        Form::Curve(_) => "curve",
    }
}

/// The law in words.
fn law(species: &Species) -> &'static str {
    match species.law.form {
        Form::Line => "straight line",
        Form::Power { .. } => "power law",
        Form::Curve(_) => "curve through its observations",
    }
}

fn model(species: &Species) -> Value {
    let mut model = json!({"kind": kind(species)});
    if species.law.form == Form::Line {
        let b = species.base;
        model["base"] = json!({"low": b.low, "likely": b.likely, "high": b.high});
    }
    if let Some(choice) = &species.law.choice {
        let percent: serde_json::Map<String, Value> =
            choice.percent.iter().map(|(kind, p)| (kind.word().to_owned(), json!(p))).collect();
        model["choice"] = json!({
            "stage": choice.stage,
            "observations": choice.observations.0,
            "temperatures": choice.observations.1,
            "chosen": choice.chosen.word(),
            "leave_one_out_percent": percent,
        });
    }
    model
}

pub(super) fn as_text(answer: &Answer<'_>) -> String {
    let mut out = format!("{}, by a {}", answer.species.name, law(answer.species));
    if answer.species.law.form == Form::Line {
        put(&mut out, format_args!(" from {:.1} °C", answer.species.base.likely));
    }
    put(&mut out, format_args!("\n{:.2} °C·d from day 0 to {}\n", answer.degree_days, minute(answer.now)));
    if let Some([earliest, likeliest, latest]) = answer.spawned.map(|s| s.map(minute)) {
        put(
            &mut out,
            format_args!(
                "spawned, by what was seen since: likeliest {likeliest}, {:.0} % between {earliest} and {latest}\n",
                100.0 * PROBABILITY
            ),
        );
    }
    for w in &answer.projection.stages {
        window(&mut out, w);
    }
    for warning in &answer.projection.warnings {
        put(&mut out, format_args!("warning: {warning}\n"));
    }
    out
}

/// Nobody looks at a clutch by the second.
fn minute(t: Time) -> impl std::fmt::Display {
    t.to_chrono().format("%Y-%m-%d %H:%M UTC")
}

fn window(out: &mut String, w: &StageWindow) {
    match w.seen {
        Some(t) if w.earliest < w.latest => put(
            out,
            format_args!(
                "{}: seen by {}, likeliest reached {}, after {:.2} °C·d\n",
                w.stage,
                minute(t),
                minute(w.likeliest),
                w.required
            ),
        ),
        Some(t) => put(out, format_args!("{}: seen {}, after {:.2} °C·d\n", w.stage, minute(t), w.required)),
        None => put(
            out,
            format_args!(
                "{}: likeliest {}, {:.0} % between {} and {}; {:.2} of {:.2} °C·d\n",
                w.stage,
                minute(w.likeliest),
                100.0 * w.probability,
                minute(w.earliest),
                minute(w.latest),
                w.so_far,
                w.required
            ),
        ),
    }
}

fn put(out: &mut String, what: std::fmt::Arguments<'_>) {
    // A string takes everything.
    let _ = out.write_fmt(what);
}
