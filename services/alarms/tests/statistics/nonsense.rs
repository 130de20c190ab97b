//! What is empty, not finite or makes no sense gives nothing and harms nothing.

use alarms::statistics::run_length::{
    Chart, Design, Sides, limit_for, limit_for_run_length, western_electric,
};
use alarms::statistics::{
    Adwin, Cusum, CusumSettings, Ewma, EwmaSettings, Hampel, HampelSettings, Limits, MOST_POINTS, Moments,
    Nelson, PageHinkley, PageHinkleySettings, WesternElectric, change_points, decision_interval, half_width,
    mad, median, siegel, theil_sen,
};
use proptest::prelude::*;
use units::Time;

const WILD: [f64; 3] = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY];

#[test]
fn nothing_is_made_of_nothing() {
    assert_eq!((median([]), median(WILD)), (None, None));
    assert_eq!((mad(&[]), mad(&WILD)), (None, None));
    let at = Time::from_millis;
    for points in
        [vec![], vec![(at(0), 1.0)], vec![(at(5), 1.0), (at(5), 2.0)], vec![(at(0), 1.0), (at(9), f64::NAN)]]
    {
        assert!(theil_sen(&points).is_none() && siegel(&points).is_none(), "{points:?}");
    }
    let many: Vec<_> = (0..=MOST_POINTS as i64).map(|i| (at(i * 1000), 1.0)).collect();
    assert!(theil_sen(&many).is_none() && siegel(&many).is_none());
    assert!(theil_sen(&many[1..]).is_some() && siegel(&many[1..]).is_some());
    assert_eq!((change_points(&[], 1.0, 1), change_points(&[1.0, f64::NAN], 1.0, 1)), (None, None));
    assert_eq!(change_points(&[1.0, 1.0], 1.0, 0), None);
    assert_eq!((Moments::default().mean(), Moments::default().sd()), (None, None));
}

#[test]
fn settings_that_make_no_sense_make_no_chart() {
    for wild in WILD.into_iter().chain([-1.0]) {
        assert!(Cusum::new(CusumSettings { target: 26.0, k: 0.5, h: wild, head_start: 0.0 }).is_none());
        assert!(Cusum::new(CusumSettings { target: 26.0, k: wild, h: 5.0, head_start: 0.0 }).is_none());
        let ewma = EwmaSettings { target: 26.0, sigma: 0.1, lambda: wild, limit: 3.0, limits: Limits::Exact };
        assert!(
            Ewma::new(ewma).is_none()
                && Ewma::new(EwmaSettings { sigma: wild, lambda: 0.2, ..ewma }).is_none()
        );
        assert!(
            Hampel::new(HampelSettings { window: 3, behind: 0, n_sigma: wild, resolution: 0.0 }).is_none()
        );
        let page = PageHinkleySettings { least: 3, delta: wild, threshold: 1.0, keep: 1.0 };
        assert!(PageHinkley::new(page).is_none() && Adwin::new(wild).is_none());
        assert_eq!((half_width(wild, 3.0, 1.0, None), decision_interval(1.0, 0.5, wild, 0.0)), (None, None));
        assert_eq!(
            (
                limit_for(wild, 10.0, Design::Cusum { k: 0.5 }),
                limit_for_run_length(500.0, Design::Cusum { k: wild })
            ),
            (None, None)
        );
        let chart = Chart::Cusum { k: 0.5, h: wild, head_start: 0.0, sides: Sides::One };
        assert_eq!((chart.average(0.0), Chart::Ewma { lambda: wild, limit: 3.0 }.average(0.0)), (None, None));
        let sound = Chart::Cusum { k: 0.5, h: 4.0, head_start: 0.0, sides: Sides::One };
        assert_eq!(sound.average_under_drift(wild, false), None);
    }
    for wild in WILD {
        let sound = Chart::Cusum { k: 0.5, h: 4.0, head_start: 0.0, sides: Sides::Two };
        assert_eq!(sound.average(wild), None);
        assert_eq!(western_electric([1], wild), None);
    }
    assert!(Hampel::new(HampelSettings { window: 3, behind: 3, n_sigma: 3.0, resolution: 0.0 }).is_none());
    assert!(Hampel::new(HampelSettings { window: 0, behind: 0, n_sigma: 3.0, resolution: 0.0 }).is_none());
    assert_eq!((western_electric([], 0.0), western_electric([0, 5, 255], 0.0)), (None, None));
    let beyond = Chart::Cusum { k: 0.5, h: 4.0, head_start: 2.1, sides: Sides::Two };
    assert_eq!(beyond.average(0.0), None);
    for limit in [7.0, 9.0, 200.0] {
        assert_eq!(Chart::Ewma { lambda: 0.001, limit }.average(0.0), None); // over 10¹⁰
        assert_eq!(Chart::Ewma { lambda: 1.0, limit }.average(0.0), None);
    }
    for h in [60.0, 200.0] {
        assert_eq!(Chart::Cusum { k: 0.5, h, head_start: 0.0, sides: Sides::Two }.average(0.0), None);
    }
    let slow = Chart::Cusum { k: 0.5, h: 20.0, head_start: 0.0, sides: Sides::One };
    assert_eq!(slow.average_under_drift(1e-9, false), None);
}

/// Everything that a chart says about a series, as text.
fn said(series: &[f64]) -> Vec<String> {
    let mut hampel =
        Hampel::new(HampelSettings { window: 5, behind: 2, n_sigma: 3.0, resolution: 0.1 }).unwrap();
    let mut cusum = Cusum::new(CusumSettings { target: 0.0, k: 0.5, h: 4.0, head_start: 2.0 }).unwrap();
    let ewma = EwmaSettings { target: 0.0, sigma: 1.0, lambda: 0.2, limit: 3.0, limits: Limits::Exact };
    let mut ewma = Ewma::new(ewma).unwrap();
    let page = PageHinkleySettings { least: 5, delta: 0.1, threshold: 3.0, keep: 0.999 };
    let mut page = PageHinkley::new(page).unwrap();
    let (mut adwin, mut moments) = (Adwin::new(0.002).unwrap(), Moments::default());
    let (mut western, mut nelson) = (WesternElectric::new([1, 2, 3, 4]), Nelson::default());
    let mut out = Vec::new();
    for x in series {
        moments.push(*x);
        let all = (
            hampel.push(*x),
            cusum.push(*x),
            ewma.push(*x),
            page.push(*x),
            adwin.push(*x),
            western.push(*x),
            nelson.push(*x),
            (moments.mean(), moments.sd()),
        );
        if x.is_finite() {
            out.push(format!("{all:?}"));
        } else {
            assert!(all.1.is_none() && all.0.is_none() && all.5.is_empty() && all.6.is_empty());
        }
    }
    out
}

fn any_series() -> impl Strategy<Value = Vec<f64>> {
    let value = prop_oneof![8 => -4.0..4.0, 1 => Just(0.0), 1 => proptest::sample::select(&WILD[..]), 1 => any::<f64>()];
    proptest::collection::vec(value, 0..200)
}

proptest! {
    /// As if it had never come.
    #[test]
    fn what_is_not_finite_is_left_out(series in any_series()) {
        let sound: Vec<f64> = series.iter().copied().filter(|x| x.is_finite()).collect();
        prop_assert_eq!(said(&series), said(&sound));
        prop_assert_eq!(median(series.iter().copied()), median(sound.iter().copied()));
        let points = |s: &[f64]| -> Vec<(Time, f64)> {
            (0..).zip(s).map(|(i, y)| (Time::from_millis(i / 2), *y)).collect()
        };
        // Wild values are last here, so that the others keep their times.
        let last: Vec<f64> = [&sound[..], &WILD[..]].concat();
        prop_assert_eq!(format!("{:?}", theil_sen(&points(&last))), format!("{:?}", theil_sen(&points(&sound))));
        prop_assert_eq!(format!("{:?}", siegel(&points(&last))), format!("{:?}", siegel(&points(&sound))));
        prop_assert!(change_points(&sound, 1.0, 3).is_none_or(|found| found.iter().all(|i| *i < sound.len())));
    }
}
