//! Fifty random series against scipy 1.17.1: `theilslopes`, `siegelslopes`, `median_abs_deviation`. Made by
//! `tests/tests/statistics/oracle.py make`, and asked again of scipy by `tests/tests/statistics`.

use crate::{near, number, numbers};
use alarms::statistics::{mad, siegel, theil_sen};
use serde_json::Value;
use units::Time;

#[test]
fn scipy_says_the_same_of_fifty_series() {
    let cases: Vec<Value> = serde_json::from_str(include_str!("scipy.json")).unwrap();
    assert_eq!(cases.len(), 50);
    for case in cases {
        let y = numbers(&case["y"]);
        let times = case["t_ms"].as_array().unwrap().iter().map(|t| Time::from_millis(t.as_i64().unwrap()));
        let points: Vec<(Time, f64)> = times.zip(y.iter().copied()).collect();
        let check = |figure: &str, got: f64| {
            let want = number(&case["answer"][figure]);
            near(figure, got, want, 1e-9 * want.abs().max(1.0));
        };
        let width = mad(&y).unwrap();
        check("median", width.median);
        check("mad", width.raw);
        check("scaled", width.scaled());
        let (theil, repeated) = (theil_sen(&points).unwrap(), siegel(&points).unwrap());
        check("theil_sen", theil.per_hour);
        check("theil_sen_intercept", theil.value);
        check("siegel", repeated.per_hour);
        check("siegel_intercept", repeated.value);
    }
}
