//! Fits against published ones, and what cannot be fitted.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use development::fit::{FitError, ModelKind, Observation, fit, straight_line};

fn seen(celsius: f64, days: f64) -> Observation {
    Observation { celsius, days, sd: None }
}

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// Source: Coop, Oregon State University, ENT 442 laboratory handout (read): 50/40, 60/20, 70/13, 80/9 °F and days give
/// T0 41.96 °F and K 350.8 °F·d from rounded coefficients; hence ± 0.1 and ± 0.5.
#[test]
fn the_line_is_that_of_a_published_exercise() {
    let celsius = |f: f64| (f - 32.0) / 1.8;
    let rows = [(50.0, 40.0), (60.0, 20.0), (70.0, 13.0), (80.0, 9.0)];
    let found = fit(&rows.map(|(f, d)| seen(celsius(f), d))).unwrap();
    assert_eq!(found.left_out, []);
    near(found.line.law.t0 * 1.8 + 32.0, 41.96, 0.1);
    near(found.line.law.k * 1.8, 350.8, 0.5);
    // In °F as it is printed, and without the rounding (computed): 41.948 and 350.56.
    let line = straight_line(&rows.map(|(f, d)| seen(f, d))).unwrap();
    near(line.t0, 41.948, 5e-4);
    near(line.k, 350.56, 5e-3);
}

/// Source: Beacham & Murray 1990, Trans. Am. Fish. Soc. 119:927-945 (abstract and secondary): the power law
/// ln D = ln a + b ln(T − c) for chinook. Days made from such a law with three figures must give the three figures.
#[test]
fn the_power_law_finds_its_own_figures() {
    let (ln_a, b, c) = (10.404, -2.043, -7.575);
    let law = |t: f64| (ln_a + b * f64::ln(t - c)).exp();
    let all: Vec<Observation> = [2.0, 4.0, 6.0, 8.0, 10.0, 12.0].map(|t| seen(t, law(t))).to_vec();
    let found = fit(&all).unwrap();
    let power = &found.power.as_ref().unwrap().law;
    near(power.ln_a, ln_a, 1e-3);
    near(power.b, b, 1e-3);
    near(power.c, c, 1e-2);
    assert_eq!(found.chosen, ModelKind::Power);
    near(found.predict_best(7.0).days.unwrap(), law(7.0), 1e-6);
}

/// With fewer than six temperatures the power is −2: the root of the rate is a straight line of temperature, so its zero
/// and slope can be read off two points. Roots 0.2, 0.3, 0.4 at 10, 15, 20 °C: zero at 0 °C, ln a = −2 ln 0.02.
#[test]
fn few_temperatures_fit_a_line_of_the_root_of_the_rate() {
    let root = |t: f64, r: f64| seen(t, 1.0 / (r * r));
    let found = fit(&[root(10.0, 0.2), root(15.0, 0.3), root(20.0, 0.4)]).unwrap();
    let power = &found.power.as_ref().unwrap().law;
    near(power.b, -2.0, 0.0);
    near(power.c, 0.0, 1e-6);
    near(power.ln_a, -2.0 * f64::ln(0.02), 1e-6);
    assert_eq!(found.chosen, ModelKind::Power);
    near(found.doubt(ModelKind::Power).unwrap(), 0.02, 0.0); // no error at all: what a probe leaves
    near(power.standard_errors.as_ref().unwrap().b, 0.0, 0.0);
}

/// Three errors of prediction, the middle one by hand: 24 from 28 and 30 °C by the line gives 10 d for 8, 28 gives 4.8
/// for 5, 30 gives 4.2105 for 4 (Rana 1990, abstract).
#[test]
fn the_doubt_is_the_middle_error_on_what_was_not_seen() {
    let found = fit(&[seen(24.0, 8.0), seen(28.0, 5.0), seen(30.0, 4.0)]).unwrap();
    near(found.doubt(ModelKind::Line).unwrap(), 1.4826 * (80.0_f64 / 76.0).ln(), 1e-9);
}

/// Standard errors against those of numpy's polyfit with cov (computed: numpy 2, rates of the exercise above in °F):
/// see `tests/oracle`; here the simplest case by hand: three points, one degree of freedom.
#[test]
fn standard_errors_are_those_worked_out_by_hand() {
    // Rates 0.1, 0.22, 0.3 at 20, 25, 30: slope 0.02, mean 0.62/3, residuals ∓0.02/3 and 0.04/3; s² = 2.4e-3/9.
    let found = fit(&[seen(20.0, 10.0), seen(25.0, 1.0 / 0.22), seen(30.0, 1.0 / 0.3)]).unwrap();
    let s2 = 2.4e-3 / 9.0;
    let errors = found.line.law.standard_errors.clone().unwrap();
    near(found.line.law.k, 50.0, 1e-9);
    near(errors.k, (s2 / 50.0_f64).sqrt() / 4e-4, 1e-9);
    let mean: f64 = 0.62 / 3.0;
    near(errors.t0, (s2 / 3.0 / 4e-4 + s2 / 50.0 * (mean / 4e-4).powi(2)).sqrt(), 1e-9);
}

#[test]
fn a_slip_in_a_table_is_left_out_and_said() {
    let law = |t: f64| 60.0 / (t - 15.0);
    let mut all: Vec<Observation> = [20.0, 22.0, 24.0, 26.0, 28.0, 30.0].map(|t| seen(t, law(t))).to_vec();
    all[3].days *= 10.0;
    let found = fit(&all).unwrap();
    assert_eq!(found.left_out, [all[3]]);
    near(found.line.law.t0, 15.0, 1e-9);
    near(found.line.law.k, 60.0, 1e-9);
}

#[test]
fn what_cannot_be_fitted_is_said_with_its_number_and_cure() {
    let said = |all: &[Observation]| fit(all).unwrap_err().to_string();
    assert_eq!(fit(&[seen(20.0, 5.0), seen(20.0, 5.1), seen(24.0, 4.0)]).unwrap_err(), FitError::TooFew(2));
    assert!(said(&[seen(20.0, 5.0), seen(24.0, 4.0)]).contains("at least 3"));
    assert!(said(&[seen(20.0, 5.0), seen(24.0, -4.0), seen(26.0, 3.0)]).contains("observation 2: days = -4"));
    assert!(said(&[seen(f64::NAN, 5.0), seen(24.0, 4.0), seen(26.0, 3.0)]).contains("temperature_c = NaN"));
    assert_eq!(fit(&[seen(20.0, 3.0), seen(24.0, 4.0), seen(26.0, 5.0)]).unwrap_err(), FitError::NotFalling);
}

#[test]
fn the_curve_goes_through_its_points_and_never_falls() {
    let all = [seen(18.0, 20.0), seen(22.0, 9.0), seen(26.0, 5.2), seen(30.0, 5.1)];
    let curve = fit(&all).unwrap().curve.law;
    for o in all {
        near(curve.days(o.celsius).unwrap(), o.days, 1e-9);
    }
    let rates: Vec<f64> = (0..=400).map(|i| curve.rate(10.0 + f64::from(i) * 0.06)).collect();
    assert!(rates.is_sorted());
}
