//! Area `robust`.

use crate::{each, near, number, numbers};
use alarms::statistics::{CONSISTENT, Hampel, HampelSettings, mad, siegel, theil_sen};
use serde_json::Value;
use units::{Span, Time};

#[test]
fn every_robust_case() {
    each("robust", |name, input, case| {
        let tolerance = number(&case["tolerance"]);
        let expected = &case["expected"];
        match name.split(':').next().unwrap() {
            "MAD consistency constant" => near(name, CONSISTENT, number(expected), tolerance),
            "median and MAD" => widths(name, input, expected, tolerance),
            "rate of change" => rates(name, input, expected, tolerance),
            _ if name.starts_with("Hampel filter") => outliers(name, input, expected, tolerance),
            _ => panic!("{name}: nothing tries this"),
        }
    });
}

fn widths(name: &str, input: &Value, expected: &Value, tolerance: f64) {
    let got = mad(&numbers(&input["x"])).unwrap();
    near(name, got.median, number(&expected["median"]), tolerance);
    near(name, got.raw, number(&expected["mad"]), tolerance);
    near(name, got.scaled(), number(&expected["scaled"]), tolerance);
    assert_eq!(got.floored(0.5), got.scaled().max(0.5), "{name}");
}

/// Slopes are per minute there. Its least squares are not ours to give: they are there to show what a spike does to them.
fn rates(name: &str, input: &Value, expected: &Value, tolerance: f64) {
    let minutes = numbers(&input["t_min"]).into_iter();
    let at = |m: f64| Time::from_millis(0) + Span::minutes(m as i64);
    let points: Vec<(Time, f64)> = minutes.map(at).zip(numbers(&input["y"])).collect();
    let line = theil_sen(&points).unwrap();
    near(name, line.per_hour / 60.0, number(&expected["theil_sen"]), tolerance);
    near(name, line.value, number(&expected["theil_sen_intercept"]), tolerance);
    near(name, siegel(&points).unwrap().per_hour / 60.0, number(&expected["siegel"]), tolerance);
    let mut turned = points.clone();
    turned.reverse();
    assert_eq!(theil_sen(&turned), Some(line), "{name}");
}

/// The published filter has no floor and leaves both ends alone; ours answers half a window late.
fn outliers(name: &str, input: &Value, expected: &Value, tolerance: f64) {
    let behind = input["half_window"].as_u64().unwrap() as usize;
    let window = 2 * behind + 1;
    let settings = HampelSettings { window, behind, n_sigma: number(&input["n_sigma"]), resolution: 0.0 };
    let mut filter = Hampel::new(settings).unwrap();
    let judged: Vec<_> = numbers(&input["x"]).into_iter().map(|x| filter.push(x)).collect();
    let rows = expected["rows"].as_array().unwrap();
    assert_eq!(rows.len(), judged.len());
    let mut outliers = Vec::new();
    for (i, row) in rows.iter().enumerate() {
        let Some(want) = row[2].as_f64() else {
            assert!(i < behind || i + behind >= rows.len(), "{name}: {i} is at no end");
            continue;
        };
        let got = judged[i + behind].unwrap();
        near(name, got.value, number(&row[1]), 0.0);
        near(name, got.median, want, tolerance);
        near(name, got.spread, number(&row[3]), tolerance);
        near(name, got.cleaned(), number(&row[5]), tolerance);
        assert_eq!(got.outlier, row[4].as_bool().unwrap(), "{name}: {i}");
        outliers.extend(got.outlier.then_some(i));
    }
    assert!(judged[..2 * behind].iter().all(Option::is_none), "{name}");
    assert_eq!(serde_json::json!(outliers), expected["outliers"], "{name}");
}

/// A probe of steps of 1/16 K that shows one number for a while: the next step is no outlier with the floor, and is one
/// without.
#[test]
fn one_step_of_the_probe_is_no_outlier() {
    let said = |resolution| {
        let settings = HampelSettings { window: 7, behind: 0, n_sigma: 3.0, resolution };
        let mut filter = Hampel::new(settings).unwrap();
        let shown = [26.0, 26.0, 26.0, 26.0, 26.0, 26.0, 26.0625];
        shown.into_iter().filter_map(|x| filter.push(x)).last().unwrap().outlier
    };
    assert!(said(0.0) && !said(0.0625));
}
