//! Medians and robust slopes of random series, asked of scipy again. `alarms::statistics` is held against the same answers
//! by the tests of its own crate, which need no Python; here the answers themselves are tried.

use super::python;
use serde_json::Value;

const CASES: &str = include_str!("../../../services/alarms/tests/statistics/scipy.json");

#[test]
fn the_answers_that_statistics_are_held_against_are_those_of_scipy() {
    let cases: Vec<Value> = serde_json::from_str(CASES).unwrap();
    let theirs = python(include_str!("statistics.py"), CASES);
    assert!(cases.len() == 50 && theirs.len() == 50);
    for (case, theirs) in cases.iter().zip(&theirs) {
        let (kept, theirs) = (case["answer"].as_object().unwrap(), theirs.as_object().unwrap());
        assert!(kept.len() == 7 && theirs.len() == 7);
        for (figure, kept) in kept {
            let (a, b) = (kept.as_f64().unwrap(), theirs[figure].as_f64().unwrap());
            assert!((a - b).abs() < 1e-9, "{figure}: kept {a}, scipy {b}");
        }
    }
}
