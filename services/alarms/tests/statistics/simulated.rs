//! Charts that are run, against what is worked out about them: the two know nothing of each other.

use crate::{each, near, number, numbers};
use alarms::statistics::run_length::{Chart, Sides};
use alarms::statistics::{Cusum, CusumSettings, Ewma, EwmaSettings, Limits};

/// SplitMix64 (Steele, Lea & Flood 2014) and Box & Muller 1958.
struct Chance(u64);

impl Chance {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

/// Mean and standard error of run lengths.
fn runs(n: u32, mut one: impl FnMut() -> u32) -> (f64, f64) {
    let lengths: Vec<f64> = (0..n).map(|_| f64::from(one())).collect();
    let mean = lengths.iter().sum::<f64>() / f64::from(n);
    let square = lengths.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / f64::from(n - 1);
    (mean, (square / f64::from(n)).sqrt())
}

fn until(mut signal: impl FnMut(u32) -> bool) -> u32 {
    (1..).find(|n| signal(*n)).unwrap()
}

fn cusum(k: f64, h: f64, head_start: f64) -> Cusum {
    Cusum::new(CusumSettings { target: 0.0, k, h, head_start }).unwrap()
}

/// The case is from 400 runs in R, each begun somewhere in the process; ours are 4,000.
#[test]
fn readings_that_hang_together_shorten_the_wait() {
    each("drift.design", |name, input, case| {
        if !name.starts_with("autocorrelated") {
            return; // in run_lengths.rs
        }
        let expected = &case["expected"];
        let (theirs, errors) = (numbers(&expected["mean_run_length"]), numbers(&expected["standard_error"]));
        let (k, h) = (number(&input["k"]), number(&input["h"]));
        for ((phi, theirs), error) in numbers(&input["phi"]).into_iter().zip(theirs).zip(errors) {
            let mut chance = Chance(20_311_129);
            let (ours, own) = runs(4000, || {
                let (mut chart, mut x) = (cusum(k, h, 0.0), chance.normal());
                until(|_| {
                    let signal = chart.push(x).unwrap().signal.is_some();
                    x = phi * x + (1.0_f64 - phi * phi).sqrt() * chance.normal();
                    signal
                })
            });
            println!("phi {phi}: {ours:.1} ± {own:.1}, theirs {theirs} ± {error}");
            near(name, ours, theirs, 3.0 * error.hypot(own));
            if phi == 0.0 {
                near(name, ours, number(&expected["exact_for_phi_0"]), 3.0 * own);
            }
        }
    });
}

/// Runs a chart on normal readings 4,000 times; `signal` takes the number of a reading, from 1, and its error.
fn agree<C: Copy>(what: &str, worked_out: Option<f64>, chart: C, signal: impl Fn(&mut C, u32, f64) -> bool) {
    let (want, mut chance) = (worked_out.unwrap(), Chance(7));
    let (got, error) = runs(4000, || {
        let mut chart = chart;
        until(|n| signal(&mut chart, n, chance.normal()))
    });
    println!("{what}: {got:.2} ± {error:.2}, worked out {want:.2}");
    near(what, got, want, 3.5 * error);
}

#[test]
fn charts_take_as_long_as_is_worked_out() {
    let fir = Chart::Cusum { k: 0.5, h: 4.0, head_start: 2.0, sides: Sides::Two };
    for shift in [0.0, 0.5] {
        agree("CUSUM with a head start", fir.average(shift), cusum(0.5, 4.0, 2.0), |chart, _, e| {
            chart.push(e + shift).unwrap().signal.is_some()
        });
    }
    let (lambda, limit) = (0.05, 2.615);
    let worked_out = Chart::Ewma { lambda, limit };
    let settings = EwmaSettings { target: 0.0, sigma: 1.0, lambda, limit, limits: Limits::Asymptotic };
    let ewma = Ewma::new(settings).unwrap();
    let run = |drift: f64| {
        move |chart: &mut Ewma, n: u32, e: f64| chart.push(e + drift * f64::from(n)).unwrap().signal.is_some()
    };
    agree("EWMA, calm", worked_out.average(0.0), ewma, run(0.0));
    agree("EWMA, drifting", worked_out.average_under_drift(0.01, false), ewma, run(0.01));
}
