//! Rhythm, noise, steps and lag of probes; messages that come twice.

use crate::{as_often, calm, device, json, readings};
use sensors_sim::Fault;
use units::Span;

fn mean_and_deviation(all: &[f64]) -> (f64, f64) {
    let n = all.len() as f64;
    let mean = all.iter().sum::<f64>() / n;
    (mean, (all.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt())
}

#[test]
fn jitter_is_the_standard_deviation_of_the_rhythm() {
    let all = readings(&mut calm(&device("'V1/temperature'", "jitter = 0.1")), Span::days(4));
    let gaps: Vec<f64> = all.windows(2).map(|w| (w[1].at - w[0].at).as_seconds()).collect();
    let (mean, deviation) = mean_and_deviation(&gaps);
    let n = gaps.len() as f64;
    // A moment is cut to the millisecond, which takes half of one.
    assert!((mean + 0.0005 - 10.0).abs() <= 4.0 / n.sqrt(), "{mean}");
    assert!((deviation - 1.0).abs() <= 4.0 / (2.0 * n).sqrt(), "{deviation}");
    let even = readings(&mut calm(&device("'V1/temperature'", "")), Span::days(1));
    assert!(even.windows(2).all(|w| w[1].at - w[0].at == Span::seconds(10)));
}

#[test]
fn temperatures_go_in_sixteenths_with_the_noise_set() {
    let probe = "{ probe = 'V1/temperature', noise = 0.2, offset = -0.25 }";
    let all = readings(&mut calm(&device(probe, "shape = 'senml'")), Span::days(2));
    let values: Vec<f64> = all.iter().map(|s| json(s)[0]["v"].as_f64().unwrap()).collect();
    assert!(values.iter().all(|v| (v * 16.0).fract() == 0.0));
    let (mean, deviation) = mean_and_deviation(&values);
    let n = values.len() as f64;
    assert!((mean - 25.8125).abs() <= 4.0 * 0.2 / n.sqrt(), "{mean}");
    // Rounding to a step adds the twelfth of its square (Sheppard).
    let want = (0.04 + 1.0 / 256.0 / 12.0_f64).sqrt();
    assert!((deviation - want).abs() <= 4.0 * want / (2.0 * n).sqrt(), "{deviation}, not {want}");
}

#[test]
fn a_probe_comes_to_63_percent_of_a_step_after_its_lag() {
    let probe = "{ probe = 'TU1/air-flow', noise = 0, step = 0.0001, lag = '2 min' }";
    let mut room = calm(&device(probe, "every = '1 s'\nshape = 'senml'"));
    readings(&mut room, Span::minutes(1));
    let broken = room.now();
    room.inject(broken, Fault::AirStop("TU1".into())).unwrap();
    let all = readings(&mut room, Span::minutes(10));
    for s in &all {
        let litres = json(s)[0]["v"].as_f64().unwrap() * 60.0;
        let left = f64::exp(-(s.at - broken).as_seconds() / 120.0);
        // Between two readings the probe takes the water to be as at the later one: up to a second too early.
        assert!((litres / 0.45 - left).abs() < 1.0 / 120.0 + 0.0002, "{litres} at {}", s.at);
    }
    assert!(all.len() >= 600);
}

#[test]
fn messages_come_twice_as_often_as_set_and_are_the_same_to_the_byte() {
    let twice = |more: &str| {
        let all = readings(&mut calm(&device("'V1/temperature', 'TU1/air-flow'", more)), Span::days(3));
        let again = all.windows(2).filter(|w| w[0] == w[1]).count();
        (again, all.len() - again)
    };
    let (again, once) = twice("twice = 0.03");
    as_often("twice", again, once, 0.03);
    assert_eq!(once, 3 * 8640 * 2);
    assert_eq!(twice("").0, 0);
    // Quality of service 0 knows no acknowledgement, so nothing is sent again.
    assert_eq!(twice("twice = 0.5\nqos = 0").0, 0);
}
