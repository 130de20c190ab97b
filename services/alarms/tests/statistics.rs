//! Statistics against the cases of `statistics.json`; each carries its source and how it was got. Every case is tried: a
//! helper counts them by area, and an area that no test knows fails.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

#[path = "statistics/changes.rs"]
mod changes;
#[path = "statistics/charts.rs"]
mod charts;
#[path = "statistics/lines.rs"]
mod lines;
#[path = "statistics/nonsense.rs"]
mod nonsense;
#[path = "statistics/robust.rs"]
mod robust;
#[path = "statistics/run_lengths.rs"]
mod run_lengths;
#[path = "statistics/simulated.rs"]
mod simulated;

use serde_json::Value;

/// How many cases there are in each area, so that none is lost.
const AREAS: [(&str, usize); 8] = [
    ("robust", 9),
    ("drift.ewma", 6),
    ("drift.cusum", 4),
    ("drift.runs_rules", 10),
    ("drift.online_oracles", 3),
    ("drift.arl", 18),
    ("drift.arl_linear_drift", 4),
    ("drift.design", 11),
];

fn all() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("statistics.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

/// Tries every case of an area; `tried` fails or panics on one that it does not know.
fn each(area: &str, tried: impl Fn(&str, &Value, &Value)) {
    let cases: Vec<Value> = all().into_iter().filter(|c| c["area"] == area).collect();
    let want = AREAS.iter().find(|(a, _)| *a == area).unwrap().1;
    assert_eq!(cases.len(), want);
    for case in cases {
        tried(case["name"].as_str().unwrap(), &case["input"], &case);
    }
}

#[test]
fn no_area_is_forgotten() {
    assert_eq!(all().len(), AREAS.iter().map(|(_, n)| n).sum::<usize>());
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(number).collect()
}

#[track_caller]
fn near(what: &str, got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{what}: {got} is not {want} ± {tolerance}");
}
