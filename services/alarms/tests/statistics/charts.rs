//! Areas `drift.ewma`, `drift.cusum`, `drift.runs_rules`, `drift.online_oracles`.

use crate::{each, near, number, numbers};
use alarms::statistics::{
    Adwin, Cusum, CusumPoint, CusumSettings, Ewma, EwmaPoint, EwmaSettings, Limits, Moments, Nelson,
    PageHinkley, PageHinkleySettings, Way, WesternElectric, change_points, decision_interval, half_width,
};
use serde_json::{Value, json};

#[test]
fn every_ewma_case() {
    each("drift.ewma", |name, input, case| {
        let (expected, tolerance) = (&case["expected"], number(&case["tolerance"]));
        match name {
            _ if name.starts_with("exact control-limit") => {
                let [lambda, limit, sigma] = ["lam", "L", "sigma"].map(|f| number(&input[f]));
                let i = input["i"].as_u64().unwrap() as u32;
                near(name, half_width(lambda, limit, sigma, Some(i)).unwrap(), number(expected), tolerance);
            }
            _ if name.starts_with("thirty observations") => {
                let points = smoothed(input, ("target", "sigma", "L"), Limits::Exact);
                for (point, row) in points.iter().zip(expected["rows"].as_array().unwrap()) {
                    near(name, point.z, number(&row[1]), tolerance);
                    near(name, point.high, number(&row[2]), tolerance);
                    near(name, point.low, number(&row[3]), tolerance);
                }
                assert_eq!(signals(points.iter().map(|p| p.signal)), expected["signals"], "{name}");
            }
            "NIST EWMA, lambda 0.3" => {
                let points = smoothed(input, ("ewma0", "sd", "k"), Limits::Asymptotic);
                let (exact, printed) = (numbers(&expected["ewma"]), numbers(&expected["ewma_2dp"]));
                assert!(exact.len() == points.len() + 1 && printed.len() == exact.len());
                for (i, point) in points.iter().enumerate() {
                    near(name, point.z, exact[i + 1], 1e-6); // printed to six decimals
                    near(name, point.z, printed[i + 1], tolerance);
                    near(name, point.high, number(&expected["ucl"]), tolerance);
                    near(name, point.low, number(&expected["lcl"]), tolerance);
                }
                let term = half_width(number(&input["lam"]), 1.0, 1.0, None).unwrap();
                near(name, term, number(&expected["sqrt_lambda_term"]), 1e-6);
                assert_eq!(signals(points.iter().map(|p| p.signal)), expected["signals"], "{name}");
            }
            _ => panic!("{name}: nothing tries this"),
        }
    });
}

fn smoothed(input: &Value, (target, sigma, limit): (&str, &str, &str), limits: Limits) -> Vec<EwmaPoint> {
    let [target, sigma, limit, lambda] = [target, sigma, limit, "lam"].map(|f| number(&input[f]));
    let mut chart = Ewma::new(EwmaSettings { target, sigma, lambda, limit, limits }).unwrap();
    let points: Vec<_> = numbers(&input["x"]).into_iter().map(|x| chart.push(x).unwrap()).collect();
    chart.restart();
    assert_eq!(chart.push(target).unwrap().z, target);
    points
}

/// Numbers, from 1, of the points with a signal.
fn signals(points: impl Iterator<Item = Option<Way>>) -> Value {
    json!((1..).zip(points).filter(|(_, s)| s.is_some()).map(|(i, _)| i).collect::<Vec<u32>>())
}

#[test]
fn every_cusum_case() {
    each("drift.cusum", |name, input, case| {
        let (expected, tolerance) = (&case["expected"], number(&case["tolerance"]));
        match name {
            "NIST tabular CUSUM, 20 group means" => {
                let points = summed(input);
                let mut before = (0.0, 0.0);
                for (p, row) in points.iter().zip(expected["rows"].as_array().unwrap()) {
                    near(name, p.high, number(&row["s_hi"]), tolerance);
                    near(name, p.low, number(&row["s_lo"]), tolerance);
                    near(name, p.sum, number(&row["cusum"]), tolerance);
                    // What the handbook adds to the sums in its other columns.
                    near(name, p.high, (before.0 + number(&row["dev_minus_k"])).max(0.0), tolerance);
                    near(name, p.low, (before.1 + number(&row["k_minus_dev"])).max(0.0), tolerance);
                    assert_eq!(p.signal.is_some(), row["signal"].as_bool().unwrap(), "{name}");
                    before = (p.high, p.low);
                }
                assert_eq!(signals(points.iter().map(|p| p.signal)), expected["signals"], "{name}");
                let first = points.iter().position(|p| p.signal.is_some()).unwrap();
                assert_eq!(json!(first + 1), expected["first_signal"]);
                assert!(expected["direction"] == "up" && points[first].signal == Some(Way::Up));
            }
            "NIST CUSUM: mean, standard deviation, standard error" => {
                let mut moments = Moments::default();
                numbers(&input["x"]).into_iter().for_each(|x| moments.push(x));
                near(name, moments.mean().unwrap(), number(&expected["mean"]), tolerance);
                let sd = moments.sd().unwrap();
                near(name, sd, number(&expected["sd"]), tolerance);
                let group = number(&input["group_size"]);
                near(name, sd / group.sqrt(), number(&expected["se_if_sd_over_sqrt4"]), tolerance);
            }
            "NIST CUSUM: decision interval from alpha and beta" => {
                let [delta, k, alpha] = ["delta_sigma", "k", "alpha"].map(|f| number(&input[f]));
                let h = decision_interval(delta, k, alpha, 0.0).unwrap();
                near(name, h, number(&expected["h"]), tolerance);
                near(name, h / k, number(&expected["d"]), tolerance);
                near(name, decision_interval(delta, k, alpha, 0.01).unwrap(), 4.1895, tolerance); // as case's `how` says
            }
            "thirty observations, shift after 20" => {
                let points = summed(input);
                for (p, row) in points.iter().zip(expected["rows"].as_array().unwrap()) {
                    near(name, p.high, number(&row[2]), tolerance);
                    assert_eq!(json!(p.for_high), row[3], "{name}: {row}");
                    near(name, p.low, number(&row[4]), tolerance);
                    assert_eq!(json!(p.for_low), row[5], "{name}: {row}");
                }
                let first = points.iter().position(|p| p.signal.is_some()).unwrap();
                assert_eq!(json!(first + 1), expected["first_signal"]);
                let held = points[first].for_high;
                assert_eq!(json!(held), expected["n_plus_at_signal"]);
                assert_eq!(json!(first + 1 - held as usize), expected["estimated_last_in_control"]);
            }
            _ => panic!("{name}: nothing tries this"),
        }
    });
}

fn summed(input: &Value) -> Vec<CusumPoint> {
    let [target, k, h] = ["target", "k", "h"].map(|f| number(&input[f]));
    let mut chart = Cusum::new(CusumSettings { target, k, h, head_start: 0.0 }).unwrap();
    let x = numbers(&input["x"]);
    let points: Vec<CusumPoint> = x.iter().map(|x| chart.push(*x).unwrap()).collect();
    chart.restart();
    assert_eq!(chart.push(x[0]), points.first().copied());
    points
}

#[test]
fn every_case_of_runs_rules() {
    each("drift.runs_rules", |name, input, case| {
        let (mut western, mut nelson) = (WesternElectric::new([1, 2, 3, 4]), Nelson::default());
        let western_electric = match name.split(':').next().unwrap() {
            "Western Electric" => true,
            "Nelson" => false,
            _ => panic!("{name}: nothing tries this"),
        };
        let failed = |z| if western_electric { western.push(z) } else { nelson.push(z) };
        let said = (1..).zip(numbers(&input["z"]).into_iter().map(failed));
        let at: Vec<(u32, Vec<u8>)> = said.filter(|(_, failed)| !failed.is_empty()).collect();
        assert_eq!(json!(at), case["expected"]["rules_at"], "{name}");
    });
}

/// Those of Nelson's tests that no case tries, by their definitions: 1, 5 and 6 are Western Electric's first three, 8 is
/// eight beyond one standard deviation, a step to the side included; and a tie that ends a row of turns.
#[test]
fn nelsons_other_tests() {
    let failed = |z: &[f64]| -> Vec<Vec<u8>> {
        let mut tests = Nelson::default();
        z.iter().map(|z| tests.push(*z)).collect()
    };
    assert_eq!(failed(&[0.0, -3.1])[1], [1]);
    assert_eq!(failed(&[-2.1, 0.5, -2.2])[2], [5]);
    assert_eq!(failed(&[1.1, 1.2, 0.9, 1.3, 1.2])[4], [6]);
    assert_eq!(failed(&[1.2, 1.1, -1.2, -1.1, 1.2, 1.1, -1.2, -1.3])[6..], [vec![], vec![8]]);
    let turns: Vec<f64> =
        [0.1, -0.1].repeat(5).into_iter().chain([-0.1]).chain([0.1, -0.1].repeat(6)).collect();
    assert!(failed(&turns)[..22].iter().all(|failed| !failed.contains(&4)));
}

#[test]
fn every_online_oracle() {
    let calm = |i: u32| 26.0 + 0.05 * f64::sin(1.7 * f64::from(i));
    each("drift.online_oracles", |name, input, case| {
        let expected = &case["expected"];
        let series: Vec<f64> = (0..200)
            .map(|i| match name {
                "Page-Hinkley and ADWIN: no change" => calm(i),
                "Page-Hinkley and ADWIN: ramp 0.01 per sample from i=100" => {
                    calm(i) + 0.01 * f64::from(i.saturating_sub(100))
                }
                "offline change point of the step series" => calm(i) + if i < 100 { 0.0 } else { 0.5 },
                _ => panic!("{name}: nothing tries this"),
            })
            .collect();
        if input["method"].is_string() {
            let found = change_points(&series, 1.0, 5).unwrap();
            assert_eq!(json!([found, vec![series.len()]].concat()), *expected, "{name}");
            return;
        }
        let figures = &input["page_hinkley"];
        let [delta, threshold, keep] = ["delta", "threshold", "alpha"].map(|f| number(&figures[f]));
        let least = figures["min_instances"].as_u64().unwrap();
        let mut page = PageHinkley::new(PageHinkleySettings { least, delta, threshold, keep }).unwrap();
        assert_eq!(found(&series, |x| page.push(x)), expected["page_hinkley_detects_at"], "{name}");
        let mut adwin = Adwin::new(number(&input["adwin"]["delta"])).unwrap();
        // river's begins anew after a change.
        let push = |x| adwin.push(x).inspect(|_| adwin.restart());
        assert_eq!(found(&series, push), expected["adwin_detects_at"], "{name}");
    });
}

/// Places, from 0, where a change was found.
fn found(series: &[f64], mut push: impl FnMut(f64) -> Option<Way>) -> Value {
    json!(series.iter().enumerate().filter_map(|(i, x)| push(*x).map(|_| i)).collect::<Vec<usize>>())
}
